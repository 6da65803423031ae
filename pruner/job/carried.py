"""Entries made by hand in a radio, taken from its export: they come first and are carried through as they are.

Receives the export of one radio, hands on its rows for the ledger and its entries for the file. A contact of a directory
with the same id gives way to the entry (`duplicate id`).
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner.account.ledger import LedgerRows
from pruner.choose.by_number import Fit
from pruner.clean.duplicates import SourceIds, surviving_records
from pruner.job.collect import SourceRows, collect
from pruner.job.texts import split_names
from pruner.read.directory import Answers, read_directory
from pruner.read.kinds import EXPORT
from pruner.settings.cross import CARRIED
from pruner.words import schema
from pruner.words.outcomes import Reason


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

    def texts(self) -> pl.DataFrame:
        """The kept entries as `schema.CONTACT_COLUMNS`, all text as it was read."""
        with ThreadPoolExecutor(max_workers=1) as pool:
            found = read_directory(
                self.path, lambda records: records, pool, kind=EXPORT, system=self.system, columns=self.columns
            )
            columns = [records.columns for _, records in found]
        places = pa.array(self.places[: self.kept])
        frame = pl.DataFrame({schema.ID: self.number[: self.kept]})
        for name in (schema.NAME, *(name for name in schema.CONTACT_COLUMNS if name != schema.ID)):
            parts = [part[name].cast(pa.string()) for part in columns if name in part]
            if parts:
                frame = frame.with_columns(
                    pl.Series(pl.from_arrow(pa.chunked_array(parts).take(places))).fill_null("").alias(name)
                )
            else:
                frame = frame.with_columns(pl.lit("").alias(name))
        first, last = split_names(frame[schema.NAME])
        whole = (pl.col(schema.FIRST_NAME) == "") & (pl.col(schema.LAST_NAME) == "")
        return frame.with_columns(
            pl.when(whole).then(first).otherwise(schema.FIRST_NAME).alias(schema.FIRST_NAME),
            pl.when(whole).then(last).otherwise(schema.LAST_NAME).alias(schema.LAST_NAME),
        ).select(schema.CONTACT_COLUMNS)


def read_carried(path: Path, columns: Answers, system: str, room: int) -> Carried:
    """Reads an export; `columns`: which column holds what, as far as that was said; `room`: how many entries the radio has room
    for. Raises InputRefusedError with one line."""
    with ThreadPoolExecutor(max_workers=2) as pool:
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
