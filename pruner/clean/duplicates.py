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


@dataclass(frozen=True, slots=True)
class Survivors:
    """One entry per address, ordered by system and id. `record`: int64, position over all sources together; `number`: uint32,
    the id; `system`: uint8, position in `schema.SYSTEM_NAMES`."""

    record: npt.NDArray[np.int64]
    number: npt.NDArray[np.uint32]
    system: npt.NDArray[np.uint8]


def surviving_records(sources: Sequence[SourceIds]) -> Survivors:
    """The records that stay, one per address.

    The source that stands first wins; within it a plain id before a suffixed one; within these the last record.
    """
    starts = np.cumsum([0] + [len(source.number) for source in sources])
    found = []
    for slot, system in enumerate(schema.SYSTEM_NAMES):
        mine = [(source, int(start)) for source, start in zip(sources, starts, strict=False) if source.system == system]
        if not mine:
            continue
        highest = max(int(source.number.max(initial=0)) for source, _ in mine)
        winner = np.zeros(highest + 1, dtype=np.uint32)
        for source, start in reversed(mine):
            # numpy assigns repeated indices in order, so the last record of each id remains.
            suffixed = np.flatnonzero(source.station & source.suffixed)
            winner[source.number[suffixed]] = suffixed + (start + 1)
            # All other records write to address 0, which belongs to no station.
            address = np.where(source.station & ~source.suffixed, source.number, np.uint32(0))
            winner[address] = np.arange(start + 1, start + 1 + len(address), dtype=np.uint32)
        winner[0] = 0
        borne = np.flatnonzero(winner)
        records = winner[winner > 0].astype(np.int64) - 1
        found.append((records, borne.astype(np.uint32), np.full(len(borne), slot, dtype=np.uint8)))
    if not found:
        return Survivors(np.zeros(0, np.int64), np.zeros(0, np.uint32), np.zeros(0, np.uint8))
    record, number, slots = zip(*found, strict=True)
    return Survivors(np.concatenate(record), np.concatenate(number), np.concatenate(slots))
