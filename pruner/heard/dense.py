"""The quick way to fold: numbers of calls and times in arrays with one cell for each id and talkgroup of a day.

Receives runs of whole numbers in any order, hands on what `heard.fold.fold` defines. Only ids and talkgroups that are
frequent enough get cells; `cells_of` says which rows have one, the others are left to the caller.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from pruner import schema
from pruner.heard.fold import DAY

#: Cells of one day at most: 20 bytes each.
MOST_CELLS: Final = 6_000_000
_MOST_TALKGROUPS: Final = 64
#: A talkgroup with a smaller share of the first rows gets no cells.
_LEAST_SHARE: Final = 1 / 4096
_NEVER: Final = np.uint32(0xFFFFFFFF)

Numbers = npt.NDArray[np.int64]


class Codes:
    """Small numbers from 0 for the ids and talkgroups that were met, the same for all days of a fold."""

    def __init__(self) -> None:
        # Untouched pages of a zeroed array take no memory.
        self._id_code = np.zeros(schema.ADDRESSES, dtype=np.int32)
        self._talkgroup_code = np.zeros(schema.ADDRESSES, dtype=np.int32)
        self.ids = np.zeros(0, dtype=np.uint32)
        self.talkgroups = np.zeros(0, dtype=np.uint32)
        self._most_ids = 0

    def cells_of(
        self, ids: npt.NDArray[np.uint32], talkgroups: npt.NDArray[np.uint32]
    ) -> tuple[Numbers, npt.NDArray[np.bool_] | None]:
        """The cell of each row, and which rows have one (None: all). A cell is id code times talkgroups plus code."""
        if max(int(ids.max()), int(talkgroups.max())) >= schema.ADDRESSES:
            fitting = (ids < schema.ADDRESSES) & (talkgroups < schema.ADDRESSES)
            cells, has_cell = self.cells_of(np.where(fitting, ids, 0), np.where(fitting, talkgroups, 0))
            return cells, fitting if has_cell is None else fitting & has_cell
        if not len(self.talkgroups):
            self._choose_talkgroups(talkgroups)
        id_codes = self._id_code[ids]
        if len(self.ids) < self._most_ids and not id_codes.all():
            self._add_ids(ids[id_codes == 0])
            id_codes = self._id_code[ids]
        talkgroup_codes = self._talkgroup_code[talkgroups]
        cells = np.multiply(id_codes, len(self.talkgroups), dtype=np.int64)
        cells += talkgroup_codes
        cells -= len(self.talkgroups) + 1
        if id_codes.all() and talkgroup_codes.all():
            return cells, None
        return cells, (id_codes > 0) & (talkgroup_codes > 0)

    def _choose_talkgroups(self, seen: npt.NDArray[np.uint32]) -> None:
        values, counts = np.unique(seen, return_counts=True)
        frequent = np.lexsort((values, -counts))[:_MOST_TALKGROUPS]
        chosen = frequent[counts[frequent] >= len(seen) * _LEAST_SHARE]
        self.talkgroups = values[chosen if len(chosen) else frequent[:1]]
        self._talkgroup_code[self.talkgroups] = np.arange(1, len(self.talkgroups) + 1)
        self._most_ids = MOST_CELLS // len(self.talkgroups)

    def _add_ids(self, seen: npt.NDArray[np.uint32]) -> None:
        added = np.unique(seen)[: self._most_ids - len(self.ids)]
        self._id_code[added] = np.arange(len(self.ids) + 1, len(self.ids) + len(added) + 1)
        self.ids = np.concatenate([self.ids, added])


class DayCells:
    """What is known of one day: arrays that grow with the ids of `codes`."""

    def __init__(self, codes: Codes, day: int) -> None:
        self.day = day
        self._codes = codes
        self._calls = np.zeros(0, dtype=np.uint32)
        self._milliseconds = np.zeros(0, dtype=np.uint64)
        self._first = np.zeros(0, dtype=np.uint32)
        self._last = np.zeros(0, dtype=np.uint32)

    def add(self, cells: Numbers, time: Numbers, milliseconds: npt.NDArray[np.unsignedinteger]) -> None:
        """Counts calls of this day; `time` in milliseconds since 1970-01-01 UTC."""
        self._grow(len(self._codes.ids) * len(self._codes.talkgroups))
        moment = (time - self.day * DAY).astype(np.uint32)
        np.add.at(self._calls, cells, np.uint32(1))
        np.add.at(self._milliseconds, cells, milliseconds.astype(np.uint64, copy=False))
        np.minimum.at(self._first, cells, moment)
        np.maximum.at(self._last, cells, moment)

    def rows(self) -> dict[str, npt.NDArray[np.generic]]:
        """The folded rows of the day, sorted by id and talkgroup."""
        ids, talkgroups = self._codes.ids, self._codes.talkgroups
        self._grow(len(ids) * len(talkgroups))
        by_id, by_talkgroup = np.argsort(ids), np.argsort(talkgroups)
        order = (by_id[:, None] * len(talkgroups) + by_talkgroup).reshape(-1)
        order = order[self._calls[order] > 0]
        start = np.int64(self.day * DAY)
        return {
            "id": ids[order // len(talkgroups)],
            "talkgroup": talkgroups[order % len(talkgroups)],
            "calls": self._calls[order],
            "milliseconds": self._milliseconds[order],
            "first": self._first[order] + start,
            "last": self._last[order] + start,
        }

    def _grow(self, cells: int) -> None:
        missing = cells - len(self._calls)
        if missing > 0:
            self._calls = np.append(self._calls, np.zeros(missing, dtype=np.uint32))
            self._milliseconds = np.append(self._milliseconds, np.zeros(missing, dtype=np.uint64))
            self._first = np.append(self._first, np.full(missing, _NEVER))
            self._last = np.append(self._last, np.zeros(missing, dtype=np.uint32))
