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
from pruner.read.kinds import CONTACT_LIST
from pruner.read.open_table import open_table
from pruner.table.kinds import ENTRY_KIND
from pruner.table.open_columnar import hold
from pruner.table.opened import Held
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
    learned = _by_learned_layout(old)
    if learned is not None and learned.understanding is not None:
        found = {use.meaning for use in learned.understanding.columns}
        if refusal is not None or known < found:
            return learned
    if refusal is not None:
        raise refusal
    return OldList(old, columns)


def _by_learned_layout(old: Path) -> OldList | None:
    """The list by a layout that its rows give; None where they give none that holds its ids for certain."""
    try:
        learned = learn_layout(old)
        if any(schema.ID in fields_of(doubt.value) for doubt in learned.doubts):
            return None
        return _by_layout(old, layout_of(learned.text), str(old), learned.doubts)
    except PrunerError:
        return None


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
