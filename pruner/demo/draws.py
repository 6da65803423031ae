"""Numbers that look random and are the same on every machine and with every version of every library.

Receives a seed and the name of a stream; hands on arrays of draws. numpy promises no such
thing for its own generators.
"""

from __future__ import annotations

from hashlib import blake2b

import numpy as np
from numpy.typing import NDArray

Integers = NDArray[np.int64]


def split_mix(state: int, count: int) -> NDArray[np.uint64]:
    """The first `count` outputs (uint64) of SplitMix64 started at `state`.

    Source of the method: Steele, Lea, Flood, "Fast Splittable Pseudorandom Number Generators", OOPSLA 2014
    (constants from memory, held by a test to the published first outputs).
    """
    steps = np.arange(1, count + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed = steps + np.uint64(state)
    mixed = (mixed ^ (mixed >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return mixed ^ (mixed >> np.uint64(31))


class Draws:
    """Independent streams of one seed; a stream's values depend on the seed and its name only."""

    def __init__(self, seed: int) -> None:
        self.seed = seed

    def bits(self, stream: str, count: int) -> NDArray[np.uint64]:
        """`count` uint64 values of the stream."""
        digest = blake2b(f"{self.seed}/{stream}".encode(), digest_size=8).digest()
        return split_mix(int.from_bytes(digest, "little"), count)

    def below(self, stream: str, bound: Integers | int, count: int) -> Integers:
        """`count` integers (int64) from 0 up to, not including, `bound` (one for all, or one each)."""
        small = (self.bits(stream, count) >> np.uint64(33)).astype(np.int64)
        return small * np.asarray(bound, dtype=np.int64) >> 31

    def shares(self, stream: str, count: int) -> NDArray[np.float64]:
        """`count` floats in [0, 1)."""
        return (self.bits(stream, count) >> np.uint64(11)).astype(np.float64) * 2.0**-53

    def order(self, stream: str, count: int) -> Integers:
        """The numbers 0 to `count - 1` (int64), shuffled."""
        return np.argsort(self.bits(stream, count), kind="stable").astype(np.int64)
