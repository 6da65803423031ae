"""Strangers on the scale of the heard: the best ones keep as much of what was promised as such ones kept before."""

from __future__ import annotations

import numpy as np
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.alike import Traits
from pruner.calls.rates import Floats
from pruner.calls.scale import USUAL, lowered, share_kept
from pruner.calls.stations import CallingDays, heard_stations
from pruner.calls.strangers import Strangers

NEVER = 10_000


def test_who_came_of_the_best_over_who_was_expected_is_drawn_to_the_usual_share() -> None:
    """Of 8 heard, 4 strangers rank among them: 2 were expected of these, 1 came, and 40 events more keep the usual share."""
    rate = np.array([0.5, 0.5, 0.5, 0.5, 0.1, 0.1])
    calls = np.array([4.0, 4.0, 4.0, 4.0, 1.0, 2.0])
    came = np.array([False, True, False, False, True, True])
    assert share_kept(rate, calls, came, heard=8) == pytest.approx((1 + USUAL * 40) / (2 + 40))
    # With room for all, and rates above 1, which are 1.
    assert share_kept(rate * 4, calls, came, heard=100) == pytest.approx((3 + USUAL * 40) / (4.8 + 40))
    assert share_kept(rate[:0], calls[:0], came[:0], heard=8) == pytest.approx(USUAL)


def test_of_equals_the_first_ones_are_looked_at() -> None:
    calls, rate = np.array([1.0, 3.0, 1.0, 1.0]), np.full(4, 0.5)
    for place, known in ((0, 1), (2, 0), (3, 0)):
        came = np.arange(4) == place
        assert share_kept(rate, calls, came, heard=4) == pytest.approx((known + USUAL * 40) / (1 + 40))


def test_the_best_keep_their_share_and_those_of_little_all() -> None:
    """From one and a half times the mean to four times: at the geometric mean of both it is half of the way (in logarithms)."""
    found = lowered(np.array([0.5, 1.0, 1.5, 6.0**0.5, 4.0, 80.0]), 0.64, 1.0)
    assert found == pytest.approx([0.5, 1.0, 1.5, 6.0**0.5 * 0.8, 4.0 * 0.64, 80.0 * 0.64])


@draws(60)
@given(st.lists(st.floats(1e-6, 1e3), min_size=2, max_size=30), st.floats(0.01, 1.5))
def test_the_order_stays(calls: list[float], kept: float) -> None:
    ascending = np.sort(np.array(calls))
    found = lowered(ascending, kept, float(ascending.mean()))
    assert (np.diff(found) >= -1e-12 * found[1:]).all()


def newcomers(by_period: list[int]) -> Floats:
    """Calls to expect of 100 strangers of a country in which so many of 400 are heard first in each period, all others lying in
    one of 8,000 where 40 are; those of the first period are heard before anything counts."""
    random = np.random.default_rng(4)
    country = np.repeat(np.array([1, 2], dtype=np.uint8), [400, 8000])
    number = np.arange(1_000_000, 1_008_400, dtype=np.uint32)
    first = np.full(len(number), NEVER)
    for period, some in enumerate(by_period):
        for begin, end, count in ((0, 400, some), (400, 8400, 40)):
            free = begin + np.flatnonzero(first[begin:end] == NEVER)
            first[random.choice(free, count, replace=False)] = 28 * period + random.integers(1, 29, count)
    heard = np.flatnonzero(first < NEVER)
    days = CallingDays(number[heard].astype(np.int64), first[heard], np.full(len(heard), 2))
    last = 28 * len(by_period)
    traits = Traits(number, country, np.zeros(len(number), dtype=np.uint8))
    found = Strangers(traits).expected(days, heard_stations(days, last), first, last_day=last, period_days=28)
    return found[(first == NEVER) & (country == 1)]


def test_less_is_expected_of_the_best_where_they_dried_up() -> None:
    """In both logs as many came in the three periods that count."""
    dried, lasting = newcomers([40, 70, 70, 10]), newcomers([40, 50, 50, 50])
    assert dried.mean() < 0.85 * lasting.mean()
