"""Whether strangers come to be heard where others of their town are: talking is catching in some places, not in all.

Receives the town of each contact, who was heard when, and the rates at which strangers came to be heard as far as other things
tell them; hands on a factor for each contact.

A town is in a band by what it had of heard stations over what was due in a place of its size (gamma-Poisson, as `calls.rates`):
lately, which is those first heard in the last period, and of all time. Each band has a ratio of its own, that of the events in
it to those expected. Bands are used where they forecast the latest period from the earlier ones better than doing without.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.rates import LEAST_GAIN, PRIOR_EVENTS, Floats, Integers, ratios

Mask = npt.NDArray[np.bool_]
LATELY, EVER = "lately", "ever"
#: Bands are half as wide as a doubling; so many of them lie below what is due, and there are so many.
_PER_DOUBLING: Final = 2
_BELOW: Final = 3
_BANDS: Final = 10


@dataclass(frozen=True, slots=True)
class Period:
    """What follows the evening of a day. `first`: the day on which each contact was first heard (later than all periods where
    never); `cut`: that day; `span`: how many days follow; `stood`: who stood in the directory then (None: all)."""

    first: Integers
    cut: int
    span: int
    stood: Mask | None = None

    @property
    def risk(self) -> Mask:
        """Who could come to be heard."""
        unheard = self.first > self.cut
        return unheard if self.stood is None else unheard & self.stood

    @property
    def called(self) -> Mask:
        """Who came to be heard, of those at risk."""
        return self.risk & (self.first <= self.cut + self.span)

    def band(self, town: Integers, step: str) -> Integers:
        """The band of each contact's town (int64), the one of what is due where the town is unknown."""
        heard = self.first <= self.cut
        if step == LATELY:
            heard &= self.first > self.cut - self.span
        size = np.bincount(town + 1).astype(np.float64)
        had = np.bincount(town + 1, weights=heard, minlength=len(size))
        due = size * (max(float(had.sum()), 1.0) / len(town))
        doublings = np.log2((had + PRIOR_EVENTS) / (due + PRIOR_EVENTS))
        band = np.clip(np.floor(doublings * _PER_DOUBLING + 0.5).astype(np.int64) + _BELOW, 0, _BANDS - 1)
        band[0] = _BELOW
        return band[town + 1]


def chosen_steps(town: Integers, periods: Sequence[Period], rates: Sequence[Floats]) -> list[str]:
    """The steps by which the earlier periods forecast the latest one, which is the first, better than doing without.

    `rates`: of each contact in each period, as the earlier ones tell them.
    """
    expected = [_at_risk(period, rate) for period, rate in zip(periods, rates, strict=True)]
    called = float(np.count_nonzero(periods[0].called))
    chosen = []
    for step in (LATELY, EVER):
        bands = [period.band(town, step) for period in periods]
        ratio = _ratio(periods[1:], bands[1:], expected[1:])
        had = np.bincount(bands[0], weights=periods[0].called, minlength=_BANDS)
        due = np.bincount(bands[0], weights=expected[0], minlength=_BANDS)
        if not due.sum():
            break
        # What the logarithm of the Poisson likelihood gains, at the level of the events, which moves for all alike.
        gain = float((had * np.log(ratio)).sum()) - called * float(np.log((due * ratio).sum() / due.sum()))
        if gain >= LEAST_GAIN:
            chosen.append(step)
            expected = [due * ratio[band] for due, band in zip(expected, bands, strict=True)]
    return chosen


def factors(town: Integers, steps: Sequence[str], periods: Sequence[Period], rates: Sequence[Floats], now: Period) -> Floats:
    """What the rate of each contact `now` is multiplied by, from all periods."""
    expected = [_at_risk(period, rate) for period, rate in zip(periods, rates, strict=True)]
    found = np.ones(len(town))
    for step in steps:
        bands = [period.band(town, step) for period in periods]
        ratio = _ratio(periods, bands, expected)
        expected = [due * ratio[band] for due, band in zip(expected, bands, strict=True)]
        found *= ratio[now.band(town, step)]
    return found


def _at_risk(period: Period, rate: Floats) -> Floats:
    return np.where(period.risk, np.minimum(rate, 1.0), 0.0)


def _ratio(periods: Sequence[Period], bands: Sequence[Integers], expected: Sequence[Floats]) -> Floats:
    """What bands had of events over what was expected, drawn to 1."""
    called = np.concatenate([period.called for period in periods]).astype(np.float64)
    return ratios(called, np.concatenate(expected), np.concatenate(bands), _BANDS)
