"""Rates of rare events in nested cells, each drawn to the coarser ones (gamma-Poisson).

Receives events and exposure per row and, for each row, its cell in several partitions; hands on the partitions that forecast
best and a rate per row.

A rate starts as that of all rows. Partition after partition, the rate of each row is multiplied by what its cell had of events
over what was expected of it so far, both with `PRIOR_EVENTS` more: the posterior mean of a gamma-Poisson model whose prior
has the rate so far as its mean (Robbins, "An empirical Bayes approach to statistics", 1956; from memory). Where partitions
refine each other this is the usual nested shrinkage. Which are used, and in which order, is decided by the likelihood of
events that were not looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

#: A prior is worth so many events.
PRIOR_EVENTS: Final = 2.0
#: A partition is used where it adds at least so much to the logarithm of the likelihood.
LEAST_GAIN: Final = 1.0
MOST_STEPS: Final = 8
_LEAST_RATE: Final = 1e-12

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Counts:
    """Rows of equal cells: `events` and `exposure` (float64 per row); `cells`: by name of the partition, the cell of each row
    (int64, from 0 on, the same numbers in every `Counts` of a fit)."""

    events: Floats
    exposure: Floats
    cells: Mapping[str, Integers]


def ratios(events: Floats, expected: Floats, cell: Integers, size: int) -> Floats:
    """What cells had of events over what was expected of them, drawn to 1."""
    had = np.bincount(cell, weights=events, minlength=size)
    due = np.bincount(cell, weights=expected, minlength=size)
    return (had + PRIOR_EVENTS) / (due + PRIOR_EVENTS)


@dataclass(frozen=True, slots=True)
class Rates:
    """`overall`: events per exposure; `steps`: name of a partition and the ratio of each of its cells, in order."""

    overall: float
    steps: tuple[tuple[str, Floats], ...]

    def of(self, cells: Mapping[str, Integers]) -> Floats:
        """The rate of each row from its cells."""
        rate: Floats = np.full(len(next(iter(cells.values()))), self.overall)
        for name, ratio in self.steps:
            rate = rate * ratio[cells[name]]
        return rate


def fit_rates(counts: Counts, names: Sequence[str], sizes: Mapping[str, int]) -> Rates:
    """Rates by the partitions `names`, in that order. `sizes`: how many cells each has."""
    overall = max(float(counts.events.sum()), 0.5) / max(float(counts.exposure.sum()), 1.0)
    expected = counts.exposure * overall
    steps = []
    for name in names:
        ratio = ratios(counts.events, expected, counts.cells[name], sizes[name])
        expected = expected * ratio[counts.cells[name]]
        steps.append((name, ratio))
    return Rates(overall, tuple(steps))


def chosen_partitions(known: Counts, later: Counts, sizes: Mapping[str, int]) -> list[str]:
    """The partitions, first to last, by which rates from `known` forecast the events of `later` best.

    One after the other, the partition that adds most to the likelihood is taken, as long as it adds `LEAST_GAIN`; of equals
    the first. The level is that of `later`: it moves for all alike.
    """
    chosen: list[str] = []
    overall = max(float(known.events.sum()), 0.5) / max(float(known.exposure.sum()), 1.0)
    expected_known, expected_later = known.exposure * overall, later.exposure * overall
    best = _likelihood(later.events, expected_later)
    while len(chosen) < MOST_STEPS:
        found: tuple[float, str, Floats] | None = None
        for name in known.cells:
            if name in chosen:
                continue
            ratio = ratios(known.events, expected_known, known.cells[name], sizes[name])
            value = _likelihood(later.events, expected_later * ratio[later.cells[name]])
            if value >= best + LEAST_GAIN and (found is None or value > found[0]):
                found = value, name, ratio
        if found is None:
            break
        best, name, ratio = found
        chosen.append(name)
        expected_known = expected_known * ratio[known.cells[name]]
        expected_later = expected_later * ratio[later.cells[name]]
    return chosen


def _likelihood(events: Floats, expected: Floats) -> float:
    """Logarithm of the Poisson likelihood, without what no rate changes, at the level of the events."""
    total = float(events.sum())
    level = total / max(float(expected.sum()), _LEAST_RATE)
    here = events > 0
    return float((events[here] * np.log(np.maximum(expected[here] * level, _LEAST_RATE))).sum()) - total
