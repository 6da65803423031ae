"""Calls of a fold under way, packed and cut by day and range of ids, in memory or in files that the fold removes.

Receives runs of calls of one log each, hands on the words of a day and a range of ids, log by log.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from pruner.calls.calls import DAY_SECONDS, Calls
from pruner.calls.packing import MOST_TALKGROUPS, SLICE_BITS, Numbers, Words, bits_for, rest_of, with_pairs
from pruner.words import schema

SLICES: Final = schema.ADDRESSES >> SLICE_BITS
#: Words in memory at most, before they go to a file.
_HELD: Final = 1 << 22


class TalkgroupPlaces:
    """Talkgroups in the order in which they were met, and the place of each."""

    def __init__(self) -> None:
        self._place = np.zeros(schema.ADDRESSES, dtype=np.int32)  # untouched pages of zeros take no memory
        self.numbers: Numbers = np.zeros(0, dtype=np.uint32)

    def of(self, talkgroups: Numbers) -> tuple[npt.NDArray[np.integer], Numbers]:
        """The place of each talkgroup in a table, and the table."""
        places: npt.NDArray[np.integer] = self._place[talkgroups]
        if not places.all():
            new = np.unique(talkgroups[places == 0])
            self._place[new] = np.arange(len(new)) + len(self.numbers) + 1
            self.numbers = np.append(self.numbers, new)
            places = self._place[talkgroups]
        if len(self.numbers) > MOST_TALKGROUPS:
            table, own = np.unique(talkgroups, return_inverse=True)
            return own, table
        return places - 1, self.numbers


@dataclass(slots=True)
class Run:
    """Words of calls of one log, ordered by day and slice of ids. Entry i of `day` and `slice` says where the words from
    `begin[i]` to `begin[i + 1]` lie; `words` is None where they were written to `path` from word `offset` on."""

    log: int
    talkgroups: Numbers
    day: npt.NDArray[np.int64]
    slice: npt.NDArray[np.int64]
    begin: npt.NDArray[np.int64]
    words: Words | None
    path: Path | None = None
    offset: int = 0

    def of_day(self, day: int) -> tuple[int, int]:
        """Which entries are those of a day."""
        low, high = np.searchsorted(self.day, (day, day + 1)).tolist()
        return low, high

    def read(self, low: int, high: int) -> Words:
        """The words of some entries that follow each other."""
        first, last = int(self.begin[low]), int(self.begin[high])
        if self.words is not None:
            return self.words[first:last]
        assert self.path is not None
        return np.fromfile(self.path, dtype=np.uint64, count=last - first, offset=(self.offset + first) * 8)


class Spill:
    """All runs of a fold; `folder` holds those that went to files."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._places = TalkgroupPlaces()
        self._held: list[Run] = []
        self._held_words = 0
        self._files = 0
        self.runs: list[Run] = []

    def add(self, log: int, calls: Calls) -> None:
        """Takes calls of a log."""
        places, table = self._places.of(calls.talkgroup)
        if len(table) > MOST_TALKGROUPS:
            half = len(calls) // 2
            self.add(log, calls.where(slice(None, half)))
            self.add(log, calls.where(slice(half, None)))
            return
        run = _packed(log, calls, places, table)
        self.runs.append(run)
        self._held.append(run)
        self._held_words += len(calls)
        if self._held_words >= _HELD:
            self._write()

    def days(self) -> list[int]:
        """All days with calls, ascending."""
        return sorted(set().union(*(np.unique(run.day).tolist() for run in self.runs)))

    def of_day(self, day: int) -> Iterator[tuple[Run, int, int]]:
        """The runs with calls of a day, log by log, and which of their entries these are."""
        for run in self.runs:
            low, high = run.of_day(day)
            if low < high:
                yield run, low, high

    def _write(self) -> None:
        path = self._folder / f"making-spill-{self._files}"
        self._files += 1
        offset = 0
        with path.open("wb") as file:
            for run in self._held:
                assert run.words is not None
                run.words.tofile(file)
                run.path, run.offset, offset, run.words = path, offset, offset + len(run.words), None
        self._held, self._held_words = [], 0


def _packed(log: int, calls: Calls, places: npt.NDArray[np.integer], table: Numbers) -> Run:
    bits = bits_for(len(table))
    first_day, last_day = (int(start) // DAY_SECONDS for start in (calls.start.min(), calls.start.max()))
    day = None
    if last_day != first_day:
        day = (calls.start // DAY_SECONDS - first_day).astype(np.uint16)
    second: npt.NDArray[Any] = calls.start - (
        first_day * DAY_SECONDS if day is None else (day.astype(np.int64) + first_day) * DAY_SECONDS
    )
    pair = calls.id.astype(np.uint64) << np.uint64(bits)  # what is higher than a word holds, the slice, falls out of it
    pair |= places.astype(np.uint64)
    words = with_pairs(rest_of(second, calls.sort, calls.milliseconds), pair)
    # Two sorts of 16-bit numbers, which are radix sorts: by slice, then by day.
    cut = (calls.id >> np.uint32(SLICE_BITS)).astype(np.uint16)
    order = np.argsort(cut, kind="stable")
    if day is not None:
        order = order[np.argsort(day[order], kind="stable")]
    where = cut[order].astype(np.int64)
    if day is not None:
        where += day[order].astype(np.int64) * SLICES
    starts = np.flatnonzero(np.diff(where, prepend=-1))
    where = where[starts]
    begin = np.append(starts, len(words))
    return Run(log, table, where // SLICES + first_day, where % SLICES, begin, words[order])
