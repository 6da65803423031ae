"""The weights with which several forecasts would together have forecast best.

Receives forecasts and what came; hands on weights. Poisson likelihood with weights that are not negative (iterations as in
Shepp, Vardi, "Maximum Likelihood Reconstruction for Emission Tomography", IEEE Transactions on Medical Imaging 1(2), 1982,
from memory, would reach the same maximum more slowly than Newton's steps).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.steady import minimum, steady

#: About how many stations are looked at, at most twice as many; they are taken evenly by id.
MOST_STATIONS: Final = 200_000
#: A forecast that adds up to less says nothing.
_NOTHING: Final = 1e-9

Floats = npt.NDArray[np.float64]


def blend_weights(forecasts: Floats, came: Floats) -> Floats:
    """Weights (one per column of `forecasts`, stations x forecasts, not negative) of maximum Poisson likelihood of `came`."""
    size = forecasts.sum(axis=0)
    scale = np.where(size > _NOTHING, came.sum() / np.maximum(size, _NOTHING), 0.0)
    columns = forecasts * scale
    used = np.flatnonzero(columns.sum(axis=1) > 0)
    # Every so-manieth station says enough for a handful of weights.
    used = used[:: max(len(used) // MOST_STATIONS, 1)]
    columns, counts = columns[used], came[used]
    total = max(float(counts.sum()), 1.0)

    places = range(columns.shape[1])

    def negative(weights: Floats) -> tuple[float, Floats, Floats]:
        # No products of matrices: they might add up in another order on another number of threads.
        mean = np.maximum((columns * weights).sum(axis=1), 1e-12)
        value = mean.sum() - (counts * np.log(mean)).sum()
        bent = columns * (counts / mean**2)[:, None]
        curvature = np.array([[(bent[:, one] * columns[:, other]).sum() for other in places] for one in places])
        return float(value) / total, (columns * (1 - counts / mean)[:, None]).sum(axis=0) / total, curvature / total

    start = np.full(len(places), 1 / len(places))
    found = minimum(negative, start, np.zeros(len(places)), np.full(len(places), np.inf))
    return np.asarray(steady(np.maximum(found, 0.0)) * scale)
