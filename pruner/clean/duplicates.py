"""Which of several records that bear one id stays.

Receives numbers and flags per record of all sources, hands on one record per address. The id is the address of a dense
array, so that each record is one indexed write.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pruner import schema


@dataclass(frozen=True, slots=True)
class SourceIds:
    """Ids of one source: `station` tells which records bear a station's address."""

    system: str
    number: npt.NDArray[np.uint32]
    station: npt.NDArray[np.bool_]
    suffixed: npt.NDArray[np.bool_]


def surviving_records(sources: Sequence[SourceIds]) -> npt.NDArray[np.int64]:
    """The records that stay, as positions over all sources together, ordered by system and id.

    The source that stands first wins; within it a plain id before a suffixed one; within these the last record.
    """
    starts = np.cumsum([0] + [len(source.number) for source in sources])
    survivors = []
    for system in schema.SYSTEM_NAMES:
        mine = [(source, int(start)) for source, start in zip(sources, starts, strict=False) if source.system == system]
        if not mine:
            continue
        winner = np.zeros(schema.ADDRESSES, dtype=np.uint32)
        for source, start in reversed(mine):
            # numpy assigns repeated indices in order, so the last record of each id remains.
            for chosen in (source.station & source.suffixed, source.station & ~source.suffixed):
                rows = np.flatnonzero(chosen)
                winner[source.number[rows]] = rows + (start + 1)
        borne = winner[winner != 0]
        survivors.append(borne.astype(np.int64) - 1)
    return np.concatenate(survivors) if survivors else np.zeros(0, dtype=np.int64)
