"""The stations of the demo as they would be without a mistake.

Receives draws and how many; hands on `Stations`: one row per id, ascending, text as positions in pools.
Ids: seven digits for a person, six for a repeater, the country's code in front (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from string import ascii_uppercase
from typing import Final

import numpy as np
from numpy.typing import NDArray

from pruner.demo import people
from pruner.demo.draws import Draws, Integers
from pruner.demo.world import COUNTRIES
from pruner.words.errors import SettingsError

REPEATER_SHARE: Final = 0.03
#: Share of ids whose owner has the id before it as well.
SAME_OWNER_SHARE: Final = 0.12
#: Coprime to every size of a country's call sign space, all of which are smaller.
_STRIDE: Final = 7_368_787
_LETTERS: Final = ascii_uppercase


@dataclass(frozen=True, slots=True)
class Stations:
    """Columns of equal length: ids and positions (int64) in `world.COUNTRIES` and in the pools."""

    ids: Integers
    country: Integers
    beginning: Integers
    suffix: Integers
    first_name: Integers
    family_name: Integers
    town: Integers
    person: NDArray[np.bool_]


def suffixes() -> list[str]:
    """Every ending of two or three letters; the last letter makes it a call sign (ITU RR 19.68)."""
    return ["".join(letters) for length in (3, 2) for letters in product(_LETTERS, repeat=length)]


def _apportion(total: int, room: Integers) -> Integers:
    """`total` shared out by the weights of the countries, no country getting more than its room."""
    if total > room.sum():
        raise SettingsError(f"the demo has room for {room.sum()} stations of a kind, {total} were asked for")
    weights = np.array([country.weight for country in COUNTRIES], dtype=np.int64)
    low, high = 0, 1 << 40
    while high - low > 1:
        middle = (low + high) // 2
        fits = np.minimum(room, weights * middle // (1 << 24)).sum() <= total
        low, high = (middle, high) if fits else (low, middle)
    counts = np.minimum(room, weights * low // (1 << 24))
    with_room = np.flatnonzero(counts < room)
    left = total - int(counts.sum())
    counts[with_room[:left]] += 1
    return counts


def _some_ids(draws: Draws, stream: str, total: int, block: int) -> tuple[Integers, Integers]:
    """`total` different ids and their countries; each code has the numbers 1 to `block - 1`."""
    codes = [np.array(country.id_codes, dtype=np.int64) for country in COUNTRIES]
    room = np.array([len(code) * (block - 1) for code in codes], dtype=np.int64)
    counts = _apportion(total, room)
    taken = []
    for position, count in enumerate(counts.tolist()):
        # Numbers are given out in order, with gaps; so only the lower part of a country's room is in use.
        used = min(int(room[position]), count * 5 // 4 + 3)
        chosen = np.sort(draws.order(f"{stream}/{COUNTRIES[position].code}", used)[:count])
        taken.append(codes[position][chosen // (block - 1)] * block + chosen % (block - 1) + 1)
    return np.concatenate(taken), np.repeat(np.arange(len(COUNTRIES)), counts)


def _owners(draws: Draws, country: Integers) -> Integers:
    """For every row, the row that first named its owner; owners stay within their country."""
    rows = np.arange(len(country), dtype=np.int64)
    new = draws.shares("same owner", len(rows)) >= SAME_OWNER_SHARE
    new[0] = True
    new[1:] |= country[1:] != country[:-1]
    return np.maximum.accumulate(np.where(new, rows, 0))


def _call_signs(draws: Draws, country: Integers, owner: Integers) -> tuple[Integers, Integers]:
    """Beginning and suffix of each owner's call sign, different for different owners."""
    pool = people.calls()
    _, first_row, inverse = np.unique(country, return_index=True, return_inverse=True)
    within = owner - first_row[inverse]
    endings = len(suffixes())
    begin = draws.below("call sign start", 1 << 30, len(COUNTRIES))[country]
    place = (within * _STRIDE + begin) % (pool.size[country] * endings)
    beginning = pool.start[country] + place % pool.size[country]
    return beginning, draws.order("suffixes", endings)[place // pool.size[country]]


def _grouped(ids: Integers, country: Integers, person: NDArray[np.bool_]) -> Integers:
    """The order in which persons and repeaters of one country stand together."""
    return np.lexsort((ids, ~person, country)).astype(np.int64)


def make_stations(draws: Draws, total: int) -> Stations:
    """`total` rows with different ids, ascending.

    Raises SettingsError if the countries' codes have no room for so many.
    """
    repeaters = round(total * REPEATER_SHARE)
    person_ids, person_country = _some_ids(draws, "persons", total - repeaters, 10_000)
    repeater_ids, repeater_country = _some_ids(draws, "repeaters", repeaters, 1_000)
    ids = np.concatenate([person_ids, repeater_ids])
    country = np.concatenate([person_country, repeater_country])
    person = np.arange(total) < total - repeaters
    order = _grouped(ids, country, person)
    ids, country, person = ids[order], country[order], person[order]

    owner = _owners(draws, country)
    beginning, suffix = _call_signs(draws, country, owner)

    def pick(stream: str, pool: people.Pool) -> Integers:
        chosen: Integers = pool.start[country] + draws.below(stream, pool.size[country], total)
        return chosen[owner]

    rising = np.argsort(ids, kind="stable")
    return Stations(
        ids[rising],
        country[rising],
        beginning[rising],
        suffix[rising],
        pick("first name", people.first_names())[rising],
        pick("family name", people.family_names())[rising],
        pick("town", people.towns())[rising],
        person[rising],
    )
