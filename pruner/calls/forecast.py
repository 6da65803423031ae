"""What share of the calls to come will have a name: from refits to earlier days to a figure with an interval.

Receives what the same rules, fitted on what was known earlier, named of the calls that came; hands on the share of the next
period.

Each cut has a shorter log than today. How much a longer log helps is seen where the latest cut is refitted with half its log;
the share without a name falls by the same factor, half of it, for each doubling. The variance has two sources, stations (few of
them make many calls) and weeks; the larger counts, pooled with the squared differences between cuts, and half the correction is
taken as uncertain.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.words import special

#: Below so many covered days, or calls scored, there is no figure.
FEWEST_DAYS: Final = 56
FEWEST_CALLS: Final = 300
CONFIDENCE: Final = 0.95
#: An interval that is wider (a share) says that nobody can know.
WIDEST: Final = 0.20
#: The variance of stations counts 1.5 times, that of weeks 0.3 times.
_OF_STATIONS: Final = 1.5
_OF_WEEKS: Final = 0.3
#: Degrees of freedom of the variance within a cut.
_DEGREES: Final = 30.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scored:
    """One cut: `share` named of the calls that came in the period after it, `days` covered before it, variances of the share
    as they come from stations and from weeks."""

    share: float
    days: int
    of_stations: float = 0.0
    of_weeks: float = 0.0


@dataclass(frozen=True, slots=True)
class Interval:
    """A share (0 to 1) and the bounds of its interval."""

    share: float
    low: float
    high: float


def growth(share: float, with_half: float) -> float:
    """By what factor the share without a name falls when a log doubles: 1 where half a log names as much."""
    return min(1.0, (1.0 - share) / (1.0 - with_half)) if with_half < 1.0 else 1.0


def corrected(share: float, factor: float, days: int, days_then: int, *, part: float = 0.5) -> float:
    """A share at a cut as it would be with the log of today: `days` are covered now, `days_then` were covered then."""
    doublings = math.log(days / days_then) / math.log(2.0)
    return float(1.0 - (1.0 - share) * factor ** (part * doublings))


def forecast(cuts: Sequence[Scored], with_half: float, days: int, *, is_bound: bool = False) -> Interval:
    """The share of the next period. `cuts`: latest first; `with_half`: what the latest cut names with half its log; `days`:
    covered days of today's log; `is_bound`: only the low end is told."""
    factor = growth(cuts[0].share, with_half)
    centres = np.array([corrected(cut.share, factor, days, cut.days) for cut in cuts])
    weights = 0.5 ** np.arange(len(cuts))
    centre = float((centres * weights).sum() / weights.sum())
    within = max(_OF_STATIONS * cuts[0].of_stations, _OF_WEEKS * cuts[0].of_weeks)
    steps = np.diff(centres)
    degrees = _DEGREES + len(steps)
    variance = (_DEGREES * within + float((steps**2).sum())) / degrees + (0.5 * (centres[0] - cuts[0].share)) ** 2
    half = float(special.stdtrit(degrees, 0.5 + CONFIDENCE / 2)) * math.sqrt(variance)
    low = _least(centre, half) if is_bound else max(centre - half, 0.0)
    return Interval(centre, low, min(centre + half, 1.0))


def _least(centre: float, half: float) -> float:
    """The low end of a share of which no more than a lower bound is told. Below one half it is that of the log odds: one
    station that calls much and has no name spreads a small share by factors, and never takes it to nought."""
    if not 0.0 < centre < 0.5:
        return max(centre - half, 0.0)
    return float(special.expit(special.logit(centre) - half / (centre * (1.0 - centre))))


def variance_of_stations(calls: Floats, named: npt.NDArray[np.bool_]) -> float:
    """Variance of the share of calls that are named, as it comes from which stations call: `calls` per station."""
    total = float(calls.sum())
    if not total:
        return 0.0
    share = float(calls[named].sum()) / total
    return float((calls**2 * (named - share) ** 2).sum()) / total**2


def variance_of_weeks(totals: Floats, named: Floats) -> float:
    """The same as it comes from the weeks: calls and named calls of each."""
    weeks = int(np.count_nonzero(totals))
    if weeks < 2:
        return 0.0
    total = float(totals.sum())
    share = float(named.sum()) / total
    return float(((named - share * totals) ** 2).sum()) / total**2 * weeks / (weeks - 1)
