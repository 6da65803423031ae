"""How far a station's own mean is to be believed.

Receives, per station, how many days there are, their sum and the sum of their squares; hands on means drawn to everybody's.

Source of the method: Bühlmann, Straub, "Glaubwürdigkeit für Schadensätze", 1970, with every day of equal weight and the
estimators of variance of Bühlmann, Gisler, "A Course in Credibility Theory", 2005, section 4.8 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Credibility:
    """`mean` of everybody; variance `within` a station's days and `between` stations."""

    mean: float
    within: float
    between: float

    def weights(self, days: Floats) -> Floats:
        """The weight (0 to 1) of a station's own mean."""
        if self.between <= 0:
            return np.zeros(len(days))
        return days / (days + self.within / self.between)

    def means(self, days: Floats, total: Floats) -> Floats:
        """Expected amount per day of stations with so many days (at least 1) and so much in `total`."""
        weights = self.weights(days)
        return weights * total / days + (1 - weights) * self.mean


def fit_credibility(days: Floats, total: Floats, squares: Floats) -> Credibility:
    """Parameters from at least one station; `squares` is the sum of squares of a station's days."""
    own = total / days
    count, all_days = len(days), float(days.sum())
    mean = float(total.sum()) / all_days
    free = all_days - count
    within = max(float((squares - total * own).sum()) / free, 0.0) if free else 0.0
    room = all_days - float((days**2).sum()) / all_days
    between = (float((days * (own - mean) ** 2).sum()) - (count - 1) * within) / room if room > 0 else 0.0
    found = Credibility(mean, within, max(between, 0.0))
    weights = found.weights(days)
    if weights.sum() > 0:
        found = Credibility(float((weights * own).sum() / weights.sum()), found.within, found.between)
    return found
