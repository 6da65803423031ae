"""Words in cells that stand for nothing.

Lower case; entries separated by blanks; `_` is a blank inside an entry.
"""

from __future__ import annotations

from typing import Final

#: Language -> what is written into a cell that is meant to be empty; `mul` also holds the signs.
EMPTY_CELLS: Final[dict[str, str]] = {
    "mul": (
        "- -- --- ---- – — ― . .. ... … ? ?? ??? * / // \\ \\n # #n/a #n/d #na n/a n.a. n/a. na nan null nil none undef "
        "undefined <null> (null) [null] <none> (none) <na> nul void xxx x"
    ),
    "en": (
        "unknown not_known not_available not_applicable not_set not_given not_specified unspecified empty blank missing "
        "no_data no_value no_name unnamed tbd tba withheld n/k"
    ),
    "de": (
        "unbekannt k.a. k._a. k.a keine_angabe keine_angaben nicht_bekannt nicht_verfügbar nicht_verfuegbar keine keiner "
        "leer ohne entfällt ohne_angabe o.a. fehlt"
    ),
    "fr": "inconnu inconnue aucun aucune non_renseigné non_disponible n.d. nd néant vide sans non_communiqué s/o",
    "es": "desconocido desconocida ninguno ninguna no_disponible sin_datos sin_dato n/d nd vacío s/d no_aplica",
    "it": "sconosciuto sconosciuta nessuno nessuna non_disponibile n/d n.d. nd vuoto assente ignoto",
    "pt": "desconhecido desconhecida nenhum nenhuma não_disponível não_informado n/d nd vazio sem_dados s/d",
    "nl": "onbekend geen niet_bekend niet_beschikbaar n.v.t. nvt leeg n.b. nb",
    "pl": "nieznany nieznana nieznane brak brak_danych b/d b.d. bd nie_dotyczy nd. pusty puste",
    "cs": "neznámý neznámá neznámo žádný žádné není není_k_dispozici nezadáno neuvedeno prázdné",
    "sk": "neznámy neznáma neznáme žiadny žiadne nie_je nezadané neuvedené nedostupné prázdne",
    "hu": "ismeretlen nincs nincs_adat nem_ismert n.a. üres",
    "ro": "necunoscut necunoscută niciunul indisponibil fără_date lipsă gol",
    "bg": "неизвестен неизвестно няма няма_данни липсва празно н/д",
    "ru": "неизвестно неизвестный нет нет_данных не_указано не_указан отсутствует пусто н/д н.д.",
    "uk": "невідомо невідомий немає немає_даних не_вказано відсутній порожньо н/д",
    "sr": "непознато непознат нема нема_података празно nepoznato nepoznat nema nema_podataka prazno",
    "hr": "nepoznato nepoznat nema nema_podataka nije_poznato prazno n/p",
    "sl": "neznano neznan ni ni_podatka ni_podatkov brez prazno",
    "el": "άγνωστο άγνωστος άγνωστη κανένα κανένας δ/υ μη_διαθέσιμο κενό",
    "tr": "bilinmiyor bilinmeyen yok veri_yok belirtilmemiş boş",
    "sv": "okänd okänt ingen inget saknas uppgift_saknas ej_angivet ej_tillgänglig tom tomt",
    "da": "ukendt ingen intet ikke_oplyst mangler ikke_tilgængelig tom",
    "nb": "ukjent ingen intet ikke_oppgitt mangler ikke_tilgjengelig tom",
    "fi": "tuntematon ei_tiedossa ei_tietoa ei_ilmoitettu puuttuu tyhjä ei_saatavilla",
    "et": "teadmata tundmatu puudub pole andmed_puuduvad tühi",
    "lv": "nezināms nezināma nav nav_datu nav_zināms tukšs",
    "lt": "nežinomas nežinoma nėra nėra_duomenų nenurodyta tuščia",
    "ja": "なし 無し 無 不明 未定 未設定 該当なし 未登録 空 空白 ー",
    "zh": "无 無 未知 不详 不詳 没有 沒有 空 空白 暂无 暫無 不明 未填写 未填寫",
    "ko": "없음 미상 알수없음 알_수_없음 불명 미정 해당없음 공백",
    "ca": "desconegut desconeguda cap no_disponible sense_dades buit n/d",
    "th": "ไม่มี ไม่ทราบ ไม่ระบุ ไม่มีข้อมูล ว่าง",
    "vi": "không không_có không_rõ không_biết chưa_rõ trống",
    "id": "tidak_diketahui tidak_ada kosong belum_ada nihil",
    "ar": "غير_معروف غير_متوفر لا_يوجد لا_شيء مجهول فارغ غير_محدد",
    "he": "לא_ידוע אין אין_נתונים ריק לא_זמין",
}
