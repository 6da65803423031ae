"""The middle of each country: where a contact of it is taken to be whose town is unknown.

Receives the table of places, hands on one point per country.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cache

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.reference.countries import CODES, NUMBERS
from pruner.reference.tables import rows

#: The table of middles in `data/`, made by `pruner.reference.build`.
MIDDLES = "middles.tsv"


def middle_of(points: Iterable[tuple[float, float]]) -> tuple[float, float]:
    """The mean of points on the globe (degrees, latitude first), rounded to hundredths of a degree.

    The mean is taken in space and put back onto the sphere, so that a country on both sides of the 180th meridian has its
    middle between its places and not on the other side of the globe.
    """
    radians = [(math.radians(latitude), math.radians(longitude)) for latitude, longitude in points]
    x = math.fsum(math.cos(latitude) * math.cos(longitude) for latitude, longitude in radians)
    y = math.fsum(math.cos(latitude) * math.sin(longitude) for latitude, longitude in radians)
    z = math.fsum(math.sin(latitude) for latitude, _ in radians)
    return round(math.degrees(math.atan2(z, math.hypot(x, y))), 2), round(math.degrees(math.atan2(y, x)), 2)


def middle_rows(places: pa.Table) -> list[tuple[str, str, str]]:
    """Alpha-2 code, latitude and longitude of the middle of each country that has places, each place counted once."""
    points: dict[str, set[tuple[float, float]]] = {}
    columns = (places[name].to_pylist() for name in ("country", "latitude", "longitude"))
    for country, *point in zip(*columns, strict=True):
        points.setdefault(country, set()).add((point[0], point[1]))
    middles = {country: middle_of(sorted(found)) for country, found in points.items()}
    return [(country, f"{latitude:.2f}", f"{longitude:.2f}") for country, (latitude, longitude) in sorted(middles.items())]


@cache
def middles() -> npt.NDArray[np.float64]:
    """Latitude and longitude in degrees (float64[len(CODES), 2]) of each country number, NaN where no place is known."""
    table = np.full((len(CODES), 2), np.nan)
    for code, latitude, longitude in rows(MIDDLES):
        table[NUMBERS[code]] = float(latitude), float(longitude)
    table.flags.writeable = False
    return table
