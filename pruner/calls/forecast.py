"""What share of the calls to come will have a name: a figure with an interval.

Receives shares of the calls of stations heard and of those never heard, as the models expect them now, as they would have
expected them one period ago, and as they came; hands on the share of the next period.

Three kinds of callers. The share of each kind comes from the counts of several periods (`calls.newcomers`). How much of it will
have a name is what the models expect, moved by what they had wrong one period ago; that error counts for the more, the more
stations it rests on, because few stations make many calls. The variance has four sources: which strangers call, which of the
stations heard before call, the weeks, and how much more or less strangers call from period to period (a season, a contest).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import special

from pruner.calls.newcomers import Newcomers

#: Below so many covered days, or calls scored, there is no figure.
FEWEST_DAYS: Final = 56
FEWEST_CALLS: Final = 300
CONFIDENCE: Final = 0.95
#: That of a lower bound, which stands alone.
_CONFIDENCE_OF_BOUND: Final = 0.995
#: An interval that is wider (a share) says that nobody can know.
WIDEST: Final = 0.20
#: What the models expect counts for as much as what so many stations did.
_WORTH: Final = 200.0
#: By how much each variance counts: of stations, of weeks, of changes (a few periods show less of these than there is).
_OF_STATIONS: Final = 0.8
_OF_WEEKS: Final = 0.3
_OF_CHANGES: Final = 2.0
#: Degrees of freedom of the variance.
_DEGREES: Final = 30.0

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shares:
    """One number for each kind of caller: contacts that were `heard` before on the talkgroups that count, and `strangers`."""

    heard: float
    strangers: float


@dataclass(frozen=True, slots=True)
class Latest:
    """The latest period at a limit. Of each kind's calls the share with a name: `expected` before it, and `came`; `stations`:
    as how many that call alike count those who called. Variances of the share of all calls, as they come from which of the
    stations heard before call, and from weeks."""

    expected: Shares
    came: Shares
    stations: Shares
    of_heard: float = 0.0
    of_weeks: float = 0.0


@dataclass(frozen=True, slots=True)
class Interval:
    """A share (0 to 1) and the bounds of its interval; `strangers`: the share with a name of the calls of strangers."""

    share: float
    low: float
    high: float
    strangers: float


def moved(expected: float, then: float, came: float, stations: float) -> float:
    """What is `expected` now, moved by what came one period ago less what was expected `then`."""
    return min(max(expected + (came - then) * stations / (stations + _WORTH), 0.0), 1.0)


def forecast(kinds: Newcomers, expected: Shares, latest: Latest, *, is_bound: bool = False) -> Interval:
    """The share of the next period. `expected`: of each kind's calls to come the share with a name; `is_bound`: only the low
    end is told."""
    then, came, stations = latest.expected, latest.came, latest.stations
    of_heard = moved(expected.heard, then.heard, came.heard, stations.heard)
    of_strangers = moved(expected.strangers, then.strangers, came.strangers, stations.strangers)
    centre = max(1.0 - kinds.share - kinds.nowhere, 0.0) * of_heard + kinds.share * of_strangers
    # Each station takes the share towards 1 where it has a name, else towards 0; where none came, one may. So much in the
    # period to come, and in the mean of the earlier ones.
    towards = of_strangers * (1.0 - centre) ** 2 + (1.0 - of_strangers) * centre**2
    both = 1.0 + 1.0 / kinds.periods
    strange = (kinds.squares * towards + kinds.one * max(centre, 1.0 - centre) ** 2) * both
    changes = kinds.changes * (of_heard - of_strangers) ** 2 * both
    variance = _OF_STATIONS * (strange + latest.of_heard) + _OF_WEEKS * latest.of_weeks + _OF_CHANGES * changes
    confidence = _CONFIDENCE_OF_BOUND if is_bound else 0.5 + CONFIDENCE / 2
    half = float(special.stdtrit(_DEGREES, confidence)) * math.sqrt(variance)
    low = _least(centre, half) if is_bound else max(centre - half, 0.0)
    return Interval(centre, low, min(centre + half, 1.0), of_strangers)


def _least(centre: float, half: float) -> float:
    """The low end of a share of which no more than a lower bound is told. Below one half it is that of the log odds: one
    station that calls much and has no name spreads a small share by factors, and never takes it to nought."""
    if not 0.0 < centre < 0.5:
        return max(centre - half, 0.0)
    return float(special.expit(special.logit(centre) - half / (centre * (1.0 - centre))))


def effective_stations(calls: Floats) -> float:
    """As how many stations that call alike these count: the squared sum of their calls over the sum of the squares (Kish,
    "Survey Sampling", 1965; from memory)."""
    squares = float((calls**2).sum())
    return float(calls.sum()) ** 2 / squares if squares else 0.0


def variance_of_stations(named: float, others: float, total: float, share: float) -> float:
    """Variance of the `share` of `total` calls that are named, as it comes from which stations call: `named` and `others` are
    the sums of the squared calls of stations with a name and without."""
    return (named * (1.0 - share) ** 2 + others * share**2) / total**2 if total else 0.0


def variance_of_weeks(totals: Floats, named: Floats) -> float:
    """The same as it comes from the weeks: calls and named calls of each."""
    weeks = int(np.count_nonzero(totals))
    if weeks < 2:
        return 0.0
    total = float(totals.sum())
    share = float(named.sum()) / total
    return float(((named - share * totals) ** 2).sum()) / total**2 * weeks / (weeks - 1)
