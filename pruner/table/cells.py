"""Rows of cells -> delimited text, in blocks: commas, quotes of RFC 4180, line feeds."""

from __future__ import annotations

import csv
import datetime
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

_BLOCK: Final = 1 << 20
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
