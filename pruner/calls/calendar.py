"""The days that a log covers, whether or not a station called on them.

Receives how many calls each day has; hands on the covered days. Silence of the log is not silence of stations: a gap in which
many calls were usual is no part of the calendar, and days with a few calls where many were usual (a clock that was wrong, a
receiver that ran for minutes) are strays, left out with their calls.

What is usual on a weekday is the median over the weeks that have calls; where that is nothing on all weekdays, a seventh of the
median week.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.account import coverage as account
from pruner.calls.parts import day_name
from pruner.words.nouns import counted

#: Nothing is said of a time in which fewer calls were usual.
FEWEST_USUAL: Final = 30.0
#: Below this share of what was usual, a day or a block of days is a stray.
STRAY_SHARE: Final = 0.05
_WEEK: Final = 7
_NAMED: Final = 5

Integers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Calendar:
    """`days`: covered days (int64, days since 1970-01-01, ascending); `strays`: days whose calls are left out; `silent`: first
    and last day of each gap in which the log was silent."""

    days: Integers
    strays: tuple[int, ...] = ()
    silent: tuple[tuple[int, int], ...] = ()

    @property
    def last_day(self) -> int:
        """The last covered day: today, for every window."""
        return int(self.days[-1])

    def counted(self, day: Integers) -> Integers:
        """Covered days as a row without gaps that ends in the same day; what models and windows count."""
        place = np.searchsorted(self.days, day)
        return self.last_day - len(self.days) + 1 + place.astype(np.int64)

    def real(self, counted_day: int) -> int:
        """The day that `counted` made into this one; days to come follow the last."""
        back = self.last_day - counted_day
        return int(self.days[len(self.days) - 1 - back]) if back >= 0 else counted_day

    def told(self) -> account.Calendar:
        """For the summary."""
        return account.Calendar(
            first_day=day_name(int(self.days[0])),
            last_day=day_name(self.last_day),
            covered_days=len(self.days),
            left_out=tuple(day_name(day) for day in self.strays),
            silent=tuple((day_name(first), day_name(last)) for first, last in self.silent),
            notes=tuple(self.notes()),
        )

    def notes(self) -> list[str]:
        """Which days are meant by last and next ones, and what people should know of those that do not count, in words."""
        covered = f"{counted(len(self.days), 'day')}, {day_name(int(self.days[0]))} to {day_name(self.last_day)}"
        notes = [f"The logs cover {covered}: the last days end there, the next ones follow."]
        if self.strays:
            notes.append(
                f"{counted(len(self.strays), 'day has', 'days have')} far fewer calls than usual and "
                f"{'is' if len(self.strays) == 1 else 'are'} left out, as after a wrong clock: {_named(self.strays)}."
            )
        if self.silent:
            gaps = [
                f"{day_name(first)} to {day_name(last)}" if last > first else day_name(first) for first, last in self.silent
            ]
            more = f" and {counted(len(gaps) - _NAMED, 'more gap')}" if len(gaps) > _NAMED else ""
            notes.append(f"The log is silent on {', '.join(gaps[:_NAMED])}{more}; these days do not count.")
        return notes


def _named(days: tuple[int, ...]) -> str:
    more = f" and {counted(len(days) - _NAMED, 'more day')}" if len(days) > _NAMED else ""
    return ", ".join(map(day_name, days[:_NAMED])) + more


def calendar_of(calls_by_day: Mapping[int, int]) -> Calendar:
    """The calendar of a log from the calls of each day that has any, on all talkgroups. Raises ValueError without calls.

    What is usual is taken anew without what was found, until nothing more is found.
    """
    found = sorted(day for day, calls in calls_by_day.items() if calls)
    if not found:
        raise ValueError("a calendar needs calls")
    strays: set[int] = set()
    while True:
        kept = {day: calls_by_day[day] for day in found if day not in strays}
        more = _strays(kept)
        if not more or len(more) == len(kept):
            break
        strays |= more
    silent = _silent_runs(kept, _usual(kept))
    days = np.arange(min(kept), max(kept) + 1)
    covered = ~np.isin(days, sorted(strays))
    for first, last in silent:
        covered[first - days[0] : last - days[0] + 1] = False
    return Calendar(days[covered], tuple(sorted(strays)), tuple(silent))


def _usual(calls: Mapping[int, int]) -> Floats:
    """Calls that are usual on each day of the week, by the number of the day modulo 7."""
    days = np.array(sorted(calls), dtype=np.int64)
    weeks, week = np.unique(days // _WEEK, return_inverse=True)
    table = np.zeros((len(weeks), _WEEK))
    table[week, days % _WEEK] = [calls[day] for day in days.tolist()]
    usual: Floats = np.median(table, axis=0)
    return usual if usual.any() else np.full(_WEEK, float(np.median(table.sum(axis=1))) / _WEEK)


def _usual_between(usual: Floats, first: int, last: int) -> float:
    """Calls that are usual from one day to another, both included."""
    weeks, rest = divmod(last - first + 1, _WEEK)
    return weeks * float(usual.sum()) + sum(float(usual[(last - back) % _WEEK]) for back in range(rest))


def _silent_runs(calls: Mapping[int, int], usual: Floats) -> list[tuple[int, int]]:
    """First and last day of gaps in which many calls were usual; whole weeks only, where some weekday usually has none."""
    days = sorted(calls)
    runs = []
    for before, after in itertools.pairwise(days):
        first, last = before + 1, after - 1
        if not usual.all():
            last = first + (last - first + 1) // _WEEK * _WEEK - 1
        if last >= first and _usual_between(usual, first, last) >= FEWEST_USUAL:
            runs.append((first, last))
    return runs


def _strays(calls: Mapping[int, int]) -> set[int]:
    """Days, alone or in blocks between silent runs, that have a few calls where many were usual."""
    usual = _usual(calls)
    days = sorted(calls)
    ends = {first - 1 for first, _ in _silent_runs(calls, usual)}
    strays, block = set(), []
    for day in days:
        block.append(day)
        if day in ends or day == days[-1]:
            blocks = [
                (block, _usual_between(usual, block[0], block[-1])),
                *(([one], float(usual[one % _WEEK])) for one in block),
            ]
            for some, expected in blocks:
                if expected >= FEWEST_USUAL and sum(calls[one] for one in some) < STRAY_SHARE * expected:
                    strays |= set(some)
            block = []
    return strays
