"""One fold under way: runs of calls in, files of days out, in memory that does not grow with the log.

Receives calls of numbered logs in any order and cut in any way, hands on the distinct calls of each day and how many of them
each log brought. Whatever the order, the files are the same bytes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.calls import packing
from pruner.calls.calls import DAY_SECONDS, Calls, joined
from pruner.calls.packing import PAIR_BITS, SLICE_BITS, Numbers, Words
from pruner.calls.parts import StoredDay, as_table
from pruner.calls.spill import SLICES, Run, Spill

#: Words of a run, and the slice of each.
Piece = tuple[Run, Words, npt.NDArray[np.int64]]
#: Shorter runs wait for each other.
_FEW: Final = 1 << 21
#: Calls that are sorted at once, where the ids allow it.
_SORTED: Final = 1 << 19


class Folding:
    """A fold; `folder` holds what does not fit into memory. `add` as often as needed, one log after the other, then `days`."""

    def __init__(self, folder: Path) -> None:
        self._spill = Spill(folder)
        self._log = 0
        self._waiting: list[Calls] = []
        self._count = 0

    def add(self, log: int, calls: Calls) -> None:
        """Takes calls of a log."""
        if log != self._log:
            self._take_waiting()
            self._log = log
        if len(calls):
            self._waiting.append(calls)
            self._count += len(calls)
            if self._count >= _FEW:
                self._take_waiting()

    def days(self) -> list[int]:
        """Ends the fold: the days with calls, ascending."""
        self._take_waiting()
        return self._spill.days()

    def merged(self, day: int, stored: Path | None, new: Counter[int]) -> Iterator[pa.Table]:
        """All calls of a day, with those of its file in the store: rows of the new file in runs. Adds to `new` how many calls
        each log brought that neither the store nor an earlier log had."""
        table = _talkgroups(self._spill, day, StoredDay(stored))
        merge = _Merge(day, table)
        before = StoredDay(stored)
        runs = list(self._spill.of_day(day))
        for group in _groups(runs, before, merge.id_bits):
            old = list(before.below(group.end))
            by_log: dict[int, list[Piece]] = {}
            for run, low, high in runs:
                begin, end = (np.searchsorted(run.slice[low:high], (group.first, group.last)) + low).tolist()
                if begin < end:
                    words, slices = group.chosen(run, run.read(begin, end), begin, end)
                    by_log.setdefault(run.log, []).append((run, words, slices))
            yield as_table(merge.group(group.first, old, by_log, new))

    def _take_waiting(self) -> None:
        if self._waiting:
            calls, self._waiting, self._count = joined(self._waiting), [], 0
            self._spill.add(self._log, calls)


def _talkgroups(spill: Spill, day: int, stored: StoredDay) -> Numbers:
    """All talkgroups that a day may have, sorted."""
    tables = {id(run.talkgroups): run.talkgroups for run, _, _ in spill.of_day(day)}
    found = [np.unique(values) for values in stored.values("talkgroup")]
    return np.unique(np.concatenate([*tables.values(), *found]))


@dataclass(frozen=True, slots=True)
class _Group:
    """Slices from `first` to before `last`; or of the only one those ids whose lower bits are from `low` to before `high`."""

    first: int
    last: int
    low: int
    high: int

    @property
    def end(self) -> int:
        """The id behind the last one."""
        return (self.last - 1 << SLICE_BITS) + self.high

    def chosen(self, run: Run, words: Words, begin: int, end: int) -> tuple[Words, npt.NDArray[np.int64]]:
        """The words of some entries of a run that belong here, with their slices."""
        slices = np.repeat(run.slice[begin:end], np.diff(run.begin[begin : end + 1]))
        if self.high - self.low == 1 << SLICE_BITS:
            return words, slices
        lower = packing.pairs(words) >> np.uint64(packing.bits_for(len(run.talkgroups)))
        lower &= np.uint64((1 << SLICE_BITS) - 1)
        which = np.flatnonzero((lower >= self.low) & (lower < self.high))
        return words[which], slices[which]


def _split(first: int, last: int, count: int) -> Iterator[_Group]:
    """A range of slices as one group; a single one with too many calls in equal parts."""
    bits = min(max(count // _SORTED, 1).bit_length() - 1, SLICE_BITS) if last == first + 1 else 0
    step = 1 << SLICE_BITS - bits
    for low in range(0, 1 << SLICE_BITS, step):
        yield _Group(first, last, low, low + step)


def _groups(runs: list[tuple[Run, int, int]], stored: StoredDay, id_bits: int) -> Iterator[_Group]:
    """Groups that together hold all calls of a day, about `_SORTED` in each, and whose ids differ in the lower bits only."""
    counts = np.zeros(SLICES, dtype=np.int64)
    for run, low, high in runs:
        np.add.at(counts, run.slice[low:high], np.diff(run.begin[low : high + 1]))
    for ids in stored.values("id"):
        counts += np.bincount(ids >> np.uint32(SLICE_BITS), minlength=SLICES)
    filled = np.flatnonzero(counts).tolist()
    step = 1 << max(id_bits - SLICE_BITS, 0)
    range_: list[int] = []
    held = 0
    for place in filled:
        if range_ and (held + counts[place] > _SORTED or place // step != range_[0] // step):
            yield from _split(range_[0], place, held)
            range_, held = [], 0
        range_.append(place)
        held += int(counts[place])
    if range_:
        yield from _split(range_[0], range_[-1] + 1, held)


class _Merge:
    """The calls of ranges of ids of one day: words of several logs, with talkgroup tables of their own, made one."""

    def __init__(self, day: int, table: Numbers) -> None:
        self._day = day
        self._table = table
        self._bits = packing.bits_for(len(table))
        #: Lower bits of ids that a word holds beside a talkgroup.
        self.id_bits = PAIR_BITS - self._bits
        self._places: dict[int, Words | None] = {}

    def group(self, first: int, old: list[Calls], by_log: dict[int, list[Piece]], new: Counter[int]) -> Calls:
        """The distinct calls of a range of slices that begins with `first`; adds to `new` what each log brought."""
        start = self._day * DAY_SECONDS
        if self.id_bits < SLICE_BITS:
            return self._wide_group(old, by_log, new)
        rests = [packing.rest_of(calls.start - start, calls.sort, calls.milliseconds) for calls in old]
        base = first << SLICE_BITS >> self.id_bits << self.id_bits
        known = [
            packing.with_pairs(rest, self._pair(calls.id, np.searchsorted(self._table, calls.talkgroup)))
            for rest, calls in zip(rests, old, strict=True)
        ]
        held = np.concatenate(known) if known else np.zeros(0, dtype=np.uint64)
        for log, pieces in by_log.items():
            held = _united(held, np.concatenate([self._same(run, words) for run, words, _ in pieces]), log, new)
        pair = packing.pairs(held)
        number = (pair >> np.uint64(self._bits)).astype(np.uint32) + np.uint32(base)
        return self._calls(held, number, self._table[pair & np.uint64((1 << self._bits) - 1)])

    def _pair(self, ids: Numbers, places: npt.NDArray[np.integer]) -> Words:
        pair = (ids & np.uint32((1 << self.id_bits) - 1)).astype(np.uint64) << np.uint64(self._bits)
        pair |= places.astype(np.uint64)
        return pair

    def _same(self, run: Run, words: Words) -> Words:
        """The words of a run as if it had the table of the day."""
        bits = packing.bits_for(len(run.talkgroups))
        key = id(run.talkgroups)
        if key not in self._places:
            places = np.searchsorted(self._table, run.talkgroups).astype(np.uint64)
            is_same = bits == self._bits and bool((places == np.arange(len(places), dtype=np.uint64)).all())
            self._places[key] = None if is_same else places
        places_of_day = self._places[key]
        if places_of_day is None:
            return words
        pair = packing.pairs(words)
        place = places_of_day[pair & np.uint64((1 << bits) - 1)]
        pair >>= np.uint64(bits)
        pair &= np.uint64((1 << self.id_bits) - 1)
        pair <<= np.uint64(self._bits)
        pair |= place
        return packing.with_pairs(packing.rests(words), pair)

    def _wide_group(self, old: list[Calls], by_log: dict[int, list[Piece]], new: Counter[int]) -> Calls:
        """The same where a day has too many talkgroups for a word: pairs of id and talkgroup are numbered."""
        start = self._day * DAY_SECONDS
        full = [calls.id.astype(np.uint64) << np.uint64(32) | calls.talkgroup for calls in old]
        rest = [packing.rest_of(calls.start - start, calls.sort, calls.milliseconds) for calls in old]
        logs: list[int | None] = [None] * len(old)
        for log, pieces in by_log.items():
            for run, words, slices in pieces:
                bits = packing.bits_for(len(run.talkgroups))
                pair = packing.pairs(words)
                low = pair >> np.uint64(bits) & np.uint64((1 << SLICE_BITS) - 1)
                number = slices.astype(np.uint64) << np.uint64(SLICE_BITS) | low
                full.append(number << np.uint64(32) | run.talkgroups[pair & np.uint64((1 << bits) - 1)])
                rest.append(packing.rests(words))
                logs.append(log)
        known, place = np.unique(np.concatenate(full), return_inverse=True)
        ends = np.cumsum([len(one) for one in full])[:-1]
        held = np.zeros(0, dtype=np.uint64)
        of_log: dict[int | None, list[Words]] = {}
        for of, pair, lower in zip(logs, np.split(place.astype(np.uint64), ends), rest, strict=True):
            of_log.setdefault(of, []).append(packing.with_pairs(lower, pair.copy()))
        for of, words_of_log in of_log.items():
            held = _united(held, np.concatenate(words_of_log), of, new)
        pair = known[packing.pairs(held)]
        return self._calls(held, (pair >> np.uint64(32)).astype(np.uint32), pair.astype(np.uint32))

    def _calls(self, words: Words, ids: Numbers, talkgroups: Numbers) -> Calls:
        second, sort, milliseconds = packing.unpacked_rest(words)
        return Calls(ids, talkgroups, second + self._day * DAY_SECONDS, milliseconds, sort if sort.any() else None)


def _united(held: Words, words: Words, log: int | None, new: Counter[int]) -> Words:
    """Distinct words with those of one more log (None: of the store), sorted."""
    words.sort()
    words = packing.distinct(words)
    union = words
    if len(held):
        union = np.concatenate([held, words])
        union.sort()
        union = packing.distinct(union)
    if log is not None:
        new[log] += len(union) - len(held)
    return union
