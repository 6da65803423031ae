"""Whether strangers come to be heard where others of their town are: talking is catching in some places, not in all.

Receives the town of each contact, who was heard when, and the rates at which strangers came to be heard as far as other things
tell them; hands on a factor for each town.

A town is in a band by what it had of heard stations over what is due in a place of its size (gamma-Poisson, as `calls.rates`):
lately, which is those first heard in the last period, and ever. Each band has a ratio of its own, that of the events in it to
those expected. Bands are used where they forecast the latest period from the earlier ones much better than doing without: other
things that towns have in common pass for it else, and cost more than they are worth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.rates import LEAST_GAIN, PRIOR_EVENTS, Floats, Integers, ratios

LATELY, EVER = "lately", "ever"
#: Bands are half as wide as a doubling; so many of them lie below what is due, and there are so many.
_PER_DOUBLING: Final = 2
_BELOW: Final = 3
_BANDS: Final = 10
#: Towns are looked at where all steps together add at least so much to the logarithm of the likelihood. In invented worlds they
#: added 2.8 at most where talking is not catching, and mostly 7 or more where it is.
_LEAST_OF_ALL: Final = 5.0


@dataclass(frozen=True, slots=True)
class Towns:
    """Towns on the evening of a day and in the days that follow, one entry per town, the first for unknown ones. `band`: by
    step, the band of each (int64); of the contacts at risk, how many `called` (came to be heard) and were `due` (float64)."""

    band: dict[str, Integers]
    called: Floats
    due: Floats


def towns_on(
    town: Integers, first: Integers, cut: int, span: int, stood: npt.NDArray[np.bool_] | None = None, rate: Floats | None = None
) -> Towns:
    """Towns on the evening of day `cut` and in the `span` days after it.

    Per contact: `town` (-1: unknown); `first`: the day on which it was first heard, later than all days that are asked for
    where never; `stood`: whether it stood in the directory (None: nobody is at risk); `rate`: at which it comes to be heard.
    """
    place, size = town + 1, np.bincount(town + 1)
    ever = np.flatnonzero(first <= cut)
    heard = {LATELY: ever[first[ever] > cut - span], EVER: ever}
    band = {step: _bands(np.bincount(place[some], minlength=len(size)), size) for step, some in heard.items()}
    if stood is None or rate is None:
        return Towns(band, np.zeros(len(size)), np.zeros(len(size)))
    risk = (first > cut) & stood
    called = np.bincount(place[risk & (first <= cut + span)], minlength=len(size)).astype(np.float64)
    due = np.bincount(place, weights=np.where(risk, np.minimum(rate, 1.0), 0.0), minlength=len(size)).astype(np.float64)
    return Towns(band, called, due)


def _bands(had: Integers, size: Integers) -> Integers:
    """The band of each town by what it had over what is due for its size; an unknown one is in that of what is due."""
    due = size * (max(int(had.sum()), 1) / max(int(size.sum()), 1))
    doublings = np.log2((had + PRIOR_EVENTS) / (due + PRIOR_EVENTS))
    band = np.clip(np.floor(doublings * _PER_DOUBLING + 0.5).astype(np.int64) + _BELOW, 0, _BANDS - 1)
    band[:1] = _BELOW
    return band


def chosen_steps(periods: Sequence[Towns]) -> list[str]:
    """The steps by which the earlier periods forecast the latest one, which is the first, better than doing without; none where
    they gain little in all. What is due is told by the earlier ones."""
    chosen: list[str] = []
    gained = 0.0
    called = periods[0].called
    due = [one.due for one in periods]
    for step in (LATELY, EVER):
        bands = [one.band[step] for one in periods]
        ratio = _ratio(periods[1:], bands[1:], due[1:])
        stepped = [expected * ratio[band] for expected, band in zip(due, bands, strict=True)]
        if not stepped[0].sum():
            break
        # What the logarithm of the Poisson likelihood gains, at the level of the events, which moves for all alike.
        level = float(np.log(stepped[0].sum() / due[0].sum()))
        gain = float((called * np.log(ratio[bands[0]])).sum()) - float(called.sum()) * level
        if gain >= LEAST_GAIN:
            chosen.append(step)
            due, gained = stepped, gained + gain
    return chosen if gained >= _LEAST_OF_ALL else []


def factors(steps: Sequence[str], periods: Sequence[Towns], now: Towns) -> Floats:
    """What rates are multiplied by in each town `now`, from all periods; the first entry is for unknown towns."""
    due, found = [one.due for one in periods], np.ones(len(now.due))
    for step in steps:
        bands = [one.band[step] for one in periods]
        ratio = _ratio(periods, bands, due)
        due = [expected * ratio[band] for expected, band in zip(due, bands, strict=True)]
        found = found * ratio[now.band[step]]
    return found


def _ratio(periods: Sequence[Towns], bands: Sequence[Integers], due: Sequence[Floats]) -> Floats:
    """What bands had of events over what was expected, drawn to 1."""
    called = np.concatenate([one.called for one in periods])
    return ratios(called, np.concatenate(due), np.concatenate(bands), _BANDS)
