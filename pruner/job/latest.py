"""What came in the latest periods of the logs: from whom, and what of it a choice would have named.

Receives what was loaded, hands on the calls of the last period per contact, and which kinds of callers are to come.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.forecast import Shares, effective_stations, variance_of_stations, variance_of_weeks
from pruner.calls.newcomers import PERIODS, Heard, HeardDays, Newcomers, heard_days, heard_in, newcomers
from pruner.job.earlier import Chosen
from pruner.job.load import Loaded
from pruner.words import schema

Mask = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
_WEEK: Final = 7


@dataclass(frozen=True, slots=True)
class SystemLog:
    """The calls of one system on the talkgroups that count. `place`: which contact each station of `heard` is, -1 for callers
    in no directory; `nameless`: calls of the last period per caller of whom only a call sign is known that no directory has."""

    heard: HeardDays
    place: Integers
    last_day: int
    nameless: Floats


def system_logs(loaded: Loaded, talkgroups: tuple[int, ...] | None, period: int) -> list[SystemLog]:
    """The log of each system."""
    calls, contacts = loaded.calls, loaded.contacts
    assert calls is not None
    logs = []
    for system, store in calls.stores.items():
        low, high = np.searchsorted(contacts.system, np.array([0, 1]) + schema.SYSTEM_NAMES.index(system)).tolist()
        heard = heard_days(store.rows(talkgroups), store.first_day)
        number = contacts.number[low:high]
        place = np.minimum(np.searchsorted(number, heard.ids), max(high - low - 1, 0))
        known = number[place] == heard.ids if high > low else np.zeros(len(heard.ids), dtype=bool)
        nameless = store.part(store.last_day - period + 1, store.last_day).nameless_calls(talkgroups)
        logs.append(SystemLog(heard, np.where(known, place + low, -1), store.last_day, nameless))
    return logs


@dataclass(frozen=True, slots=True)
class Came:
    """The calls of the last period, on the talkgroups that count: per contact `calls`, of callers in no directory `unknown`
    (one entry each), and by week and contact `week`, `place`, `amount` (place -1: unknown). `fresh`, `unknown_fresh`: who was
    not heard before the period; `unheard`: contacts that were never heard, in this period neither."""

    calls: Floats
    unknown: Floats
    week: Integers
    place: Integers
    amount: Floats
    fresh: Mask
    unknown_fresh: Mask
    unheard: Mask

    @property
    def total(self) -> float:
        return float(self.calls.sum() + self.unknown.sum())

    @property
    def of_fresh(self) -> Floats:
        """The calls of each station that was not heard before."""
        return np.concatenate([self.calls[self.fresh], self.unknown[self.unknown_fresh]])

    @property
    def of_others(self) -> Floats:
        """The calls of each that was."""
        return np.concatenate([self.calls[~self.fresh], self.unknown[~self.unknown_fresh]])

    def by_week(self) -> list[Floats]:
        """The calls of each contact in each week; the last place is that of all unknown callers together."""
        place, size = np.where(self.place < 0, len(self.calls), self.place), len(self.calls) + 1
        found = []
        for week in range(int(self.week.max(initial=-1)) + 1):
            rows = self.week == week
            found.append(np.bincount(place[rows], weights=self.amount[rows], minlength=size).astype(np.float64))
        return found


class Scored:
    """What a choice would have named of the calls that came, at any limit."""

    def __init__(self, came: Came, chosen: Chosen) -> None:
        others, fresh = came.calls * ~came.fresh, came.calls * came.fresh
        self._named = chosen.sums(others), chosen.sums(fresh)
        self._total, self._of_contacts, self._of_fresh = came.total, float(others.sum()), float(came.of_fresh.sum())
        self._squares, self._named_squares = float((came.of_others**2).sum()), chosen.sums(others**2)
        weeks = came.by_week()
        self._weeks = np.array([float(week.sum()) for week in weeks])
        self._named_weeks = [chosen.sums(week[:-1]) for week in weeks]
        self.stations = Shares(effective_stations(others), effective_stations(came.of_fresh))

    def shares(self, limit: int | None) -> Shares:
        """Of the calls of each kind of caller the share that has a name."""
        heard, strangers = (named(limit) for named in self._named)
        return Shares(share_of(heard, self._of_contacts), share_of(strangers, self._of_fresh))

    def of_heard(self, limit: int | None) -> float:
        """The variance of the share with a name, as it comes from which of the stations heard before call."""
        share = sum(named(limit) for named in self._named) / self._total
        with_name = self._named_squares(limit)
        return variance_of_stations(with_name, self._squares - with_name, self._total, share)

    def of_weeks(self, limit: int | None) -> float:
        """The same as it comes from the weeks."""
        return variance_of_weeks(self._weeks, np.array([named(limit) for named in self._named_weeks]))


def share_of(part: float, whole: float) -> float:
    """A part as a share of the whole; 0 where there is none."""
    return part / whole if whole else 0.0


def came_in(logs: Sequence[SystemLog], contacts: int, period: int) -> Came:
    """The calls of the last `period` days."""
    calls, first = np.zeros(contacts), np.full(contacts, np.iinfo(np.int64).max)
    since = np.full(contacts, -1)
    unknown, unknown_fresh, columns = [], [], []
    for log in logs:
        begin = log.last_day - period + 1
        known, total, of_station = log.place >= 0, log.heard.total(begin, log.last_day), log.heard.first()
        calls[log.place[known]], first[log.place[known]] = total[known], of_station[known]
        since[log.place[known]] = begin
        strange = ~known & (total > 0) & (log.heard.ids > 0)  # id 0 is nobody's: its calls are those of several call signs
        unknown += [total[strange], log.nameless]
        unknown_fresh += [of_station[strange] >= begin, np.zeros(len(log.nameless), dtype=bool)]
        rows = log.heard.rows(begin, log.last_day)
        columns.append(((log.heard.day[rows] - begin) // _WEEK, log.place[log.heard.station[rows]], log.heard.calls[rows]))
    week, place, amount = (np.concatenate(column) for column in zip(*columns, strict=True))
    return Came(calls, np.concatenate(unknown), week, place, amount, first >= since, np.concatenate(unknown_fresh), since < 0)


def kinds_to_come(logs: Sequence[SystemLog], period: int, days: int) -> Newcomers:
    """Which kinds of callers to expect in the next period, after `days` covered days."""
    periods = []
    for back in range(1, min(PERIODS, days // period - 1) + 1):
        heard = Heard()
        for log in logs:
            begin = log.last_day - back * period + 1
            heard += heard_in(log.heard, log.place >= 0, begin, begin + period - 1)
        periods.append(heard)
    return newcomers(periods, period, days)
