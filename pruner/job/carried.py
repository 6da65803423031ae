"""Entries made by hand in a radio, taken from its export: they come first and are carried through as they are.

Receives the export of one radio, hands on its rows for the ledger and its entries for the file. A contact of a directory
with the same id gives way to the entry (`duplicate id`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.account.ledger import LedgerRows
from pruner.account.summary import CarriedChange, CarriedSummary, NotCarried
from pruner.choose.by_number import Fit
from pruner.clean.duplicates import SourceIds, surviving_records
from pruner.job.collect import SourceRows, collect, with_one_id_each
from pruner.job.texts import fetch_callsigns, fetch_text, split_names
from pruner.read.directory import read_directory
from pruner.read.kinds import EXPORT
from pruner.read.open_table import Answers
from pruner.settings.cross import CARRIED
from pruner.words import schema
from pruner.words.errors import PrunerError
from pruner.words.frames import array_of, series_of
from pruner.words.outcomes import REASON_WORDS, Reason
from pruner.words.threads import Pool, Work

if TYPE_CHECKING:
    import polars as pl

    from pruner.layout.model import Layout


@dataclass(frozen=True, slots=True)
class Carried:
    """`places` (int64, positions in `rows`) and `number` (uint32) of the entries that stay, ascending by id; `kept` of
    them have room."""

    path: Path
    columns: Answers
    rows: SourceRows
    places: npt.NDArray[np.int64]
    number: npt.NDArray[np.uint32]
    kept: int

    @property
    def system(self) -> str:
        """The system of the entries."""
        return self.rows.system

    def ledger_rows(self, rule: int) -> LedgerRows:
        """The rows of the export; kept entries have the first ranks."""
        rows, reason = self.rows, self.rows.reason.copy()
        reason[rows.station] = Reason.DUPLICATE_ID
        reason[self.places] = np.where(np.arange(len(self.places)) < self.kept, Reason.NONE, Reason.OVER_LIMIT)
        owner = np.zeros(len(reason), dtype=np.uint8)
        owner[self.places] = rule
        rank = np.zeros(len(reason), dtype=np.uint32)
        rank[self.places] = np.arange(1, len(self.places) + 1)
        readable = (reason != Reason.UNREADABLE_ROW) & (reason != Reason.INVALID_ID)
        return LedgerRows(
            rows.name, rows.system, rows.number, readable, rows.callsign, rows.country, rows.evidence, reason, owner, rank
        )

    def as_read(self) -> pl.DataFrame:
        """The kept entries as they were read: `id`, and texts ("" where there are none) of `name` and all other columns of
        `schema.CONTACT_COLUMNS`."""
        import polars as pl  # for those who carry entries

        with Pool(Work.PARSING) as pool:
            system = schema.SYSTEMS[self.system]
            found = read_directory(
                self.path,
                lambda records: with_one_id_each(records, system)[0],
                pool,
                kind=EXPORT,
                system=self.system,
                columns=self.columns,
            )
            columns = [records.columns for _, records in found]
        places = pa.array(self.places[: self.kept])
        frame = pl.DataFrame({schema.ID: self.number[: self.kept]})
        for name in (schema.NAME, *(name for name in schema.CONTACT_COLUMNS if name != schema.ID)):
            parts = [part[name].cast(pa.string()) for part in columns if name in part]
            texts = pl.lit("")
            if parts:
                texts = pl.lit(pl.Series(pl.from_arrow(pa.chunked_array(parts).take(places))).fill_null(""))
            frame = frame.with_columns(texts.alias(name))
        return frame

    def texts(self) -> pl.DataFrame:
        """The same as `schema.CONTACT_COLUMNS`, whole names cut in two."""
        import polars as pl

        frame = self.as_read()
        first, last = map(series_of, split_names(array_of(frame[schema.NAME])))
        whole = (pl.col(schema.FIRST_NAME) == "") & (pl.col(schema.LAST_NAME) == "")
        return frame.with_columns(
            pl.when(whole).then(first).otherwise(schema.FIRST_NAME).alias(schema.FIRST_NAME),
            pl.when(whole).then(last).otherwise(schema.LAST_NAME).alias(schema.LAST_NAME),
        ).select(schema.CONTACT_COLUMNS)

    def account(self, changed: Sequence[CarriedChange], columns_left: Sequence[str]) -> CarriedSummary:
        """For the summary: how many rows the export has, how many entries stay as they were, those that are `changed` (this and
        `columns_left` as in `carried_texts.CarriedTexts`), and those that are not carried."""
        rows, reason = self.rows, self.ledger_rows(1).reason
        aside = np.flatnonzero((reason != Reason.NONE) & (reason != Reason.UNREADABLE_ROW) & (reason != Reason.INVALID_ID))
        names = [fetch_text([rows], aside, name).to_pylist() for name in (schema.NAME, schema.FIRST_NAME, schema.LAST_NAME)]
        called = fetch_callsigns([rows], aside).to_pylist()
        left = [
            NotCarried(
                entry=" ".join(text for text in texts if text) or callsign or str(int(rows.number[row])),
                id=int(rows.number[row]),
                reason=REASON_WORDS[Reason(int(reason[row]))],
            )
            for row, callsign, *texts in zip(aside.tolist(), called, *names, strict=True)
        ]
        unread = [NotCarried(entry=row.raw, line=row.line, reason=f"{row.reason}: {row.detail}") for row in rows.rejected]
        return CarriedSummary(
            rows=len(rows.number),
            unchanged=self.kept - len(changed),
            changed=tuple(changed),
            not_carried=(*left, *unread),
            columns_left=tuple(columns_left),
        )


def cells_in_form(path: Path, layout: Layout) -> tuple[pl.DataFrame, pl.Series] | None:
    """The cells of an export that has the form of a layout, column by column, and its ids (uint32); None of another form."""
    from pruner.layout.read import ids_in, read_columns  # for those who have a layout

    try:
        cells = read_columns(path, layout, "the layout")
        ids = ids_in(cells, layout)
    except PrunerError:
        return None
    return None if ids is None or not ids.is_not_null().any() else (cells, ids)


def _by_layout(path: Path, layout: Layout) -> Answers:
    """Which column of an export holds what, where it has the form of a layout with a heading line; else nothing."""
    from pruner.layout.template import only_field

    if not layout.file.headings or cells_in_form(path, layout) is None:
        return {}
    fields = {only_field(column.value): place for place, column in reversed(list(enumerate(layout.columns, 1)))}
    return {name: fields[name] for name in schema.MEANINGS if name in fields}


def read_carried(path: Path, columns: Answers, system: str, room: int, layout: Layout | None = None) -> Carried:
    """Reads an export; `columns`: which column holds what, as far as that was said (else a `layout` says it, where the export
    has its form); `room`: how many entries the radio has room for. Raises InputRefusedError with one line."""
    if layout is not None and not columns:
        columns = _by_layout(path, layout)
    with Pool(Work.PARSING) as pool:
        rows = collect(CARRIED, schema.SYSTEMS[system], [path], pool, columns=columns, kind=EXPORT)
    stays = surviving_records([SourceIds(system, rows.number, rows.station, rows.suffixed)])
    return Carried(path, columns, rows, stays.record, stays.number, min(room, len(stays.number)))


def without_carried(carried: Carried, number: npt.NDArray[np.uint32], system: npt.NDArray[np.uint8]) -> npt.NDArray[np.bool_]:
    """Which contacts give way to an entry of the same id."""
    same = np.zeros(schema.ADDRESSES, dtype=bool)
    same[carried.number] = True
    return same[number] & (system == schema.SYSTEM_NAMES.index(carried.rows.system))


def behind(fit: Fit, carried: Carried) -> Fit:
    """The fit with all ranks behind those of the carried entries."""
    rank = fit.rank + np.where(fit.rank > 0, np.uint32(len(carried.number)), np.uint32(0)).astype(np.uint32)
    cut = (fit.cut[0], fit.cut[1] + len(carried.number)) if fit.cut else None
    return Fit(fit.reason, rank, fit.kept, cut)
