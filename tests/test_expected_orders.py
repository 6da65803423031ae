"""The order `expected` has earned its place: on held-out days of two kinds of world no other order covers more."""

from __future__ import annotations

from typing import get_args

import numpy as np
import polars as pl
import pytest
from heard_worlds import invented

from pruner.demo.callers import World
from pruner.heard.proof import BEST, Proof, cut_days, prove
from pruner.pipeline.coverage import rankings

MINE = (232, 2328, 91)
STATIONS = 30_000
#: 10,000, 50,000, 100,000 and 200,000 of 330,000 contacts, as the same parts of this smaller world.
LIMITS = tuple(round(limit * STATIONS / 330_000) for limit in (10_000, 50_000, 100_000, 200_000))


@pytest.fixture(scope="module", params=[(world, mine) for world in get_args(World) for mine in (None, MINE)], ids=str)
def proof(request: pytest.FixtureRequest) -> Proof:
    world, mine = request.param
    one = invented(world, STATIONS, seed=7)
    rows = one.rows if mine is None else one.rows.filter(pl.col("talkgroup").is_in(mine))
    orders = rankings(one.contacts(), np.arange(STATIONS), window_days=90, period_days=28, notes=[])
    cuts = cut_days(*one.days, 4, 28)
    assert len(cuts) == 4
    return prove(rows, one.number, orders, limits=LIMITS, cuts=cuts, period_days=28)


def test_expected_covers_at_least_as_much_as_any_other_order(proof: Proof) -> None:
    expected = [one.value for one in proof.coverage["expected"]]
    for order in ("recent", "often", "id"):
        others = [one.value for one in proof.coverage[order]]
        # A tenth of a point is what chance may do in a world so small.
        assert all(mine >= other - 0.001 for mine, other in zip(expected, others, strict=True)), order


def test_expected_clearly_leads_where_there_is_room_for_those_never_heard(proof: Proof) -> None:
    for order in ("recent", "often"):
        leads = proof.lead["expected", order]
        assert all(one.low is not None and one.low > 0 for one in leads[1:]), order


def test_the_best_possible_is_an_upper_bound_and_more_room_never_covers_less(proof: Proof) -> None:
    best = proof.coverage[BEST]
    for estimates in proof.coverage.values():
        values = [one.value for one in estimates]
        assert values == sorted(values)
        assert all(one.value <= bound.value for one, bound in zip(estimates, best, strict=True))
        assert all(one.low <= one.value <= one.high for one in estimates)  # type: ignore[operator]
    assert best[-1].value == pytest.approx(proof.known / proof.calls)
