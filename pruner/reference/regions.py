"""Continents and other regions (United Nations M49), and ITU Regions.

Receives the name of a region, hands on country numbers.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.reference.countries import CODES, NUMBERS
from pruner.reference.fold import fold
from pruner.reference.tables import rows

# M49 code 003, a group beside the tree: "North America" (from memory).
_NORTH_AMERICA: Final = ("Northern America", "Central America", "Caribbean")


@cache
def _members() -> dict[str, frozenset[int]]:
    found: dict[str, set[int]] = {}
    for code, _, *names in rows("regions.tsv"):
        for name in filter(None, names):
            found.setdefault(name, set()).add(NUMBERS[code])
    found["North America"] = set().union(*(found[name] for name in _NORTH_AMERICA))
    return {name: frozenset(members) for name, members in sorted(found.items())}


@cache
def _folded() -> dict[str, frozenset[int]]:
    return {fold(name): members for name, members in _members().items()}


def continent_names() -> tuple[str, ...]:
    """The names that `continent_members` knows, in alphabetical order."""
    return tuple(_members())


def continent_members(name: str) -> frozenset[int]:
    """The countries of an M49 region, sub-region or intermediate region; empty if there is none of that name.

    Upper and lower case, marks and punctuation do not count.
    """
    return _folded().get(fold(name), frozenset())


@cache
def itu_region() -> npt.NDArray[np.uint8]:
    """ITU Region (1, 2 or 3; RR Nos. 5.2-5.9) per country number: uint8[len(CODES)], read-only.

    0 for number 0 and for Antarctica, which all three Regions share.
    """
    regions = np.zeros(len(CODES), dtype=np.uint8)
    for code, region, *_ in rows("regions.tsv"):
        regions[NUMBERS[code]] = int(region)
    regions.flags.writeable = False
    return regions
