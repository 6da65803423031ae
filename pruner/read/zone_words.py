"""A heading of times, or a sentence about them -> the zone that it names: `Time (UTC+2)`, `Zeit (MEZ)`, `All times are UTC`.

Receives texts, hands on names of zones as `read.local_times` understands them. The words are from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from zoneinfo import available_timezones

from pruner.read.date_texts import ZONE_MINUTES
from pruner.table.fold import fold, words_of
from pruner.table.opened import shown

_HOURS: Final = r"\s*([+\u2212\u2013-])\s*(\d{1,2})(?::?([0-5]\d))?"
_OFFSET: Final = re.compile(rf"(?<!Etc/)\b(?:UTC|GMT){_HOURS}(?!\d)", re.IGNORECASE)
_BARE_OFFSET: Final = re.compile(rf"[(\[]{_HOURS}\s*h?[)\]]")
_PLACE: Final = re.compile(r"\b[A-Z][A-Za-z_]+/[A-Z][A-Za-z_/+-]+\d{0,2}")
_CELL: Final = re.compile(r"(?:UTC|GMT)?\s?[+-](?:0?\d|1[0-4])(?::?[0-5]\d)?")
#: Both names of a zone that sets its clocks, and the zone of the IANA database that bears the first.
_PAIRS: Final = {("CET", "CEST"): "CET", ("MEZ", "MESZ"): "CET", ("EET", "EEST"): "EET", ("WET", "WEST"): "WET"}
_WORD: Final = re.compile(r"[^\W\d_]+")
_UTC: Final = frozenset(("UTC", "GMT"))
#: Abbreviations that several zones share.
_SHARED: Final = frozenset("CST PST MST IST BST AST CDT ADT".split())
#: Sentences with these words may say which zone times are of; with the second ones they do, with the third it is a place's.
_TIMES: Final = frozenset(
    map(
        fold,
        "time times timestamp timestamps clock clocks zeit zeiten uhrzeit uhrzeiten zeitangabe zeitangaben zeitstempel heure "
        "heures horaire horaires hora horas horario horarios ora ore orario orari tijd tijden tijdstippen czas czasy godziny "
        "čas časy tid tider klokkeslæt klokkeslett aika ajat idő idők időpontok время час часы ώρα ώρες saat saatler".split(),
    )
)
_ZONES: Final = frozenset(
    map(
        fold,
        "zone timezone zeitzone fuseau fuso huso tijdzone strefa pásmo tidszon tidszone tidssone aikavyöhyke időzóna "
        "пояс".split(),
    )
)
_LOCAL: Final = frozenset(
    map(
        fold,
        "local localtime lokal lokale lokalzeit ortszeit locale locales locali plaatselijke lokaltid miejscowy lokalny místní "
        "miestny helyi paikallinen yerel местное місцевий τοπική".split(),
    )
)
_SENTENCES: Final = re.compile(r"\n|(?<=[^\W\d]{2})[.!?](?=\s|$)|[.!?]\s+(?=[A-ZÀ-ÖØ-Þ])|;\s")
#: A time of day with the zone behind it says its own zone, not that of others.
_OWN_ZONE: Final = re.compile(
    r"\d{1,2}[:h]\d\d(?::\d\d)?(?:\s*(?:[AaPp][Mm]|Uhr)\b)?\s*\(?(?:[A-Z]{1,5}\b)?(?:[+-]\d{1,2}(?::?\d\d)?)?\)?"
)
_LONGEST_SENTENCE: Final = 200
#: So many sentences that name zones are shown.
_NAMED: Final = 3
#: Of so few words a title is.
_TITLE: Final = 8


def zone_in(headings: Iterable[str]) -> str:
    """The zone that headings name: an IANA name, or an offset such as `UTC+02:00`; "" where they name none."""
    return next(filter(None, map(_zone_of, headings)), "")


def shared_zone_in(headings: Iterable[str]) -> str:
    """An abbreviation in headings that several zones share, "" where there is none."""
    return next((word for heading in headings for word in _WORD.findall(heading) if word in _SHARED), "")


def names_zone(cell: str) -> bool:
    """Whether a cell holds nothing but an offset from UTC or an abbreviation of one zone."""
    return _CELL.fullmatch(cell) is not None or (cell in ZONE_MINUTES and len(cell) > 1)


@dataclass(frozen=True, slots=True)
class ZoneSaid:
    """The zone that a text says times are of ("": none), `sentence`: where; `doubt`: a sentence about zones that is not
    understood, in words."""

    zone: str = ""
    sentence: str = ""
    doubt: str = ""


@lru_cache(maxsize=64)  # many tables of a page have the same text beside them
def zone_said_in(text: str) -> ZoneSaid:
    """What a text around a table says of the zone of its times."""
    zones: dict[str, str] = {}
    unclear: list[str] = []
    for sentence in _sentences(text):
        zone = _zone_of(_OWN_ZONE.sub(" ", sentence))
        words = set(words_of(sentence))
        is_of_times = bool(words & (_TIMES | _ZONES | _LOCAL))
        is_title = len(sentence.split()) <= _TITLE and any(name in sentence for name in (*_UTC, "/"))
        if zone and (is_of_times or is_title):
            zones.setdefault(zone, shown(sentence))
        elif (words & _ZONES or (words & _LOCAL and words & _TIMES)) or (is_of_times and shared_zone_in([sentence])):
            unclear.append(shown(sentence))
    if len(zones) > 1:
        named = ", ".join(map(repr, list(zones.values())[:_NAMED]))
        return ZoneSaid(doubt=f"{len(zones)} zones are named: {named}{', ...' if len(zones) > _NAMED else ''}")
    zone, sentence = next(iter(zones.items()), ("", ""))
    doubt = f"{unclear[0]!r} names no zone that is known" if unclear and not zone else ""
    return ZoneSaid(zone, sentence, doubt)


def _sentences(text: str) -> Iterator[str]:
    for part in _SENTENCES.split(text):
        sentence = " ".join(part.split())
        if sentence and len(sentence) <= _LONGEST_SENTENCE:
            yield sentence


def _zone_of(heading: str) -> str:
    named = [word for word in _WORD.findall(heading) if word in ZONE_MINUTES and len(word) > 1 and word not in _UTC]
    if tuple(named[:2]) in _PAIRS:
        return _PAIRS[named[0], named[1]]
    offset = _OFFSET.search(heading) or _BARE_OFFSET.search(heading)
    if offset and int(offset[2]) <= 14:
        return f"UTC{'+' if offset[1] == '+' else '-'}{int(offset[2]):02}:{offset[3] or '00'}"
    place = _PLACE.search(heading)
    if place and place[0] in available_timezones():
        return place[0]
    words = _WORD.findall(heading)
    names = [word for word in words if word in ZONE_MINUTES and len(word) > 1]
    if names:
        minutes = ZONE_MINUTES[names[0]]
        return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}" if minutes else "UTC"
    return "UTC" if any(word.upper() in _UTC for word in words) else ""
