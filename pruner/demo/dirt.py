"""Which row of the demo carries which kind of dirt.

Receives draws and how many rows; hands on a `Plan`: where each row comes from, its kind of dirt and its place
in the file. A row carries one kind at most, so that the counts can be compared with what a cleaner finds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pruner.demo import people
from pruner.demo.draws import Draws, Integers
from pruner.demo.stations import Stations, make_stations
from pruner.demo.world import COUNTRIES, OTHER_WAYS
from pruner.words.errors import SettingsError

#: Rows beside the stations proper, as a share of all rows. Each is a copy of some station's row, then spoilt.
EXTRA: Final[dict[str, float]] = {
    "duplicate id": 0.015,
    "device suffix beside the plain id": 0.008,
    "reserved id": 0.001,
    "id too large": 0.0015,
    "id with letters": 0.0025,
    "empty id": 0.001,
    "too few cells": 0.0025,
    "too many cells": 0.0015,
    "names nobody": 0.003,
}
#: Stations' own rows that are written badly, as a share of all rows. None of it makes the row unreadable.
WRITTEN_BADLY: Final[dict[str, float]] = {
    "device suffix alone": 0.004,
    "mojibake": 0.003,
    "country in other words": 0.06,
    "country empty": 0.01,
    "country unknown": 0.002,
    "country contradicts the id": 0.003,
    "shouted name": 0.03,
    "lower-case call sign": 0.02,
    "padded cells": 0.01,
    "portable call sign": 0.005,
    "id with point and zero": 0.003,
    "id with leading zeros": 0.003,
    "id with spaces": 0.003,
    "comma in a quoted cell": 0.005,
    "line break in a quoted cell": 0.002,
    "invisible character": 0.002,
    "hostile cell": 0.002,
}
#: In a small file too, every variant of a kind shall occur.
_AT_LEAST: Final = {"hostile cell": 9}
KINDS: Final = (*EXTRA, *WRITTEN_BADLY)
UNTOUCHED: Final = -1
FEWEST, MOST = 1_000, 500_000


@dataclass(frozen=True, slots=True)
class Plan:
    """Where every row comes from. The first `len(stations.ids)` rows are the stations themselves, one each.

    `source` (int64): the station each row shows; `kind` (int64): position in KINDS or -1; `order` (int64):
    the rows as they stand in the file.
    """

    stations: Stations
    source: Integers
    kind: Integers
    order: Integers

    def rows(self, kind: str) -> Integers:
        """The rows (int64, before ordering) that carry this kind."""
        return np.flatnonzero(self.kind == KINDS.index(kind))


def _count(kind: str, total: int) -> int:
    share = (EXTRA | WRITTEN_BADLY)[kind]
    return max(_AT_LEAST.get(kind, 5), round(share * total))


def _eligible(stations: Stations) -> dict[str, NDArray[np.bool_]]:
    """Stations that can carry a kind; kinds not named here suit every station."""
    with_marks = np.array([not town.partition("/")[0].isascii() for town in people.towns().texts])
    other_words = np.array([country.code in OTHER_WAYS for country in COUNTRIES])
    return {
        "device suffix alone": stations.person,
        "device suffix beside the plain id": stations.person,
        "mojibake": with_marks[stations.town],
        "country in other words": other_words[stations.country],
        "shouted name": stations.person,
    }


def make_plan(draws: Draws, total: int) -> Plan:
    """The plan for a file of exactly `total` records.

    Raises SettingsError outside 1000 to 500 000 rows: fewer cannot show every kind, more find no ids.
    """
    if not FEWEST <= total <= MOST:
        raise SettingsError(f"the demo writes {FEWEST} to {MOST} stations, {total} were asked for")
    extra = {kind: _count(kind, total) for kind in EXTRA}
    proper = total - sum(extra.values())
    stations = make_stations(draws, proper)
    eligible = _eligible(stations)

    kind = np.full(total, UNTOUCHED, dtype=np.int64)
    source = np.arange(total, dtype=np.int64)
    begin = proper
    for name, count in extra.items():
        order = draws.order(f"source of {name}", proper)
        chosen = order[eligible[name][order]] if name in eligible else order
        source[begin : begin + count] = chosen[:count]
        kind[begin : begin + count] = KINDS.index(name)
        begin += count

    shuffled = draws.order("written badly", proper)
    for name in WRITTEN_BADLY:
        free = shuffled[kind[shuffled] == UNTOUCHED]
        chosen = free[eligible[name][free]] if name in eligible else free
        kind[chosen[: _count(name, total)]] = KINDS.index(name)

    # Copies stand somewhere behind the row they were made from.
    place = np.arange(total, dtype=np.float64)
    share_behind = draws.shares("place of copies", total - proper)
    place[proper:] = source[proper:] + 0.5 + share_behind * (proper - source[proper:])
    return Plan(stations, source, kind, np.argsort(place, kind="stable").astype(np.int64))
