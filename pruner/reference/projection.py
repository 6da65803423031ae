"""The Equal Earth projection: a world map on which every country has its true share of the area.

Receives longitudes and latitudes in degrees, hands on places on a plane. Method: B. Šavrič, T. Patterson, B. Jenny,
"The Equal Earth map projection", International Journal of Geographical Information Science 33(3), 2019 (the four
coefficients from memory; the test holds that areas are true).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_A: Final = (1.340264, -0.081106, 0.000893, 0.003796)
_M: Final = math.sqrt(3) / 2


def equal_earth(longitude: Floats, latitude: Floats) -> tuple[Floats, Floats]:
    """x (to the east) and y (to the north) on a sphere of radius 1; both float64, any shape."""
    theta = np.arcsin(_M * np.sin(np.radians(latitude)))
    square = theta * theta
    sixth = square**3
    x = np.radians(longitude) * np.cos(theta) / (_M * (_A[0] + 3 * _A[1] * square + sixth * (7 * _A[2] + 9 * _A[3] * square)))
    y = theta * (_A[0] + _A[1] * square + sixth * (_A[2] + _A[3] * square))
    return x, y
