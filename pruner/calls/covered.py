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

from pruner.calls.calendar import Calendar, calendar_of
from pruner.calls.counting import TOLERANCE
from pruner.calls.day_rows import DayRows, day_rows
from pruner.calls.parts import POLARS_ROW
from pruner.calls.weights import Weights, load_weights
from pruner.words import schema

#: What is read of each row when a store is opened.
_COLUMNS: Final = ("id", "talkgroup", "calls", "last")


@dataclass(frozen=True)
class CoveredStore:
    """A store of covered days. Windows and `rows` count covered days only; the last of them is today. `read`: the rows of all
    covered days, by day, id and talkgroup, `last` in seconds; None: not read yet."""

    weights: Weights
    calendar: Calendar
    read: DayRows | None = None

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
        return CoveredStore(self.weights.only(days), Calendar(days), self._read().between(int(days[0]), int(days[-1])))

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
        latest = np.zeros(schema.ADDRESSES, dtype=np.uint32)
        for id, last in self._read().pieces(("id", "last"), talkgroups):
            np.maximum.at(latest, id, last)
        return latest[numbers].astype(np.int64) * 1000

    def calls(
        self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None, within_days: int | None = None
    ) -> npt.NDArray[np.uint32]:
        """As `Weights.calls`, in the last `within_days` covered days."""
        counts = np.zeros(schema.ADDRESSES, dtype=np.uint32)
        for id, calls in self._within(within_days).pieces(("id", "calls"), talkgroups):
            np.add.at(counts, id, calls)
        return counts[numbers]

    def total_calls(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> int:
        """As `Weights.total_calls`, in the last `within_days` covered days."""
        pieces = self._within(within_days).pieces(("calls",), talkgroups)
        return sum(int(calls.sum(dtype=np.int64)) for (calls,) in pieces)

    def rows(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
        """As `Weights.rows`, but only id, talkgroup, day, calls and last; `day` holds counted days (`Calendar.counted`)."""
        day, rows = self._within(within_days).with_days(talkgroups)
        counted = pl.Series("day", self.calendar.counted(day).astype(np.int32)).cast(pl.Date)
        last = (pl.col("last").cast(pl.Int64) * 1000).cast(POLARS_ROW["last"])
        return pl.DataFrame(rows).with_columns(last, counted).select("id", "talkgroup", "day", "calls", "last")

    def _within(self, within_days: int | None) -> DayRows:
        if within_days is None or within_days >= len(self.calendar.days):
            return self._read()
        return self._read().between(int(self.calendar.days[-within_days:][0]), self.last_day)

    def _read(self) -> DayRows:
        if self.read is None:
            object.__setattr__(self, "read", day_rows(self.weights, _COLUMNS)[0])
        assert self.read is not None
        return self.read


def load_covered(folder: Path, *, tolerance: int = TOLERANCE) -> CoveredStore | None:
    """Opens a store; None where there is no store or no call in it. `tolerance`: seconds by which the starts of one call may
    differ. Raises InputRefusedError when it is damaged."""
    weights = load_weights(folder, tolerance=tolerance)
    if weights is None:
        return None
    rows, by_day = day_rows(weights, _COLUMNS)
    if not any(by_day.values()):
        return None
    calendar = calendar_of(by_day)
    return CoveredStore(weights.only(calendar.days), calendar, rows.of(calendar.days))
