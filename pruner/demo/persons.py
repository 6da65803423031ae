"""Who calls in the demo: invented persons with one or several ids, how much they call, from when to when, and where.

Receives draws and the stations of a directory; hands on `Persons`. Three worlds: `steady`, where everybody keeps his habits;
`churning`, where stations start and fall silent; and `varied`, the demo's own: some stay and others come and go, ids are given
out all the time and the newest call most, activity differs by country and state, and one person may call under several ids.
Written without a look at what estimates calls.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from pruner.demo import people
from pruner.demo.draws import Draws, Integers
from pruner.demo.stations import Stations
from pruner.demo.world import COUNTRIES

World = Literal["steady", "churning", "varied"]

#: Rates vary between stations by a gamma distribution of this shape: a few call much, most hardly ever.
_SHAPE: Final = 0.3
_REPEATER_FACTOR: Final = 0.05
#: Where stations come and go: how many days one stays on the average, and since when they have been starting.
_STAYS: Final = 75.0
_SINCE: Final = 700
#: In the varied world: shares of those who stay for good and of those who start when they get their id, the others start at
#: any time; days from the id to the first call, and days that beginners stay, on the average.
_LASTING, _BEGINNERS = 0.15, 0.35
_DELAY: Final = 20.0
_BEGINNERS_STAY: Final = 120.0
#: Ids have been given out for so many days; an owner calls so many times more at first, and half of that after so many days.
_AGE: Final = 4_200
_ZEAL: Final = 3.0
_ZEAL_HALVES: Final = 365.0
#: How often somebody with several ids uses the newest of them; else it is any.
_NEWEST: Final = 0.65
#: Callers whom no directory names, as a share of all stations.
UNKNOWN_SHARE: Final = 0.01

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Persons:
    """All int64. Per person: `code` of the country; `region`, the talkgroup of the part of it where the person lives; `rate`
    of calls, without a unit; `begin` and `end`, the first day and the day after the last on which the person calls, within the
    log. The ids of person p are `ids[first[p] : first[p + 1]]`, and `issued` the day on which each was given out (from the
    first day of the log on, negative before it)."""

    code: Integers
    region: Integers
    rate: Integers
    begin: Integers
    end: Integers
    first: Integers
    ids: Integers
    issued: Integers

    def __len__(self) -> int:
        return len(self.code)

    def ids_used(self, draws: Draws, person: Integers, day: Integers) -> Integers:
        """Under which id each of these persons calls on a day; -1 where none had been given out yet."""
        there = np.zeros(len(person), dtype=np.int64)
        size = np.diff(self.first)[person]
        for further in range(int(size.max(initial=0))):
            at = np.minimum(self.first[person] + further, len(self.ids) - 1)
            there += (further < size) & (self.issued[at] <= day)
        any_of_them = draws.below("any id", np.maximum(there, 1), len(person))
        place = np.where(draws.shares("newest id", len(person)) < _NEWEST, np.maximum(there - 1, 0), any_of_them)
        return np.where(there > 0, self.ids[self.first[person] + place], -1)


@cache
def _first_codes() -> Integers:
    """The first of its country's codes for each code."""
    first = np.arange(1000)
    for country in COUNTRIES:
        first[list(country.id_codes)] = country.id_codes[0]
    return first


def country_code(ids: Integers) -> Integers:
    """The first of its country's codes for each id, whose first three digits are a code (common practice, no source)."""
    code: Integers = _first_codes()[np.where(ids >= 1_000_000, ids // 10_000, ids // 1_000)]
    return code


def make_persons(draws: Draws, stations: Stations, days: int, world: World) -> Persons:
    """The owners of these stations, and a few more whose ids no directory has, in a log of so many days."""
    ids = np.concatenate([stations.ids, _unknown(draws, stations.ids)])
    person, state = np.arange(len(ids)), np.full(len(ids), -1)
    issued = np.full(len(ids), days - _AGE)
    if world == "varied":
        _, owner = np.unique(stations.beginning << 32 | stations.suffix, return_inverse=True)
        person = np.concatenate([owner.reshape(-1), np.arange(len(ids) - len(owner)) + owner.max(initial=-1) + 1])
        state[: len(owner)] = _states()[stations.town]
        issued[: len(owner)] = issued_on(stations.ids, days)
    order = np.lexsort((issued, person))
    ids, issued, state = ids[order], issued[order], state[order]
    first = np.searchsorted(person[order], np.arange(person.max(initial=-1) + 2))
    own, lead = ids[first[:-1]], issued[first[:-1]]
    code, state = country_code(own), state[first[:-1]]
    digit = np.where(state >= 0, (state + 2) % 10, draws.below("region", 10, len(own)))
    begin, end = _spells(draws, lead, days, world)
    return Persons(code, code * 10 + digit, _rates(draws, own, state, days - lead, world), begin, end, first, ids, issued)


def _unknown(draws: Draws, ids: Integers) -> Integers:
    """A few ids of the same countries that are not among these."""
    count = max(3, round(UNKNOWN_SHARE * len(ids)))
    near = ids[draws.below("unknown near", len(ids), 4 * count)]
    tried = near - near % 10_000 + 9_999 - draws.below("unknown", 900, 4 * count)
    strangers = np.setdiff1d(tried[near >= 1_000_000], ids)
    return strangers[np.sort(draws.order("strangers", len(strangers))[:count])]


def _states() -> Integers:
    """The state of each town of the pool: its number among those of its country, in the order of letters; -1 for none."""
    pool = people.towns()
    state = np.full(len(pool.texts), -1)
    for start, size in {(start, size) for start, size in zip(pool.start.tolist(), pool.size.tolist(), strict=True)}:
        names = [text.partition("/")[2] for text in pool.texts[start : start + size]]
        known = sorted({name for name in names if name})
        state[start : start + size] = [known.index(name) if name else -1 for name in names]
    return state


def issued_on(ids: Integers, days: int) -> Integers:
    """When ids were given out (from the first day of the log on, negative before it), if each country did so evenly and in
    their order, the last one at the end of the log."""
    group = country_code(ids) * 2 + (ids < 1_000_000)
    order = np.lexsort((ids, group))
    sizes = np.unique(group, return_counts=True)[1]
    place = np.arange(len(ids)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    issued = np.empty(len(ids), dtype=np.int64)
    size = np.repeat(sizes, sizes)
    issued[order] = days - (size - place) * _AGE // size
    return issued


def _rates(draws: Draws, own: Integers, state: Integers, age: Integers, world: World) -> Integers:
    rates = special.gammaincinv(_SHAPE, draws.shares("habit", len(own)))
    codes, place = np.unique(country_code(own), return_inverse=True)
    liveliness = np.array([0.1 + 2 * draws.shares(f"country {code}", 1)[0] ** 2 for code in codes.tolist()])
    rates *= liveliness[place] * np.where(own < 1_000_000, _REPEATER_FACTOR, 1.0)
    if world == "varied":
        states, place = np.unique(np.where(state >= 0, country_code(own) * 100 + state, -1), return_inverse=True)
        lively = [1.0 if one < 0 else 0.2 + 2.4 * draws.shares(f"state {one}", 1)[0] ** 2 for one in states.tolist()]
        rates *= np.array(lively)[place] * (1 + _ZEAL * 0.5 ** (np.maximum(age, 0) / _ZEAL_HALVES))
    # Whole numbers from here on: the last bit of a logarithm differs between machines.
    return np.floor(rates * (1 << 20)).astype(np.int64)


def _spells(draws: Draws, issued: Integers, days: int, world: World) -> tuple[Integers, Integers]:
    """First day and day after the last, within the log, on which each person calls."""
    count = len(issued)
    if world == "steady":
        return np.zeros(count, dtype=np.int64), np.full(count, days, dtype=np.int64)
    start = draws.below("start", _SINCE + days, count) - _SINCE
    waited = -np.log1p(-draws.shares("stay", count))
    length = np.floor(_STAYS * waited).astype(np.int64) + 1
    if world == "varied":
        kind = draws.shares("kind of stay", count)
        lasting, beginner = kind < _LASTING, (kind >= _LASTING) & (kind < _LASTING + _BEGINNERS)
        delay = np.floor(-_DELAY * np.log1p(-draws.shares("delay", count))).astype(np.int64)
        start = np.where(lasting, issued, np.where(beginner, issued + delay, np.maximum(start, issued)))
        length = np.where(beginner, np.floor(_BEGINNERS_STAY * waited).astype(np.int64) + 1, length)
        length[lasting] = _AGE + days
    return np.clip(start, 0, days), np.clip(start + length, 0, days)
