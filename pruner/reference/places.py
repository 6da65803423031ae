"""Towns -> degrees, without a network.

Receives distinct triples of country, town and state, hands on latitudes and longitudes. The table (GeoNames,
see data/NOTICE.md) is read when first asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq

from pruner.reference.countries import CODES, NUMBERS
from pruner.reference.fold import fold
from pruner.reference.geometry import distance_metres, locator_centre
from pruner.reference.states import code_of
from pruner.reference.tables import DATA

if TYPE_CHECKING:
    import polars as pl

# Elsewhere a town is found by its name alone: state codes tell towns apart only in the United States.
_STATES_COUNT: Final = NUMBERS["US"]
_KEY: Final = ("country", "name", "state")
_Degrees = npt.NDArray[np.float64]
_Marks = npt.NDArray[np.uint64]
_Rows = npt.NDArray[np.int64]


@cache
def _places() -> pl.DataFrame:
    """Folded names of towns; of rows that name a town alike the first wins: the most populous."""
    import polars as pl

    return pl.read_parquet(DATA / "places.parquet", columns=["country", "name", "state", "latitude", "longitude"])


def _marks(frame: pl.DataFrame) -> _Marks:
    """One number per row; equal rows have the same."""
    return frame.hash_rows(seed=1).to_numpy()


@cache
def _index(columns: tuple[str, ...]) -> tuple[_Marks, _Rows]:
    """The marks of these columns in order, and their rows; rows without a state are no part of an index by state."""
    import polars as pl

    rows = _places().with_row_index("row")
    if "state" in columns:
        rows = rows.filter(pl.col("state") != "")
    marked = rows.select("row", pl.Series("mark", _marks(rows.select(columns)))).sort("mark", maintain_order=True)
    return marked["mark"].to_numpy(), marked["row"].to_numpy().astype(np.int64)


def _rows_of(wanted: pl.DataFrame) -> _Rows:
    """The first row of the table that equals each wanted one in its columns, -1 where none does."""
    marks, rows = _index(tuple(wanted.columns))
    wanted_marks = _marks(wanted)
    found = np.full(len(wanted), -1, np.int64)
    waiting, place = np.arange(len(wanted)), np.searchsorted(marks, wanted_marks)
    while True:
        # Rows may have the same mark by chance, so that texts decide.
        within = place < len(marks)
        waiting, place = waiting[within], place[within]
        marked = marks[place] == wanted_marks[waiting]
        waiting, place = waiting[marked], place[marked]
        if not len(waiting):
            return found
        there, asked = _places()[rows[place]], wanted[waiting]
        equal = np.logical_and.reduce([(there[name] == asked[name]).to_numpy() for name in wanted.columns])
        found[waiting[equal]] = rows[place[equal]]
        waiting, place = waiting[~equal], place[~equal] + 1


def _key(country: int, town: str, state: str) -> tuple[str, str, str]:
    name = fold(town)
    if not name or not country:
        return "", "", ""
    division = code_of(country, state).partition("-")[2] if country == _STATES_COUNT else ""
    return CODES[country], name, division


def locate(country: Sequence[int], town: Sequence[str], state: Sequence[str]) -> tuple[_Degrees, _Degrees]:
    """Latitude and longitude (degrees, float64, NaN if unknown) of each country number, town, state.

    Names are compared after `fold`. Of several towns of one name in a country the most populous is meant; in
    the United States, where the state is understood, the most populous in that state.
    """
    import polars as pl

    keys = [_key(*triple) for triple in zip(country, town, state, strict=True)]
    wanted = pl.DataFrame(keys, schema=dict.fromkeys(_KEY, pl.String), orient="row")
    stated = (wanted["state"] != "").to_numpy()
    row = np.full(len(keys), -1, np.int64)
    for columns, chosen in ((_KEY[:2], ~stated), (_KEY, stated)):
        if chosen.any():
            row[chosen] = _rows_of(wanted.filter(chosen).select(columns))
    known = _places()[np.maximum(row, 0)]
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
    table = pq.read_table(DATA / "places.parquet", columns=["country", "latitude", "longitude", "population"])
    north, east = (table[name].to_numpy().astype(np.float64) for name in ("latitude", "longitude"))
    inside = (np.abs(north - latitude) <= half) & (np.abs(east - longitude) <= 2 * half)
    towns = table.filter(pa.array(inside))
    if not len(towns):
        return NUMBERS[table["country"][int(np.argmin(distance_metres(latitude, longitude, north, east)))].as_py()]
    people = towns.group_by("country").aggregate([("population", "sum")])
    order = [("population_sum", "descending"), ("country", "ascending")]
    return NUMBERS[people.sort_by(order)["country"][0].as_py()]
