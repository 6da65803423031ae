"""When the directory outgrows a limit, and what coverage to expect then.

Receives a series and limits, hands on a `Forecast`. A date is the first day on which the middle of the prediction lies
above the limit; its interval ends where the bounds of the prediction interval cross the limit (inverse prediction: for a
line these are the limits of Fieller's theorem, N. R. Draper, H. Smith, "Applied Regression Analysis", section on inverse
regression, from memory), and spans the intervals of all models that the series allows: over years, steady and exponential
growth part further than the spread of either tells. Days are tried one by one up to the horizon, for all models alike.

Coverage to expect is read off the last run's curve (coverage by share of the directory kept, straight between its points):
when the directory has grown, the same limit is a smaller share of it. This takes newcomers to be heard as much as those who
are there now. Where only the coverage itself was recorded the curve is the line from nothing kept, nothing named. The calls
to come are read off their own curve in the same way; so is their interval, which does not allow for how the directory may grow.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from pruner.account.coverage import Ahead
from pruner.account.limits import LEVEL
from pruner.history.growth import Growth, Series, grow
from pruner.history.series import AheadCurve
from pruner.history.wants import Want, asked_for, outgrown_at
from pruner.words.days import day_number
from pruner.words.nouns import counted

#: Less than this is too little to go by.
POINTS_AT_LEAST: Final = 6
DAYS_AT_LEAST: Final = 56
#: Growth counts as real when the chance of such a slope without any growth is below this (two-sided t test).
DOUBT_AT_MOST: Final = 0.05
#: How far to look ahead, in spans of the series; what lies beyond is "later", not a guess.
HORIZON_SPANS: Final = 5
HORIZON_DAYS: Final = 36_525
_LAST_DATE: Final = day_number(datetime.date.max)
YEAR: Final = 365

OUTGROWN, EXPECTED, LATER, UNKNOWN = "outgrown", "expected", "later", "unknown"


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit to ask for. `wants`: what the rules ask for (the whole directory; None: not known); `coverage`: today's
    share of calls named (None: not known); `curve`: coverage by share of the directory kept, pairs ascending from (0, 0), empty
    if not known; `ahead`: the calls to come in the same way."""

    name: str
    contacts: int
    wants: tuple[Want, ...] | None = (Want(1.0),)
    coverage: float | None = None
    curve: tuple[tuple[float, float], ...] = ()
    ahead: AheadCurve | None = None


@dataclass(frozen=True, slots=True)
class Outlook:
    """The answer for one limit. `day`, `earliest`, `latest`: days since 1970-01-01; None where later than the horizon or
    unknown. `coverage_then`, `coverage_in_a_year`: looking back, on that day and then; `ahead_now`, `ahead_then`,
    `ahead_in_a_year`: the calls to come as the last run told them, on that day and then.

    `status`: outgrown (`day`: the first recorded day since which it has been so; `earliest` is None where that is the first of
    all), expected, later (than the horizon), unknown.
    """

    limit: Limit
    status: str
    day: int | None = None
    earliest: int | None = None
    latest: int | None = None
    coverage_then: float | None = None
    coverage_in_a_year: float | None = None
    ahead_now: Ahead | None = None
    ahead_then: Ahead | None = None
    ahead_in_a_year: Ahead | None = None


@dataclass(frozen=True, slots=True)
class Forecast:
    """`growth` holds the models that the series allows, the chosen one first; none where the data do not carry a forecast,
    and `reason` then says why. `horizon`: the last day looked at."""

    series: Series
    growth: tuple[Growth, ...]
    reason: str
    horizon: int
    level: float
    outlooks: tuple[Outlook, ...]


def forecast(series: Series, limits: Sequence[Limit], level: float = LEVEL) -> Forecast:
    """Answers for every limit; `level` is the probability of the prediction interval (two-sided)."""
    growth, reason = _growth(series)
    last = int(series.day[-1]) if len(series) else 0
    horizon = min(last + min(HORIZON_SPANS * series.span, HORIZON_DAYS), _LAST_DATE)
    outlooks = tuple(_outlook(series, growth, horizon, one, level) for one in limits)
    return Forecast(series, growth, reason, horizon, level, outlooks)


def _growth(series: Series) -> tuple[tuple[Growth, ...], str]:
    """The growth, or why there is none to go by."""
    if len(series) < POINTS_AT_LEAST:
        few = counted(len(series), "recorded day is", "recorded days are")
        return (), f"{few} too few for a forecast; {POINTS_AT_LEAST} are needed"
    if series.span < DAYS_AT_LEAST:
        short = counted(series.span, "day")
        return (), f"{short} from the first to the last: too short for a forecast; {DAYS_AT_LEAST} are needed"
    growth = grow(series)
    if growth[0].doubt >= DOUBT_AT_MOST:
        return (), "the growth cannot be told from none at all, so no date can be given"
    if growth[0].fitted.slope < 0:
        return (), "the directory is shrinking: at this rate it outgrows nothing"
    return growth, ""


def _outlook(series: Series, growth: tuple[Growth, ...], horizon: int, limit: Limit, level: float) -> Outlook:
    if limit.wants is None:
        return Outlook(limit, UNKNOWN)
    full = outgrown_at(limit.wants, limit.contacts)
    now, later = float(series.count[-1]) if len(series) else None, _in_a_year(growth, horizon)
    over = series.count > full
    if len(over) and over[-1]:
        at = _first_for_good(over) or 0
        since = int(series.day[at])
        return _with_calls(Outlook(limit, OUTGROWN, since, since if at else None, since), now, now, later)
    if not growth:
        return _with_calls(Outlook(limit, UNKNOWN), now, None, later)
    days = np.arange(growth[0].last_day + 1, horizon + 1)
    middle = _first_for_good(growth[0].counts(days) > full)
    early = [_first(model.counts(days, (1 + level) / 2) > full) for model in growth]
    late = [_first_for_good(model.counts(days, (1 - level) / 2) > full) for model in growth]
    found = Outlook(
        limit,
        LATER if middle is None else EXPECTED,
        None if middle is None else int(days[middle]),
        min((int(days[found]) for found in early if found is not None), default=None),
        None if None in late else max(int(days[found]) for found in late if found is not None),
    )
    return _with_calls(found, now, None if middle is None else full, later)


def _with_calls(found: Outlook, now: float | None, then: float | None, in_a_year: float | None) -> Outlook:
    """An outlook with the coverage, looking back and to come, of a directory that holds so many stations."""
    return replace(
        found,
        coverage_then=_expected(found.limit, then),
        coverage_in_a_year=_expected(found.limit, in_a_year),
        ahead_now=_ahead_now(found.limit),
        ahead_then=_ahead(found.limit, then),
        ahead_in_a_year=_ahead(found.limit, in_a_year),
    )


def _first(above: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int | None:
    found = np.flatnonzero(above)
    return int(found[0]) if len(found) else None


def _first_for_good(above: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int | None:
    """The first position from which all are true."""
    below = np.flatnonzero(~above)
    first = int(below[-1]) + 1 if len(below) else 0
    return first if first < len(above) else None


def _in_a_year(growth: tuple[Growth, ...], horizon: int) -> float | None:
    """How many stations the directory will hold then; None where that is too far to tell."""
    if not growth or growth[0].last_day + YEAR > horizon:
        return None
    return float(growth[0].counts(np.array([growth[0].last_day + YEAR]))[0])


def _expected(limit: Limit, directory: float | None) -> float | None:
    """Coverage, looking back, when the directory holds so many stations."""
    if not limit.curve or limit.wants is None or directory is None:
        return None
    share = min(asked_for(limit.wants, directory), limit.contacts) / directory
    return float(np.interp(share, [at for at, _ in limit.curve], [named for _, named in limit.curve]))


def _ahead_now(limit: Limit) -> Ahead | None:
    """The calls to come as the last run told them, whatever the series counts."""
    return limit.ahead.at(limit.contacts / limit.ahead.directory) if limit.ahead else None


def _ahead(limit: Limit, directory: float | None) -> Ahead | None:
    """The calls to come when the directory holds so many stations."""
    if limit.ahead is None or limit.wants is None or directory is None:
        return None
    return limit.ahead.at(min(asked_for(limit.wants, directory), limit.contacts) / directory)
