"""Carried entries as the file will hold them: unchanged wherever it has a place for what was read.

Receives the entries of an export as they were read and the layout of the radio, hands on contacts for the writer and what could
not stay as it was. Where the export has the form of the layout itself, every cell stays; else a name stays one text if one
column takes it whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import polars as pl

from pruner.account.summary import CarriedChange
from pruner.job.carried import Carried, cells_in_form
from pruner.job.texts import split_names
from pruner.layout.plain import plain_cells
from pruner.words import schema
from pruner.words.frames import array_of, series_of, table_of

if TYPE_CHECKING:
    from pruner.layout.model import Layout

_FIRST, _LAST, _NAME = schema.FIRST_NAME, schema.LAST_NAME, schema.NAME
_OTHERS: Final = (schema.CALLSIGN, schema.TOWN, schema.STATE, schema.COUNTRY)


@dataclass(frozen=True, slots=True)
class CarriedTexts:
    """`frame`: the kept entries by id, fields and cells as they go to the writer; `changed`: for each entry that does not
    stay as it was its id, what it is called and sentences; `columns_left`: columns of the export whose cells are lost."""

    frame: pl.DataFrame
    changed: list[CarriedChange]
    columns_left: list[str]


def carried_texts(carried: Carried, fields: pl.DataFrame, layout: Layout | None) -> CarriedTexts:
    """Where the texts of the kept entries go. `fields`: further fields that a layout may name, one row per kept entry."""
    read = carried.as_read()
    separate = (read[_FIRST] != "") | (read[_LAST] != "")
    joined = (read[_FIRST] + " " + read[_LAST]).str.strip_chars(" ")
    whole = joined.zip_with(separate, read[_NAME])
    cells = _cells_of_export(carried, layout)
    frame = pl.concat([read.drop(_NAME), fields, *cells], how="horizontal")
    first, last = map(series_of, split_names(array_of(whole)))
    parts = (read[_FIRST].zip_with(separate, first), read[_LAST].zip_with(separate, last))
    nothing = pl.Series([""], dtype=pl.String).new_from_index(0, len(whole))
    ways = (parts, (whole, nothing), (nothing, whole))
    held = [
        _holds(_cells(frame.with_columns(one.alias(_FIRST), two.alias(_LAST)), layout), wanted)
        for (one, two), wanted in zip(ways, (parts, (whole,), (whole,)), strict=True)
    ]
    fits = np.array(held, dtype=bool).reshape(len(ways), len(whole))
    order = np.where(separate.to_numpy(), np.array([[0], [1], [2], [0]]), np.array([[1], [2], [0], [1]]))
    rows = np.arange(len(whole))
    way = order[3]
    for step in (2, 1, 0):
        way = np.where(fits[order[step], rows], order[step], way)
    texts = [np.array([ways[number][part].to_list() for number in range(3)], dtype=object)[way, rows] for part in (0, 1)]
    frame = frame.with_columns(
        pl.Series(_FIRST, texts[0].tolist(), dtype=pl.String), pl.Series(_LAST, texts[1].tolist(), dtype=pl.String)
    )
    stays = pl.Series(fits[way, rows] & (separate.to_numpy() | (way != 0)), dtype=pl.Boolean)
    left = [] if cells else [column for one in carried.rows.understandings for column in one.unused]
    return CarriedTexts(frame, list(_changed(read, whole, stays, frame, layout)), left)


def _cells_of_export(carried: Carried, layout: Layout | None) -> list[pl.DataFrame]:
    """The cells of the export, column by column of the layout, where it has the form of the layout; else nothing."""
    if layout is None:
        return []
    from pruner.layout.cells import as_read_column
    from pruner.layout.template import RUNNING, fields_of

    found = cells_in_form(carried.path, layout)
    if found is None:
        return []
    cells, ids = found
    number = carried.number[: carried.kept]
    if not set(number.tolist()) <= set(ids.to_list()):
        return []
    rows = pl.DataFrame({"number": number}).join(
        pl.DataFrame({"number": ids}).with_row_index("row").unique("number", keep="last", maintain_order=True),
        on="number",
        how="left",
        maintain_order="left",
    )["row"]
    own = {*RUNNING, "rank", "rule"}
    return [
        cells[rows].select(
            pl.col(str(place)).alias(as_read_column(place))
            for place, column in enumerate(layout.columns)
            if not {*fields_of(column.value)} & own
        )
    ]


def _cells(frame: pl.DataFrame, layout: Layout | None) -> pl.DataFrame:
    if layout is None:
        return pl.DataFrame(plain_cells(table_of(frame))).cast(pl.String)
    from pruner.layout.cells import cells_of

    return cells_of(frame, layout).frame


def _holds(cells: pl.DataFrame, wanted: tuple[pl.Series, ...]) -> list[bool]:
    """For each row whether every wanted text stands in one of its cells as it is."""
    frame = cells.with_columns(text.alias(f"wanted {number}") for number, text in enumerate(wanted))
    conditions = [
        pl.any_horizontal(pl.col(name).str.contains(pl.col(f"wanted {number}"), literal=True) for name in cells.columns)
        for number in range(len(wanted))
    ]
    return frame.select(pl.all_horizontal(conditions))[:, 0].to_list()


def _changed(
    read: pl.DataFrame, whole: pl.Series, stays: pl.Series, frame: pl.DataFrame, layout: Layout | None
) -> Iterator[CarriedChange]:
    cells = _cells(frame, layout)
    lost = {"name": ~stays & (whole != "")}
    for name in _OTHERS:
        lost[name] = ~pl.Series(_holds(cells, (read[name],)), dtype=pl.Boolean)
    if layout is not None and any("{country_code}" in column.value for column in layout.columns):
        lost[schema.COUNTRY] &= False
    places = _places(layout)
    for row in np.flatnonzero(np.any([mask.to_numpy() for mask in lost.values()], axis=0)).tolist():
        texts = {"name": whole[row], **{name: read[name][row] for name in _OTHERS}}
        yield CarriedChange(
            id=int(read[schema.ID][row]),
            entry=texts["name"] or texts[schema.CALLSIGN] or str(read[schema.ID][row]),
            changes=tuple(
                _sentence(name, texts[name], [cells[row, place].strip() for place in places.get(name, ())])
                for name, mask in lost.items()
                if mask[row]
            ),
        )


def _sentence(name: str, text: str, cells: list[str]) -> str:
    word = "call sign" if name == schema.CALLSIGN else name
    written = ", ".join(repr(cell) for cell in cells if cell)
    return f"{word} {text!r} is written as {written}" if written else f"{word} {text!r} has no place in the file"


def _places(layout: Layout | None) -> dict[str, list[int]]:
    """The columns that hold each kind of text."""
    if layout is None:
        fields = [[name] for name in schema.CONTACT_COLUMNS]
    else:
        from pruner.layout.template import fields_of

        fields = [list(fields_of(column.value)) for column in layout.columns]
    found: dict[str, list[int]] = {}
    for place, names in enumerate(fields):
        for name in dict.fromkeys("name" if name in (_FIRST, _LAST) else name for name in names):
            found.setdefault(name, []).append(place)
    return found
