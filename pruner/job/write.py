"""The file to import: text of the kept contacts, cleaned, joined with carried entries, in the radio's layout.

Receives a choice, writes into a folder, hands on what was changed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import pyarrow as pa

from pruner.job.choose import Choice
from pruner.job.load import Loaded
from pruner.job.texts import WrittenColumns, written_columns
from pruner.layout.plain import plain_cells, write_plain
from pruner.layout.telling import Mask, telling_rows
from pruner.words import schema
from pruner.words.frames import table_of

if TYPE_CHECKING:
    from pruner.job.carried_texts import CarriedTexts
    from pruner.layout.model import Layout
    from pruner.layout.write import Written

#: The name of the file to import, before the ending that a layout gives it.
CONTACTS: Final = "contacts"
#: The column of contacts that says which record each is, over all sources; -1 for carried entries.
RECORD: Final = "record"
#: So many contacts are made into text at once.
_PART: Final = 1 << 15


@dataclass(slots=True)
class FileContents:
    """What a file to import holds: contacts and the writer's cells, row by row in the order of the file. Of the plain file (no
    `layout`) only the most telling rows are held, which stand at `rows`. `changes`: what was changed, in contacts; `marks`: the
    rows of each kind of change for the layout; `count`: rows of the file; `carried`: where the texts of
    the carried entries went."""

    changes: Counter[str]
    contacts: pa.Table
    cells: pa.Table
    count: int
    layout: Layout | None = None
    marks: dict[str, Mask] = field(default_factory=dict)
    rows: list[int] = field(default_factory=list)
    carried: CarriedTexts | None = None

    def place(self, row: int) -> tuple[str, int]:
        """The file and the line (from 1) of a row that is held."""
        if self.layout is None:
            return f"{CONTACTS}.csv", self.rows[row] + 2
        from pruner.layout.write import file_of

        return file_of(row, self.layout, CONTACTS, self.count)


def write_contacts(loaded: Loaded, choice: Choice, folder: Path) -> FileContents:
    """Writes the contacts of a choice; returns what was written."""
    layout = loaded.layouts.get(choice.radio.name)
    if layout is None:
        return _plain(loaded, choice, folder / f"{CONTACTS}.csv")
    from pruner.job.contact_frame import contact_frame  # layouts are for those who have one
    from pruner.layout.write import write_layout

    frame, changes, carried = contact_frame(loaded, choice, everything=True)
    written = write_layout(frame, layout, folder, CONTACTS)
    return _contents(changes + written.counts, written, layout, carried)


def planned(loaded: Loaded, choice: Choice) -> FileContents:
    """What `write_contacts` would write."""
    layout = loaded.layouts.get(choice.radio.name)
    if layout is None:
        return _plain(loaded, choice, None)
    from pruner.job.contact_frame import contact_frame
    from pruner.layout.write import as_written

    frame, changes, carried = contact_frame(loaded, choice, everything=True)
    written = as_written(frame, layout)
    return _contents(changes + written.counts, written, layout, carried)


def _contents(changes: Counter[str], written: Written, layout: Layout, carried: CarriedTexts | None) -> FileContents:
    cells, contacts = table_of(written.cells.frame), table_of(written.contacts)
    marks = {kind: rows.to_numpy() for kind, rows in written.cells.marks.items()}
    return FileContents(changes, contacts, cells, cells.num_rows, layout, marks, carried=carried)


def _plain(loaded: Loaded, choice: Choice, path: Path | None) -> FileContents:
    """The plain file, part by part, and its most telling rows; without a path nothing is written."""
    carried: CarriedTexts | None = None
    if choice.carried is None and choice.level is None:
        columns, changes = kept_columns(loaded, choice)
        count = len(columns.number)
        record = loaded.records[np.flatnonzero(choice.kept)]
        slices = (slice(start, start + _PART) for start in range(0, max(count, 1), _PART))
        parts: Iterable[pa.Table] = (columns.table(part).append_column(RECORD, [record[part]]) for part in slices)
    else:
        from pruner.job.contact_frame import contact_frame  # for those who carry entries, or have levels

        frame, changes, carried = contact_frame(loaded, choice, everything=False)
        count, parts = frame.height, [table_of(frame)]
    told = _Told()
    watched = _watched(parts, told)
    if path is None:
        for _ in watched:
            pass
    else:
        write_plain(watched, path)
    contacts, cells = pa.concat_tables(told.contacts), pa.concat_tables(told.cells)
    return FileContents(changes, contacts, cells, count, rows=told.rows, carried=carried)


@dataclass(slots=True)
class _Told:
    """The most telling rows of parts of a file: `rows` where they stand in the whole."""

    contacts: list[pa.Table] = field(default_factory=list)
    cells: list[pa.Table] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)


def _watched(parts: Iterable[pa.Table], told: _Told) -> Iterator[pa.Table]:
    """Hands on the cells of parts and notes their most telling rows."""
    start = 0
    titles = {place: name for place, name in enumerate(schema.CONTACT_COLUMNS) if name != schema.ID}
    for part in parts:
        cells = plain_cells(part)
        rows = sorted(row.place for row in telling_rows(part, cells, {}, titles))
        places = pa.array(rows, pa.int64())
        told.contacts.append(part.take(places))
        told.cells.append(cells.take(places))
        told.rows += [start + row for row in rows]
        start += part.num_rows
        yield cells


def kept_columns(loaded: Loaded, choice: Choice) -> tuple[WrittenColumns, Counter[str]]:
    """The contacts that a choice keeps, as they are written, and what was changed."""
    kept = np.flatnonzero(choice.kept)
    contacts = loaded.contacts
    records, number, country = loaded.records[kept], contacts.number[kept], contacts.country[kept]
    return written_columns(loaded.sources, records, number, country, as_read=loaded.as_read)
