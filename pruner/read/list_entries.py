"""One entry of a list of stations: an id, a call sign, a pattern or a range, as people write them.

Receives the tokens of a line and the cells of a table, adds to what was found.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pruner.read.forms import NEXT_COLUMN
from pruner.reference.callsign import clean_callsign, is_ordinary
from pruner.words import schema
from pruner.words.errors import InputRefusedError
from pruner.words.number import whole_number

_BETWEEN: Final = re.compile(r"[\s,;|]+")
NUMBERING: Final = re.compile(r"^\s*(?:\d{1,4}[.)]|[-*•·]|\[[ xX]?\])\s+")
_RANGE: Final = re.compile(r"(?<!\d)(\d{6,7})\s*(?:-|–|—|\.{2,3}|\bto\b|\bbis\b)\s*(\d{6,7})(?!\d)")
_CALLSIGN: Final = re.compile(r"(?=.*[A-Z])(?=.*[0-9])[A-Z0-9-]{3,10}", re.ASCII)
_PATTERN: Final = re.compile(r"(?=.*[*?])(?=.*[A-Z0-9])[A-Z0-9*?]{2,12}", re.ASCII)
QUOTES: Final = "\"'“”„‚‘’()[]<>:="
_LONGEST_RANGE: Final = 1_000_000
#: Numbers of fewer digits are ids only where they stand alone on their line.
_SHORTEST_ID: Final = 5


@dataclass(slots=True)
class Found:
    """What a list names, and how many entries it has."""

    ids: set[int] = field(default_factory=set)
    callsigns: set[str] = field(default_factory=set)
    patterns: set[str] = field(default_factory=set)
    ranges: set[tuple[int, int]] = field(default_factory=set)
    entries: int = 0


def take_line(path: Path, number: int, line: str, found: Found) -> bool:
    """Takes every station of a line; whether there was one."""
    before = found.entries

    def take_range(match: re.Match[str]) -> str:
        first, last = int(match[1]), int(match[2])
        if not 0 <= last - first < _LONGEST_RANGE:
            raise InputRefusedError(f"{path}:{number}: the range {match[0]} runs backwards or is too long; write it smaller")
        found.ranges.add((first, last))
        found.entries += 1
        return " "

    rest = _RANGE.sub(take_range, NUMBERING.sub("", line))
    alone = whole_number(rest.strip(QUOTES))
    tokens = [rest] if alone >= 0 else [part for token in _BETWEEN.split(rest) if token for part in _whole_calls(token)]
    for token in tokens:
        found.entries += take(token.strip(QUOTES), len(tokens) == 1, found)
    return found.entries > before


def _whole_calls(token: str) -> list[str]:
    """The call signs of a token such as OE1AAA/OE1BBB; a token with one, and a prefix or a suffix, stays."""
    parts = token.strip(QUOTES).split("/")
    return parts if len(parts) > 1 and all(is_ordinary(part.upper()) for part in parts) else [token]


def take(token: str, is_alone: bool, found: Found) -> bool:
    """Takes an id, a call sign or a pattern; whether it was one. A short number is an id only where it stands alone."""
    value = whole_number(token)
    if value >= 0:
        return (is_alone or len(str(value)) >= _SHORTEST_ID) and _take_id(value, found)
    upper = token.upper()
    if _PATTERN.fullmatch(upper):
        ids = ids_like(upper)
        if ids is not None:
            found.ranges.add(ids)
            return True
        if any(map(str.isalpha, upper)):
            found.patterns.add(upper)
            return True
        return False
    call = _call(token)
    if call:
        found.callsigns.add(call)
    return bool(call)


def ids_like(pattern: str) -> tuple[int, int] | None:
    """First and last of the ids of seven digits that begin as a pattern such as `232*` says; None of another pattern."""
    digits = pattern.rstrip("*?")
    if digits == pattern or not (digits.isascii() and digits.isdigit() and 3 <= len(digits) < 7):
        return None
    missing = 7 - len(digits)
    return int(digits) * 10**missing, (int(digits) + 1) * 10**missing - 1


def take_range(first: str | None, last: str, found: Found) -> bool:
    """Takes the ids from one to another; whether they are such."""
    start, end = whole_number(first or ""), whole_number(last)
    if not 0 < start <= end < schema.ADDRESSES or end - start >= _LONGEST_RANGE:
        return False
    found.ranges.add((start, end))
    return True


def take_ids(cell: str, found: Found) -> bool:
    """Takes the id of a cell, or of each of several columns."""
    return sum(_take_id(whole_number(part), found) for part in cell.split(NEXT_COLUMN)) > 0


def _take_id(value: int, found: Found) -> bool:
    """Takes a number that can be an address, a device suffix (common practice, no source) cut off."""
    value = value // 100 if len(str(value)) == 9 else value
    if not 1 <= value < schema.ADDRESSES:
        return False
    found.ids.add(value)
    return True


def _call(text: str) -> str:
    cleaned = clean_callsign(text)
    return cleaned if _CALLSIGN.fullmatch(cleaned) and not cleaned.isdigit() else ""
