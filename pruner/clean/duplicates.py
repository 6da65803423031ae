"""Which of several records that bear one id stays.

Receives numbers and flags per record of all sources, hands on one record per address. Address and preference of a record are
one number, so that sorting numbers decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.words import schema
from pruner.words.pieces import pieces

#: The low bits of a key hold the preference, the bits above them the address.
_PREFERENCE_BITS: Final = np.uint64(40)
_PREFERENCE: Final = np.uint64((1 << 40) - 1)

Keys = npt.NDArray[np.uint64]
Records = npt.NDArray[np.int64]


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
    the id; `system`: uint8, position in `schema.SYSTEM_NAMES`. `duplicates`: int64, the records with a station's address that
    do not stay."""

    record: Records
    number: npt.NDArray[np.uint32]
    system: npt.NDArray[np.uint8]
    duplicates: Records


@dataclass(frozen=True, slots=True)
class _Preferences:
    """What a preference stands for: from `bounds[i]` on, it is a record's position and `shifts[i]`."""

    bounds: Records
    shifts: Records

    def records(self, preference: Records) -> Records:
        records = preference - self.shifts[0]
        for bound, step in zip(self.bounds[1:].tolist(), np.diff(self.shifts).tolist(), strict=True):
            records -= np.where(preference >= bound, step, 0)
        return records


def surviving_records(sources: Sequence[SourceIds]) -> Survivors:
    """The records that stay, one per address.

    The source that stands first wins; within it a plain id before a suffixed one; within these the last record.
    """
    starts = np.cumsum([0] + [len(source.number) for source in sources]).tolist()
    most = sum(int(np.count_nonzero(source.station)) for source in sources)
    number, system = np.empty(most, dtype=np.uint32), np.empty(most, dtype=np.uint8)
    record: list[Records] = []
    duplicates = [np.zeros(0, dtype=np.int64)]
    filled = 0
    for slot, name in enumerate(schema.SYSTEM_NAMES):
        mine = [(source, start) for source, start in zip(sources, starts, strict=False) if source.system == name]
        keys, preferences = _keys(mine)
        keys.sort()
        own = keys.view(np.int64)  # records take the place of keys that have been read: no second array is needed
        first = filled
        for part, last in _last_of_each_address(keys):
            records = preferences.records((part & _PREFERENCE).astype(np.int64))
            if last.all():
                stays = records
            else:
                stays, part = records[last], part[last]
                duplicates.append(records[~last])
            end = filled + len(stays)
            number[filled:end], system[filled:end] = part >> _PREFERENCE_BITS, slot
            own[filled - first : end - first] = stays
            filled = end
        if filled > first:
            record.append(own[: filled - first])
    if len(record) != 1:
        record = [np.concatenate([np.zeros(0, dtype=np.int64), *record])]
    return Survivors(record[0], number[:filled], system[:filled], np.concatenate(duplicates))


def _keys(sources: Sequence[tuple[SourceIds, int]]) -> tuple[Keys, _Preferences]:
    """The key of each record with a station's address, of sources of one system and the positions at which they start.

    Preferences rise from the last source to the first; within a source all suffixed records come first.
    """
    keys = np.empty(sum(int(np.count_nonzero(source.station)) for source, _ in sources), dtype=np.uint64)
    filled = lowest = 0
    bounds: list[int] = []
    shifts: list[int] = []
    for source, start in reversed(sources):
        size = len(source.number)
        for part in pieces(size):
            places = np.flatnonzero(source.station[part])
            preference = places + (lowest + part.start) + size * ~source.suffixed[part][places]
            address = source.number[part][places].astype(np.uint64) << _PREFERENCE_BITS
            keys[filled : filled + len(places)] = address | preference.astype(np.uint64)
            filled += len(places)
        bounds += [lowest, lowest + size]
        shifts += [lowest - start, lowest + size - start]
        lowest = bounds[-1] + size
    return keys, _Preferences(np.array(bounds), np.array(shifts))


def _last_of_each_address(keys: Keys) -> Iterator[tuple[Keys, npt.NDArray[np.bool_]]]:
    """Sorted keys piece by piece, and which of them are the last of their address."""
    for places in pieces(len(keys)):
        part = keys[places]
        address = keys[places.start : places.stop + 1] >> _PREFERENCE_BITS
        last = np.ones(len(part), dtype=bool)
        np.not_equal(address[1:], address[:-1], out=last[: len(address) - 1])
        yield part, last
