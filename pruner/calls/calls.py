"""Calls as the store keeps them: who, on which talkgroup, from which second on, how long, and how the log said so.

A call is told from others by id, talkgroup, start second, grain and kind; of several with the same of these the longest
counts, because a call that still goes on is logged too short. A log that writes whole minutes says too little for that: there,
and wherever a start is a whole minute, the duration belongs to what tells calls apart, and `calls.counting` decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Final

import numpy as np
import numpy.typing as npt

#: Seconds of a day, and milliseconds.
DAY_SECONDS: Final = 86_400
DAY: Final = 86_400_000
#: Below this milliseconds on air are kept as they are, above to the half second (rounded down).
EXACT_MILLISECONDS: Final = 1 << 18
MOST_MILLISECONDS: Final = 86_400_000


class Sort(IntEnum):
    """What a row of a log says: a call from a second or from a whole minute on, or only that a call begins or ends."""

    CALL = 0
    MINUTE = 1
    START = 2
    END = 3


#: Grain (0 second, 1 minute) and kind (0 call, 1 start, 2 end) of each sort.
GRAIN: Final = np.array([0, 1, 0, 0], dtype=np.uint8)
KIND: Final = np.array([0, 0, 1, 2], dtype=np.uint8)


@dataclass(frozen=True, slots=True)
class Calls:
    """Calls by position: `id` and `talkgroup` uint32 (24 bits), `start` int64 or uint32 in seconds since 1970-01-01 UTC,
    `milliseconds` on air (uint32), `sort` uint8 (None: all are `Sort.CALL`)."""

    id: npt.NDArray[np.uint32]
    talkgroup: npt.NDArray[np.uint32]
    start: npt.NDArray[Any]
    milliseconds: npt.NDArray[np.uint32]
    sort: npt.NDArray[np.uint8] | None = None

    def __len__(self) -> int:
        return len(self.id)

    def where(self, which: npt.NDArray[np.generic] | slice) -> Calls:
        """Some of the calls."""
        sort = None if self.sort is None else self.sort[which]
        return Calls(self.id[which], self.talkgroup[which], self.start[which], self.milliseconds[which], sort)

    @property
    def sorts(self) -> npt.NDArray[np.uint8]:
        """The sort of each call."""
        return np.zeros(len(self), dtype=np.uint8) if self.sort is None else self.sort


def joined(runs: list[Calls]) -> Calls:
    """Runs of calls as one."""
    if len(runs) == 1:
        return runs[0]
    return Calls(
        np.concatenate([run.id for run in runs]),
        np.concatenate([run.talkgroup for run in runs]),
        np.concatenate([run.start for run in runs]),
        np.concatenate([run.milliseconds for run in runs]),
        None if all(run.sort is None for run in runs) else np.concatenate([run.sorts for run in runs]),
    )


def kept_milliseconds(milliseconds: npt.NDArray[np.unsignedinteger]) -> npt.NDArray[np.uint32]:
    """Milliseconds as the store keeps them (uint32)."""
    short = milliseconds.astype(np.uint32)
    if len(short) and short.max() >= EXACT_MILLISECONDS:
        return np.where(short >= EXACT_MILLISECONDS, short // 500 * 500, short)
    return short
