"""The quick way to fold: arrays with one cell for each id and talkgroup of a day.

Receives runs of whole numbers in any order, hands on what `heard.fold.fold` defines (a test holds the two together). Only
frequent talkgroups get cells, and ids as long as there is room; `Codes.cells_of` says which rows have none.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner import schema
from pruner.heard.fold import DAY

#: Cells of one day at most; each takes 20 bytes.
MOST_CELLS: Final = 6_000_000
_MOST_TALKGROUPS: Final = 64
#: A talkgroup with a smaller share of the first rows gets no cells.
_LEAST_SHARE: Final = 1 / 4096
_NEVER: Final = np.uint32(0xFFFFFFFF)
_IDS_AT_ONCE: Final = 1 << 13

Cells = npt.NDArray[np.int32]


class Codes:
    """Where each id and talkgroup has its cells, the same for all days of a fold.

    Cells form a table: a row for each id, a column for each talkgroup. Row 0 and column 0 stand for those without cells.
    """

    def __init__(self) -> None:
        # Untouched pages of a zeroed array take no memory.
        self._row_start = np.zeros(schema.ADDRESSES, dtype=np.int32)
        self._column = np.zeros(schema.ADDRESSES, dtype=np.uint8)
        self.ids = np.zeros(1, dtype=np.uint32)
        self.talkgroups = np.zeros(1, dtype=np.uint32)

    @property
    def count(self) -> int:
        """How many cells a day has now."""
        return len(self.ids) * len(self.talkgroups)

    def cells_of(
        self, ids: npt.NDArray[np.uint32], talkgroups: npt.NDArray[np.uint32]
    ) -> tuple[Cells, npt.NDArray[np.bool_] | None]:
        """The cell of each row, and which rows have one (None: all)."""
        if max(ids.max(), talkgroups.max()) >= schema.ADDRESSES:
            is_fitting = (ids < schema.ADDRESSES) & (talkgroups < schema.ADDRESSES)
            ids, talkgroups = np.where(is_fitting, ids, 0), np.where(is_fitting, talkgroups, 0)
        if len(self.talkgroups) == 1:
            self._choose_talkgroups(talkgroups)
        starts, columns = self._row_start[ids], self._column[talkgroups]
        if not starts.min() and self._add_ids(ids[starts == 0]):
            starts = self._row_start[ids]
        cells = starts + columns
        if starts.min() and columns.min():
            return cells, None
        return cells, (starts > 0) & (columns > 0)

    def _choose_talkgroups(self, seen: npt.NDArray[np.uint32]) -> None:
        values, counts = np.unique(seen, return_counts=True)
        order = np.lexsort((values, -counts))
        order = order[(counts[order] >= len(seen) * _LEAST_SHARE) & (values[order] > 0)][:_MOST_TALKGROUPS]
        self.talkgroups = np.append(self.talkgroups, values[order])
        self._column[self.talkgroups] = np.arange(len(self.talkgroups))

    def _add_ids(self, seen: npt.NDArray[np.uint32]) -> int:
        room = MOST_CELLS // len(self.talkgroups) - len(self.ids)
        if room <= 0:
            return 0
        added = np.unique(seen)
        added = added[added > 0][:room]
        rows = np.arange(len(self.ids), len(self.ids) + len(added), dtype=np.int32)
        self._row_start[added] = rows * len(self.talkgroups)
        self.ids = np.concatenate([self.ids, added])
        return len(added)


class DayCells:
    """What is known of one day: arrays that grow with the ids of `codes`."""

    def __init__(self, codes: Codes, day: int) -> None:
        self.day = day
        self._codes = codes
        self._calls = np.zeros(0, dtype=np.uint32)
        self._milliseconds = np.zeros(0, dtype=np.uint64)
        self._first = np.zeros(0, dtype=np.uint32)
        self._last = np.zeros(0, dtype=np.uint32)

    def begin(self, day: int) -> None:
        """Empties all cells for another day; the arrays stay, for new ones would be spread over the memory."""
        self.day = day
        for cells in (self._calls, self._milliseconds, self._last):
            cells.fill(0)
        self._first.fill(_NEVER)

    def add(self, cells: Cells, time: npt.NDArray[np.int64], milliseconds: npt.NDArray[np.unsignedinteger]) -> None:
        """Counts calls of this day; `time` in milliseconds since 1970-01-01 UTC."""
        self._grow()
        moment = (time - self.day * DAY).astype(np.uint32)
        np.add.at(self._calls, cells, np.uint32(1))
        np.add.at(self._milliseconds, cells, milliseconds.astype(np.uint64, copy=False))
        np.minimum.at(self._first, cells, moment)
        np.maximum.at(self._last, cells, moment)

    def rows(self) -> Iterator[dict[str, npt.NDArray[np.generic]]]:
        """The folded rows of the day in runs, sorted by id and talkgroup."""
        columns = len(self._codes.talkgroups)
        ids = self._codes.ids[: len(self._calls) // columns]  # ids that were met later have no calls on this day
        by_talkgroup = np.argsort(self._codes.talkgroups)
        by_id = np.argsort(ids)
        start = np.int64(self.day * DAY)
        for begin in range(0, len(ids), _IDS_AT_ONCE):
            order = (by_id[begin : begin + _IDS_AT_ONCE, None] * columns + by_talkgroup).reshape(-1)
            order = order[self._calls[order] > 0]
            yield {
                "id": ids[order // columns],
                "talkgroup": self._codes.talkgroups[order % columns],
                "calls": self._calls[order],
                "milliseconds": self._milliseconds[order],
                "first": self._first[order] + start,
                "last": self._last[order] + start,
            }

    def _grow(self) -> None:
        if self._codes.count <= len(self._calls):
            return
        # With some room, because nearly all ids come with the first runs and a few with those after them.
        more = self._codes.count + self._codes.count // 16 - len(self._calls)
        self._calls = np.append(self._calls, np.zeros(more, dtype=np.uint32))
        self._milliseconds = np.append(self._milliseconds, np.zeros(more, dtype=np.uint64))
        self._first = np.append(self._first, np.full(more, _NEVER))
        self._last = np.append(self._last, np.zeros(more, dtype=np.uint32))
