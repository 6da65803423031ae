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
import numpy.typing as npt
import polars as pl

from pruner.job.carried import Carried
from pruner.job.carried_texts import CarriedTexts, carried_texts
from pruner.job.choose import Choice
from pruner.job.load import Loaded
from pruner.job.texts import WrittenColumns, written_columns
from pruner.layout.plain import plain_cells, write_plain
from pruner.layout.telling import telling_rows
from pruner.place.country import country_of_ids, kinds
from pruner.reference import countries
from pruner.settings.cross import CARRIED
from pruner.settings.models import Radio
from pruner.words import schema

if TYPE_CHECKING:
    from pruner.layout.model import Layout
    from pruner.layout.write import Written

#: The name of the file to import, before the ending that a layout gives it.
CONTACTS: Final = "contacts"
#: The column of a frame of contacts that says which record each is, over all sources; -1 for carried entries.
RECORD: Final = "record"
#: Each text column and the names by which a level can keep it: `name` stands for both parts.
_TEXTS: Final = {
    column: {column, schema.NAME} if column in (schema.FIRST_NAME, schema.LAST_NAME) else {column}
    for column in schema.CONTACT_COLUMNS
    if column != schema.ID
}
#: So many contacts are made into text at once.
_PART: Final = 1 << 15


@dataclass(slots=True)
class FileContents:
    """What a file to import holds: contacts and the writer's cells, row by row in the order of the file. Of the plain file (no
    `layout`) only the most telling rows are held, which stand at `rows`. `changes`: what was changed, in contacts; `marks`: the
    rows of each kind of change for the layout; `count`: rows of the file; `carried`: where the texts of
    the carried entries went."""

    changes: Counter[str]
    contacts: pl.DataFrame
    cells: pl.DataFrame
    count: int
    layout: Layout | None = None
    marks: dict[str, pl.Series] = field(default_factory=dict)
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
    from pruner.layout.write import write_layout  # layouts are for those who have one

    frame, changes, carried = contact_frame(loaded, choice, everything=True)
    written = write_layout(frame, layout, folder, CONTACTS)
    return _contents(changes + written.counts, written, layout, carried)


def planned(loaded: Loaded, choice: Choice) -> FileContents:
    """What `write_contacts` would write."""
    layout = loaded.layouts.get(choice.radio.name)
    if layout is None:
        return _plain(loaded, choice, None)
    from pruner.layout.write import as_written

    frame, changes, carried = contact_frame(loaded, choice, everything=True)
    written = as_written(frame, layout)
    return _contents(changes + written.counts, written, layout, carried)


def _contents(changes: Counter[str], written: Written, layout: Layout, carried: CarriedTexts | None) -> FileContents:
    cells = written.cells
    return FileContents(changes, written.contacts, cells.frame, cells.frame.height, layout, cells.marks, carried=carried)


def _plain(loaded: Loaded, choice: Choice, path: Path | None) -> FileContents:
    """The plain file, part by part, and its most telling rows; without a path nothing is written."""
    carried: CarriedTexts | None = None
    if choice.carried is None and choice.level is None:
        columns, changes = _columns(loaded, choice)
        count = len(columns.number)
        record = pl.Series(RECORD, loaded.records[np.flatnonzero(choice.kept)], dtype=pl.Int64)
        slices = (slice(start, start + _PART) for start in range(0, max(count, 1), _PART))
        parts: Iterable[pl.DataFrame] = (columns.frame(part).with_columns(record[part]) for part in slices)
    else:
        frame, changes, carried = contact_frame(loaded, choice, everything=False)
        count, parts = frame.height, [frame]
    told: list[tuple[int, pl.DataFrame]] = []
    watched = _watched(parts, told)
    if path is None:
        for _ in watched:
            pass
    else:
        write_plain(watched, path)
    contacts = pl.concat([frame for _, frame in told])
    return FileContents(changes, contacts, plain_cells(contacts), count, rows=[row for row, _ in told], carried=carried)


def _watched(parts: Iterable[pl.DataFrame], told: list[tuple[int, pl.DataFrame]]) -> Iterator[pl.DataFrame]:
    """Hands parts on and puts their most telling contacts into `told`, with their rows in the whole; or an empty frame."""
    start = 0
    titles = {place: name for place, name in enumerate(schema.CONTACT_COLUMNS) if name != schema.ID}
    for part in parts:
        rows = sorted(row.place for row in telling_rows(part, plain_cells(part), {}, titles))
        told += [(start + row, part[row : row + 1]) for row in rows] or [(start, part.clear())]
        start += part.height
        yield part


def contact_frame(
    loaded: Loaded, choice: Choice, *, everything: bool
) -> tuple[pl.DataFrame, Counter[str], CarriedTexts | None]:
    """Kept contacts with cleaned text, by system and id, what was changed, and where the texts of carried entries went.

    With `everything` also `country_code`, `kind`, `rank` and `rule`, which layouts may name.
    """
    columns, changes = _columns(loaded, choice)
    frame = columns.frame()
    contacts, kept = loaded.contacts, np.flatnonzero(choice.kept)
    frame = frame.with_columns(pl.Series(RECORD, loaded.records[kept], dtype=pl.Int64))
    if everything:
        names = pl.Series([rule.name for rule in choice.rules], dtype=pl.String)
        frame = frame.with_columns(
            pl.Series(countries.CODES)[contacts.country[kept].astype(np.uint32)].alias("country_code"),
            pl.Series(schema.KINDS)[contacts.kind[kept].astype(np.uint32)].alias("kind"),
            pl.Series("rank", choice.fit.rank[kept]),
            names[choice.ownership.owner[kept].astype(np.uint32)].alias("rule"),
        )
    if choice.level is not None:
        frame = _lean(frame, choice.radio, choice.level[kept])
    own: CarriedTexts | None = None
    if choice.carried:
        own = _carried(choice.carried, loaded.layouts.get(choice.radio.name), everything=everything)
        frame = pl.concat([own.frame, frame], how="diagonal").sort(schema.ID, maintain_order=True)
    return frame, changes, own


def _lean(frame: pl.DataFrame, radio: Radio, level: npt.NDArray[np.int8]) -> pl.DataFrame:
    """The texts that each contact's level leaves out made empty."""
    from pruner.job.memory import level_fields  # for those whose limit is bytes

    levels = level_fields(radio)
    stored = {column: np.array([bool(names & fields) for fields in levels])[level] for column, names in _TEXTS.items()}
    return frame.with_columns(
        pl.when(pl.Series(mask)).then(pl.col(column)).otherwise(pl.lit("")).alias(column) for column, mask in stored.items()
    )


def _columns(loaded: Loaded, choice: Choice) -> tuple[WrittenColumns, Counter[str]]:
    kept = np.flatnonzero(choice.kept)
    contacts = loaded.contacts
    records, number, country = loaded.records[kept], contacts.number[kept], contacts.country[kept]
    return written_columns(loaded.sources, records, number, country, as_read=loaded.as_read)


def _carried(carried: Carried, layout: Layout | None, *, everything: bool) -> CarriedTexts:
    number = carried.number[: carried.kept]
    fields = pl.DataFrame({RECORD: pl.Series([-1], dtype=pl.Int64).new_from_index(0, len(number))})
    return carried_texts(carried, _with_fields(carried, fields) if everything else fields, layout)


def _with_fields(carried: Carried, frame: pl.DataFrame) -> pl.DataFrame:
    """The fields that layouts may name, of the kept entries."""
    number = carried.number[: carried.kept]
    texts = carried.texts()[schema.COUNTRY].to_list()
    by_text = np.array([countries.find(text) for text in texts], dtype=np.uint8)
    by_id = country_of_ids(number) if carried.rows.system == "dmr" else np.zeros(len(number), dtype=np.uint8)
    country = np.where(by_text > 0, by_text, by_id)
    return frame.with_columns(
        pl.Series(countries.CODES)[country.astype(np.uint32)].alias("country_code"),
        pl.Series(schema.KINDS)[kinds(number, carried.rows.system).astype(np.uint32)].alias("kind"),
        pl.Series("rank", np.arange(1, len(number) + 1, dtype=np.uint32)),
        pl.lit(CARRIED).alias("rule"),
    )
