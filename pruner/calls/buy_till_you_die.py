"""How often somebody who was seen before will be seen again: the BG/NBD model.

Receives histories (how often, when last, since when) as arrays; hands on fitted parameters and expectations. While
active, a station has calling days at its own constant rate; after each it falls silent for good with its own probability.

Sources of the methods: Fader, Hardie, Lee, "Counting Your Customers the Easy Way: An Alternative to the Pareto/NBD
Model", Marketing Science 24(2), 2005 (BG/NBD); Batislam, Denizel, Filiztekin, "Empirical Validation and Comparison of Models
for Customer Base Analysis", International Journal of Research in Marketing 24(3), 2007 (MBG/NBD, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import special

from pruner.calls.steady import minimum, steady

Floats = npt.NDArray[np.float64]
#: Bounds of the logarithms of parameters: nothing that a log can show lies beyond, and within them nothing overflows.
_WIDE: Final = (-9.0, 9.0)
_NARROW: Final = (-9.0, 4.0)
#: The expectation has a removable gap where `a` is 1 or `a + b + x` is 1; it is taken this far beside it.
_BESIDE: Final = 1e-5
_TERMS: Final = 5000


class Levels(NamedTuple):
    """The distinct values of a column and which of them each entry has: costly functions are computed once per value."""

    value: Floats
    of: npt.NDArray[np.int64]


@dataclass(frozen=True)
class Histories:
    """Distinct histories (float64, equal length): `repeats` events after the first, `recency` from the first to the last
    event, `age` from the first event to now (one unit of time for both); `count` how many stations share each."""

    repeats: Floats
    recency: Floats
    age: Floats
    count: Floats

    @cached_property
    def levels(self) -> tuple[Levels, Levels, Levels]:
        """Levels of `repeats`, `recency` and `age`."""
        repeats, recency, age = (
            Levels(*np.unique(column, return_inverse=True)) for column in (self.repeats, self.recency, self.age)
        )
        return repeats, recency, age


@dataclass(frozen=True, slots=True)
class BgNbd:
    """Parameters: rates of events are gamma (`r`, `alpha` in units of time), probabilities of silence beta (`a`, `b`).

    `at_once`: whether a station may fall silent after its first event already (MBG/NBD), or after the second (BG/NBD).
    """

    r: float
    alpha: float
    a: float
    b: float
    log_likelihood: float = float("nan")
    at_once: bool = False

    @property
    def stays(self) -> float:
        """`b` as it stands in the likelihood of a station without repeated events."""
        return self.b + self.at_once


def collapse(*columns: npt.NDArray[np.int64]) -> tuple[tuple[npt.NDArray[np.int64], ...], npt.NDArray[np.int64], Floats]:
    """Distinct tuples of equally long columns (int64, not negative): the columns, the position of each entry, the counts."""
    key = np.zeros(len(columns[0]), dtype=np.int64)
    inverse = key
    for column in columns:
        _, key = np.unique(inverse * (int(column.max(initial=0)) + 1) + column, return_inverse=True)
        inverse = key.reshape(-1)
    _, first, inverse, count = np.unique(inverse, return_index=True, return_inverse=True, return_counts=True)
    return tuple(column[first] for column in columns), inverse.reshape(-1), count.astype(np.float64)


def _log_odds_silent(model: BgNbd, repeats: Floats, recency: Floats, age: Floats) -> Floats:
    """Log of the odds of having fallen silent; minus infinity where that cannot be yet."""
    waits = np.log(model.alpha + age) - np.log(model.alpha + recency)
    return _log_odds_at_last(model, repeats) + (model.r + repeats) * waits


def _log_odds_at_last(model: BgNbd, repeats: Floats) -> Floats:
    """Log of the odds of falling silent at the last event."""
    may = (repeats > 0) | model.at_once
    return np.where(may, np.log(model.a) - np.log(np.where(may, model.stays + repeats - 1, 1.0)), -np.inf)


def probability_active(model: BgNbd, repeats: Floats, recency: Floats, age: Floats) -> Floats:
    """Probability (0 to 1) that a station with this history has not fallen silent."""
    return special.expit(-_log_odds_silent(model, repeats, recency, age))


def bg_nbd_log_likelihood(model: BgNbd, histories: Histories) -> float:
    """Logarithm of the likelihood of all histories (equation 6 of the paper, summed)."""
    return _bg_nbd(model, histories)[0]


def _bg_nbd(model: BgNbd, data: Histories) -> tuple[float, Floats]:
    """Log-likelihood and its derivatives by the four parameters."""
    r, alpha, a, b, stays, count = model.r, model.alpha, model.a, model.b, model.stays, data.count
    repeats, recency, age = data.levels
    x, events = repeats.value, r + data.repeats
    log_recency, log_age = np.log(alpha + recency.value)[recency.of], np.log(alpha + age.value)[age.of]
    odds = _log_odds_at_last(model, x)[repeats.of] + events * (log_age - log_recency)
    silent = special.expit(odds)
    of_x = special.gammaln(r + x) - special.gammaln(r) + r * np.log(alpha)
    of_x += special.betaln(a, stays + x) - special.betaln(a, b)
    value = of_x[repeats.of] - events * log_age + np.logaddexp(0.0, odds)

    def summed(per_level: Floats, levels: Levels, weight: Floats) -> float:
        return float(np.sum(np.bincount(levels.of, weights=weight, minlength=len(per_level)) * per_level))

    sum_of_b = special.digamma(a + b) - special.digamma(a + stays + x)
    by_a = summed(sum_of_b, repeats, count) + float(np.sum(count * silent)) / a
    by_b = summed(special.digamma(stays + x) - special.digamma(b) + sum_of_b, repeats, count)
    by_b -= summed(1 / np.where(x + stays > 1, x + stays - 1, 1.0), repeats, count * silent)
    by_r = summed(special.digamma(r + x) - special.digamma(r) + np.log(alpha), repeats, count)
    by_r -= float(np.sum(count * ((1 - silent) * log_age + silent * log_recency)))
    by_alpha = r / alpha * float(count.sum()) - summed(1 / (alpha + age.value), age, count * events * (1 - silent))
    by_alpha -= summed(1 / (alpha + recency.value), recency, count * events * silent)
    return float(np.sum(count * value)), np.array([by_r, by_alpha, by_a, by_b])


def fit_bg_nbd(histories: Histories, *, at_once: bool = False) -> BgNbd:
    """Parameters of maximum likelihood, of the model that `at_once` says."""
    stations = float(histories.count.sum())

    def negative(logarithms: Floats) -> tuple[float, Floats, None]:
        values = np.exp(logarithms)
        r, alpha, a, b = values.tolist()
        likelihood, gradient = _bg_nbd(BgNbd(r, alpha, a, b, at_once=at_once), histories)
        return -likelihood / stations, -gradient * values / stations, None

    typical = float(np.average(histories.age, weights=histories.count))
    start = np.log([0.5, np.clip(typical / 2, 1e-3, 8e3), 0.5, 2.0])
    low, high = np.array([_NARROW, _WIDE, _NARROW, _WIDE]).T
    r, alpha, a, b = steady(np.exp(minimum(negative, start, low, high))).tolist()
    likelihood, _ = _bg_nbd(BgNbd(r, alpha, a, b, at_once=at_once), histories)
    return BgNbd(r, alpha, a, b, float(likelihood), at_once)


def expected_events(model: BgNbd, repeats: Floats, recency: Floats, age: Floats, duration: float) -> Floats:
    """Expected number of events (float64) in the next `duration`, given each history (equation 10 of the paper).

    Euler's transformation of the hypergeometric function is used (NIST Digital Library of Mathematical Functions,
    15.8.1): nothing in it grows with the number of events, so that long histories cannot overflow.
    """
    a = model.a if abs(model.a - 1) > _BESIDE else 1 + _BESIDE
    third = a + model.stays + repeats - 1
    third = np.where(np.abs(third) > _BESIDE, third, _BESIDE)
    share = duration / (model.alpha + age + duration)
    first, front, power = a + model.stays - 1 - model.r, third / (a - 1), (1 - share) ** (a - 1)
    if_active = front * (1 - power * special.hyp2f1(first, a - 1, third, share))
    # scipy gives up where the difference of its parameters is a large whole number; there the sum itself is short.
    most = (model.r + repeats) * duration / (model.alpha + age) * (1 + 1e-6)
    lost = np.flatnonzero(~((if_active >= 0) & (if_active <= most)))
    if len(lost):
        again = front[lost] * (1 - power[lost] * _sum_of_2f1(first, a - 1, third[lost], share[lost]))
        if_active[lost] = np.clip(again, 0.0, most[lost])
    return if_active * probability_active(model, repeats, recency, age)


def _sum_of_2f1(first: float, second: float, third: Floats, at: Floats) -> Floats:
    """The hypergeometric function by its definition."""
    term, total = np.ones(len(at)), np.ones(len(at))
    for n in range(_TERMS):
        term = term * (((first + n) * (second + n) / ((third + n) * (n + 1))) * at)
        total += term
        if (np.abs(term) <= 1e-15 * np.abs(total)).all():
            break
    return total
