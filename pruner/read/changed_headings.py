"""A table whose headings change below, as where repeaters follow members -> its parts, and which columns are not their own.

Receives blocks of whole records and their dialect, hands on the same records. A line with the heading of the keys in its
place is one of headings; what it heads otherwise than the first line does holds something else from there on.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pyarrow as pa

from pruner.read.delimited import HEADINGS, Block, cells_of, recode_lines
from pruner.read.dialect import Dialect
from pruner.read.quotes import quote_structure
from pruner.read.records import Records
from pruner.table.fold import fold
from pruner.words import schema

#: What lines of headings are called that head other columns, where lines that are no rows are counted.
CHANGED: Final = "headings of other columns, whose cells are not taken"

Foreign = frozenset[str]


def by_headings(blocks: Iterator[Block], dialect: Dialect) -> Iterator[tuple[Block, Foreign]]:
    """The records in order, cut where headings change, each part with the meanings whose columns hold something else there."""
    foreign: Foreign = frozenset()
    for block in blocks:
        start = 0
        for place, changed in _changes(block, dialect):
            if changed == foreign:
                continue
            if place > start:
                yield _part(block.text[start:place], dialect), foreign
            start, foreign = place, changed
        yield (_part(block.text[start:], dialect) if start else block), foreign


def without_foreign(records: Records, foreign: Foreign) -> Records:
    """The records without the cells of columns that are not theirs."""
    for name in foreign & records.columns.keys():
        records.columns[name] = pa.nulls(records.count, records.columns[name].type)
    if foreign and HEADINGS in records.aside:
        records.aside[CHANGED] = records.aside.pop(HEADINGS)
    return records


def _part(text: bytes, dialect: Dialect) -> Block:
    return Block(text, quote_structure(text, dialect.delimiter, last=True) if b'"' in text else None)


def _changes(block: Block, dialect: Dialect) -> Iterator[tuple[int, Foreign]]:
    """Where lines of headings begin, with the meanings whose columns they head otherwise."""
    key = next((name for name in (schema.ID, schema.CALLSIGN) if name in dialect.positions), None)
    if key is None or not dialect.headings or (block.quotes and block.quotes.spans):
        return
    place, headings = dialect.positions[key], dialect.headings
    heading = headings[place].encode()
    if not heading or block.text.find(heading) < 0:
        return
    end = 0
    for needle_end in _ends(block.text, heading, dialect.delimiter.encode()):
        if needle_end <= end:
            continue
        start = block.text.rfind(b"\n", 0, needle_end) + 1
        end = block.text.find(b"\n", needle_end)
        end = len(block.text) if end < 0 else end
        cells = cells_of(recode_lines(block.text[start:end], dialect.encoding)[0].decode(), dialect)
        if len(cells) > place and cells[place] == headings[place]:
            own = [fold(cell) for cell in cells] + [""] * len(headings)
            yield start, frozenset(name for name, at in dialect.positions.items() if own[at] != fold(headings[at]))


def _ends(text: bytes, heading: bytes, delimiter: bytes) -> list[int]:
    """Where a cell with the heading, and nothing else, ends."""
    found = []
    for after in (delimiter, b'"', b"\n"):
        place = text.find(heading + after)
        while place >= 0:
            if place == 0 or text[place - 1 : place] in (delimiter, b'"', b"\n"):
                found.append(place + len(heading))
            place = text.find(heading + after, place + 1)
    return sorted(found)
