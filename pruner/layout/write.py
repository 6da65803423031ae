"""Contacts -> the files that a layout describes, read back after writing.

Receives a frame of cleaned text, hands on the paths of the files and what was changed.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import polars as pl

from pruner.layout.cells import cells_of
from pruner.layout.model import Layout
from pruner.layout.verify import verify_file
from pruner.words import schema

_QUOTING: Final[dict[str, Literal["necessary", "always", "never"]]] = {
    "as needed": "necessary",
    "all": "always",
    "none": "never",
}


@dataclass(slots=True)
class Written:
    """`files`: in the order of their rows; `counts`: how many contacts were changed for the layout, by kind of change."""

    files: list[Path] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)


def write_layout(contacts: pl.DataFrame, layout: Layout, folder: Path, name: str) -> Written:
    """Writes contacts into a folder, as `name.csv` or, split, as `name-01.csv`, `name-02.csv`, ...

    `contacts` holds the fields that the layout names: integers, or text that is "" where there is none; its order, by
    system and id, ends every tie. Each file is read back and compared. Raises SettingsError where an id does not fit its
    column, PrunerError where a file does not give back what was written.
    """
    cells = cells_of(_ordered(contacts, layout.file.order), layout)
    written = Written(counts=cells.counts)
    for path, rows in _parts(cells.frame, layout, folder, name):
        path.write_bytes(layout.mark + _text(rows, layout).encode(layout.encoding.codec))
        verify_file(path, rows, layout)
        written.files.append(path)
    return written


def _ordered(contacts: pl.DataFrame, order: str) -> pl.DataFrame:
    if order == schema.ID:
        return contacts
    keys = contacts.select(pl.col(order), pl.int_range(pl.len()).alias("place"))
    if order == schema.CALLSIGN:
        keys = keys.with_columns(pl.col(order).replace("", None))
    places = keys.sort(order, "place", nulls_last=True)["place"]
    return contacts[places]


def _parts(frame: pl.DataFrame, layout: Layout, folder: Path, name: str) -> list[tuple[Path, pl.DataFrame]]:
    size = layout.file.rows_per_file
    if size is None:
        return [(folder / f"{name}.{layout.ending}", frame)]
    count = max(1, -(-frame.height // size))
    digits = max(2, len(str(count)))
    return [
        (folder / f"{name}-{part + 1:0{digits}}.{layout.ending}", frame[part * size : (part + 1) * size])
        for part in range(count)
    ]


def headings_of(layout: Layout) -> list[str] | None:
    """The heading cells as they are written, None for a file without heading line."""
    if not layout.file.headings:
        return None
    titles = [column.title for column in layout.columns]
    if layout.file.kind == "delimited":
        return titles
    encoding, unit = layout.encoding, layout.file.width_unit
    return [
        title + " " * (((column.width or 0) - encoding.length(title, unit)) // (encoding.unit if unit == "bytes" else 1))
        for title, column in zip(titles, layout.columns, strict=True)
    ]


def _text(rows: pl.DataFrame, layout: Layout) -> str:
    headings = headings_of(layout)
    if headings is not None:
        rows = pl.concat([pl.DataFrame([headings], schema=rows.schema, orient="row"), rows])
    if layout.file.kind == "fixed":
        lines = rows.select(pl.concat_str(pl.all()))[:, 0]
        return "".join(lines.str.join(layout.line_ending)) + layout.line_ending if rows.height else ""
    if rows.width > 1 and layout.file.quoting == "as needed":
        rows = rows.with_columns(pl.all().replace("", None))
    return rows.write_csv(
        include_header=False,
        separator=layout.file.delimiter,
        quote_style=_QUOTING[layout.file.quoting],
        line_terminator=layout.line_ending,
    )
