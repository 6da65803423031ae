"""How a directory grows: four models, the choice among them, and predictions with their spread.

Receives a series of days and counts, hands on a `Growth`. The models are a *line* (least squares, errors around it
independent) and a *drift* (independent steps whose variance grows with time: a random walk with drift), each on counts
and on logarithms of counts (steady and exponential growth). The choice is the highest mean logarithmic score of
one-step-ahead predictions, each from the points before it (T. Gneiting, A. E. Raftery, "Strictly Proper Scoring Rules,
Prediction, and Estimation", JASA 102, 2007, from memory); equal scores fall to the model named first in `MODELS`. For the
years to come a drift takes the spread of longer steps where that is wider: growth that is fast for months strays further
than single steps tell.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import gammaln, stdtr, stdtrit

Floats = npt.NDArray[np.float64]

#: The fewest points that a model is fitted to; the first point to be predicted is the next.
_FIRST_FIT: Final = 4
#: A count is a whole number: no prediction is taken for more certain than half a station.
_LEAST_SPREAD: Final = 0.5
#: Steps over several points need to be so many to tell their spread, and are compared at this quantile.
_FEWEST_STEPS: Final = 6
_OUTER: Final = 0.95
#: Autocorrelation of steps: smaller ones are taken for chance, larger ones cannot be told from these; and the least share of
#: the variance that a short series shows.
_LEAST_PERSISTENT, _MOST_PERSISTENT, _LEAST_SEEN = 0.2, 0.97, 0.5
#: So many standard errors of the autocorrelation are added before the spread is taken (set on invented worlds, so that nine of
#: ten days lie inside: `benchmarks.growth`).
_MORE_PERSISTENT: Final = 0.75
#: Scores that agree to so many digits are equal.
_SCORE_DIGITS: Final = 9
#: A model is still possible when the best one is at most e^2 = 7.4 times as likely (a rule of thumb, no source).
ALLOWED_BEHIND: Final = 2.0
_LARGEST_LOGARITHM: Final = 700.0


@dataclass(frozen=True, slots=True)
class Series:
    """A directory over time: `day` int64 (days since 1970-01-01, ascending, each once), `count` float64 (stations, above 0)."""

    day: npt.NDArray[np.int64]
    count: Floats

    def __len__(self) -> int:
        return len(self.day)

    @property
    def span(self) -> int:
        """Days from the first to the last."""
        return int(self.day[-1] - self.day[0]) if len(self.day) else 0


@dataclass(frozen=True, slots=True)
class Fitted:
    """A fit of y over x. The prediction at x is Student-t with `freedom` degrees: `centre(x)` its middle, `spread(x)` its
    scale.

    `slope` is in y per unit of x, `slope_error` its standard error, `deviation` the residual standard deviation."""

    slope: float
    slope_error: float
    deviation: float
    freedom: int
    centre: Callable[[Floats], Floats]
    spread: Callable[[Floats], Floats]


def fit_line(x: Floats, y: Floats) -> Fitted:
    """Least-squares line; prediction of a new observation: s sqrt(1 + 1/n + (x - mean)^2 / Sxx), n - 2 degrees of freedom."""
    count, middle = len(x), float(x.mean())
    square = float(((x - middle) ** 2).sum())
    slope = float(((x - middle) * (y - y.mean())).sum()) / square
    level = float(y.mean())
    deviation = math.sqrt(float(((y - level - slope * (x - middle)) ** 2).sum()) / (count - 2))
    return Fitted(
        slope,
        deviation / math.sqrt(square),
        deviation,
        count - 2,
        lambda at: level + slope * (at - middle),
        lambda at: deviation * np.sqrt(1 + 1 / count + (at - middle) ** 2 / square),
    )


def fit_drift(x: Floats, y: Floats, every: int = 1) -> Fitted:
    """Random walk with drift: steps are normal with mean slope * dx and variance s^2 * dx, independent.

    Prediction h ahead of the last point: y_last + slope * h, scale s sqrt(h + h^2 / span), n - 2 degrees of freedom. For
    equal steps this is the drift method of R. J. Hyndman, G. Athanasopoulos, "Forecasting: Principles and Practice", 3rd
    ed., 5.2 and 5.5.
    """
    at = np.arange(len(x) - 1, -1, -every)[::-1]
    wide, high = np.diff(x[at]), np.diff(y[at])
    span, last, end = float(x[-1] - x[0]), float(x[-1]), float(y[-1])
    slope = (end - float(y[0])) / span
    freedom = len(wide) - 1
    deviation = math.sqrt(float(((high - slope * wide) ** 2 / wide).sum()) / freedom)
    return Fitted(
        slope,
        deviation / math.sqrt(span),
        deviation,
        freedom,
        lambda at: end + slope * (at - last),
        lambda at: deviation * np.sqrt((at - last) + (at - last) ** 2 / span),
    )


def fit_lasting_drift(x: Floats, y: Floats) -> Fitted:
    """The same with the spread of the steps over 1, 2, 4, ... points, or of steps that go on as the last one did, whichever
    foretells the widest interval.

    Where fast and slow times last, steps are not independent, and short ones understate how far a directory can stray.
    """
    fits = [fit_drift(x, y)]
    every = 2
    while (len(x) - 1) // every >= _FEWEST_STEPS:
        fits.append(fit_drift(x, y, every))
        every *= 2
    lasting = _persistent(x, y, fits[0])
    if lasting is not None:
        fits.append(lasting)
    return max(fits, key=lambda fitted: fitted.deviation * float(stdtrit(fitted.freedom, _OUTER)))


def _persistent(x: Floats, y: Floats, plain: Fitted) -> Fitted | None:
    """The drift whose steps are an autoregressive process of first order; None where they do not persist.

    Over a long time the variance of such a sum is (1 + r) / (1 - r) times that of independent steps, and as many steps tell as
    much as n (1 - r) / (1 + r) independent ones (J. D. Hamilton, "Time Series Analysis", 1994, section 7.2, from memory). The
    autocorrelation r of a short series is too small by (1 + 3 r) / n (F. H. C. Marriott, J. A. Pope, Biometrika 41, 1954, from
    memory), and the variance around its own mean by the share of one step among those that tell. The spread takes
    three quarters of a standard error more of r: one that is too narrow does harm.
    """
    wide, high = np.diff(x), np.diff(y)
    rest = (high - plain.slope * wide) / np.sqrt(wide)
    count, square = len(rest), float((rest**2).sum())
    if count < _FEWEST_STEPS or not square:
        return None
    short = float((rest[1:] * rest[:-1]).sum()) / square
    lasts = short + (1 + 3 * short) / count
    if lasts < _LEAST_PERSISTENT:
        return None
    slope_error = plain.slope_error * math.sqrt(_long_run(min(lasts, _MOST_PERSISTENT)))
    factor = _long_run(min(lasts + _MORE_PERSISTENT * math.sqrt((1 - short**2) / count), _MOST_PERSISTENT))
    telling = max(count / factor, 1.0)
    deviation = plain.deviation * math.sqrt(factor / max(1 - 1 / telling, _LEAST_SEEN))
    span, last, end = float(x[-1] - x[0]), float(x[-1]), float(y[-1])
    return Fitted(
        plain.slope,
        slope_error,
        deviation,
        max(int(telling) - 1, 2),
        lambda at: end + plain.slope * (at - last),
        lambda at: deviation * np.sqrt((at - last) + (at - last) ** 2 / span),
    )


def _long_run(persistence: float) -> float:
    """By how much the variance of a long sum of steps exceeds that of independent ones."""
    return (1 + persistence) / (1 - persistence)


@dataclass(frozen=True, slots=True)
class Model:
    """One way to grow: how it is fitted to foretell the next point, how for the years to come, and whether to logarithms."""

    name: str
    fit: Callable[[Floats, Floats], Fitted]
    fit_far: Callable[[Floats, Floats], Fitted]
    logarithms: bool


MODELS: Final = (
    Model("steady, drift", fit_drift, fit_lasting_drift, False),
    Model("steady, line", fit_line, fit_line, False),
    Model("exponential, drift", fit_drift, fit_lasting_drift, True),
    Model("exponential, line", fit_line, fit_line, True),
)


@dataclass(frozen=True, slots=True)
class Growth:
    """A model fitted to the whole series. `score` is its mean logarithmic score over `tested` one-step-ahead predictions."""

    model: Model
    fitted: Fitted
    last_day: int
    last_count: float
    score: float
    tested: int

    def counts(self, day: npt.NDArray[np.int64], quantile: float = 0.5) -> Floats:
        """A quantile of the predicted count of stations for days (since 1970-01-01) after the last."""
        at = day.astype(np.float64)
        spread = _at_least(self.fitted.spread(at), self.model, self.last_count)
        y = self.fitted.centre(at) + float(stdtrit(self.fitted.freedom, quantile)) * spread
        return np.exp(np.minimum(y, _LARGEST_LOGARITHM)) if self.model.logarithms else y

    @property
    def per_year(self) -> float:
        """Stations added in the year after the last day, by the middle of the prediction."""
        return float(self.counts(np.array([self.last_day + 365]))[0]) - self.last_count

    @property
    def doubt(self) -> float:
        """Two-sided probability of a slope as far from zero as this one if nothing grew at all (t test)."""
        if not self.fitted.slope_error:
            return 0.0 if self.fitted.slope else 1.0
        return 2 * float(stdtr(self.fitted.freedom, -abs(self.fitted.slope) / self.fitted.slope_error))


def grow(series: Series) -> tuple[Growth, ...]:
    """The models that the series allows, the chosen one first. `series` needs five points or more, all above zero.

    Allowed is what scores, over all predictions together, at most `ALLOWED_BEHIND` less than the best.
    """
    x, y = series.day.astype(np.float64), series.count
    tested = len(x) - _FIRST_FIT
    every = [
        Growth(model, model.fit_far(x, _scaled(model, y)), int(series.day[-1]), float(y[-1]), _score(model, x, y), tested)
        for model in MODELS
    ]
    best = max(every, key=lambda growth: round(growth.score, _SCORE_DIGITS))
    allowed = [growth for growth in every if (best.score - growth.score) * tested <= ALLOWED_BEHIND]
    return best, *(growth for growth in allowed if growth is not best)


def _score(model: Model, x: Floats, y: Floats) -> float:
    scaled = _scaled(model, y)
    total = 0.0
    for known in range(_FIRST_FIT, len(x)):
        fitted = model.fit(x[:known], scaled[:known])
        at = x[known : known + 1]
        spread = float(_at_least(fitted.spread(at), model, float(y[known]))[0])
        total += log_density((scaled[known] - float(fitted.centre(at)[0])) / spread, fitted.freedom) - math.log(spread)
        # A density over logarithms becomes one over counts by the derivative 1 / count.
        total -= math.log(y[known]) if model.logarithms else 0.0
    return total / (len(x) - _FIRST_FIT)


def log_density(value: float, freedom: int) -> float:
    """Logarithm of the density of Student's t."""
    constant = float(gammaln((freedom + 1) / 2) - gammaln(freedom / 2)) - math.log(freedom * math.pi) / 2
    return constant - (freedom + 1) / 2 * math.log1p(value * value / freedom)


def _scaled(model: Model, count: Floats) -> Floats:
    return np.log(count) if model.logarithms else count


def _at_least(spread: Floats, model: Model, count: float) -> Floats:
    return np.maximum(spread, _LEAST_SPREAD / count if model.logarithms else _LEAST_SPREAD)
