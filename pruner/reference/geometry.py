"""Places on the globe: locators and distances.

Receives locators and degrees, hands on degrees and metres.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import numpy.typing as npt

#: Mean radius (R1) of the GRS 80 ellipsoid, in metres (IUGG).
EARTH_RADIUS: Final = 6_371_008.8

_LOCATOR: Final = re.compile(r"[A-R]{2}[0-9]{2}(?:[A-X]{2}(?:[0-9]{2})?)?", re.ASCII)


def locator_centre(locator: str) -> tuple[float, float]:
    """Latitude and longitude (degrees) of the middle of a Maidenhead locator's square.

    The locator has 4, 6 or 8 characters in upper or lower case (IARU Region 1; E. T. Tyson, QST January
    1989). ValueError if it has another form.
    """
    text = locator.strip().upper()
    if not _LOCATOR.fullmatch(text):
        raise ValueError(
            f"{locator!r} is no locator: expected 4, 6 or 8 characters, two letters A-R, two digits, "
            "two letters A-X, two digits, such as JN58 or JN58td"
        )
    latitude, longitude, height = -90.0, -180.0, 180.0
    for place, parts in zip(range(0, len(text), 2), (18, 10, 24, 10), strict=False):
        height /= parts
        first = "0" if text[place].isdigit() else "A"
        longitude += 2 * height * (ord(text[place]) - ord(first))
        latitude += height * (ord(text[place + 1]) - ord(first))
    return latitude + height / 2, longitude + height


def distance_metres(
    lat0: float, lon0: float, lat: npt.NDArray[np.float64], lon: npt.NDArray[np.float64]
) -> npt.NDArray[np.float64]:
    """Great-circle distance in metres from one point to each of many (degrees): float64, NaN for NaN.

    Haversine formula on a sphere; at most 0.56 % off the geodesic on the ellipsoid.
    """
    phi0, phi = np.radians(lat0), np.radians(lat)
    across = np.sin((phi - phi0) / 2) ** 2
    along = np.cos(phi0) * np.cos(phi) * np.sin(np.radians(lon - lon0) / 2) ** 2
    distance: npt.NDArray[np.float64] = 2 * EARTH_RADIUS * np.arcsin(np.sqrt(np.minimum(across + along, 1.0)))
    return distance
