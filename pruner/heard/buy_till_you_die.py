"""How often somebody who was seen before will be seen again: the BG/NBD and the gamma-gamma model.

Receives histories (how often, when last, since when) as arrays; hands on fitted parameters and expectations. While
active, a station has calling days at its own constant rate; after each it falls silent for good with its own probability.

Sources of the methods: Fader, Hardie, Lee, "Counting Your Customers the Easy Way: An Alternative to the Pareto/NBD
Model", Marketing Science 24(2), 2005; Fader, Hardie, "The Gamma-Gamma Model of Monetary Value", 2013 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

Floats = npt.NDArray[np.float64]
#: Bounds of the logarithms of parameters: nothing that a log can show lies beyond, and within them nothing overflows.
_WIDE: Final = (-9.0, 9.0)
_NARROW: Final = (-9.0, 4.0)
#: The expectation has a removable gap where `a` is 1 or `a + b + x` is 1; it is taken this far beside it.
_BESIDE: Final = 1e-5


@dataclass(frozen=True, slots=True)
class Histories:
    """Distinct histories (float64, equal length): `repeats` events after the first, `recency` from the first to the last
    event, `age` from the first event to now (one unit of time for both); `count` how many stations share each."""

    repeats: Floats
    recency: Floats
    age: Floats
    count: Floats


@dataclass(frozen=True, slots=True)
class BgNbd:
    """Parameters: rates of events are gamma (`r`, `alpha` in units of time), probabilities of silence beta (`a`, `b`)."""

    r: float
    alpha: float
    a: float
    b: float
    log_likelihood: float = float("nan")


@dataclass(frozen=True, slots=True)
class GammaGamma:
    """Parameters of amounts per event: gamma of shape `p`, whose scale varies between stations by gamma `q`, `v`; q > 1."""

    p: float
    q: float
    v: float
    log_likelihood: float = float("nan")


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
    """Log of the odds of having fallen silent; minus infinity without a repeated event."""
    with np.errstate(divide="ignore"):
        return np.where(
            repeats > 0,
            np.log(model.a)
            - np.log(np.maximum(model.b + repeats - 1, 0))
            + (model.r + repeats) * (np.log(model.alpha + age) - np.log(model.alpha + recency)),
            -np.inf,
        )


def probability_active(model: BgNbd, repeats: Floats, recency: Floats, age: Floats) -> Floats:
    """Probability (0 to 1) that a station with this history has not fallen silent."""
    return special.expit(-_log_odds_silent(model, repeats, recency, age))


def bg_nbd_log_likelihood(model: BgNbd, histories: Histories) -> float:
    """Logarithm of the likelihood of all histories (equation 6 of the paper, summed)."""
    return _bg_nbd(model, histories)[0]


def _bg_nbd(model: BgNbd, data: Histories) -> tuple[float, Floats]:
    """Log-likelihood and its derivatives by the four parameters."""
    r, alpha, a, b, x = model.r, model.alpha, model.a, model.b, data.repeats
    odds = _log_odds_silent(model, x, data.recency, data.age)
    silent = special.expit(odds)
    log_age, log_recency = np.log(alpha + data.age), np.log(alpha + data.recency)
    value = special.gammaln(r + x) - special.gammaln(r) + r * np.log(alpha) - (r + x) * log_age
    value += special.betaln(a, b + x) - special.betaln(a, b) + np.logaddexp(0.0, odds)
    gaps = np.where(x > 0, b + x - 1, 1.0)
    by_a = special.digamma(a + b) - special.digamma(a + b + x) + silent / a
    by_b = special.digamma(b + x) - special.digamma(b) + special.digamma(a + b) - special.digamma(a + b + x) - silent / gaps
    by_r = special.digamma(r + x) - special.digamma(r) + np.log(alpha) - (1 - silent) * log_age - silent * log_recency
    by_alpha = r / alpha - (r + x) * ((1 - silent) / (alpha + data.age) + silent / (alpha + data.recency))
    gradient = np.array([data.count @ one for one in (by_r, by_alpha, by_a, by_b)])
    return float(data.count @ value), gradient


def _maximise(
    likelihood: Callable[[Floats], tuple[float, Floats]], start: Floats, bounds: list[tuple[float, float]], scale: float
) -> tuple[Floats, float]:
    """The logarithms of the parameters at the maximum, and the maximum."""

    def negative(logarithms: Floats) -> tuple[float, Floats]:
        value, gradient = likelihood(np.exp(logarithms))
        return -value / scale, -gradient * np.exp(logarithms) / scale

    found = optimize.minimize(
        negative,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": 500, "ftol": 1e-12, "gtol": 1e-8},
    )
    return np.exp(found.x), -float(found.fun) * scale


def fit_bg_nbd(histories: Histories) -> BgNbd:
    """Parameters of maximum likelihood."""

    def likelihood(values: Floats) -> tuple[float, Floats]:
        return _bg_nbd(BgNbd(*values.tolist()), histories)

    typical = max(float(np.average(histories.age, weights=histories.count)), 1e-3)
    start = np.log([0.5, np.clip(typical / 2, 1e-3, 8e3), 0.5, 2.0])
    values, value = _maximise(likelihood, start, [_NARROW, _WIDE, _NARROW, _WIDE], float(histories.count.sum()))
    r, alpha, a, b = values.tolist()
    return BgNbd(r, alpha, a, b, value)


def expected_events(model: BgNbd, repeats: Floats, recency: Floats, age: Floats, duration: float) -> Floats:
    """Expected number of events (float64) in the next `duration`, given each history (equation 10 of the paper).

    Euler's transformation of the hypergeometric function is used (NIST Digital Library of Mathematical Functions,
    15.8.1): nothing in it grows with the number of events, so that long histories cannot overflow.
    """
    a = model.a if abs(model.a - 1) > _BESIDE else 1 + _BESIDE
    third = a + model.b + repeats - 1
    third = np.where(np.abs(third) > _BESIDE, third, _BESIDE)
    share = duration / (model.alpha + age + duration)
    series = special.hyp2f1(a + model.b - 1 - model.r, a - 1, third, share)
    if_active = third / (a - 1) * (1 - (1 - share) ** (a - 1) * series)
    return np.maximum(if_active, 0.0) * probability_active(model, repeats, recency, age)


def fit_gamma_gamma(events: Floats, total: Floats, count: Floats) -> GammaGamma:
    """Parameters of maximum likelihood of amounts per event, from `total` amount > 0 and number of `events` of each
    distinct pair and how many stations share it (`count`)."""
    mean = total / events

    def likelihood(values: Floats) -> tuple[float, Floats]:
        p, above_one, v = values
        q, shape = 1 + above_one, p * events
        log_sum, base = np.log(v + total), special.digamma(shape + 1 + above_one)
        value = special.gammaln(shape + q) - special.gammaln(shape) - special.gammaln(q) + q * np.log(v)
        value += (shape - 1) * np.log(mean) + shape * np.log(events) - (shape + q) * log_sum
        by_p = events * (base - special.digamma(shape) + np.log(total) - log_sum)
        by_q = base - special.digamma(q) + np.log(v) - log_sum
        by_v = q / v - (shape + q) / (v + total)
        return float(count @ value), np.array([count @ one for one in (by_p, by_q, by_v)])

    typical = float(np.average(mean, weights=count))
    start = np.clip(np.log([3.0, 2.0, 2.0 * typical]), *_WIDE)
    (p, above_one, v), value = _maximise(likelihood, start, [_WIDE] * 3, float(count.sum()))
    return GammaGamma(float(p), 1 + float(above_one), float(v), value)


def expected_amount(model: GammaGamma, events: Floats, total: Floats) -> Floats:
    """Expected amount per event (float64): the station's own mean, drawn to everybody's the more, the fewer its events."""
    return model.p * (model.v + total) / (model.p * events + model.q - 1)
