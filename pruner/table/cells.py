"""Rows of cells -> delimited text, in blocks: commas, quotes of RFC 4180, line feeds."""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Final

_BLOCK: Final = 1 << 20
#: An id of six or seven digits; so many characters of a text are looked at for them.
_ID: Final = re.compile(r"(?<![0-9])[0-9]{6,7}(?![0-9])")
_LOOKED_AT: Final = 1 << 16
_BREAKS: Final = re.compile(r"[\r\n\x85\u2028\u2029]+")


def as_csv(rows: Iterable[Sequence[object]], errors: str = "replace") -> Iterator[bytes]:
    """The rows that have a filled cell, as CSV. A line break in a cell becomes a blank; `errors`: as of `str.encode`."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    for row in rows:
        cells = [text_of(cell) for cell in row]
        if not any(cells):
            continue
        writer.writerow(cells)
        if buffer.tell() >= _BLOCK:
            yield buffer.getvalue().encode(errors=errors)
            buffer.seek(0)
            buffer.truncate()
    if buffer.tell():
        yield buffer.getvalue().encode(errors=errors)


def by_name(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The values of a record by their names; one that comes again has its number behind it, so that no value is lost."""
    found: dict[str, str] = {}
    counts: Counter[str] = Counter()
    for name, value in pairs:
        counts[name] += 1
        found[name if counts[name] == 1 else f"{name} {counts[name]}"] = value
    return found


def hold_most_ids(tables: Iterable[Sequence[Sequence[str]]], text: str) -> bool:
    """Whether rows that were taken out of a text hold most of the ids in it; a few rows that stand in a cell of another table
    do not. Of a long text the beginning tells."""
    expected = sum(_ID.search(line) is not None for line in text[:_LOOKED_AT].split("\n"))
    rows = (any(map(_ID.search, row)) for table in tables for row in table)
    return sum(islice(filter(None, rows), expected)) * 2 >= expected


def text_of(cell: object) -> str:
    """A cell as text: whole numbers without a point, dates and times as ISO 8601, bytes as UTF-8, nothing for a missing one."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return _BREAKS.sub(" ", cell)
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        if cell != cell or cell in (float("inf"), float("-inf")):
            return ""
        return str(int(cell)) if cell.is_integer() else repr(cell)
    if isinstance(cell, datetime.datetime):
        return cell.date().isoformat() if cell.time() == datetime.time() else cell.isoformat(sep=" ")
    if isinstance(cell, (datetime.date, datetime.time)):
        return cell.isoformat()
    if isinstance(cell, datetime.timedelta):
        return f"{cell.total_seconds():g}"
    if isinstance(cell, bytes):
        return _BREAKS.sub(" ", cell.decode(errors="replace"))
    return _BREAKS.sub(" ", str(cell))
