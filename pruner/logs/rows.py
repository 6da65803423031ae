"""Records of a heard log -> calls, and the rows that are none.

Receives Records as `read.heard_log` hands them on, hands on arrays for the fold. Ids follow the rules of directories.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.calls import DAY, Calls, Sort, kept_milliseconds
from pruner.calls.marks import EARLIEST, FIRST_SET_ASIDE, MARK_WORDS, Account, Mark
from pruner.logs.double_hour import in_double_hour
from pruner.logs.row_addresses import by_callsign, callsigns_of, column_of, ids_of, talkgroups_of
from pruner.read.durations import parse_seconds
from pruner.read.event_words import END_EVENT, NO_CALL_EVENT, PRIVATE_EVENT, START_EVENT
from pruner.read.heard_meanings import END, EVENT, OTHER_LINE, SECONDS, SYSTEM, TALKGROUP, TIME
from pruner.read.heard_times import PLAIN, TimeForm, parse_times
from pruner.read.records import Records
from pruner.words import schema

#: A time of day with seconds, or no time of day at all, such as a number.
_SECONDS_OR_NO_CLOCK: Final = r"\d:\d\d:\d\d|^[^:]*$"
_EVENTS: Final = {START_EVENT: Sort.START, END_EVENT: Sort.END}


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a row is judged by: address range, zone of times that name none, the time of folding (milliseconds since
    1970-01-01 UTC), the first day that was not forgotten, and how times are written."""

    system: schema.System
    zone: str
    now: int
    floor: int | None
    forgotten: tuple[int, ...] = ()
    oldest: int | None = None
    form: TimeForm = PLAIN


@dataclass(frozen=True, slots=True)
class Judged:
    """The calls of a run of records, by id and (None: none) by call sign. `apart(most)` gives (line in the
    run, mark, raw text) of the first rows that are none."""

    calls: Calls
    account: Account
    apart: Callable[[int], list[tuple[int, Mark, str]]]
    callsigns: pl.DataFrame | None = None
    double: Double | None = None


@dataclass(frozen=True, slots=True)
class Double:
    """Calls in an hour that the clocks told twice, as they would be in the first of the two, in the order of the log: `start`
    of all, `is_call` where a row is one of `calls` (the others are those of `callsigns`)."""

    start: npt.NDArray[np.int64]
    is_call: npt.NDArray[np.bool_]
    calls: Calls
    callsigns: pl.DataFrame | None

    def later(self, seconds: npt.NDArray[np.int64]) -> tuple[Calls, pl.DataFrame | None]:
        """The calls, so many seconds later."""
        calls = replace(self.calls, start=self.calls.start + seconds[self.is_call])
        if self.callsigns is None:
            return calls, None
        named = self.callsigns["start"] + pl.Series(seconds[~self.is_call], dtype=pl.UInt32)
        return calls, self.callsigns.with_columns(named.alias("start"))


def judge(records: Records, bounds: Bounds) -> Judged:
    """Marks every record and takes the calls out of those that are folded. A record without id counts under its call sign."""
    ids, id_mark = ids_of(column_of(records, schema.ID), bounds.system)
    talkgroups, talkgroup_mark = talkgroups_of(column_of(records, TALKGROUP), bounds.system)
    time, is_time = parse_times(column_of(records, TIME), bounds.zone, bounds.form)
    milliseconds, is_seconds = _milliseconds(records, time, is_time, bounds)
    calls = Calls(ids, talkgroups, time // 1000, kept_milliseconds(milliseconds), _sorts(records, time, bounds.form))
    double = in_double_hour(records.columns.get(TIME), calls.start, bounds.zone)
    is_private, is_no_call = _is_private(records, talkgroup_mark), _are_events(records, NO_CALL_EVENT)
    is_foreign = _is_foreign(records, bounds.system)
    is_all_calls = is_private is None and is_no_call is None and is_foreign is None and not records.unreadable
    is_plain = double is None and is_all_calls and is_time.all() and is_seconds.all()
    if is_plain and id_mark is None and talkgroup_mark is None and records.count and _within(time, bounds):
        return Judged(calls, Account(records.count, records.count, events=_events(calls.sort)), lambda _: [])
    callsigns = callsigns_of(records, id_mark)
    if id_mark is not None and callsigns is not None:
        id_mark = np.where(callsigns.is_valid().to_numpy(zero_copy_only=False), 0, id_mark).astype(np.uint8)
    marks = np.zeros(records.count, dtype=np.uint8)
    if bounds.oldest is not None:
        marks[time < bounds.oldest * DAY] = Mark.TOO_OLD
    if bounds.floor is not None:
        marks[time < bounds.floor * DAY] = Mark.FORGOTTEN
    if bounds.forgotten:
        marks[np.isin(time // DAY, bounds.forgotten)] = Mark.FORGOTTEN
    marks[time > bounds.now + DAY] = Mark.IN_THE_FUTURE
    marks[time < EARLIEST] = Mark.BEFORE_2000
    if id_mark is not None:
        marks[id_mark == Mark.RESERVED_ID] = Mark.RESERVED_ID
    marks[~is_seconds] = Mark.INVALID_SECONDS
    marks[~is_time] = Mark.INVALID_TIME
    if talkgroup_mark is not None:
        marks[talkgroup_mark == Mark.INVALID_TALKGROUP] = Mark.INVALID_TALKGROUP
    if is_private is not None:
        marks[is_private] = Mark.PRIVATE_CALL
    if is_no_call is not None:
        marks[is_no_call] = Mark.OTHER_EVENT
    if id_mark is not None:
        marks[id_mark == Mark.INVALID_ID] = Mark.INVALID_ID
    if is_foreign is not None:
        marks[is_foreign] = Mark.OTHER_SYSTEM
    for index, reason in records.unreadable.items():
        marks[index] = Mark.OTHER_LINE if reason == OTHER_LINE else Mark.UNREADABLE_ROW
    is_folded = marks == Mark.FOLDED
    names_id = np.ones(records.count, dtype=bool) if callsigns is None else callsigns.is_null().to_numpy(zero_copy_only=False)

    def named(rows: npt.NDArray[np.bool_]) -> pl.DataFrame | None:
        which = np.flatnonzero(rows & ~names_id)
        return (
            by_callsign(callsigns.take(pa.array(which)), calls.where(which)) if callsigns is not None and len(which) else None
        )

    account = _account(marks, _events(None if calls.sort is None else calls.sort[is_folded]))
    twice = None
    if double is not None:
        inside = is_folded & double
        is_folded &= ~double
        twice = Double(calls.start[inside], names_id[inside], calls.where(inside & names_id), named(inside))
    apart = partial(_apart, records, marks)
    return Judged(calls.where(is_folded & names_id), account, apart, named(is_folded), twice)


def _milliseconds(
    records: Records, time: npt.NDArray[np.int64], is_time: npt.NDArray[np.bool_], bounds: Bounds
) -> tuple[npt.NDArray[np.uint64], npt.NDArray[np.bool_]]:
    """Milliseconds on air, and which are readable; without a duration from the start to the end, 0 where no end is told."""
    if SECONDS in records.columns:
        return parse_seconds(records.columns[SECONDS], bounds.form.unit)
    if END not in records.columns:
        return np.zeros(records.count, dtype=np.uint64), np.ones(records.count, dtype=bool)
    end, is_end = parse_times(records.columns[END], bounds.zone, bounds.form)
    found = np.where(is_end & is_time, end - time, 0)
    is_readable = (found >= 0) & (found <= DAY)
    return np.where(is_readable, found, 0).astype(np.uint64), is_readable


def _is_private(records: Records, talkgroup_mark: npt.NDArray[np.uint8] | None) -> npt.NDArray[np.bool_] | None:
    """Which records are calls from one station to another, as their event or their talkgroup says."""
    is_private = None if talkgroup_mark is None else talkgroup_mark == Mark.PRIVATE_CALL
    if is_private is not None and not is_private.any():
        is_private = None
    told = _are_events(records, PRIVATE_EVENT)
    return is_private if told is None else told if is_private is None else told | is_private


def _is_foreign(records: Records, system: schema.System) -> npt.NDArray[np.bool_] | None:
    """Which records name another system than that of the log, None where none does."""
    if SYSTEM not in records.columns:
        return None
    told = pc.not_equal(records.columns[SYSTEM], system.name).fill_null(False).to_numpy(zero_copy_only=False)
    return told if told.any() else None


def _are_events(records: Records, event: str) -> npt.NDArray[np.bool_] | None:
    """Which records tell an event, None where none does."""
    if EVENT not in records.columns:
        return None
    told = np.asarray(pc.equal(records.columns[EVENT], event).fill_null(False).to_numpy(zero_copy_only=False))
    return told if told.any() else None


def _within(time: npt.NDArray[np.int64], bounds: Bounds) -> bool:
    earliest = max(EARLIEST, (bounds.floor or 0) * DAY, (bounds.oldest or 0) * DAY)
    is_within = bool(time.min() >= earliest and time.max() <= bounds.now + DAY)
    return is_within and not (bounds.forgotten and np.isin(time // DAY, bounds.forgotten).any())


def _sorts(records: Records, time: npt.NDArray[np.int64], form: TimeForm) -> npt.NDArray[np.uint8] | None:
    """What each record says (None: a call from a second on). A time without seconds tells the minute only; so does a whole
    minute in a log of whole minutes."""
    sort = np.zeros(records.count, dtype=np.uint8)
    written = records.columns.get("time")
    if form.is_by_minute:
        sort[time % 60_000 == 0] = Sort.MINUTE
    elif written is not None and (pa.types.is_string(written.type) or pa.types.is_dictionary(written.type)):
        whole = np.flatnonzero(time % 60_000 == 0)
        if len(whole):
            text = written.take(pa.array(whole)).cast(pa.string())
            has_seconds = pc.match_substring_regex(text, _SECONDS_OR_NO_CLOCK).fill_null(True).to_numpy(zero_copy_only=False)
            sort[whole[~has_seconds]] = Sort.MINUTE
    if EVENT in records.columns:
        for word, kind in _EVENTS.items():
            sort[pc.equal(records.columns[EVENT], word).fill_null(False).to_numpy(zero_copy_only=False)] = kind
    return sort if sort.any() else None


def _events(sort: npt.NDArray[np.uint8] | None) -> int:
    """How many rows tell a start or an end."""
    return 0 if sort is None else int(np.count_nonzero(sort >= Sort.START))


def _account(marks: npt.NDArray[np.uint8], events: int) -> Account:
    counts = np.bincount(marks, minlength=max(Mark) + 1).tolist()
    words = {mark: MARK_WORDS[mark] for mark in Mark if mark and counts[mark]}
    return Account(
        len(marks),
        counts[Mark.FOLDED],
        Counter({word: counts[mark] for mark, word in words.items() if mark < FIRST_SET_ASIDE}),
        Counter({word: counts[mark] for mark, word in words.items() if mark >= FIRST_SET_ASIDE}),
        events=events,
    )


def _apart(records: Records, marks: npt.NDArray[np.uint8], most: int) -> list[tuple[int, Mark, str]]:
    """Rows that are kept apart; what was forgotten or would be is not."""
    which = np.flatnonzero((marks != Mark.FOLDED) & (marks < Mark.FORGOTTEN))[:most]
    if not len(which):
        return []
    return [(line, Mark(mark), raw) for (line, raw), mark in zip(records.origin(which), marks[which].tolist(), strict=True)]
