"""Towns: where talking is catching their stations are expected sooner, and elsewhere nothing changes."""

from __future__ import annotations

import numpy as np
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.alike import Traits
from pruner.calls.rates import Floats, Integers
from pruner.calls.stations import CallingDays, heard_stations
from pruner.calls.strangers import Strangers
from pruner.calls.towns import EVER, LATELY, Towns, chosen_steps, factors, towns_on

NEVER = 10_000
CONTACTS, TOWNS = 4000, 200


def outbreaks(seed: int, catching: bool) -> tuple[Integers, Integers]:
    """The town of each contact, and the day on which each was first heard, in four periods of 28 days: one in a hundred in each
    period, or as many in all, of whom most live in the towns in which others were heard in the period before."""
    random = np.random.default_rng(seed)
    town = random.integers(0, TOWNS, CONTACTS)
    first = np.full(CONTACTS, NEVER)
    hot = random.choice(TOWNS, 6, replace=False)
    for period in range(5):
        weight = np.where(np.isin(town, hot), 30.0, 0.3) if catching else np.ones(CONTACTS)
        weight = weight * (first == NEVER)
        new = random.choice(CONTACTS, 60, replace=False, p=weight / weight.sum())
        first[new] = 28 * period + random.integers(1, 29, 60)
        hot = np.union1d(hot[:3], random.choice(town[new], 3))
    return town, first


def periods_of(town: Integers, first: Integers) -> list[Towns]:
    everybody, rate = np.ones(CONTACTS, dtype=bool), np.full(CONTACTS, 60 / CONTACTS)
    return [towns_on(town, first, cut, 28, everybody, rate) for cut in (84, 56, 28)]


@pytest.mark.parametrize("seed", range(5))
def test_a_step_is_taken_where_talking_is_catching_and_else_none(seed: int) -> None:
    for catching in (True, False):
        assert bool(chosen_steps(periods_of(*outbreaks(seed, catching)))) == catching


def test_towns_of_those_heard_lately_come_first() -> None:
    town, first = outbreaks(1, catching=True)
    known = np.where(first <= 112, first, NEVER)
    found = factors([LATELY], periods_of(town, known), towns_on(town, known, 112, 28))
    lately = np.bincount(town[(known > 84) & (known <= 112)], minlength=TOWNS)
    assert found[1:][lately > 3].mean() > 3 * found[1:][lately == 0].mean()


def test_bands_by_hand() -> None:
    """Two towns of 20, one of which has all 4 heard; 2 are due in each. (4 + 2) / (2 + 2) is 0.58 doublings, 2 / 4 one less."""
    town = np.repeat([0, 1], 20)
    first = np.full(40, NEVER)
    first[:4] = [1, 2, 30, 40]
    assert towns_on(town, first, 50, 28).band[EVER].tolist() == [3, 3 + 1, 3 - 2]
    # Lately two are heard, one due in each: (2 + 2) / (1 + 2) is 0.42 doublings, 2 / 3 is 0.58 less.
    assert towns_on(town, first, 50, 28).band[LATELY].tolist() == [3, 3 + 1, 3 - 1]
    town[-20:] = -1
    assert towns_on(town, first, 50, 28).band[EVER].tolist() == [3, 3 + 1], "of an unknown town nothing is known"


@draws(60)
@given(st.integers(0, 2**31))
def test_each_band_is_drawn_to_what_it_had_over_what_was_due(seed: int) -> None:
    """Contact by contact, with a prior worth two events (gamma-Poisson)."""
    random = np.random.default_rng(seed)
    town = random.integers(-1, 5, 100)
    first = np.where(random.random(100) < 0.5, random.integers(1, 120, 100), NEVER)
    cuts, stood, rate = (84, 56), random.random((2, 100)) < 0.8, random.random((2, 100)) * 0.2
    periods = [towns_on(town, first, cut, 28, *known) for cut, *known in zip(cuts, stood, rate, strict=True)]
    now = towns_on(town, first, 112, 28)
    found = factors([EVER], periods, now)
    for one in range(len(found)):
        had = expected = 2.0
        for period, cut, there, due in zip(periods, cuts, stood, rate, strict=True):
            for at in np.flatnonzero(there & (first > cut)):
                if period.band[EVER][town[at] + 1] == now.band[EVER][one]:
                    had += first[at] <= cut + 28
                    expected += due[at]
        assert found[one] == pytest.approx(had / expected)


def test_strangers_of_a_town_that_talks_are_expected_sooner() -> None:
    town, first = outbreaks(3, catching=True)
    number = np.arange(1_000_000, 1_000_000 + CONTACTS, dtype=np.uint32)
    heard = np.flatnonzero(first <= 140)
    days = CallingDays(number[heard].astype(np.int64), first[heard], np.full(len(heard), 2))
    nothing = np.zeros(CONTACTS, dtype=np.uint8)

    def expected(where: Integers | None) -> Floats:
        traits = Traits(number, nothing, nothing, town=where)
        return Strangers(traits).expected(days, heard_stations(days, 140), first, last_day=140, period_days=28)

    lately = np.isin(town, town[(first > 112) & (first <= 140)]) & (first == NEVER)
    with_towns, without = expected(town), expected(None)
    assert with_towns[lately].mean() > 1.5 * with_towns[~lately & (first == NEVER)].mean()
    assert without[first == NEVER].std() == 0.0
