"""A heading of times -> the zone that it names: `Time (UTC+2)`, `Zeit (MEZ)`, `local time (Europe/Vienna)`.

Receives texts, hands on names of zones as `read.local_times` understands them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final
from zoneinfo import available_timezones

from pruner.read.date_texts import ZONE_MINUTES

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


def zone_in(headings: Iterable[str]) -> str:
    """The zone that headings name: an IANA name, or an offset such as `UTC+02:00`; "" where they name none."""
    return next(filter(None, map(_zone_of, headings)), "")


def shared_zone_in(headings: Iterable[str]) -> str:
    """An abbreviation in headings that several zones share, "" where there is none."""
    return next((word for heading in headings for word in _WORD.findall(heading) if word in _SHARED), "")


def names_zone(cell: str) -> bool:
    """Whether a cell holds nothing but an offset from UTC or an abbreviation of one zone."""
    return _CELL.fullmatch(cell) is not None or (cell in ZONE_MINUTES and len(cell) > 1)


def _zone_of(heading: str) -> str:
    offset = _OFFSET.search(heading) or _BARE_OFFSET.search(heading)
    if offset and int(offset[2]) <= 14:
        return f"UTC{'+' if offset[1] == '+' else '-'}{int(offset[2]):02}:{offset[3] or '00'}"
    place = _PLACE.search(heading)
    if place and place[0] in available_timezones():
        return place[0]
    words = _WORD.findall(heading)
    names = [word for word in words if word in ZONE_MINUTES and len(word) > 1]
    if tuple(names[:2]) in _PAIRS:
        return _PAIRS[names[0], names[1]]
    if names:
        minutes = ZONE_MINUTES[names[0]]
        return f"UTC{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}" if minutes else "UTC"
    return "UTC" if any(word.upper() in _UTC for word in words) else ""
