"""Stored calls of a day -> counted calls: which of them are one call that was written down more than once.

Receives the calls of a day, sorted, hands on rows by id and talkgroup. Nothing here changes the store, so the order in which
logs came does not matter, and another tolerance needs no new fold.

Two calls of one station on one talkgroup are the same when the later starts within the tolerance, and either before the earlier
one ends, or both last equally long (within `ALIKE`), or of one the duration is unknown. A call of a log in whole minutes is
the same as one within its minute that lasts as long. Of what is the same the earliest start and the longest duration count.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.calls.calls import DAY_SECONDS, Calls, Sort, joined
from pruner.calls.event_pairs import LONGEST, is_near, paired
from pruner.calls.parts import ROW, SHORT_ROW, of_day

#: Seconds between two starts of the same call at most, where the settings say nothing.
TOLERANCE: Final = 3
#: Durations of one call that two receivers heard differ by so many milliseconds at most.
ALIKE: Final = 600
#: A day with so many starts in whole minutes, and such a share of them, was logged in whole minutes.
_MINUTES_AT_LEAST: Final = 30
_MINUTES_SHARE: Final = 0.25

#: Marks of a call: told by the minute only, of the day before, of the day after.
_MINUTE: Final = np.uint8(1)
_BEFORE: Final = np.uint8(2)
_AFTER: Final = np.uint8(4)

Marks = npt.NDArray[np.bool_]
Bits = npt.NDArray[np.uint8]
Integers = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Counted:
    """Calls of which each is one: by position as in `calls.calls.Calls`, sorted by id, talkgroup and start."""

    id: npt.NDArray[np.uint32]
    talkgroup: npt.NDArray[np.uint32]
    start: npt.NDArray[np.integer]
    milliseconds: npt.NDArray[np.uint32]

    def __len__(self) -> int:
        return len(self.id)

    def where(self, which: npt.NDArray[np.generic]) -> Counted:
        """Some of the calls."""
        return Counted(self.id[which], self.talkgroup[which], self.start[which], self.milliseconds[which])

    def with_ids(self, ids: npt.NDArray[np.uint32]) -> Counted:
        """The same calls of other ids, in the same order."""
        return Counted(ids, self.talkgroup, self.start, self.milliseconds)


def is_alike_long(one: npt.NDArray[np.integer], other: npt.NDArray[np.integer]) -> Marks:
    """Whether two durations in milliseconds may be those of one call."""
    return np.abs(one.astype(np.int64) - other.astype(np.int64)) <= ALIKE


def is_alike(gap: Integers, one: Integers, other: Integers) -> Marks:
    """Whether two calls may be the same that start `gap` seconds apart and last `one` (the earlier, if the gap is not negative)
    and `other` milliseconds."""
    earlier = np.where(gap < 0, other, one)
    return is_alike_long(one, other) | (one == 0) | (other == 0) | (np.abs(gap) * 1000 < earlier)


def counted(
    calls: Calls,
    before: Calls | None = None,
    tolerance: int = TOLERANCE,
    *,
    after: Calls | None = None,
    full_of_minutes: bool | None = None,
) -> Counted:
    """The calls of a day, or all those of some of its ids, each once. `calls` is sorted as the store is; `before` are those at
    the end of the day before (`seam`): a call that is the same as one of them counts there. `after` are those at the beginning
    of the day after (`early`), where `has_late_starts`: they may end what began. `full_of_minutes`: whether the whole day is
    (`are_full_of_minutes`; None: `calls` is the whole day)."""
    if not len(calls):
        return Counted(calls.id, calls.talkgroup, calls.start, calls.milliseconds)
    midnight = int(calls.start[0]) // DAY_SECONDS * DAY_SECONDS
    if full_of_minutes is None:
        full_of_minutes = are_full_of_minutes([calls])
    is_minute = _in_minutes(calls, full_of_minutes)
    days = (before, calls, after)
    has_events = any(one is not None and one.sort is not None and (one.sort >= Sort.START).any() for one in days)
    if has_events:
        return _counted_events(days, is_minute, midnight, tolerance)
    if is_minute is not None:
        is_kept = ~_is_told_better(calls, is_minute)
        calls, is_minute = calls.where(is_kept), is_minute[is_kept]
    is_same = _is_same(calls, is_minute, tolerance)
    crossing = _crossing(calls, before, is_minute, midnight, tolerance)
    starts = np.flatnonzero(~is_same)
    if len(starts) == len(calls):
        found, longest = calls, calls.milliseconds
    else:
        found = calls.where(starts)
        longest, again = found.milliseconds, np.flatnonzero(is_same)  # few, so one by one
        np.maximum.at(longest, np.searchsorted(starts, again) - 1, calls.milliseconds[again])
    if len(crossing):
        is_own = ~np.isin(starts, crossing)
        found, longest = found.where(is_own), longest[is_own]
    return Counted(found.id, found.talkgroup, found.start, longest)


def seam(calls: Calls) -> Calls:
    """The calls of a day that may go on behind midnight, as `counted` wants those before."""
    if not len(calls):
        return calls
    end = (int(calls.start[0]) // DAY_SECONDS + 1) * DAY_SECONDS
    return calls.where(np.flatnonzero(calls.start >= end - SEAM_SECONDS))


def early(calls: Calls) -> Calls:
    """The calls of a day that may end what began before midnight, as `counted` wants those after."""
    if not len(calls):
        return calls
    midnight = int(calls.start[0]) // DAY_SECONDS * DAY_SECONDS
    return calls.where(np.flatnonzero(calls.start < midnight + SEAM_SECONDS))


def has_late_starts(runs: Iterable[Calls]) -> bool:
    """Whether events of a day tell calls that may end behind midnight. Only `start` and `sort` count."""
    return any(bool((seam(calls).sorts == Sort.START).any()) for calls in runs)


#: What of a day the next one must see, and of the next one the day.
SEAM_SECONDS: Final = LONGEST


def rows(calls: Counted, day: int) -> pa.Table:
    """Counted calls by id and talkgroup (`calls.parts.ROW`)."""
    return of_day(short_rows(calls), day, ROW.names)


def short_rows(calls: Counted) -> pa.Table:
    """The same as `calls.parts.SHORT_ROW`."""
    count = len(calls)
    is_first = np.ones(count, dtype=bool)
    np.not_equal(calls.id[1:], calls.id[:-1], out=is_first[1:])
    is_first[1:] |= calls.talkgroup[1:] != calls.talkgroup[:-1]
    starts = np.flatnonzero(is_first)
    ends = np.append(starts, count)[1:]
    sums = np.add.reduceat(calls.milliseconds, starts, dtype=np.uint64)
    columns: dict[str, npt.NDArray[np.generic]] = {
        "id": calls.id[starts],
        "talkgroup": calls.talkgroup[starts],
        "calls": (ends - starts).astype(np.uint32),
        "milliseconds": sums,
        "first": calls.start[starts].astype(np.uint32, copy=False),
        "last": calls.start[ends - 1].astype(np.uint32, copy=False),
    }
    return pa.Table.from_arrays([pa.array(columns[name]) for name in SHORT_ROW.names], schema=SHORT_ROW)


def _crossing(
    calls: Calls, before: Calls | None, is_minute: Marks | None, midnight: int, tolerance: int
) -> npt.NDArray[np.int64]:
    """The first calls of a day that are the same as one of the day before."""
    early = np.flatnonzero(calls.start < midnight + tolerance)
    if before is None:
        return early[:0]
    late = before.where(before.start >= midnight - tolerance)
    both = joined([late, calls.where(early)])
    order = np.lexsort((both.milliseconds, both.sorts, both.start, both.talkgroup, both.id))
    is_early = order >= len(late)
    minutes = None if is_minute is None else np.append(np.zeros(len(late), dtype=bool), is_minute[early])[order]
    is_first_same = _is_same(both.where(order), minutes, tolerance) & is_early
    is_first_same[1:] &= ~is_early[:-1]
    return early[order[is_first_same] - len(late)]


def _counted_events(
    days: tuple[Calls | None, Calls, Calls | None], is_minute: Marks | None, midnight: int, tolerance: int
) -> Counted:
    """The same with events of starts and ends, whose calls may begin on the day before and end on the day after."""
    calls = days[1]
    runs = [calls.where(slice(0)) if run is None else run for run in days]
    both = joined(runs)
    marks = np.repeat(np.array([_BEFORE, 0, _AFTER], dtype=np.uint8), [len(run) for run in runs])
    if is_minute is not None:
        marks[len(runs[0]) : len(runs[0]) + len(calls)] |= is_minute * _MINUTE
    order = np.lexsort((both.milliseconds, both.sorts, both.start, both.talkgroup, both.id))
    both, marks = paired(both.where(order), marks[order], tolerance)
    is_minute = (marks & _MINUTE) > 0
    is_kept = ~_is_told_better(both, is_minute)
    both, marks = both.where(is_kept), marks[is_kept]
    starts = np.flatnonzero(~_is_same(both, is_minute[is_kept], tolerance))
    longest = np.maximum.reduceat(both.milliseconds, starts)
    is_own = np.bitwise_or.reduceat(marks & _BEFORE, starts) == 0
    is_own &= np.bitwise_and.reduceat(marks & _AFTER, starts) == 0
    found = both.where(starts).where(is_own)
    return Counted(found.id, found.talkgroup, np.maximum(found.start, midnight), longest[is_own])


def are_full_of_minutes(runs: Iterable[Calls]) -> bool:
    """Whether so many calls of a day start in whole minutes that their log knew no seconds. Only `start` and `sort` count."""
    whole = others = 0
    for calls in runs:
        exact = calls.start if calls.sort is None else calls.start[calls.sort != Sort.MINUTE]
        sort = None if calls.sort is None else calls.sort[calls.sort != Sort.MINUTE]
        others += len(exact)
        is_whole = exact % 60 == 0
        whole += int(np.count_nonzero(is_whole if sort is None else is_whole & (sort == Sort.CALL)))
    return whole >= _MINUTES_AT_LEAST and whole >= _MINUTES_SHARE * others


def _in_minutes(calls: Calls, full_of_minutes: bool) -> Marks | None:
    """Which calls are told by the minute only (None: none): those of logs without seconds, and starts in whole minutes on a
    day that is full of them."""
    if full_of_minutes:
        is_whole = calls.start % 60 == 0
        return is_whole if calls.sort is None else is_whole & (calls.sort < Sort.START)
    told = None if calls.sort is None else calls.sort == Sort.MINUTE
    return told if told is not None and told.any() else None


def _is_same(calls: Calls, is_minute: Marks | None, tolerance: int) -> Marks:
    """Which calls are the same as the one before them."""
    is_same = is_near(calls, tolerance)
    same = is_same[1:]
    near = np.flatnonzero(same)
    gap = calls.start[near + 1].astype(np.int64) - calls.start[near]
    earlier, later = calls.milliseconds[near].astype(np.int64), calls.milliseconds[near + 1].astype(np.int64)
    alike = is_alike(gap, earlier, later)
    if is_minute is not None:
        is_apart = is_minute[near] | is_minute[near + 1]
        # Two durations in one minute are two calls, and a minute says nothing of a call three seconds later.
        same[near] = np.where(is_apart, (gap == 0) & ((earlier == 0) | (later == 0)), alike)
    else:
        same[near] = alike
    return is_same


def _is_told_better(calls: Calls, is_minute: Marks) -> Marks:
    """Which calls told by the minute a log with seconds tells as well."""
    exact, minutes = np.flatnonzero(~is_minute), np.flatnonzero(is_minute)
    told = np.zeros(len(calls), dtype=bool)
    minute_of = _minutes_of_stations(calls)
    low, high = (np.searchsorted(minute_of[exact], minute_of[minutes], side) for side in ("left", "right"))
    # Of unknown duration: any call of the minute may be meant.
    told[minutes] = (calls.milliseconds[minutes] == 0) & (high > low)
    for step in range(int((high - low).max(initial=0))):
        open_ = np.flatnonzero((low + step < high) & ~told[minutes])
        one = exact[low[open_] + step]
        fits = is_alike_long(calls.milliseconds[minutes[open_]], calls.milliseconds[one]) | (calls.milliseconds[one] == 0)
        # Of several minutes that fit one call, the first takes it.
        _, first = np.unique(one[fits], return_index=True)
        told[minutes[open_[fits][first]]] = True
    return told


def _minutes_of_stations(calls: Calls) -> Integers:
    """A number for each id, talkgroup and minute, by position, in their order."""
    minute = calls.start // 60
    is_new = calls.id[1:] != calls.id[:-1]
    is_new |= calls.talkgroup[1:] != calls.talkgroup[:-1]
    is_new |= minute[1:] != minute[:-1]
    return np.append(0, np.cumsum(is_new))
