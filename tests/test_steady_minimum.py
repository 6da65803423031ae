"""Least values within bounds: against scipy's SLSQP, of an independent make, and where the answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize

from pruner.calls import blend, buy_till_you_die
from pruner.calls.blend import blend_weights
from pruner.calls.buy_till_you_die import Floats, Histories, collapse, fit_bg_nbd
from pruner.calls.steady import Function, minimum

INFINITE = np.full(2, np.inf)


def bowl(at: Floats) -> tuple[float, Floats, Floats]:
    """A parabola whose lowest point is (3, -2)."""
    away = at - np.array([3.0, -2.0])
    curvature = np.array([[4.0, 1.0], [1.0, 2.0]])
    return float(away @ curvature @ away) / 2, curvature @ away, curvature


@pytest.mark.parametrize("known", [True, False])
def test_the_lowest_point_of_a_bowl(known: bool) -> None:
    """Within bounds the lowest point is where the slope along the bound is none: 4 (x - 3) + (y + 2) = 0 at y = 0."""

    def function(at: Floats) -> tuple[float, Floats, Floats | None]:
        value, slope, curvature = bowl(at)
        return value, slope, curvature if known else None

    assert minimum(function, np.zeros(2), -INFINITE, INFINITE) == pytest.approx([3.0, -2.0])
    assert minimum(function, np.ones(2), np.zeros(2), INFINITE) == pytest.approx([2.5, 0.0])
    assert minimum(function, np.ones(2), np.zeros(2), np.array([1.5, 9.0])) == pytest.approx([1.5, 0.0])


def test_a_bent_valley_is_followed() -> None:
    """The function of Rosenbrock (Computer Journal 3, 1960) is least at (1, 1)."""

    def function(at: Floats) -> tuple[float, Floats, None]:
        return float(optimize.rosen(at)), optimize.rosen_der(at), None

    assert minimum(function, np.array([-1.2, 1.0]), -INFINITE, INFINITE) == pytest.approx([1.0, 1.0], abs=1e-7)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Function, Floats, Floats, Floats, Floats]]:
    """What the models ask of `minimum`, and the answers."""
    found: list[tuple[Function, Floats, Floats, Floats, Floats]] = []

    def noting(function: Function, start: Floats, low: Floats, high: Floats) -> Floats:
        found.append((function, start, low, high, minimum(function, start, low, high)))
        return found[-1][-1]

    for module in (blend, buy_till_you_die):
        monkeypatch.setattr(module, "minimum", noting)
    return found


@pytest.mark.parametrize("seed", range(6))
def test_models_find_what_slsqp_finds(seed: int, asked: list[tuple[Function, Floats, Floats, Floats, Floats]]) -> None:
    """Values are equal to 1e-12, parameters (logarithms, or weights of order 1) to 1e-5."""
    random = np.random.default_rng(seed)
    age = random.integers(20, 150, 3000)
    repeats = np.minimum(random.negative_binomial(0.6, 0.15, 3000), age)
    recency = np.where(repeats > 0, (age * random.random(3000)).astype(np.int64), 0)
    columns, _, count = collapse(repeats, recency, age)
    fit_bg_nbd(Histories(*(column.astype(np.float64) for column in columns), count), at_once=bool(seed % 2))
    forecasts = random.gamma(0.5, 2.0, (3000, 4))
    blend_weights(forecasts, random.poisson((forecasts * [0.6, 0.5, 0.0, 0.0]).sum(axis=1)).astype(np.float64))
    assert len(asked) == 2
    for function, start, low, high, ours in asked:
        other = optimize.minimize(
            lambda at, function=function: function(at)[:2],
            start,
            jac=True,
            method="SLSQP",
            bounds=list(zip(low, high, strict=True)),
            options={"maxiter": 500, "ftol": 1e-13},
        )
        assert function(ours)[0] <= other.fun + 1e-12
        assert ours == pytest.approx(other.x, abs=1e-5)


@draws(100)
@given(st.integers(0, 2**31), st.booleans())
def test_no_point_nearby_within_the_bounds_is_lower(seed: int, known: bool) -> None:
    random = np.random.default_rng(seed)
    mixed = random.normal(size=(4, 4))
    curvature, lowest = mixed @ mixed.T + 0.1 * np.eye(4), random.normal(size=4) * 3
    low, high = -random.random(4), random.random(4)

    def function(at: Floats) -> tuple[float, Floats, Floats | None]:
        away = at - lowest
        return float(away @ curvature @ away) / 2, curvature @ away, curvature if known else None

    found = minimum(function, np.zeros(4), low, high)
    assert ((low <= found) & (found <= high)).all()
    around = np.clip(found + random.normal(size=(200, 4)) * 10.0 ** random.uniform(-4, 0, (200, 1)), low, high)
    assert min(function(at)[0] for at in around) >= function(found)[0] - 1e-9
