"""Rows that sum up a table -> rows that cannot be read: their number is no id.

Receives Records whose cells hold one value each, marks such rows.
"""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.forms import NEXT_COLUMN
from pruner.read.kinds import DESCRIPTION
from pruner.read.records import Indices, Records
from pruner.reference.callsign import clean_callsign
from pruner.table.facts import SEPARATORS, country_of_id, looks_legal
from pruner.table.fold import words_of
from pruner.table.words_totals import COUNTED, TOTALS
from pruner.words import schema
from pruner.words.number import whole_number

#: What is said of such a row.
TOTALS_ROW: Final = "an end mark: a total, a count or the like, no entry"
#: Without a call sign, only so many rows at the end of a table may sum it up.
_LAST: Final = 3
_TEXTS: Final = (schema.NAME, schema.FIRST_NAME, schema.LAST_NAME, DESCRIPTION)


@cache
def _totals() -> frozenset[tuple[str, ...]]:
    return frozenset(words_of(entry.replace("_", " ")) for text in TOTALS.values() for entry in text.split())


@cache
def _counted() -> frozenset[str]:
    return frozenset(word for entry in COUNTED.split() for word in words_of(entry))


def is_totals(text: str) -> bool:
    """Whether a text is a word for a total, a count, an average or an end, alone or with what is counted and how many there
    are: `Total entries: 300`, `Summe`."""
    words = tuple(word for word in words_of(text.strip()) if not word.isdigit())
    found = _totals()
    if words in found:
        return True
    pairs = pairwise(words)
    has_total = any((word,) in found for word in words) or any(pair in found for pair in pairs)
    return has_total and all((word,) in found or word in _counted() for word in words)


def is_totals_line(text: str) -> bool:
    """Whether a line without a call sign sums up a list: a number in it that is an id of a country is a station, whose name may
    be such a word."""
    return is_totals(text) and not any(_is_id(part) for part in text.replace(":", " ").split())


def _is_id(text: str) -> bool:
    number = whole_number(text)
    return looks_legal(number) and country_of_id(number) > 0


def mark_totals(records: Records, *, is_last: bool) -> Records:
    """Marks the rows that sum up the table, wherever the cell of the call sign says so and nobody is named; where there is no
    call sign, at the end of the table (`is_last`: these are its last records) where the number is no id of a country. They lose
    id and call sign."""
    texts = [records.columns[name] for name in _TEXTS if name in records.columns]
    calls = records.columns.get(schema.CALLSIGN)
    rows = [] if calls is None else _in_calls(calls, texts)
    if is_last:
        rows += [row for row in range(max(0, records.count - _LAST), records.count) if _sums_up(records, row)]
    rows = [row for row in rows if row not in records.unreadable]
    if rows:
        marks = np.zeros(records.count, dtype=bool)
        marks[rows] = True
        for name in (schema.ID, schema.CALLSIGN):
            if name in records.columns:
                records.columns[name] = pc.if_else(pa.array(marks), None, records.columns[name])
        records.unreadable.update(dict.fromkeys(rows, TOTALS_ROW))
    return records


def _in_calls(calls: pa.Array, texts: list[pa.Array]) -> list[int]:
    """The rows without a name whose call sign is a word for a total; only what has no digit before a blank is looked at."""
    places = _without_early_digits(calls)
    for text in texts:
        if len(places):
            blank = pc.equal(pc.utf8_trim_whitespace(text.take(pa.array(places)).cast(pa.string())), "").fill_null(True)
            places = places[blank.to_numpy(zero_copy_only=False)]
    if not len(places):
        return []
    cells = calls.take(pa.array(places))
    places = places[pc.match_substring_regex(cells, r"^[^0-9]{2,}(?:[\s:=][0-9.,\s]*)?$").to_numpy(zero_copy_only=False)]
    return [place for place in places.tolist() if is_totals(calls[place].as_py())]


def _without_early_digits(calls: pa.Array) -> Indices:
    """The places of texts with no digit in their first three bytes, where call signs have one and words none."""
    texts = calls if pa.types.is_string(calls.type) else calls.cast(pa.string())
    places: Indices = np.flatnonzero(texts.is_valid().to_numpy(zero_copy_only=False))
    _, offsets, data = texts.buffers()
    if data is None or not data.size:
        return places[:0]
    ends = np.frombuffer(offsets, np.int32)[texts.offset : texts.offset + len(texts) + 1]
    letters = np.frombuffer(data, np.uint8)
    for byte in range(3):
        at = ends[places] + byte
        is_digit = (at < ends[places + 1]) & (letters.take(at, mode="clip") - np.uint8(0x30) < 10)
        places = places[~is_digit]
    return places


def _sums_up(records: Records, row: int) -> bool:
    cells = {name: column[row].as_py() for name, column in records.columns.items()}
    texts = [text for name in _TEXTS if (text := (cells.get(name) or "").strip())]
    if not texts or clean_callsign(cells.get(schema.CALLSIGN) or "") or not all(map(is_totals, texts)):
        return False
    ids = cells.get(schema.ID) or ""
    return not any(_is_id(part) for cell in ids.split(NEXT_COLUMN) for part in (cell, *SEPARATORS.split(cell)))
