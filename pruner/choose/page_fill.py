"""Lets contacts that were left out in where records still fit on pages.

Receives a choice that keeps the limits, hands on one with more contacts that keeps them too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.choose.memory import MemoryModel, page_ends, total_bytes

Integers = npt.NDArray[np.int64]
Levels = npt.NDArray[np.int8]
Mask = npt.NDArray[np.bool_]

#: Rounds in which page ends move: as many as look at three million contacts, 3 to 100.
_LOOKED_AT: Final = 3_000_000
_MOVING_ROUNDS: Final = (3, 100)


@dataclass(frozen=True, slots=True)
class _Waiting:
    """Contacts that are left out, first in line first: position in written order, level and bytes."""

    row: Integers
    level: Levels
    size: Integers

    def part(self, which: Mask | Integers) -> _Waiting:
        return _Waiting(self.row[which], self.level[which], self.size[which])


def fill_pages(
    model: MemoryModel,
    worth: npt.NDArray[np.float64],
    sizes: Integers,
    level: Levels,
    line: Integers,
    limit_bytes: int,
    limit_records: int | None,
) -> None:
    """Adds contacts to `level`, each at its smallest size, until none of those left out fits by itself.

    Rows of `worth` and `sizes` stand in written order. In line: most worth per byte first, then as `line` says. Rounds take
    at once the first in line for each page that has room without moving a page end; when there is none, the longest part
    of the line that fits although page ends move. Whoever does not fit by himself now never fits later, for more
    records never take fewer pages. Only with thousands of pages it can end sooner, as rounds of the second kind are counted.
    """
    assert model.page is not None
    waiting = _line(worth, sizes, level, line)
    moving = int(np.clip(_LOOKED_AT // max(len(sizes), 1), *_MOVING_ROUNDS))
    while len(waiting.row) and moving:
        kept = np.flatnonzero(level >= 0)
        laid = sizes[kept, level[kept]]
        places = len(sizes) if limit_records is None else limit_records - len(kept)
        pages = (limit_bytes - model.header - model.index * (len(kept) + 1)) // model.page
        alone, within, page = _room(kept, laid, waiting, model.page, pages)
        waiting, within, page = waiting.part(alone), within[alone], page[alone]
        if not len(waiting.row) or places <= 0:
            return
        if within.any():
            first = np.unique(page[within], return_index=True)[1]
            chosen = np.sort(np.flatnonzero(within)[first])[:places]
        else:
            moving -= 1
            chosen = np.arange(min(places, len(waiting.row)))
        count = _longest(model, sizes, level, waiting.part(chosen), limit_bytes)
        chosen = chosen[:count]
        level[waiting.row[chosen]] = waiting.level[chosen]
        waiting = waiting.part(np.setdiff1d(np.arange(len(waiting.row)), chosen, assume_unique=True))


def _line(worth: npt.NDArray[np.float64], sizes: Integers, level: Levels, line: Integers) -> _Waiting:
    row = line[level[line] < 0]
    leanest = (sizes.shape[1] - 1 - np.argmin(sizes[row, ::-1], axis=1)).astype(np.int8)
    size = sizes[row, leanest]
    order = np.argsort(-worth[row, leanest] / np.maximum(size, 1), kind="stable")
    return _Waiting(row, leanest, size).part(order)


def _room(kept: Integers, laid: Integers, waiting: _Waiting, page: int, pages: int) -> tuple[Mask, Mask, Integers]:
    """Which of those waiting would fit by themselves; which of them without moving a page end; and on which page they come.

    A record put in after `place` records lies on the page of the one before it, or begins the next page. What follows goes
    on from there to the first record that begins a page, and then takes the pages that it takes from any page's beginning.
    """
    after = page_ends(laid, page)
    ends = np.cumsum(laid)
    starts = np.append(0, ends)
    begins = _beginnings(after)
    pages_from = _pages_from(after)
    place = np.searchsorted(kept, waiting.row)
    on = np.maximum(np.searchsorted(begins, place, side="left") - 1, 0)
    filled = starts[place] - starts[begins[on]]
    same = filled + waiting.size <= page
    filled = np.where(same, filled, 0) + waiting.size
    following = np.searchsorted(ends, starts[place] + page - filled, side="right")
    needed = on + 1 + ~same + pages_from[following]
    full = starts[np.append(begins[1:], len(laid))] - starts[begins]
    alone = (waiting.size <= page) & (needed <= pages)
    within = alone & (full[on] + waiting.size <= page)
    return alone, within, on


def _beginnings(after: Integers) -> Integers:
    """The records that begin pages (one step per page); the first entry is 0 also where there is no record."""
    begins, view, position, count = [0], after.data, 0, len(after) - 1
    while position < count and (position := view[position]) < count:
        begins.append(position)
    return np.array(begins, dtype=np.int64)


def _pages_from(after: Integers) -> Integers:
    """For each record, how many pages it and those behind it take if it begins one: by jumps of doubled length."""
    pages = np.ones(len(after), dtype=np.int64)
    pages[-1] = 0
    jump = after
    while len(jump) > 1 and int(jump[0]) < len(jump) - 1:
        pages = pages + pages[jump]
        jump = jump[jump]
    return pages


def _longest(model: MemoryModel, sizes: Integers, level: Levels, line: _Waiting, limit_bytes: int) -> int:
    """How many from the front of a line fit together, by bisection (see `choose.memory.largest_prefix`)."""
    low, high = 0, len(line.row)
    while low < high:
        middle = (low + high + 1) // 2 if high - low < len(line.row) else high
        tried = level.copy()
        tried[line.row[:middle]] = line.level[:middle]
        kept = np.flatnonzero(tried >= 0)
        if total_bytes(model, sizes[kept, tried[kept]]) <= limit_bytes:
            low = middle
        else:
            high = middle - 1
    return low
