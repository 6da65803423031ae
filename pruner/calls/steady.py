"""Fitted parameters that are the same however many threads the algebra below the optimizer has.

Its last digits depend on their number, and where the likelihood is flat more than the last ones. Ranks follow from the
parameters, and the same input has to give the same ranks on every machine.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy import optimize
from threadpoolctl import threadpool_limits

Floats = npt.NDArray[np.float64]

_DIGITS: Final = 6


def minimum(function: Callable[[Floats], tuple[float, Floats]], start: Floats, **wishes: Any) -> optimize.OptimizeResult:
    """`scipy.optimize.minimize` (SLSQP, with gradient) with one thread; `wishes` are handed on."""
    with threadpool_limits(limits=1, user_api="blas"):
        return optimize.minimize(function, start, jac=True, method="SLSQP", **wishes)


def steady(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Each value with six significant digits; what is a millionth of a millionth of the largest is nothing."""
    small = np.abs(values) < np.abs(values).max(initial=0.0) * 1e-12
    return np.array([0.0 if nothing else float(f"{value:.{_DIGITS}g}") for value, nothing in zip(values, small, strict=True)])
