"""A file that a layout describes -> contacts.

Receives a path and a layout, hands on one text column per field that the layout writes: the way back from `write`, as far
as cells tell their fields.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import polars as pl

from pruner.layout.model import Column, Layout
from pruner.layout.template import constant_text, fields_of, only_field, parse_template
from pruner.layout.verify import read_cells, same_headings
from pruner.read.entry_kinds import kind_column
from pruner.table.kinds import ENTRY_KIND
from pruner.words import schema
from pruner.words.errors import InputRefusedError, SettingsError

#: What can be read back; the other fields say how a contact was chosen.
READ_FIELDS: Final = schema.CONTACT_COLUMNS
_NARROW: Final = {schema.ID: r"[0-9]*", schema.CALLSIGN: r"\S*"}


def read_contacts(path: Path, layout: Layout, where: str) -> pl.DataFrame:
    """The fields of `READ_FIELDS` that the layout writes, as text; a field that stands in several columns is taken from
    the one that holds nothing else; and `ENTRY_KIND` where some rows are groups.

    Raises InputRefusedError where the file is not what the layout says, SettingsError where the layout (`where`) writes
    no id.
    """
    best: dict[str, tuple[int, int]] = {}
    for place, column in enumerate(layout.columns):
        names = fields_of(column.value)
        for name in names:
            if name in READ_FIELDS or name == "country_code":
                best[name] = min(best.get(name, (len(names), place)), (len(names), place))
    if schema.ID not in best:
        raise SettingsError(f"{where}: no column holds {{id}}, so no contact can be read by this layout")
    headings, cells = read_cells(path, layout)
    _refuse_other_files(path, layout, where, headings, cells)
    found = {
        name: _of_template(_bare(cells[:, place], layout.columns[place], layout), layout.columns[place], name)
        for name, (_, place) in sorted(best.items())
    }
    if "country_code" in found:
        found.setdefault(schema.COUNTRY, found.pop("country_code"))
    kinds = _kinds(cells, layout)
    if kinds is not None:
        found[ENTRY_KIND] = kinds
    return pl.DataFrame({name: found[name] for name in (*READ_FIELDS, ENTRY_KIND) if name in found})


def _kinds(cells: pl.DataFrame, layout: Layout) -> pl.Series | None:
    """The column of a file that says of some rows that they are groups, although the layout writes the same into all."""
    same = [place for place, column in enumerate(layout.columns) if constant_text(column.value) is not None]
    texts = [_bare(cells[:, place], layout.columns[place], layout) for place in same]
    found = kind_column([column.to_list() for column in texts], ())
    return None if found is None else texts[found]


def read_columns(path: Path, layout: Layout, where: str) -> pl.DataFrame:
    """What a file says, cell by cell without what fills them up: one text column per column of the layout, "0", "1", ...

    Raises InputRefusedError where the file is not what the layout (`where`) says.
    """
    headings, cells = read_cells(path, layout)
    _refuse_other_headings(path, layout, where, headings)
    return cells.select(_bare(cells[:, place], column, layout) for place, column in enumerate(layout.columns))


def ids_in(columns: pl.DataFrame, layout: Layout) -> pl.Series | None:
    """The ids of the rows of `read_columns` (uint32, null where a cell holds none); None where no column holds them."""
    holding = [
        (len(fields_of(column.value)), place)
        for place, column in enumerate(layout.columns)
        if schema.ID in fields_of(column.value)
    ]
    if not holding:
        return None
    place = min(holding)[1]
    return _of_template(columns[:, place], layout.columns[place], schema.ID).cast(pl.UInt32, strict=False)


def _refuse_other_headings(path: Path, layout: Layout, where: str, headings: list[str] | None) -> None:
    if not same_headings(headings, layout):
        raise InputRefusedError(f"{path}: its headings are not those of {where}; give the layout of this file")


def _refuse_other_files(path: Path, layout: Layout, where: str, headings: list[str] | None, cells: pl.DataFrame) -> None:
    _refuse_other_headings(path, layout, where, headings)
    if not cells.height:
        raise InputRefusedError(f"{path}: no rows; expected contacts")
    width = layout.columns[-1].width
    if layout.file.kind == "fixed" and width is not None:
        long = layout.encoding.lengths(cells[:, -1], layout.file.width_unit) > width
        if long.any():
            line = int(long.arg_true()[0]) + 1 + layout.lines_before
            raise InputRefusedError(
                f"{path}: line {line:,} is longer than the columns of {where}; check widths and line_ending"
            )


def _bare(cells: pl.Series, column: Column, layout: Layout) -> pl.Series:
    side = layout.padding(column)
    if side == "left":
        return cells.str.strip_chars_start(column.pad_with)
    return cells.str.strip_chars_end(column.pad_with) if side == "right" else cells


def _of_template(cells: pl.Series, column: Column, name: str) -> pl.Series:
    if only_field(column.value) is not None:
        return cells
    # A cell that the template does not fit had an empty field. It is read as if the last fields were empty; else its text is
    # taken for that of the first text field.
    taken = cells.str.extract(*_pattern(column.value, name))
    if taken.null_count():
        pattern, group = _open_pattern(column.value, name)
        fits = taken.is_null() & cells.str.contains(pattern)
        taken = cells.str.extract(pattern, group).fill_null("").zip_with(fits, taken)
    first = next((one for one in fields_of(column.value) if one != schema.ID), None)
    return taken.zip_with(taken.is_not_null(), cells) if name == first else taken.fill_null("")


def _pattern(template: str, name: str) -> tuple[str, int]:
    parts, group, wanted = [], 0, 0
    pieces = parse_template(template)
    for place, piece in enumerate(pieces):
        if not piece.is_field:
            parts.append(re.escape(piece.text))
            continue
        group += 1
        if piece.text == name and not wanted:
            wanted = group
        last = place == len(pieces) - 1
        parts.append(f"({_NARROW.get(piece.text, '.*' if last else '.*?')})")
    return f"^{''.join(parts)}$", wanted


def _open_pattern(template: str, name: str) -> tuple[str, int]:
    """The pattern of a template that may end behind any of its fields."""
    parts, group, wanted, constant = ["^"], 0, 0, ""
    for piece in parse_template(template):
        if not piece.is_field:
            constant = " +".join(re.escape(words) for words in re.split(" +", piece.text if group else piece.text.lstrip(" ")))
            continue
        group += 1
        if piece.text == name and not wanted:
            wanted = group
        parts.append(f"{'(?:' if group > 1 else ' *'}{constant}({_NARROW.get(piece.text, '.*?')})")
        constant = ""
    return f"{''.join(parts)}{')?' * (group - 1)}$", wanted
