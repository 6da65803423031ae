"""Fitted parameters that are the same however many threads the algebra of the machine has.

The last digits of its products depend on their number, and where the likelihood is flat more than the last ones. Ranks follow
from the parameters, and the same input has to give the same ranks on every machine.

Source of the method: Newton's with bounds (Bertsekas, "Projected Newton Methods for Optimization Problems with Simple
Constraints", SIAM Journal on Control and Optimization 20(2), 1982), with the curvature of Broyden, Fletcher, Goldfarb and
Shanno where none is known (Nocedal, Wright, "Numerical Optimization", 2nd edition, chapter 6; all from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_DIGITS: Final = 6
_MOST_STEPS: Final = 500
#: A gradient of which no part is larger is none.
_FLAT: Final = 1e-9
#: Values that differ by less are equal: what is left is rounding.
_EQUAL: Final = 1e-13
#: A step has to win so much of what the gradient promises; else it is cut, down to the shortest.
_PROMISED: Final = 1e-4
_CUT: Final = 0.3
_SHORTEST: Final = 1e-10
#: Without a known curvature the first step goes so far.
_FIRST_STEP: Final = 0.5


@dataclass(frozen=True, slots=True)
class Point:
    """Where a function has which `value` and `slope`, and which `curvature` (None: not known)."""

    at: Floats
    value: float
    slope: Floats
    curvature: Floats | None

    def free(self, low: Floats, high: Floats) -> npt.NDArray[np.bool_]:
        """Which parameters no bound holds back."""
        held = ((self.at <= low) & (self.slope > 0)) | ((self.at >= high) & (self.slope < 0))
        return ~held

    def steepest(self, low: Floats, high: Floats) -> float:
        """The largest part of the slope that no bound holds back."""
        return float(np.abs(np.where(self.free(low, high), self.slope, 0.0)).max(initial=0.0))


#: Parameters -> value, slope, curvature (None: not known).
Function = Callable[[Floats], tuple[float, Floats, Floats | None]]


def minimum(function: Function, start: Floats, low: Floats, high: Floats) -> Floats:
    """The parameters within bounds for which a smooth function is least, as far as steps downwards from `start` lead."""
    here = Point(np.clip(start, low, high), *function(np.clip(start, low, high)))
    curvature: Floats | None = here.curvature
    for _ in range(_MOST_STEPS):
        if here.steepest(low, high) <= _FLAT:
            break
        there = _further(function, here, _step(here, curvature, low, high), low, high)
        if there is None and curvature is not None:  # once more, by the slope alone
            there = _further(function, here, _step(here, None, low, high), low, high)
            curvature = None
        if there is None:
            break
        curvature = there.curvature if there.curvature is not None else _learned(curvature, here, there)
        here = there
    return here.at


def _step(here: Point, curvature: Floats | None, low: Floats, high: Floats) -> Floats:
    """Where the function would be least among the parameters that no bound holds back, were it a parabola."""
    free = here.free(low, high)
    slope = np.where(free, here.slope, 0.0)
    downwards = -slope * min(1.0, _FIRST_STEP / float(np.abs(slope).max()))
    if curvature is None:
        return downwards
    both = free[:, None] & free[None, :]
    try:
        # A handful of parameters: too few for more than one thread.
        step = -np.linalg.solve(np.where(both, curvature, np.eye(len(slope))), slope)
    except np.linalg.LinAlgError:
        return downwards
    return step if np.isfinite(step).all() and float((step * slope).sum()) < 0 else downwards


def _further(function: Function, here: Point, step: Floats, low: Floats, high: Floats) -> Point | None:
    """The first point along a step that is low enough; None where there is none."""
    length = 1.0
    while length >= _SHORTEST:
        at = np.clip(here.at + length * step, low, high)
        there = Point(at, *function(at))
        if there.value <= here.value + _PROMISED * float((here.slope * (at - here.at)).sum()):
            return there
        is_equal = abs(there.value - here.value) <= _EQUAL * max(abs(here.value), 1.0)
        if is_equal and there.steepest(low, high) < here.steepest(low, high):
            return there
        length *= _CUT
    return None


def _learned(curvature: Floats | None, here: Point, there: Point) -> Floats | None:
    """The curvature with what a step has shown of it."""
    moved, change = there.at - here.at, there.slope - here.slope
    along = float((moved * change).sum())
    if along <= 1e-12 * float(np.sqrt((moved**2).sum() * (change**2).sum())):
        return curvature
    if curvature is None:
        curvature = np.eye(len(moved)) * float((change**2).sum()) / along
    bent = (curvature * moved).sum(axis=1)
    return curvature + np.outer(change, change) / along - np.outer(bent, bent) / float((moved * bent).sum())


def steady(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Each value with six significant digits; what is a millionth of a millionth of the largest is nothing."""
    small = np.abs(values) < np.abs(values).max(initial=0.0) * 1e-12
    return np.array([0.0 if nothing else float(f"{value:.{_DIGITS}g}") for value, nothing in zip(values, small, strict=True)])
