"""Which talkgroups matter most: the order in which they go into a radio.

Receives group numbers and countries, what is mine and what was heard; hands on one queue per class.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.choose.by_number import Queue
from pruner.reference import borders

#: The classes, the most important first. Each talkgroup belongs to the first that it fits.
CLASSES: Final = ("mine", "heard", "home country", "neighbour countries", "the rest")
MINE, HEARD, HOME, NEIGHBOURS, REST = range(5)


@dataclass(frozen=True, slots=True)
class HeardGroups:
    """Calls per talkgroup over a window of days. `number`: uint32, ascending, each once; `calls`: uint64, above 0."""

    number: npt.NDArray[np.uint32]
    calls: npt.NDArray[np.uint64]
    window_days: int = 0

    def calls_of(self, number: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint64]:
        """Calls on each of these talkgroups, 0 where none was heard."""
        if not len(self.number):
            return np.zeros(len(number), dtype=np.uint64)
        place = np.minimum(np.searchsorted(self.number, number), len(self.number) - 1)
        return np.where(self.number[place] == number, self.calls[place], np.uint64(0))


def class_of(
    number: npt.NDArray[np.uint32],
    country: npt.NDArray[np.uint8],
    calls: npt.NDArray[np.uint64],
    mine: Sequence[int],
    home: int,
) -> npt.NDArray[np.uint8]:
    """Position in CLASSES of each talkgroup (uint8). `home` is a country number, 0 for none."""
    around = np.array(sorted(borders.neighbours(home)), dtype=np.uint8)
    fits = [
        np.isin(number, np.array(mine, dtype=np.uint32)),
        calls > 0,
        (country == home) & (home > 0),
        np.isin(country, around),
    ]
    found: npt.NDArray[np.uint8] = np.select(fits, [np.uint8(k) for k in range(len(fits))], np.uint8(REST))
    return found


def queues_of(number: npt.NDArray[np.uint32], group_class: npt.NDArray[np.uint8], calls: npt.NDArray[np.uint64]) -> list[Queue]:
    """One queue per class: the heard by calls, most first, all others by number; ties by number."""
    by_number = np.argsort(number, kind="stable")
    queues = []
    for which in range(len(CLASSES)):
        waiting = by_number[group_class[by_number] == which]
        if which == HEARD:
            waiting = waiting[np.argsort(np.iinfo(np.uint64).max - calls[waiting], kind="stable")]
        queues.append(Queue(waiting, at_most=None, one_per_callsign=False))
    return queues
