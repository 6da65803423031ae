"""The contact list that is carried to another radio, as a table that the main job reads.

Receives the list, and its layout where somebody named one, hands on where to read it. Where its headings are not understood,
its layout is learned from its own rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pruner.convert.learn import learn_layout
from pruner.layout.learn import Doubt
from pruner.layout.model import Layout, layout_of, load_layout
from pruner.layout.read import READ_FIELDS, read_contacts
from pruner.layout.template import fields_of
from pruner.layout.verify import read_cells
from pruner.read.kinds import CONTACT_LIST, judge_stations
from pruner.read.open_table import open_table
from pruner.table.board import Board
from pruner.table.kinds import ENTRY_KIND
from pruner.table.open_columnar import hold
from pruner.table.open_file import open_file
from pruner.table.opened import SAMPLE_ROWS, ColumnTable, Held
from pruner.table.understanding import ColumnUse, Understanding, shown
from pruner.words import schema
from pruner.words.errors import InputRefusedError, PrunerError

_NAMES: Final = {schema.FIRST_NAME, schema.LAST_NAME}


@dataclass(frozen=True, slots=True)
class OldList:
    """`table`: the file itself, or its contacts by a layout; `columns`: which column holds what; `understanding`: what its
    layout says of the columns (None: their headings are understood); `doubts`: of a layout that was learned."""

    table: Path | Held
    columns: Mapping[str, str | int]
    understanding: Understanding | None = None
    doubts: tuple[Doubt, ...] = ()


def old_list(old: Path, described_by: Path | None, columns: Mapping[str, str | int], system: str) -> OldList:
    """The list as a table. `described_by` is its layout, `columns` what somebody said of its columns.

    Raises SettingsError or InputRefusedError with one line per problem, those of its headings where neither they nor its rows
    are understood.
    """
    if described_by is not None:
        return _by_layout(old, load_layout(described_by), str(described_by))
    refusal: InputRefusedError | None = None
    known: set[str] = set()
    try:
        understanding = open_table(old, CONTACT_LIST, system, columns).understanding
        known = {use.meaning for use in understanding.columns} - {ENTRY_KIND}
        known = (known - {schema.NAME}) | _NAMES if schema.NAME in known else known
        if columns or not (understanding.is_doubtful or understanding.unused):
            return OldList(old, columns)
    except InputRefusedError as error:
        refusal = error
        if columns:
            raise
    learned = _by_learned_layout(old, system)
    if learned is not None and learned.understanding is not None:
        found = {use.meaning for use in learned.understanding.columns}
        if refusal is not None or known < found:
            return learned
    if refusal is not None:
        raise refusal
    return OldList(old, columns)


def _by_learned_layout(old: Path, system: str) -> OldList | None:
    """The list by a layout that its rows give; None where they give none that holds its ids for certain, where they are no
    contacts, and where the file is none of lines."""
    try:
        tables = open_file(old)
        if len(tables) > 1 or isinstance(tables[0], ColumnTable) or tables[0].is_exact:
            return None
        learned = learn_layout(old)
        if any(schema.ID in fields_of(doubt.value) for doubt in learned.doubts):
            return None
        layout = layout_of(learned.text)
        return _by_layout(old, layout, str(old), learned.doubts) if _holds_contacts(old, layout, system) else None
    except PrunerError:
        return None


def _holds_contacts(old: Path, layout: Layout, system: str) -> bool:
    """Whether the rows of a file are such as those of a directory that `fit` reads."""
    headings, cells = read_cells(old, layout)
    board = Board(headings, cells.head(SAMPLE_ROWS).rows(), system)
    chosen: dict[str, int] = {}
    for place, column in enumerate(layout.columns):
        for name in fields_of(column.value):
            chosen.setdefault(name, place)
    return schema.ID in chosen and not judge_stations(board, chosen)


def _by_layout(old: Path, layout: Layout, where: str, doubts: tuple[Doubt, ...] = ()) -> OldList:
    """The contacts of a list by its layout."""
    frame = read_contacts(old, layout, where)
    columns = {name: place + 1 for place, name in enumerate(frame.columns) if name != ENTRY_KIND}
    table = hold(frame.to_arrow(), str(old), lines_above=layout.lines_before)
    return OldList(table, columns, _understanding(old, layout), doubts)


def _understanding(old: Path, layout: Layout) -> Understanding:
    uses: list[ColumnUse] = []
    for number, column in enumerate(layout.columns, 1):
        for name in fields_of(column.value):
            if name in READ_FIELDS and all(use.meaning != name for use in uses):
                uses.append(ColumnUse(name, number, shown(column.title), "rows", number))
    used = {use.number for use in uses}
    unused = tuple(
        shown(column.title) or f"column {number}" for number, column in enumerate(layout.columns, 1) if number not in used
    )
    return Understanding(str(old), "", tuple(uses), unused, layout.file.headings)
