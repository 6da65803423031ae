"""The plain contact file: one line a contact, columns of `schema.CONTACT_COLUMNS`, comma, UTF-8, line feeds.

Receives frames of cleaned text and writes them one behind the other.
"""

from __future__ import annotations

import io
from collections import deque
from collections.abc import Iterable
from pathlib import Path

import polars as pl

from pruner.words import schema
from pruner.words.threads import Future, Pool, Work


def write_plain(parts: Iterable[pl.DataFrame], path: Path) -> None:
    """Writes contacts part by part; a call sign that a spreadsheet would run as a formula loses its first sign."""
    waiting: deque[Future[memoryview]] = deque()
    with path.open("wb") as file, Pool(Work.LINES) as pool:
        file.write((",".join(schema.CONTACT_COLUMNS) + "\n").encode())
        for part in parts:
            waiting.append(pool.submit(_lines, part))
            if len(waiting) > Work.LINES.size:  # polars uses one thread for a short frame
                file.write(waiting.popleft().result())
        for lines in waiting:
            file.write(lines.result())


def plain_cells(part: pl.DataFrame) -> pl.DataFrame:
    """Contacts as they are written, `schema.CONTACT_COLUMNS`; the id is a number."""
    return part.select(schema.CONTACT_COLUMNS).with_columns(pl.col(schema.CALLSIGN).str.strip_chars_start("=+-@"))


def _lines(part: pl.DataFrame) -> memoryview:
    text = io.BytesIO()
    plain_cells(part).with_columns(pl.col(pl.String).replace("", None)).write_csv(text, include_header=False)
    return text.getbuffer()
