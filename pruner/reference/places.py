"""Towns -> degrees, without a network.

Receives distinct triples of country, town and state, hands on latitudes and longitudes. The table (GeoNames,
see data/NOTICE.md) is read when first asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pruner.reference.countries import CODES, NUMBERS
from pruner.reference.fold import fold
from pruner.reference.geometry import distance_metres, locator_centre
from pruner.reference.states import code_of
from pruner.reference.tables import DATA

# Elsewhere a town is found by its name alone: state codes tell towns apart only in the United States.
_STATES_COUNT: Final = NUMBERS["US"]
_Degrees = npt.NDArray[np.float64]


@cache
def _places() -> tuple[pa.Array, _Degrees, _Degrees]:
    """Keys, latitudes, longitudes; of equal keys the first wins: the most populous town."""
    table = pq.read_table(DATA / "places.parquet")
    state = table["state"]
    plain = _joined(table["country"], table["name"], "")
    with_state = pc.not_equal(state, "")
    stated = table.filter(with_state)
    keys = pa.chunked_array(
        [
            *_joined(stated["country"], stated["name"], stated["state"]).chunks,
            *plain.chunks,
        ]
    ).combine_chunks()
    latitude = np.concatenate([stated["latitude"].to_numpy(), table["latitude"].to_numpy()])
    longitude = np.concatenate([stated["longitude"].to_numpy(), table["longitude"].to_numpy()])
    return keys, latitude.astype(np.float64), longitude.astype(np.float64)


def _joined(country: pa.ChunkedArray, name: pa.ChunkedArray, state: pa.ChunkedArray | str) -> pa.ChunkedArray:
    return pc.binary_join_element_wise(country, name, state, "\t")


def _key(country: int, town: str, state: str) -> str | None:
    name = fold(town)
    if not name or not country:
        return None
    division = code_of(country, state).partition("-")[2] if country == _STATES_COUNT else ""
    return f"{CODES[country]}\t{name}\t{division}"


def locate(country: Sequence[int], town: Sequence[str], state: Sequence[str]) -> tuple[_Degrees, _Degrees]:
    """Latitude and longitude (degrees, float64, NaN if unknown) of each country number, town, state.

    Names are compared after `fold`. Of several towns of one name in a country the most populous is meant; in
    the United States, where the state is understood, the most populous in that state.
    """
    keys = [_key(*triple) for triple in zip(country, town, state, strict=True)]
    known, known_latitude, known_longitude = _places()
    found = pc.index_in(pa.array(keys, pa.string()), value_set=known, skip_nulls=True)
    index = found.fill_null(-1).to_numpy(zero_copy_only=False)
    missing = index < 0
    latitude = np.where(missing, np.nan, known_latitude[index])
    longitude = np.where(missing, np.nan, known_longitude[index])
    return latitude, longitude


def country_of_locator(locator: str) -> int:
    """The country (number) in which most people of a locator's square live, of its nearest town where nobody does.

    For a first guess: a square can lie in several countries. Raises ValueError for what is no locator.
    """
    latitude, longitude = locator_centre(locator)
    half = {4: 0.5, 6: 1 / 48, 8: 1 / 480}[len(locator)]  # in degrees of latitude; twice that in longitude
    table = pq.read_table(DATA / "places.parquet", columns=["country", "latitude", "longitude", "population"])
    north, east = (table[name].to_numpy().astype(np.float64) for name in ("latitude", "longitude"))
    inside = (np.abs(north - latitude) <= half) & (np.abs(east - longitude) <= 2 * half)
    towns = table.filter(pa.array(inside))
    if not len(towns):
        return NUMBERS[table["country"][int(np.argmin(distance_metres(latitude, longitude, north, east)))].as_py()]
    people = towns.group_by("country").aggregate([("population", "sum")])
    order = [("population_sum", "descending"), ("country", "ascending")]
    return NUMBERS[people.sort_by(order)["country"][0].as_py()]
