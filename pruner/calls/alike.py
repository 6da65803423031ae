"""What makes contacts alike as far as no call changes it, and their runs of equal cells.

Receives narrow columns of the contacts; hands on partitions (the cell of each contact), the place of each id among those of its
country and of its state, and the contacts in an order in which those with all cells alike stand together.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from pruner.words.dense import dense, dense_pair

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Traits:
    """What is known of contacts of one system, one entry each (`number` uint32): `country`, `kind` uint8; `state`, `band` (of
    distance), `person` (which call sign) and `town` int64, -1 where unknown, None where nobody's is known."""

    number: npt.NDArray[np.uint32]
    country: npt.NDArray[np.uint8]
    kind: npt.NDArray[np.uint8]
    state: Integers | None = None
    band: Integers | None = None
    person: Integers | None = None
    town: Integers | None = None

    @cached_property
    def fixed(self) -> dict[str, Integers]:
        """Partitions that no call changes, by name: the cell of each contact. Each state lies in one cell of `country`."""
        country = dense(self.country.astype(np.int64) * 4 + self.kind)
        state = country if self.state is None else dense_pair(country, self.state + 1)
        cells = {"kind": self.kind.astype(np.int64), "country": country, "state": state}
        if self.band is not None:
            cells |= {"band": self.band + 1, "band of country": dense_pair(country, self.band + 1)}
        return cells

    @cached_property
    def count(self) -> dict[str, int]:
        """How many cells each of the fixed partitions has."""
        return {name: int(cell.max(initial=-1)) + 1 for name, cell in self.fixed.items()}

    @cached_property
    def by_id(self) -> Integers | None:
        """The contacts (positions) by id, None where they stand so."""
        is_by_id = bool((self.number[1:] > self.number[:-1]).all())
        return None if is_by_id else np.argsort(self.number, kind="stable")

    def found(self, ids: Integers) -> tuple[Integers, Mask]:
        """Where the contact of each id stands (anywhere for an id without one), and which ids have a contact."""
        if not len(self.number):
            return np.zeros(len(ids), dtype=np.int64), np.zeros(len(ids), dtype=bool)
        place = np.searchsorted(self.number, ids.astype(np.uint32), sorter=self.by_id)
        place = np.minimum(place, len(self.number) - 1)
        place = place if self.by_id is None else self.by_id[place]
        return place, self.number[place] == ids

    @cached_property
    def positions(self) -> dict[str, Integers]:
        """How many ids of its country and kind, and of its state, are smaller than each."""
        return {name: _position(self.fixed[name], self.by_id) for name in ("country", "state")}

    @cached_property
    def namesakes(self) -> Integers:
        """The contacts whose call sign another one bears too."""
        if self.person is None:
            return np.zeros(0, dtype=np.int64)
        bearers = np.bincount(self.person + 1)
        bearers[:1] = 0
        return np.flatnonzero(bearers[self.person + 1] > 1)

    @cached_property
    def states(self) -> Groups:
        """The contacts by state."""
        return self._groups(self.fixed["state"])

    @cached_property
    def alike(self) -> Groups:
        """The contacts by state and band of distance."""
        state, band = self.fixed["state"], self.fixed.get("band")
        return self.states if band is None else self._groups(dense_pair(state, band))

    @cached_property
    def alike_halved(self) -> Groups:
        """The same, the two halves of the ids apart."""
        state, band = self.fixed["state"], self.fixed.get("band")
        cell = state if band is None else dense_pair(state, band)
        return self._groups(dense_pair(cell, halves(self.number).astype(np.int64)))

    def _groups(self, group: Integers) -> Groups:
        """Each of the groups lies in one country."""
        order = _by_group(group, self.by_id)
        rank = np.empty(len(order), dtype=np.int64)
        rank[order] = np.arange(len(order))
        begin = np.append(0, np.cumsum(np.bincount(group)))
        return Groups(order, rank, begin, group[order] * (len(order) + 1) + self.positions["country"][order])


class Groups(NamedTuple):
    """Contacts by group, within one by id: `order` (positions), `rank` (where each stands in it), `begin` of each group and the
    end of the last; `key` ascends in that order: group times the number of contacts plus one, plus position in the country."""

    order: Integers
    rank: Integers
    begin: Integers
    key: Integers

    def found(self, group: Integers, position: Integers) -> Integers:
        """Where in `order` the contacts of each group begin that have a position in the country from `position` on."""
        most = len(self.order)
        return np.searchsorted(self.key, group * (most + 1) + np.minimum(position, most))


def halves(number: npt.NDArray[np.uint32]) -> npt.NDArray[np.bool_]:
    """Cuts ids into two halves that have nothing to do with their order (Fibonacci hashing)."""
    return (number.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15) >> np.uint64(63)).astype(bool)


def _by_group(group: Integers, by_id: Integers | None) -> Integers:
    """The positions by group, within one by id; narrow numbers are sorted without comparisons."""
    narrow = group.astype(np.uint16) if int(group.max(initial=0)) < 1 << 16 else group
    if by_id is None:
        return np.argsort(narrow, kind="stable")
    return by_id[np.argsort(narrow[by_id], kind="stable")]


def _position(group: Integers, by_id: Integers | None) -> Integers:
    """How many of its group come before each by id."""
    order, size = _by_group(group, by_id), np.bincount(group)
    position = np.empty(len(group), dtype=np.int64)
    position[order] = np.arange(len(group)) - (np.cumsum(size) - size)[group[order]]
    return position
