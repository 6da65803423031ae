"""Calls that name only a call sign, joined to the ids of a directory when they are counted.

Receives such calls of a store and a directory's ids and call signs, hands on rows by id. Which id of a call sign called is not
known: a call that the store also knows by one of these ids is that call; every other one counts for the id of the call sign
that was heard most by its number, the smallest of these. Call signs that the directory does not have count for id 0.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls import counting
from pruner.calls.calls import DAY_SECONDS, Calls, Sort
from pruner.calls.callsigns import callsign_calls
from pruner.calls.counted_days import CountedDays

Numbers = npt.NDArray[np.uint32]


@dataclass(frozen=True, slots=True)
class Owners:
    """Ids of call signs: entry i of `callsign` (place of a sorted call sign) has the id `number`; ascending by both.
    `counting` is the id that each call sign counts for, 0 where no directory has it."""

    callsign: npt.NDArray[np.int64]
    number: Numbers
    counting: Numbers


@dataclass(frozen=True)
class CallsignCalls:
    """The files of such calls by day."""

    days: Mapping[int, Path]
    tolerance: int
    owners: Owners | None = None
    _frames: dict[int, pl.DataFrame] = field(default_factory=dict)

    def frame(self, day: int) -> pl.DataFrame:
        """The calls of a day (`heard.callsigns.FRAME`)."""
        if day not in self._frames:
            self._frames[day] = callsign_calls(self.days[day])
        return self._frames[day]

    @cached_property
    def callsigns(self) -> pl.Series:
        """All call signs, sorted."""
        return pl.concat([self.frame(day)["callsign"].unique() for day in self.days]).unique().sort()

    def joined(self, numbers: Numbers, callsigns: pa.Array, calls_of: Callable[[Numbers], Numbers]) -> CallsignCalls:
        """The same with the ids of a directory; `calls_of` says how often ids were heard by their number."""
        known = self.callsigns
        places = pc.index_in(callsigns.cast(pa.string()), value_set=known.to_arrow().cast(pa.string()))
        has_calls = np.flatnonzero(places.is_valid().to_numpy(zero_copy_only=False))
        place = places.take(pa.array(has_calls)).to_numpy().astype(np.int64)
        number = numbers[has_calls]
        order = np.lexsort((number, place))
        place, number = place[order], number[order]
        heard = calls_of(number).astype(np.int64)
        best = np.lexsort((-number.astype(np.int64), heard, place))  # the last of each call sign is the one
        chosen = np.zeros(len(known), dtype=np.uint32)
        chosen[place[best]] = number[best]
        return replace(self, owners=Owners(place, number, chosen))

    def counted(self, day: int, days: CountedDays) -> tuple[counting.Counted, npt.NDArray[np.int64]]:
        """The calls of a day, each once, without those known by an id of their call sign; and the place of each one's call
        sign. The id is the one that it counts for."""
        calls = self._calls(day)
        before = counting.seam(self._calls(day - 1)) if day - 1 in self.days else None
        after = counting.early(self._calls(day + 1)) if day + 1 in self.days and counting.has_late_starts([calls]) else None
        found = counting.counted(calls, before, self.tolerance, after=after)
        place = found.id.astype(np.int64)
        if self.owners is None:
            return found.with_ids(np.zeros(len(found), dtype=np.uint32)), place
        stored = days.calls_of_day(day)
        if stored is not None:
            is_other = ~_is_known(found, stored, self.owners, self.tolerance)
            found, place = found.where(is_other), place[is_other]
        return found.with_ids(self.owners.counting[place]), place

    def rows(self, day: int, days: CountedDays) -> pa.Table:
        """The calls of a day by id and talkgroup (`calls.parts.ROW`)."""
        found, _ = self.counted(day, days)
        order = np.lexsort((found.start, found.talkgroup, found.id))
        return counting.rows(found.where(order), day)

    def nameless(self, day: int, days: CountedDays) -> pl.DataFrame:
        """The calls of a day whose call sign no directory has, by call sign and talkgroup: `callsign` and the columns of
        `calls.parts.ROW` but `id`."""
        found, place = self.counted(day, days)
        which = np.flatnonzero(found.id == 0)
        rows = pl.DataFrame(counting.rows(found.where(which).with_ids(place[which].astype(np.uint32)), day))
        return rows.select(self.callsigns.gather(rows["id"]).alias("callsign"), *rows.columns[1:])

    def _calls(self, day: int) -> Calls:
        """The calls of a day with the place of the call sign as id."""
        frame = self.frame(day)
        place = frame["callsign"].cast(pl.Enum(self.callsigns)).to_physical().to_numpy()
        grain, kind = frame["grain"].to_numpy(), frame["kind"].to_numpy()
        sort = np.where(kind > 0, kind + np.uint8(Sort.MINUTE), grain).astype(np.uint8)
        talkgroup, start, milliseconds = (frame[name].to_numpy() for name in ("talkgroup", "start", "milliseconds"))
        return Calls(place.astype(np.uint32), talkgroup, start, milliseconds, sort if sort.any() else None)


def _is_known(found: counting.Counted, stored: Calls, owners: Owners, tolerance: int) -> npt.NDArray[np.bool_]:
    """Which calls the store knows by one of the ids of their call sign (`found.id` is the place of the call sign)."""
    low = np.searchsorted(owners.callsign, found.id)
    high = np.searchsorted(owners.callsign, found.id, side="right")
    candidates = np.unique(owners.number)
    theirs = stored.where(np.isin(stored.id, candidates))
    is_known = np.zeros(len(found), dtype=bool)
    if not len(theirs):
        return is_known
    midnight = int(theirs.start[0]) // DAY_SECONDS * DAY_SECONDS
    key = _key(np.searchsorted(candidates, theirs.id), theirs.talkgroup, theirs.start, midnight)
    for step in range(int((high - low).max(initial=0))):
        open_ = np.flatnonzero((low + step < high) & ~is_known)
        own = np.searchsorted(candidates, owners.number[low[open_] + step])
        start = found.start[open_].astype(np.int64)
        first = np.searchsorted(key, _key(own, found.talkgroup[open_], start - tolerance, midnight))
        last = np.searchsorted(key, _key(own, found.talkgroup[open_], start + tolerance, midnight), side="right")
        for other in range(int((last - first).max(initial=0))):
            place = np.minimum(first + other, len(key) - 1)
            gap = theirs.start[place].astype(np.int64) - start
            a, b = found.milliseconds[open_].astype(np.int64), theirs.milliseconds[place].astype(np.int64)
            fits = counting.is_alike(gap, a, b) & (first + other < last)
            is_known[open_[fits]] = True
    return is_known


def _key(
    place: npt.NDArray[np.integer], talkgroup: Numbers, start: npt.NDArray[np.integer], midnight: int
) -> npt.NDArray[np.uint64]:
    """One number that sorts by id, talkgroup and start; starts are those of one day and some seconds around."""
    second = (start.astype(np.int64) - (midnight - DAY_SECONDS)).astype(np.uint64)
    return (place.astype(np.uint64) << np.uint64(42)) | (talkgroup.astype(np.uint64) << np.uint64(18)) | second
