"""Credibility, blending, calling days: published figures, plain versions of the same, and what must hold for any input."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from pruner.calls.blend import blend_weights
from pruner.calls.credibility import Credibility, fit_credibility
from pruner.calls.stations import OLDEST_DAYS, calling_days, days_between, heard_by, heard_stations

# Hachemeister, "Credibility for regression models with application to trend", 1975: average claim amounts of five states in
# twelve quarters, the example that textbooks and statistics packages work through (from memory, as are the results below).
HACHEMEISTER = np.array(
    [
        [1738, 1642, 1794, 2051, 2079, 2234, 2032, 2035, 2115, 2262, 2267, 2517],
        [1364, 1408, 1597, 1444, 1342, 1675, 1470, 1448, 1464, 1831, 1612, 1471],
        [1759, 1685, 1479, 1763, 1674, 2103, 1502, 1622, 1828, 2155, 2233, 2059],
        [1223, 1146, 1010, 1257, 1426, 1532, 1953, 1123, 1343, 1243, 1762, 1306],
        [1456, 1499, 1609, 1741, 1482, 1572, 1606, 1735, 1607, 1573, 1613, 1690],
    ],
    dtype=np.float64,
)
LAST = 20_000


def test_credibility_as_in_the_textbooks_example() -> None:
    """Bühlmann's model: collective premium 1671, variance between states 72,310 and within 46,040; premiums per state."""
    days, total = np.full(5, 12.0), HACHEMEISTER.sum(axis=1)
    found = fit_credibility(days, total, (HACHEMEISTER**2).sum(axis=1))
    assert (round(found.mean), round(found.between), round(found.within)) == (1671, 72_310, 46_040)
    assert np.round(found.means(days, total)).tolist() == [2044, 1519, 1814, 1376, 1602]


@pytest.mark.parametrize("days", [[1.0], [3.0], [1.0, 1.0], [2.0, 1.0]])
def test_credibility_of_very_few_stations(days: list[float]) -> None:
    column = np.array(days)
    found = fit_credibility(column, column * 2, column * 4)
    assert found.means(column, column * 2) == pytest.approx(np.full(len(days), 2.0))


@given(st.floats(0.1, 50), st.floats(0, 50), st.floats(0, 50), st.integers(1, 300), st.floats(1, 40))
def test_a_mean_lies_between_the_own_and_everybodys(mean: float, within: float, between: float, days: int, own: float) -> None:
    model = Credibility(mean, within, between)
    found = float(model.means(np.array([float(days)]), np.array([days * own]))[0])
    assert min(mean, own) * (1 - 1e-9) <= found <= max(mean, own) * (1 + 1e-9)
    more = float(model.means(np.array([days * 10.0]), np.array([days * 10 * own]))[0])
    assert abs(more - own) <= abs(found - own) + 1e-9


def by_shepp_and_vardi(forecasts: np.ndarray, came: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
    """The iterations of the paper (from memory), slow and certain."""
    weights = np.full(forecasts.shape[1], came.sum() / forecasts.sum())
    for _ in range(5_000):
        weights = weights * (forecasts * (came / (forecasts @ weights))[:, None]).sum(axis=0) / forecasts.sum(axis=0)
    return weights


def test_blend_is_that_of_shepp_and_vardi() -> None:
    draw = np.random.default_rng(3)
    forecasts = draw.gamma(1.0, 2.0, size=(400, 3)) + 0.01
    came = draw.poisson(forecasts @ [0.8, 0.0, 0.3]).astype(np.float64)
    assert blend_weights(forecasts, came) == pytest.approx(by_shepp_and_vardi(forecasts, came), abs=2e-3)


@draws(40)
@given(arrays.arrays(np.float64, (20, 3), elements=st.floats(0, 30)), arrays.arrays(np.int64, 20, elements=st.integers(0, 9)))
def test_blend_of_anything_is_finite_and_not_negative(forecasts: np.ndarray, came: np.ndarray) -> None:  # type: ignore[type-arg]
    weights = blend_weights(forecasts, came.astype(np.float64))
    assert np.isfinite(weights).all()
    assert (weights >= 0).all()


row = st.tuples(
    st.integers(1, 6),
    st.sampled_from([1, 91, 232]),
    st.sampled_from([LAST - 1000, LAST - OLDEST_DAYS, LAST - OLDEST_DAYS + 1, LAST - 40, LAST - 2, LAST - 1, LAST, LAST + 1]),
    st.integers(1, 5),
)


@given(st.lists(row, max_size=40, unique_by=lambda one: one[:3]))
def test_stations_are_what_a_plain_walk_finds(rows: list[tuple[int, int, int, int]]) -> None:
    calls: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for number, _, day, count in rows:
        if LAST - OLDEST_DAYS < day <= LAST:
            calls[number][day] += count
    frame = pl.DataFrame(
        {
            "id": pl.Series([one[0] for one in rows], dtype=pl.UInt32),
            "talkgroup": pl.Series([one[1] for one in rows], dtype=pl.UInt32),
            "day": pl.Series([date(1970, 1, 1) + timedelta(days=one[2]) for one in rows], dtype=pl.Date),
            "calls": pl.Series([one[3] for one in rows], dtype=pl.UInt32),
        }
    )
    days = calling_days(frame, LAST)
    found = heard_stations(days, LAST)
    assert found.id.tolist() == sorted(calls)
    for place, number in enumerate(sorted(calls)):
        own = calls[number]
        assert (found.first[place], found.last[place]) == (min(own), max(own))
        assert (found.days[place], found.calls[place]) == (len(own), sum(own.values()))
        assert found.squares[place] == sum(count**2 for count in own.values())
        assert found.lately[place] == pytest.approx(sum(2 ** ((day - LAST) / 7) for day in own))
    ids = np.arange(1, 7)
    between = days_between(days, ids, LAST - 40, LAST - 1)
    assert between.tolist() == [sum(LAST - 40 <= day < LAST for day in calls[number]) for number in ids.tolist()]
    for cut in (LAST - 400, LAST - 28, LAST - 1, LAST):
        then = {number: [day for day in own if day <= cut] for number, own in sorted(calls.items())}
        some = [(number, max(own), sum(calls[number][day] for day in own)) for number, own in then.items() if own]
        assert list(zip(*(column.tolist() for column in heard_by(days, cut)), strict=True)) == some
