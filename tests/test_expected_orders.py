"""The order `expected` has earned its place: on held-out days of two kinds of world no other order covers more."""

from __future__ import annotations

from typing import get_args

import numpy as np
import polars as pl
import pytest
from heard_worlds import Invented, invented

from pruner.ask.rankings import rankings
from pruner.calls.proof import BEST, Proof, cut_days, prove
from pruner.demo.persons import World

MINE = (232, 2328, 91)
STATIONS = 30_000
#: 10,000, 50,000, 100,000 and 200,000 of 330,000 contacts, as the same parts of this smaller world.
LIMITS = tuple(round(limit * STATIONS / 330_000) for limit in (10_000, 50_000, 100_000, 200_000))


@pytest.fixture(scope="module", params=[(world, mine) for world in get_args(World) for mine in (None, MINE)], ids=str)
def proof(request: pytest.FixtureRequest) -> Proof:
    world, mine = request.param
    one = invented(world, STATIONS, seed=7)
    rows = one.rows if mine is None else one.rows.filter(pl.col("talkgroup").is_in(mine))
    orders = rankings(one.contacts(), one.strangers, lambda cut: np.arange(STATIONS), window_days=90, period_days=28, notes=[])
    cuts = cut_days(*one.days, 4, 28)
    assert len(cuts) == 4
    return prove(rows, one.number, orders, limits=LIMITS, cuts=cuts, period_days=28)


def test_expected_covers_at_least_as_much_as_any_other_order(proof: Proof) -> None:
    expected = [one.value for one in proof.coverage["expected"]]
    for order in ("recent + expected", "often + expected", "id"):
        others = [one.value for one in proof.coverage[order]]
        # A tenth of a point is what chance may do in a world so small.
        assert all(mine >= other - 0.001 for mine, other in zip(expected, others, strict=True)), order


def test_expected_clearly_leads_where_there_is_room_for_those_never_heard(proof: Proof) -> None:
    """Against the order of ids; rivals that fill up with the same strangers are equals there."""
    leads = proof.lead["expected", "id"]
    assert all(one.low is not None and one.low > 0 for one in leads)


def test_the_best_possible_is_an_upper_bound_and_more_room_never_covers_less(proof: Proof) -> None:
    best = proof.coverage[BEST]
    for estimates in proof.coverage.values():
        values = [one.value for one in estimates]
        assert values == sorted(values)
        assert all(one.value <= bound.value for one, bound in zip(estimates, best, strict=True))
        assert all(one.low <= one.value <= one.high for one in estimates)  # type: ignore[operator]
    assert best[-1].value == pytest.approx(proof.known / proof.calls)


def on_and_off(stations: int) -> pl.DataFrame:
    """A world unlike the demo's: everybody calls for some weeks, pauses for months, and calls again."""
    draw = np.random.default_rng(4)
    rate = draw.gamma(0.3, 0.2, stations)
    active = draw.random(stations) < 0.25
    parts = []
    for day in range(150):
        active = np.where(active, draw.random(stations) > 1 / 20, draw.random(stations) < 1 / 60)
        times = draw.poisson(rate * active)
        callers = np.flatnonzero(times)
        calls = draw.geometric(0.25, len(callers)) * times[callers]
        last = (20_000 + day) * 86_400_000 + draw.integers(0, 86_400_000, len(callers))
        columns = {"id": callers + 2_000_000, "day": np.full(len(callers), 20_000 + day), "calls": calls, "last": last}
        parts.append(pl.DataFrame(columns))
    types = {"id": pl.UInt32, "day": pl.Int32, "calls": pl.UInt32, "last": pl.Datetime("ms")}
    return pl.concat(parts).cast(types).with_columns(pl.col("day").cast(pl.Date))  # type: ignore[arg-type]


def test_expected_leads_in_a_world_that_neither_generator_made() -> None:
    stations = 15_000
    one = Invented(
        np.arange(2_000_000, 2_000_000 + stations, dtype=np.uint32),
        np.ones(stations, dtype=np.uint8),
        np.ones(stations, dtype=np.uint8),
        on_and_off(stations),
    )
    orders = rankings(one.contacts(), one.strangers, lambda cut: np.arange(stations), window_days=90, period_days=28, notes=[])
    limits = [200, 500, 1500, 3000]
    proof = prove(one.rows, one.number, orders, limits=limits, cuts=cut_days(*one.days, 3, 28), period_days=28)
    for order in ("recent + expected", "often + expected"):
        leads = proof.lead["expected", order]
        assert all(lead.low is not None and lead.low > 0 for lead in leads[:2]), order
        assert all(lead.value > -0.001 for lead in leads), order
