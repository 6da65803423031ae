"""A store as rules, coverage and models see it: only the days that the log covers, counted without gaps.

Receives an opened store; hands on the same questions with answers by the calendar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.calendar import Calendar, calendar_of
from pruner.calls.counting import TOLERANCE
from pruner.calls.parts import ROW
from pruner.calls.weights import Weights, load_weights
from pruner.words import schema

#: What is kept in memory of each row; what else a row has is read where it is asked for.
_COLUMNS: Final = ("id", "talkgroup", "day", "calls", "last")
_WIDTHS: Final = {"day": np.int32, "last": np.int64}
_STORED: Final = {"id": pa.uint32(), "talkgroup": pa.uint32(), "calls": pa.uint32(), "last": pa.int64()}


@dataclass(frozen=True)
class CoveredStore:
    """A store of covered days. Windows and `rows` count covered days only; the last of them is today. `table`: the rows of all
    covered days, by day, id and talkgroup; None: not read yet."""

    weights: Weights
    calendar: Calendar
    table: pa.Table | None = None
    marks: dict[tuple[int, ...], pa.ChunkedArray] = field(default_factory=dict, compare=False, repr=False)

    @property
    def last_day(self) -> int:
        """The last covered day, counted from 1970-01-01; it is the same in counted days."""
        return self.calendar.last_day

    @property
    def first_day(self) -> int:
        """The first covered day as a counted day."""
        return self.last_day - len(self.calendar.days) + 1

    def part(self, first: int, last: int) -> CoveredStore:
        """Some counted days of it, both included, of which at least one is covered."""
        days = self.calendar.days[max(first - self.first_day, 0) : last - self.first_day + 1]
        return CoveredStore(self.weights.only(days), Calendar(days), self._between(int(days[0]), int(days[-1])))

    def joined(self, numbers: npt.NDArray[np.uint32], callsigns: pa.Array) -> CoveredStore:
        """As `Weights.joined`."""
        return CoveredStore(self.weights.joined(numbers, callsigns), self.calendar)

    def callsign_calls(self, within_days: int | None = None) -> tuple[int, int]:
        """As `Weights.callsign_calls`, in the last `within_days` covered days."""
        weights = self.weights if within_days is None else self.weights.only(self.calendar.days[-within_days:])
        return weights.callsign_calls()

    def nameless_calls(self, talkgroups: Sequence[int] | None = None) -> npt.NDArray[np.float64]:
        """How often each caller was heard of whom only a call sign is known that no directory has; one entry per call sign."""
        frames = list(self.weights.nameless(talkgroups))
        if not frames:
            return np.zeros(0)
        by_callsign = pl.concat(frames).group_by("callsign").agg(pl.col("calls").cast(pl.Float64).sum())
        return by_callsign.sort("callsign")["calls"].to_numpy()

    def last_heard(self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None) -> npt.NDArray[np.int64]:
        """As `Weights.last_heard`."""
        rows = self._rows(talkgroups, None, ("id", "last"))
        latest = np.zeros(schema.ADDRESSES, dtype=np.int64)
        np.maximum.at(latest, rows["id"].to_numpy(), rows["last"].cast(pa.int64()).to_numpy())
        return latest[numbers]

    def calls(
        self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None, within_days: int | None = None
    ) -> npt.NDArray[np.uint32]:
        """As `Weights.calls`, in the last `within_days` covered days."""
        rows = self._rows(talkgroups, within_days, ("id", "calls"))
        counts = np.zeros(schema.ADDRESSES, dtype=np.uint32)
        np.add.at(counts, rows["id"].to_numpy(), rows["calls"].to_numpy())
        return counts[numbers]

    def total_calls(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> int:
        """As `Weights.total_calls`, in the last `within_days` covered days."""
        return int(self._rows(talkgroups, within_days, ("calls",))["calls"].to_numpy().sum(dtype=np.int64))

    def rows(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
        """As `Weights.rows`, but only id, talkgroup, day, calls and last; `day` holds counted days (`Calendar.counted`)."""
        rows = pl.DataFrame(self._rows(talkgroups, within_days))
        day = self.calendar.counted(rows["day"].to_physical().to_numpy().astype(np.int64))
        return rows.with_columns(pl.Series("day", day.astype(np.int32)).cast(pl.Date))

    def _rows(self, talkgroups: Sequence[int] | None, within_days: int | None, columns: Sequence[str] = _COLUMNS) -> pa.Table:
        table = self._table()
        if within_days is not None and within_days < len(self.calendar.days):
            table = self._between(int(self.calendar.days[-within_days:][0]), self.last_day)
        wanted = table.select(list(columns))
        return wanted if talkgroups is None else wanted.filter(self._on(table["talkgroup"], tuple(sorted(set(talkgroups)))))

    def _on(self, column: pa.ChunkedArray, talkgroups: tuple[int, ...]) -> pa.ChunkedArray:
        """Which rows are calls on some talkgroups; what was asked last is remembered, because it is asked several times."""
        known = self.marks.get(talkgroups)
        if known is None or len(known) != len(column):
            known = pc.is_in(column, value_set=pa.array(talkgroups, pa.uint32()))
            self.marks.clear()
            self.marks[talkgroups] = known
        return known

    def _table(self) -> pa.Table:
        if self.table is None:
            object.__setattr__(self, "table", _rows_of(self.weights)[0])
        assert self.table is not None
        return self.table

    def _between(self, first: int, last: int) -> pa.Table:
        """The rows of the days from one to another, both included."""
        table = self._table()
        days = table["day"].cast(pa.int32()).to_numpy()
        low, high = np.searchsorted(days, np.array([first, last + 1])).tolist()
        return table.slice(low, high - low)


def _rows_of(weights: Weights) -> tuple[pa.Table, dict[int, int]]:
    """The rows of all days, in one piece that no copy is made of, and the calls of each day."""
    most = weights.most_rows
    columns = {name: np.empty(most, dtype=_WIDTHS.get(name, np.uint32)) for name in _COLUMNS}
    end, calls = 0, {}
    for day, rows in zip(weights.days, weights.tables([name for name in _COLUMNS if name != "day"]), strict=True):
        begin, end = end, end + rows.num_rows
        columns["day"][begin:end] = day
        for name in rows.column_names:
            place = begin
            for chunk in rows[name].chunks:
                columns[name][place : place + len(chunk)] = chunk.view(_STORED[name]).to_numpy()
                place += len(chunk)
        if end > begin:
            calls[day] = int(columns["calls"][begin:end].sum(dtype=np.int64))
    kinds = [ROW.field(name).type for name in _COLUMNS]
    arrays = [pa.array(column[:end]).view(kind) for column, kind in zip(columns.values(), kinds, strict=True)]
    return pa.table(dict(zip(_COLUMNS, arrays, strict=True))), calls


def load_covered(folder: Path, *, tolerance: int = TOLERANCE) -> CoveredStore | None:
    """Opens a store; None where there is no store or no call in it. `tolerance`: seconds by which the starts of one call may
    differ. Raises InputRefusedError when it is damaged."""
    weights = load_weights(folder, tolerance=tolerance)
    if weights is None:
        return None
    table, by_day = _rows_of(weights)
    if not any(by_day.values()):
        return None
    calendar = calendar_of(by_day)
    if not np.isin(list(by_day), calendar.days).all():
        table = table.filter(pa.array(np.isin(table["day"].cast(pa.int32()).to_numpy(), calendar.days)))
    return CoveredStore(weights.only(calendar.days), calendar, table)
