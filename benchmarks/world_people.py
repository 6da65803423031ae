"""Directories of invented stations: who exists, where, under which ids, and since when.

Nobody in them is real: call signs are put together at random, towns are names of the place table.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product
from string import ascii_uppercase
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from benchmarks.world_countries import COUNTRIES
from pruner.reference.tables import DATA

Integers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

#: Ids per code of a country that are given out to persons, and to repeaters (common practice, no source).
PERSONS, REPEATERS = 9_999, 999
REPEATER_SHARE: Final = 0.025
#: How far back ids were given out before the end of a world (days).
AGE: Final = 3_000.0
_STATES: Final = 9
_TOWNS_OF_A_STATE: Final = 40


@dataclass(frozen=True, slots=True)
class Towns:
    """All towns: `name`, `state` (index in `states`), degrees; the towns of a state stand together, the largest first.
    `states` are names; the states of country c are `first[c]` to `first[c + 1] - 1`; `begin` of a state's towns likewise."""

    name: list[str]
    state: Integers
    latitude: Floats
    longitude: Floats
    states: list[str]
    first: Integers
    begin: Integers


@cache
def towns() -> Towns:
    """Towns of the place table by country and state. In the United States the states are real; elsewhere a state is what
    lies nearest to one of the nine largest towns, under the name of some real state of the country."""
    table = pl.read_parquet(DATA / "places.parquet").filter(pl.col("name").str.len_chars() > 2)
    names, state_of, degrees, states, first, begin = [], [], [], [], [0], [0]
    for country in COUNTRIES:
        of_country = table.filter(pl.col("country") == country.code).sort("population", "name", descending=[True, False])
        keys = ["name", "state"] if country.code == "US" else ["name"]
        of_country = of_country.filter(pl.col("state") != "") if country.code == "US" else of_country
        of_country = of_country.unique(keys, keep="first", maintain_order=True).unique(
            ["latitude", "longitude"], keep="first", maintain_order=True
        )
        place = of_country.select(pl.col("latitude", "longitude").cast(pl.Float64)).to_numpy()
        if country.code == "US":
            titles = of_country["state"].unique(maintain_order=True).to_list()
            index = np.array([titles.index(title) for title in of_country["state"].to_list()])
        else:
            titles = _state_names(country.code)[:_STATES]
            flat = place * (1.0, np.cos(np.radians(place[:, 0].mean())))
            index = np.argmin(((flat[:, None] - flat[None, : len(titles)]) ** 2).sum(axis=2), axis=1)
        for position, title in enumerate(titles):
            members = np.flatnonzero(index == position)[:_TOWNS_OF_A_STATE]
            names += of_country["name"].gather(members).to_list()
            state_of += [len(states)] * len(members)
            degrees.append(place[members])
            states.append(title)
            begin.append(len(names))
        first.append(len(states))
    latitude, longitude = np.concatenate(degrees).T
    return Towns(names, np.array(state_of), latitude, longitude, states, np.array(first), np.array(begin))


def _state_names(country: str) -> list[str]:
    import pycountry

    subdivisions = pycountry.subdivisions.get(country_code=country)
    return sorted({one.name.split(" [")[0] for one in subdivisions if one.parent_code is None})


@dataclass(frozen=True, slots=True)
class Directory:
    """One row per id, ascending by id. `person`: the row that first named its owner; `country`, `state`, `town`: indices in
    `COUNTRIES` and `towns()`; `issued`: day from the first day of the log (float, negative before it) from which on a
    directory holds the id; `repeater`: six digits instead of seven."""

    id: npt.NDArray[np.uint32]
    person: Integers
    country: Integers
    state: Integers
    town: Integers
    issued: Floats
    repeater: npt.NDArray[np.bool_]
    callsign: npt.NDArray[np.object_]

    def __len__(self) -> int:
        return len(self.id)

    def frame(self, rows: npt.NDArray[np.int64] | slice = slice(None)) -> pl.DataFrame:
        """The rows as a directory shows them: id, callsign, town, state, country."""
        known = towns()
        return pl.DataFrame(
            {
                "id": self.id[rows],
                "callsign": pl.Series(self.callsign[rows].tolist(), dtype=pl.String),
                "town": pl.Series(known.name).gather(self.town[rows]).str.to_titlecase(),
                "state": pl.Series(known.states).gather(self.state[rows]),
                "country": pl.Series([country.code for country in COUNTRIES]).gather(self.country[rows]),
            }
        )


def _ranks(group: Integers, by: Floats) -> Integers:
    """The place of each entry within its group, by `by`."""
    order = np.lexsort((by, group))
    sorted_group = group[order]
    starts = np.flatnonzero(np.r_[True, sorted_group[1:] != sorted_group[:-1]])
    place = np.arange(len(group)) - np.repeat(starts, np.diff(np.r_[starts, len(group)]))
    ranks = np.empty(len(group), dtype=np.int64)
    ranks[order] = place
    return ranks


def _zipf(random: np.random.Generator, size: Integers, power: float) -> Integers:
    """Per entry a place below `size`, the first ones more often."""
    return np.minimum((size * random.random(len(size)) ** power).astype(np.int64), size - 1)


def make_directory(
    random: np.random.Generator, contacts: int, *, days: int, later_days: int, issuing: bool, further_ids: float
) -> Directory:
    """A directory of so many ids over a log of `days`. `issuing`: ids are given out until `later_days` after the log, else none
    after its first month before; `further_ids`: share of ids whose owner has an older one."""
    known, weights = towns(), np.array([country.weight for country in COUNTRIES], dtype=np.float64)
    repeater = np.arange(contacts) < int(contacts * REPEATER_SHARE)
    country = random.choice(len(COUNTRIES), contacts, p=weights / weights.sum())
    end = float(days + later_days) if issuing else -30.0
    issued = end - AGE * random.random(contacts)
    states = known.first[country + 1] - known.first[country]
    state = known.first[country] + _zipf(random, states, 1.6)
    town = known.begin[state] + _zipf(random, known.begin[state + 1] - known.begin[state], 1.8)
    person = _owners(random, state * 2 + repeater, issued, further_ids)
    town = town[person]
    number, fits = _numbers(random, country, state, issued, repeater)
    country, state, town, issued, repeater = (column[fits] for column in (country, state, town, issued, repeater))
    order = np.argsort(number, kind="stable")
    # An owner whose own row found no number is named by the first row of his that did.
    owner = np.unique(person[fits][order], return_index=True, return_inverse=True)
    person = owner[1][owner[2].reshape(-1)]
    callsign = _call_signs(random, country[order], person)
    return Directory(
        number[order].astype(np.uint32),
        person,
        country[order],
        state[order],
        town[order],
        issued[order],
        repeater[order],
        callsign,
    )


def _owners(random: np.random.Generator, group: Integers, issued: Floats, share: float) -> Integers:
    """For each row the row of its owner's first id: the one issued just before in the same group, or any earlier one."""
    order = np.lexsort((issued, group))
    rank = _ranks(group, issued)[order]
    back = np.where(random.random(len(group)) < 0.5, 1, (random.random(len(group)) * rank).astype(np.int64) + 1)
    further = (random.random(len(group)) < share) & (rank > 0)
    points = np.arange(len(group)) - np.where(further, np.minimum(back, rank), 0)
    while (points != points[points]).any():
        points = points[points]
    owner = np.empty(len(group), dtype=np.int64)
    owner[order] = order[points]
    return owner


def _numbers(
    random: np.random.Generator, country: Integers, state: Integers, issued: Floats, repeater: npt.NDArray[np.bool_]
) -> tuple[Integers, npt.NDArray[np.bool_]]:
    """Ids, given out in the order of time with gaps: in every other country in blocks of its states, else in one.
    Second: which rows found room (all but a few repeaters)."""
    number = np.zeros(len(country), dtype=np.int64)
    for place, one in enumerate(COUNTRIES):
        for kind, room in ((True, REPEATERS), (False, PERSONS)):
            rows = np.flatnonzero((country == place) & (repeater == kind))
            block = state[rows] if place % 2 == 0 else np.zeros(len(rows), dtype=np.int64)
            rows = rows[np.lexsort((issued[rows], block))]
            total, capacity = len(rows), len(one.id_codes) * room
            gaps = random.random(total) < min(0.06, max(capacity - total, 0) / max(total, 1) / 2)
            position = np.arange(total) + np.cumsum(gaps)
            rows, position = rows[position < capacity], position[position < capacity]
            codes = np.array(one.id_codes, dtype=np.int64)
            number[rows] = codes[position // room] * (room + 1) + position % room + 1
    return number, number > 0


@cache
def _endings() -> list[str]:
    return ["".join(letters) for letters in product(ascii_uppercase, repeat=3)]


def _call_signs(random: np.random.Generator, country: Integers, person: Integers) -> npt.NDArray[np.object_]:
    """One call sign per owner, different for different owners."""
    owners = np.unique(person)
    within = _ranks(country[owners], random.random(len(owners)))
    endings, texts = _endings(), np.empty(len(country), dtype=object)
    for owner, place, rank in zip(owners.tolist(), country[owners].tolist(), within.tolist(), strict=True):
        beginnings = COUNTRIES[place].beginnings
        rest, ending = divmod(rank * 7_919 % (len(endings) * 10 * len(beginnings)), len(endings))
        texts[owner] = f"{beginnings[rest // 10]}{rest % 10}{endings[ending]}"
    return texts[person]
