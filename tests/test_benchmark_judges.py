"""The judges of choices and forecasts: what they compute, on figures worked out by hand and on one small world."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from benchmarks import boosted
from benchmarks.boosted import covered, features, trees_order
from benchmarks.intervals import Case, cases_of, kept_shares, verdict
from benchmarks.strangers import Row, closed, judge, table
from benchmarks.worlds import LATER_DAYS, World, make_world

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def world() -> World:
    return make_world("correlated", 5_000, 60, 1)


@pytest.fixture(scope="module")
def rows(world: World) -> Iterator[list[Row]]:
    """Judged with fewer trees than a benchmark takes."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(boosted, "ROUNDS", 15)
        patch.setattr(boosted, "CANDIDATES", boosted.CANDIDATES[::2])
        yield judge(world)


def test_the_tool_and_the_trees_lie_between_chance_and_the_best(world: World, rows: list[Row]) -> None:
    assert [row.limit for row in rows] == world.limits()
    for row in rows:
        assert row.limit / row.contacts < row.tool <= row.best <= 1
        assert row.limit / row.contacts < row.trees <= row.best
        assert row.before is None
    assert all(f"{row.best:.2%}" in table(rows) for row in rows)


def test_the_best_possible_is_what_no_other_choice_of_as_many_reaches(world: World, rows: list[Row]) -> None:
    later = world.calls(world.days, world.days + LATER_DAYS)
    listed = world.directory.id[world.listed(world.days)]
    count = np.unique(later.id[np.isin(later.id, listed)], return_counts=True)[1]
    row = rows[0]
    assert row.best == pytest.approx(np.sort(count)[::-1][: row.limit].sum() / len(later))


def test_features_of_a_cut_hang_on_nothing_that_came_after_it(world: World) -> None:
    before = world.log.part(world.log.day < 40)
    cut_off = World(world.name, world.directory, before, world.days, world.mine, world.country, world.home)
    assert (features(world, 40)[0] == features(cut_off, 40)[0]).all()
    assert set(features(world, 40)[1]) == set(world.listed(40))


def test_trees_give_every_listed_contact_once(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(boosted, "ROUNDS", 3)
    assert sorted(trees_order(world).tolist()) == world.listed(world.days).tolist()


def test_shares_of_calls_of_an_order() -> None:
    assert covered(np.array([2, 0, 1]), np.array([3, 1, 4, 2]), [1, 2, 9]) == [0.4, 0.7, 0.8]


def test_the_closed_share_is_summed_over_rows() -> None:
    rows = [Row("a", 9, 3, 0.5, 0.58, 0.6, 1, 0.1), Row("b", 9, 3, 0.5, 0.42, 0.6, 1, 0.1)]
    assert closed(rows) == pytest.approx(0.0, abs=1e-12)
    assert closed(rows[:1]) == pytest.approx(0.8)
    assert closed([Row("a", 9, 3, None, 0.5, 0.6, 1, 0.1)]) is None


def test_a_verdict_counts_what_lies_inside_and_the_missing() -> None:
    def case(came: float, low: float | None, centre: float | None, high: float | None) -> Case:
        return Case("steady 1", "steady", 9, 60, 3, 300, came, low, centre, high)

    found = verdict([case(0.5, 0.4, 0.5, 0.6), case(0.7, 0.4, 0.6, 0.6), case(0.5, None, None, None), case(0.1, 0.1, 0.2, 0.2)])
    assert (found.cases, found.silent, found.inside) == (4, 0.25, pytest.approx(2 / 3))
    assert found.width == pytest.approx(50 / 3)
    assert found.bias == pytest.approx(0.0, abs=1e-9)
    assert found.narrow == pytest.approx(1 / 3)


def test_cases_hold_what_came_and_the_forecast_that_was_given(world: World) -> None:
    cases = cases_of(world, lambda _, limits: [(0.1, 0.2, 0.3) if limit < 1_000 else None for limit in limits])
    assert [case.limit for case in cases] == sorted(case.limit for case in cases)
    assert [case.centre for case in cases] == [0.2, None, None]
    assert [case.came for case in cases] == kept_shares(world, [case.limit for case in cases])
    assert cases[0].came < cases[-1].came <= 1
