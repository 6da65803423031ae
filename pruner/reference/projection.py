"""The Equal Earth projection: a world map on which every country has its true share of the area.

Receives longitudes and latitudes in degrees, hands on places on a plane, also in the units of the world map. Method:
B. Šavrič, T. Patterson, B. Jenny, "The Equal Earth map projection", International Journal of Geographical Information Science
33(3), 2019 (the four coefficients from memory; the test holds that areas are true).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_A: Final = (1.340264, -0.081106, 0.000893, 0.003796)
_M: Final = math.sqrt(3) / 2
#: The world map in units of its paths: 2000 wide, cut below 58 degrees south, where no station of a country lies.
MAP_WIDTH: Final = 2000
MAP_SOUTH: Final = -58.0


def equal_earth(longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
    """x (to the east) and y (to the north) on a sphere of radius 1; both float64, any shape."""
    theta = np.arcsin(_M * np.sin(np.radians(latitude)))
    square = theta * theta
    sixth = square**3
    x = np.radians(longitude) * np.cos(theta) / (_M * (_A[0] + 3 * _A[1] * square + sixth * (7 * _A[2] + 9 * _A[3] * square)))
    y = theta * (_A[0] + _A[1] * square + sixth * (_A[2] + _A[3] * square))
    return x, y


_WIDEST: Final = float(equal_earth(np.array([180.0]), np.zeros(1))[0][0])
_TOP: Final = float(equal_earth(np.zeros(1), np.array([90.0]))[1][0])
#: The radius of the sphere in units of the map.
RADIUS: Final = MAP_WIDTH / (2 * _WIDEST)


def map_place(longitude: Floats, latitude: Floats) -> Floats:
    """Units of the world map, float64 (points, 2): x to the right, y down; what lies south of the map at its edge."""
    x, y = equal_earth(longitude, np.maximum(latitude, MAP_SOUTH))
    return np.stack([(x + _WIDEST) * RADIUS, (_TOP - y) * RADIUS], axis=1)


def map_height() -> int:
    """Height of the world map in its units."""
    return int(np.rint(map_place(np.zeros(1), np.array([MAP_SOUTH])))[0, 1])
