"""A store as rules, coverage and models see it: only the days that the log covers, counted without gaps.

Receives an opened store; hands on the same questions with answers by the calendar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.calendar import Calendar, calendar_of
from pruner.calls.counting import TOLERANCE
from pruner.calls.weights import Weights, load_weights
from pruner.words import schema

#: What is kept in memory of each row; what else a row has is read where it is asked for.
_COLUMNS: Final = ("id", "talkgroup", "day", "calls", "last")


@dataclass(frozen=True)
class CoveredStore:
    """A store of covered days. Windows and `rows` count covered days only; the last of them is today. `table`: the rows of all
    covered days, by day, id and talkgroup; None: not read yet."""

    weights: Weights
    calendar: Calendar
    table: pa.Table | None = None

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
        rows = self._rows(talkgroups, None)
        latest = np.zeros(schema.ADDRESSES, dtype=np.int64)
        np.maximum.at(latest, rows["id"].to_numpy(), rows["last"].cast(pa.int64()).to_numpy())
        return latest[numbers]

    def calls(
        self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None, within_days: int | None = None
    ) -> npt.NDArray[np.uint32]:
        """As `Weights.calls`, in the last `within_days` covered days."""
        rows = self._rows(talkgroups, within_days)
        counts = np.zeros(schema.ADDRESSES, dtype=np.uint32)
        np.add.at(counts, rows["id"].to_numpy(), rows["calls"].to_numpy())
        return counts[numbers]

    def total_calls(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> int:
        """As `Weights.total_calls`, in the last `within_days` covered days."""
        return int(self._rows(talkgroups, within_days)["calls"].to_numpy().sum(dtype=np.int64))

    def rows(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
        """As `Weights.rows`, but only id, talkgroup, day, calls and last; `day` holds counted days (`Calendar.counted`)."""
        rows = pl.DataFrame(self._rows(talkgroups, within_days))
        day = self.calendar.counted(rows["day"].to_physical().to_numpy().astype(np.int64))
        return rows.with_columns(pl.Series("day", day.astype(np.int32)).cast(pl.Date))

    def _rows(self, talkgroups: Sequence[int] | None, within_days: int | None) -> pa.Table:
        table = self._table()
        if within_days is not None:
            table = self._between(int(self.calendar.days[-within_days:][0]), self.last_day)
        if talkgroups is None:
            return table
        return table.filter(pc.is_in(table["talkgroup"], value_set=pa.array(sorted(set(talkgroups)), pa.uint32())))

    def _table(self) -> pa.Table:
        if self.table is None:
            object.__setattr__(self, "table", _rows_of(self.weights))
        assert self.table is not None
        return self.table

    def _between(self, first: int, last: int) -> pa.Table:
        """The rows of the days from one to another, both included."""
        table = self._table()
        days = table["day"].cast(pa.int32()).to_numpy()
        low, high = np.searchsorted(days, np.array([first, last + 1])).tolist()
        return table.slice(low, high - low)


def _rows_of(weights: Weights) -> pa.Table:
    """The rows of all days, in one piece."""
    tables = list(weights.tables(_COLUMNS))
    return pa.concat_tables(tables).combine_chunks()


def load_covered(folder: Path, *, tolerance: int = TOLERANCE) -> CoveredStore | None:
    """Opens a store; None where there is no store or no call in it. `tolerance`: seconds by which the starts of one call may
    differ. Raises InputRefusedError when it is damaged."""
    weights = load_weights(folder, tolerance=tolerance)
    if weights is None:
        return None
    table = _rows_of(weights)
    day, calls = table["day"].cast(pa.int32()).to_numpy(), table["calls"].to_numpy()
    by_day = dict(zip(*_sums(day, calls), strict=True))
    if not any(by_day.values()):
        return None
    calendar = calendar_of(by_day)
    covered = np.isin(day, calendar.days)
    return CoveredStore(weights.only(calendar.days), calendar, table if covered.all() else table.filter(pa.array(covered)))


def _sums(day: npt.NDArray[np.int32], calls: npt.NDArray[np.uint32]) -> tuple[list[int], list[int]]:
    """Days (of ascending ones) and the calls of each."""
    begins = np.flatnonzero(np.diff(day, prepend=-1))
    sums = np.add.reduceat(calls.astype(np.int64), begins) if len(begins) else begins
    return day[begins].tolist(), sums.tolist()
