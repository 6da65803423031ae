"""Land borders between countries.

Receives country numbers, hands on sets of them. Disputed borders are data: the pairs are those of GeoNames
with the corrections in `data/hand/borders.tsv`.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from pruner.reference.countries import NUMBERS
from pruner.reference.tables import rows


@cache
def _neighbours() -> dict[int, frozenset[int]]:
    found: dict[int, set[int]] = {}
    for one, other in rows("borders.tsv"):
        found.setdefault(NUMBERS[one], set()).add(NUMBERS[other])
        found.setdefault(NUMBERS[other], set()).add(NUMBERS[one])
    return {number: frozenset(others) for number, others in found.items()}


def neighbours(number: int) -> frozenset[int]:
    """The countries that share a land border with country `number`."""
    return _neighbours().get(number, frozenset())


def within_hops(numbers: Iterable[int], hops: int) -> frozenset[int]:
    """The countries to which 1 to `hops` land borders lead from `numbers`, without the start itself."""
    start = frozenset(numbers)
    reached, edge = start, start
    for _ in range(hops):
        edge = frozenset().union(*map(neighbours, edge)) - reached
        if not edge:
            break
        reached |= edge
    return reached - start
