"""Stations that are heard for the first time: how much of the calls was theirs, and how much of those to come will be.

Receives rows of a store; hands on sums of calls per period, and what is to come in the next one.

The longer a log, the fewer are new to it. How fast, is seen where the same calls are looked at with half the log before them:
their share is taken to fall by the same factor with every doubling of the log.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.calls.stations import Floats, Integers, day_number
from pruner.words import schema

#: So many recent periods are looked at.
PERIODS: Final = 3


@dataclass(frozen=True, slots=True)
class HeardDays:
    """Calls by station and day. `ids` (int64, ascending): every id that was heard; 0 stands for callers of whom only a call
    sign is known. `first_day`: of the log. Per row, ascending by day: `station` (index in `ids`), `day` since 1970-01-01,
    `calls`."""

    ids: Integers
    first_day: int
    station: Integers
    day: Integers
    calls: Floats

    def first(self) -> Integers:
        """The day on which each station was first heard."""
        first = np.zeros(len(self.ids), dtype=np.int64)
        # Of several values for one station the last one stays: that of its first row.
        first[self.station[::-1]] = self.day[::-1]
        return first

    def rows(self, begin: int, end: int) -> slice:
        """The rows of the days from one to another, both included."""
        low, high = np.searchsorted(self.day, np.array([begin, end + 1])).tolist()
        return slice(low, high)

    def total(self, begin: int, end: int) -> Floats:
        """The calls of each station on these days."""
        rows = self.rows(begin, end)
        return np.bincount(self.station[rows], weights=self.calls[rows], minlength=len(self.ids)).astype(np.float64)


def heard_days(rows: pl.DataFrame, first_day: int) -> HeardDays:
    """From rows of a store (`id`, `day`, `calls`), ascending by day, of a log that begins on `first_day`."""
    id = rows["id"].to_numpy()
    was_heard = np.zeros(schema.ADDRESSES, dtype=bool)
    was_heard[id] = True
    ids = np.flatnonzero(was_heard)
    place = np.zeros(schema.ADDRESSES, dtype=np.int32)
    place[ids] = np.arange(len(ids), dtype=np.int32)
    day = rows.select(day_number()).to_series().to_numpy()
    return HeardDays(ids, first_day, place[id].astype(np.int64), day, rows["calls"].to_numpy().astype(np.float64))


@dataclass(frozen=True, slots=True)
class Heard:
    """The calls of one period: `total`, of so many `stations`; `fresh` of stations that were not heard before it, `by_half` of
    those that were not heard in the later half of the days before it; `squares`: the sum of the squared calls of each of the
    `fresh`; `nowhere`: of callers in no directory that were heard before, and of those of whom only a call sign is known."""

    total: float = 0.0
    fresh: float = 0.0
    by_half: float = 0.0
    squares: float = 0.0
    nowhere: float = 0.0
    stations: int = 0

    def __add__(self, other: Heard) -> Heard:
        return Heard(
            self.total + other.total,
            self.fresh + other.fresh,
            self.by_half + other.by_half,
            self.squares + other.squares,
            self.nowhere + other.nowhere,
            self.stations + other.stations,
        )


def heard_in(log: HeardDays, is_listed: npt.NDArray[np.bool_], begin: int, end: int) -> Heard:
    """The calls of the days `begin` to `end`, both included. `is_listed`: which stations the directory has."""
    calls, first = log.total(begin, end), log.first()
    nameless = log.ids == 0
    is_fresh = (first >= begin) & ~nameless
    lately = np.zeros(len(log.ids), dtype=bool)
    lately[log.station[log.rows((log.first_day + begin) // 2, begin - 1)]] = True
    return Heard(
        float(calls.sum()),
        float(calls[is_fresh].sum()),
        float(calls[~lately & ~nameless].sum()),
        float((calls[is_fresh] ** 2).sum()),
        float(calls[~is_listed & ~is_fresh].sum()),
        int(np.count_nonzero(calls)),
    )


@dataclass(frozen=True, slots=True)
class Newcomers:
    """Calls to come: `share` of stations that were not heard before, and the share `nowhere` (as in `Heard`). `squares`: the
    sum of the squared shares of each of them; `one`: the squared share of one station that calls as all do on average;
    `changes`: the variance of `share` from one period to the next beyond what is chance in who calls. All from so many
    `periods`."""

    share: float
    squares: float = 0.0
    one: float = 0.0
    nowhere: float = 0.0
    periods: int = 1
    changes: float = 0.0


def newcomers(periods: Sequence[Heard], period_days: int, days: int) -> Newcomers:
    """What is to come after a log of `days` covered days, of which `periods` are the latest, the last one first."""
    heard = [(back, one) for back, one in enumerate(periods, start=1) if one.total]
    if not heard:
        return Newcomers(0.0)
    by_half = math.fsum(one.by_half / one.total for _, one in heard)
    whole = math.fsum(one.fresh / one.total for _, one in heard)
    factor = min(1.0, whole / by_half) if by_half else 1.0
    shares = [one.fresh / one.total * doubled(factor, days, days - back * period_days) for back, one in heard]
    squares = math.fsum(one.squares / one.total**2 for _, one in heard) / len(heard)
    return Newcomers(
        math.fsum(shares) / len(heard),
        squares,
        math.fsum(1 / one.stations**2 for _, one in heard) / len(heard),
        math.fsum(one.nowhere / one.total for _, one in heard) / len(heard),
        len(heard),
        max(statistics.variance(shares) - squares, 0.0) if len(heard) > 1 else 0.0,
    )


def doubled(factor: float, days: int, days_then: int) -> float:
    """By what a share is multiplied as a log grows from `days_then` to `days` covered days, if each doubling takes `factor`."""
    return float(factor ** math.log2(days / days_then)) if factor else 0.0
