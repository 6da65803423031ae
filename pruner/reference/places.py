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
_KEY: Final = ("name", "country", "state")
#: Between the parts of a key; it stands in none of them.
_JOINT: Final = "\n"
_Degrees = npt.NDArray[np.float64]
_Rows = npt.NDArray[np.int64]


@cache
def _places() -> pa.Table:
    """Folded names of towns; of rows that name a town alike the first wins: the most populous."""
    with pq.ParquetFile(DATA / "places.parquet", read_dictionary=["country", "state"]) as file:
        return file.read(columns=[*_KEY, "latitude", "longitude"])


def _rows_of(wanted: Sequence[tuple[str, ...]]) -> _Rows:
    """The first row that bears each wanted key, name and country or these and the state; -1 where none does."""
    keys = pa.array([_JOINT.join(key) for key in wanted], pa.string()).dictionary_encode()
    # Whatever their country, few rows bear one of the names: only of these the whole key is made.
    names = pa.array(sorted({key[0] for key in wanted}), pa.string())
    rows = np.flatnonzero(pc.is_in(_places()["name"], value_set=names).to_numpy())
    some = _places().select(_KEY[: len(wanted[0])]).take(pa.array(rows))
    texts = (column.cast(pa.string()) for column in some.columns)
    bearers = pc.index_in(pc.binary_join_element_wise(*texts, _JOINT), keys.dictionary)
    rows = rows[bearers.is_valid().to_numpy()]
    first = np.full(len(keys.dictionary), -1, np.int64)
    first[bearers.drop_null().to_numpy()[::-1]] = rows[::-1]  # of several the last one assigned stays
    return first[keys.indices.to_numpy()]


def _division(country: int, state: str) -> str:
    return code_of(country, state).partition("-")[2] if country == _STATES_COUNT else ""


def locate(country: Sequence[int], town: Sequence[str], state: Sequence[str]) -> tuple[_Degrees, _Degrees]:
    """Latitude and longitude (degrees, float64, NaN if unknown) of each country number, town, state.

    Names are compared after `fold`. Of several towns of one name in a country the most populous is meant; in
    the United States, where the state is understood, the most populous in that state.
    """
    names = {text: fold(text) for text in dict.fromkeys(town)}
    keys = [(names[text], CODES[number], _division(number, of)) for number, text, of in zip(country, town, state, strict=True)]
    stated = np.array([bool(division) for _, _, division in keys], dtype=bool)
    row = np.full(len(keys), -1, np.int64)
    for parts, chosen in ((2, np.flatnonzero(~stated)), (3, np.flatnonzero(stated))):
        if len(chosen):
            row[chosen] = _rows_of([keys[place][:parts] for place in chosen.tolist()])
    known = _places().take(pa.array(np.maximum(row, 0)))
    return (
        np.where(row < 0, np.nan, known["latitude"].to_numpy().astype(np.float64)),
        np.where(row < 0, np.nan, known["longitude"].to_numpy().astype(np.float64)),
    )


def country_of_locator(locator: str) -> int:
    """The country (number) in which most people of a locator's square live, of its nearest town where nobody does.

    For a first guess: a square can lie in several countries. Raises ValueError for what is no locator.
    """
    latitude, longitude = locator_centre(locator)
    half = {4: 0.5, 6: 1 / 48, 8: 1 / 480}[len(locator)]  # in degrees of latitude; twice that in longitude
    table = pq.ParquetFile(DATA / "places.parquet").read(columns=["country", "latitude", "longitude", "population"])
    north, east = (table[name].to_numpy().astype(np.float64) for name in ("latitude", "longitude"))
    inside = (np.abs(north - latitude) <= half) & (np.abs(east - longitude) <= 2 * half)
    towns = table.filter(pa.array(inside))
    if not len(towns):
        return NUMBERS[table["country"][int(np.argmin(distance_metres(latitude, longitude, north, east)))].as_py()]
    people = towns.group_by("country").aggregate([("population", "sum")])
    order = [("population_sum", "descending"), ("country", "ascending")]
    return NUMBERS[people.sort_by(order)["country"][0].as_py()]
