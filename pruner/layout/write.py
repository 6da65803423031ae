"""Contacts -> the files that a layout describes, read back after writing.

Receives a frame of cleaned text, hands on the paths of the files and what was changed.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal

import polars as pl

from pruner.layout.cells import Cells, cells_of
from pruner.layout.model import Layout
from pruner.layout.verify import verify_file
from pruner.words import schema

_QUOTING: Final[dict[str, Literal["necessary", "always", "never"]]] = {
    "as needed": "necessary",
    "all": "always",
    "texts": "never",
    "none": "never",
}


@dataclass(slots=True)
class Written:
    """`files`: in the order of their rows; `contacts` and `cells`: what was written, in this order; `counts`: how many contacts
    were changed for the layout, by kind of change."""

    contacts: pl.DataFrame
    cells: Cells
    files: list[Path] = field(default_factory=list)

    @property
    def counts(self) -> Counter[str]:
        """Contacts per kind of change."""
        return self.cells.counts


def write_layout(contacts: pl.DataFrame, layout: Layout, folder: Path, name: str) -> Written:
    """Writes contacts into a folder, as `name.csv` or, split, as `name-01.csv`, `name-02.csv`, ...

    `contacts` holds the fields that the layout names: integers, or text that is "" where there is none; its order, by
    system and id, ends every tie. Each file is read back and compared. Raises SettingsError where an id does not fit its
    column, PrunerError where a file does not give back what was written.
    """
    written = as_written(contacts, layout)
    for path, rows in _parts(written.cells.frame, layout, folder, name):
        above = "".join(line + layout.line_ending for line in layout.file.lines_above)
        path.write_bytes(layout.mark + (above + _text(rows, layout)).encode(layout.encoding.codec))
        verify_file(path, rows, layout)
        written.files.append(path)
    return written


def as_written(contacts: pl.DataFrame, layout: Layout) -> Written:
    """What `write_layout` would write of the same contacts, without files."""
    ordered = _ordered(contacts, layout.file.order)
    return Written(ordered, cells_of(ordered, layout))


def file_of(row: int, layout: Layout, name: str, rows: int) -> tuple[str, int]:
    """The name of the file that holds a row (from 0) of so many, and its line there, from 1."""
    size = layout.file.rows_per_file or max(rows, 1)
    part = row // size
    names = _part_names(layout, name, rows)
    return names[part], row % size + 1 + layout.lines_before


def _ordered(contacts: pl.DataFrame, order: str) -> pl.DataFrame:
    if order == schema.ID:
        return contacts
    keys = contacts.select(pl.col(order), pl.int_range(pl.len()).alias("place"))
    if order == schema.CALLSIGN:
        keys = keys.with_columns(pl.col(order).replace("", None))
    places = keys.sort(order, "place", nulls_last=True)["place"]
    return contacts[places]


def _parts(frame: pl.DataFrame, layout: Layout, folder: Path, name: str) -> list[tuple[Path, pl.DataFrame]]:
    size = layout.file.rows_per_file or max(frame.height, 1)
    names = _part_names(layout, name, frame.height)
    return [(folder / own, frame[part * size : (part + 1) * size]) for part, own in enumerate(names)]


def _part_names(layout: Layout, name: str, rows: int) -> list[str]:
    size = layout.file.rows_per_file
    if size is None:
        return [f"{name}.{layout.ending}"]
    count = max(1, -(-rows // size))
    digits = max(2, len(str(count)))
    return [f"{name}-{part + 1:0{digits}}.{layout.ending}" for part in range(count)]


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


def _quoted(cells: pl.Expr) -> pl.Expr:
    """Cells in quotes, but for digits and empty ones."""
    quoted = pl.lit('"') + cells.str.replace_all('"', '""', literal=True) + pl.lit('"')
    return pl.when(cells.str.contains(r"^[0-9]*$")).then(cells).otherwise(quoted)


def _text(rows: pl.DataFrame, layout: Layout) -> str:
    headings = headings_of(layout)
    if headings is not None:
        rows = pl.concat([pl.DataFrame([headings], schema=rows.schema, orient="row"), rows])
    if layout.file.kind == "fixed":
        lines = rows.select(pl.concat_str(pl.all()))[:, 0]
        return "".join(lines.str.join(layout.line_ending)) + layout.line_ending if rows.height else ""
    if rows.width > 1 and layout.file.quoting == "as needed":
        rows = rows.with_columns(pl.all().replace("", None))
    if layout.file.quoting == "texts":
        rows = rows.with_columns(_quoted(pl.col(name)).alias(name) for name in rows.columns)
    return rows.write_csv(
        include_header=False,
        separator=layout.file.delimiter,
        quote_style=_QUOTING[layout.file.quoting],
        line_terminator=layout.line_ending,
    )
