"""Words of logs that say what a line or a cell tells: that a call begins, that it ends, or that it is a private one.

Receives a text in any language, hands on a word of ours. The words are from memory.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from pruner.table.fold import fold, words_of

START_EVENT, END_EVENT, PRIVATE_EVENT, NO_CALL_EVENT = "start", "end", "private", "no call"


def _folded(text: str) -> frozenset[str]:
    return frozenset(map(fold, text.split()))


_STARTS: Final = _folded(
    "start starts started starting begin begins began begun beginning header on keyup keyed open opens opened initiated "
    "beginn beginnt begonnen anfang gestartet startet eröffnet "
    "début débute débuté commence commencé démarre démarré démarrage ouvert ouverture "
    "inicio inicia iniciado iniciada comienzo comienza início começo começa inizio inizia iniziata iniziato avvio avviata "
    "begint gestart aanvang börjar började startad begynder begyndte begynner begynte startet "
    "alku alkaa alkoi aloitus kezdet kezdés kezdődik kezdődött elindult başladı başlıyor başlangıç "
    "początek rozpoczęto rozpoczęcie rozpoczęta začátek začala zahájeno začiatok začetek početak începe început "
    "начало начата начат начинается старт початок почато έναρξη αρχή ξεκίνησε"
)
_ENDS: Final = _folded(
    "end ends ended ending stop stops stopped terminator terminated off unkey unkeyed close closes closed finish finished "
    "completed released ende endet beendet schluss stopp gestoppt geschlossen "
    "fin terminé terminée termine arrêt arrêté fermé fermeture final finalizado finalizada terminado terminada finaliza "
    "fim termina encerrada encerrado fine finita finito terminata terminato "
    "einde eindigt beëindigd gestopt slut slutade avslutad avslutat sluttede afsluttet slutt sluttet avsluttet "
    "loppu loppui päättyi lopetus vége befejezve befejeződött bitti sona bitiş "
    "koniec zakończono zakończenie zakończona konec skončila skončil ukončeno ukončené kraj sfârșit terminat "
    "конец окончание окончена завершено завершена закончен кінець завершення τέλος λήξη έληξε"
)
#: In these languages no blanks stand between words.
_EASTERN: Final = {
    "開始": START_EVENT,
    "开始": START_EVENT,
    "시작": START_EVENT,
    "終了": END_EVENT,
    "结束": END_EVENT,
    "結束": END_EVENT,
    "종료": END_EVENT,
}
_PRIVATES: Final = _folded(
    "private privat privada privado privée privé pc individual unit2unit prywatne личный "
    "einzelruf privatruf individuel individuelle individuale individueel particulier prywatny personnel"
)
#: Words of rows that tell a whole call.
_WHOLE_CALLS: Final = frozenset(
    "call voice talk group rx tx key_up key_down key keydown group_voice voice_call group_call voice_group "
    "group_voice_call speech audio ruf gruppenruf sprache sprachruf voix vocal voz voce głos spraak tal puhe "
    "hlas hang голос 음성 音声 语音".split()
)
#: Words of rows that tell something else than speech: data, positions, registrations.
_NO_CALLS: Final = _folded(
    "data packet sms text message gps position location lrrp arrs registration register registered deregistration "
    "affiliation status control csbk telemetry beacon ping presence daten datenruf standort anmeldung abmeldung données "
    "datos dati dados dane gegevens данные"
)
_VOICE: Final = _folded("voice speech audio")


def is_whole_call(text: str) -> bool:
    """Whether a text says no more than that there was a call."""
    return text.casefold().replace(" ", "_") in _WHOLE_CALLS


@lru_cache(maxsize=4096)
def event_of(text: str) -> str | None:
    """What a text tells: that a call began, that it ended, that it is a private call, or no speech at all; None for anything
    else."""
    words = set(words_of(text.replace("_", " ")))
    if words & _NO_CALLS and not words & _VOICE:
        return NO_CALL_EVENT
    if words & _PRIVATES:
        return PRIVATE_EVENT
    if words & _ENDS:
        return END_EVENT
    if words & _STARTS:
        return START_EVENT
    return None if text.isascii() else next((event for word, event in _EASTERN.items() if word in text), None)
