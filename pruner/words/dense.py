"""Keys as the whole numbers from 0 on, in their order."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

Integers = npt.NDArray[np.int64]
#: Keys up to so many times the number of entries are made dense by a table, others by sorting.
_TABLE: Final = 16


def dense(keys: Integers) -> Integers:
    """The number of each distinct key (not negative), from 0 on in their order."""
    most = int(keys.max(initial=-1)) + 1
    if most > _TABLE * len(keys):
        place: Integers = np.unique(keys, return_inverse=True)[1].reshape(-1).astype(np.int64)
        return place
    there = np.zeros(most, dtype=np.int64)
    there[keys] = 1
    return (np.cumsum(there) - 1)[keys]


def dense_pair(one: Integers, other: Integers) -> Integers:
    """The number of each distinct pair (neither negative), from 0 on in their order."""
    return dense(one * (int(other.max(initial=0)) + 1) + other)
