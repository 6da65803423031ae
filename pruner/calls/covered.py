"""A store as rules, coverage and models see it: only the days that the log covers, counted without gaps.

Receives an opened store; hands on the same questions with answers by the calendar.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner.calls.calendar import Calendar, calendar_of
from pruner.calls.counting import TOLERANCE
from pruner.calls.weights import Weights, load_weights


@dataclass(frozen=True, slots=True)
class CoveredStore:
    """A store of covered days. Windows and `rows` count covered days only; the last of them is today."""

    weights: Weights
    calendar: Calendar

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
        return CoveredStore(self.weights.only(days), Calendar(days))

    def joined(self, numbers: npt.NDArray[np.uint32], callsigns: pa.Array) -> CoveredStore:
        """As `Weights.joined`."""
        return CoveredStore(self.weights.joined(numbers, callsigns), self.calendar)

    def callsign_calls(self, within_days: int | None = None) -> tuple[int, int]:
        """As `Weights.callsign_calls`, in the last `within_days` covered days."""
        return self._window(within_days).callsign_calls()

    def nameless_calls(self, talkgroups: Sequence[int] | None = None) -> npt.NDArray[np.float64]:
        """How often each caller was heard of whom only a call sign is known that no directory has; one entry per call sign."""
        frames = list(self.weights.nameless(talkgroups))
        if not frames:
            return np.zeros(0)
        by_callsign = pl.concat(frames).group_by("callsign").agg(pl.col("calls").cast(pl.Float64).sum())
        return by_callsign.sort("callsign")["calls"].to_numpy()

    def last_heard(self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None) -> npt.NDArray[np.int64]:
        """As `Weights.last_heard`."""
        return self.weights.last_heard(numbers, talkgroups)

    def calls(
        self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None, within_days: int | None = None
    ) -> npt.NDArray[np.uint32]:
        """As `Weights.calls`, in the last `within_days` covered days."""
        return self._window(within_days).calls(numbers, talkgroups)

    def total_calls(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> int:
        """As `Weights.total_calls`, in the last `within_days` covered days."""
        return self._window(within_days).total_calls(talkgroups)

    def rows(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
        """As `Weights.rows`, with counted days (`Calendar.counted`) in the column `day`."""
        rows = self._window(within_days).rows(talkgroups)
        day = self.calendar.counted(rows["day"].cast(pl.Date).to_physical().to_numpy().astype(np.int64))
        return rows.with_columns(pl.Series("day", day.astype(np.int32)).cast(pl.Date))

    def _window(self, within_days: int | None) -> Weights:
        return self.weights if within_days is None else self.weights.only(self.calendar.days[-within_days:])


def load_covered(folder: Path, *, tolerance: int = TOLERANCE) -> CoveredStore | None:
    """Opens a store; None where there is no store or no call in it. `tolerance`: seconds by which the starts of one call may
    differ. Raises InputRefusedError when it is damaged."""
    weights = load_weights(folder, tolerance=tolerance)
    calls = {} if weights is None else weights.calls_by_day()
    if weights is None or not calls:
        return None
    calendar = calendar_of(calls)
    return CoveredStore(weights.only(calendar.days), calendar)
