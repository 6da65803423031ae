"""The plain contact file: one line a contact, columns of `schema.CONTACT_COLUMNS`, comma, UTF-8, line feeds.

Receives tables of cleaned text and writes them one behind the other.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from functools import reduce
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from pruner.words import schema
from pruner.words.threads import Future, Pool, Work

#: What stands between quotation marks where it holds one of these (RFC 4180, 2.6).
_TO_QUOTE: Final = (",", '"', "\n", "\r")


def write_plain(parts: Iterable[pa.Table], path: Path) -> None:
    """Writes the cells of contacts part by part."""
    waiting: deque[Future[bytes]] = deque()
    with path.open("wb") as file, Pool(Work.LINES) as pool:
        file.write((",".join(schema.CONTACT_COLUMNS) + "\n").encode())
        for part in parts:
            waiting.append(pool.submit(_lines, part))
            if len(waiting) > Work.LINES.size:
                file.write(waiting.popleft().result())
        for lines in waiting:
            file.write(lines.result())


def plain_cells(part: pa.Table) -> pa.Table:
    """Contacts as they are written, `schema.CONTACT_COLUMNS`; the id is a number. A call sign that a spreadsheet would run as a
    formula loses its first sign."""
    place = schema.CONTACT_COLUMNS.index(schema.CALLSIGN)
    callsign = pc.ascii_ltrim(part[schema.CALLSIGN], characters="=+-@")
    return part.select(schema.CONTACT_COLUMNS).set_column(place, schema.CALLSIGN, callsign)


def _lines(part: pa.Table) -> bytes:
    """The lines of some contacts, each with its line feed."""
    cells = [_quoted(column.combine_chunks()) for column in part.columns]
    lines = pc.binary_join_element_wise(*cells, ",")
    joined = pc.binary_join(pa.ListArray.from_arrays([0, len(lines)], lines), "\n")[0].as_buffer()
    return b"".join((joined, b"\n")) if len(lines) else b""


def _quoted(cells: pa.Array) -> pa.StringArray:
    """Cells as text, between quotation marks where they need them."""
    if not pa.types.is_string(cells.type):
        return cells.cast(pa.string())
    letters = cells.buffers()[2]
    text = b"" if letters is None else letters.to_pybytes()
    marks = [mark for mark in _TO_QUOTE if mark.encode() in text]
    if not marks:
        return cells
    needed = reduce(pc.or_, (pc.match_substring(cells, mark) for mark in marks)).fill_null(False)
    doubled = pc.replace_substring(cells.filter(needed), '"', '""')
    return pc.replace_with_mask(cells, needed, pc.binary_join_element_wise('"', doubled, '"', ""))
