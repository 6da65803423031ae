"""What the log says of each station, as the models want it.

Receives rows of a store; hands on one entry per heard id.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

#: Rows older than this are not looked at: habits change, and a clock that was wrong shall not stretch the log.
OLDEST_DAYS: Final = 730
#: After so many days a calling day counts half in `lately`.
HALF_LIFE_DAYS: Final = 7.0
_EPOCH: Final = date(1970, 1, 1)
#: 24 bits of id, 10 of day and 29 of calls make a positive 64-bit number.
_DAY_BITS: Final = 10
_CALL_BITS: Final = 29
_MOST_CALLS: Final = (1 << _CALL_BITS) - 1

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]


def day_number() -> pl.Expr:
    """The column `day` as days since 1970-01-01 (int64)."""
    return (pl.col("day").cast(pl.Date) - pl.lit(_EPOCH)).dt.total_days()


@dataclass(frozen=True, slots=True)
class Stations:
    """One entry per heard id, ascending by id.

    `id`, `first`, `last` (int64): the id, days since 1970 of the first and last call. `days` (float64): days with a call;
    `calls`: calls; `squares`: sum of the squares of each day's calls; `lately`: days with a call, the older the less.
    """

    id: Integers
    first: Integers
    last: Integers
    days: Floats
    calls: Floats
    squares: Floats
    lately: Floats

    def __len__(self) -> int:
        return len(self.id)


@dataclass(frozen=True, slots=True)
class CallingDays:
    """One entry per id and day with a call (int64), ascending by id, then day: id, days since 1970, calls on all talkgroups."""

    id: Integers
    day: Integers
    calls: Integers

    def until(self, last_day: int) -> CallingDays:
        """What was known on the evening of a day."""
        kept = self.day <= last_day
        return CallingDays(self.id[kept], self.day[kept], self.calls[kept])


def calling_days(rows: pl.DataFrame, last_day: int) -> CallingDays:
    """Rows (`id`, `day`, `calls`; several per id and day) by id and day. Days after `last_day` or too old are left out."""
    first_day = last_day - OLDEST_DAYS + 1
    day = rows["day"].cast(pl.Date).to_physical().to_numpy().astype(np.int64)
    # Id 0 stands for callers of whom only a call sign is known that no directory has: they are not one station.
    inside = np.flatnonzero((day >= first_day) & (day <= last_day) & (rows["id"].to_numpy() > 0))
    # One sort of whole numbers instead of a grouping: id, day and calls side by side in 64 bits.
    packed = rows["id"].to_numpy().astype(np.int64)[inside] << _DAY_BITS + _CALL_BITS
    packed |= (day[inside] - first_day) << _CALL_BITS
    packed |= np.minimum(rows["calls"].to_numpy()[inside], _MOST_CALLS).astype(np.int64)
    packed.sort()
    key = packed >> _CALL_BITS
    starts = _starts(key)
    calls = np.add.reduceat(packed & _MOST_CALLS, starts) if len(starts) else packed
    key = key[starts]
    return CallingDays(key >> _DAY_BITS, (key & (1 << _DAY_BITS) - 1) + first_day, calls)


def _starts(sorted_values: Integers) -> Integers:
    """Where each run of equal values begins."""
    begins = np.empty(len(sorted_values), dtype=bool)
    begins[:1] = True
    np.not_equal(sorted_values[1:], sorted_values[:-1], out=begins[1:])
    return np.flatnonzero(begins)


def heard_by(days: CallingDays, last_day: int) -> tuple[Integers, Integers, Integers]:
    """The ids (ascending) that had called by the evening of a day, the day of the last call of each by then, and its calls."""
    starts = _starts(days.id)
    if not len(starts):
        return days.id, days.day, days.calls
    known = days.day <= last_day
    calls = np.add.reduceat(days.calls * known, starts)
    # Days ascend within an id: so many of its first ones count.
    until = starts + np.add.reduceat(known, starts, dtype=np.int64) - 1
    some = np.flatnonzero(until >= starts)
    return days.id[starts[some]], days.day[until[some]], calls[some]


def heard_stations(days: CallingDays, last_day: int) -> Stations:
    """Calling days, none of them after `last_day`, by id."""
    starts = _starts(days.id)
    if not len(starts):
        none, nothing = np.zeros(0, dtype=np.int64), np.zeros(0)
        return Stations(none, none, none, nothing, nothing, nothing, nothing)
    calls = days.calls.astype(np.float64)
    ends = np.append(starts[1:], len(days.id))
    first_day = int(days.day.min())
    worth = 2.0 ** ((np.arange(first_day, last_day + 1) - last_day) / HALF_LIFE_DAYS)
    return Stations(
        days.id[starts],
        days.day[starts],
        days.day[ends - 1],
        (ends - starts).astype(np.float64),
        np.add.reduceat(calls, starts),
        np.add.reduceat(calls * calls, starts),
        np.add.reduceat(worth[days.day - first_day], starts),
    )


def days_between(days: CallingDays, ids: Integers, first_day: int, last_day: int) -> Floats:
    """On how many of these days (both included) each id (ascending) called."""
    inside = days.id[(days.day >= first_day) & (days.day <= last_day)]
    return (np.searchsorted(inside, ids, side="right") - np.searchsorted(inside, ids, side="left")).astype(np.float64)
