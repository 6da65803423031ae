"""Choosing levels: the best choice on small instances, proven bounds on large ones, limits kept on all.

Oracles: a dynamic programme of its own over all pairs of bytes and records (it shares nothing with the code under test) and
scipy's mixed-integer solver (HiGHS), a general-purpose library.
"""

from __future__ import annotations

import itertools
from contextlib import nullcontext
from unittest import mock

import numpy as np
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from benchmarks.knapsack import KINDS, make_instance
from pruner.choose import core, knapsack
from pruner.choose.core import Improved
from pruner.choose.knapsack import Choice, choose_levels, first_fit, make_problem
from pruner.choose.relaxation import relax, select

Instance = tuple[np.ndarray, np.ndarray, int, int | None]


def exhaustive(worth: np.ndarray, sizes: np.ndarray, capacity: int, record_limit: int | None) -> float:
    """The greatest worth over all choices: table[bytes, records], one contact after the other."""
    places = len(worth) if record_limit is None else min(record_limit, len(worth))
    table = np.zeros((capacity + 1, places + 1))
    for gains, needs in zip(worth, sizes.tolist(), strict=True):
        best = table.copy()
        for gain, need in zip(gains, needs, strict=True):
            if need <= capacity and places:
                np.maximum(best[need:, 1:], table[: capacity + 1 - need, :-1] + gain, out=best[need:, 1:])
        table = best
    return float(table[-1, -1])


def assert_kept(choice: Choice, instance: Instance) -> None:
    """Limits, the stated value, and the coverage law: nobody is left out who would still fit."""
    worth, sizes, capacity, record_limit = instance
    taken = np.flatnonzero(choice.level >= 0)
    used = int(sizes[taken, choice.level[taken]].sum())
    assert used <= capacity
    assert record_limit is None or len(taken) <= record_limit
    assert choice.value == pytest.approx(worth[taken, choice.level[taken]].sum(), rel=1e-12, abs=1e-12)
    assert choice.value <= choice.upper_bound
    assert choice.level.dtype == np.int8
    out = np.flatnonzero(choice.level < 0)
    if len(out) and (record_limit is None or len(taken) < record_limit):
        assert int(sizes[out].min()) > capacity - used


@st.composite
def instances(draw: st.DrawFn) -> Instance:
    contacts = draw(st.integers(1, 9))
    levels = draw(st.integers(1, 4))
    # Sums of quarters are exact, so that equal means equal; few values, so that ties are common.
    quarters = st.integers(0, draw(st.sampled_from([1, 4, 400])))
    worth = draw(st.lists(st.lists(quarters, min_size=levels, max_size=levels), min_size=contacts, max_size=contacts))
    size = st.integers(0, draw(st.sampled_from([2, 6, 30])))
    sizes = draw(st.lists(st.lists(size, min_size=levels, max_size=levels), min_size=contacts, max_size=contacts))
    scale = draw(st.sampled_from([1, 7]))
    capacity = draw(st.integers(0, 100))
    return np.array(worth) / 4, np.array(sizes) * scale, capacity * scale, draw(st.none() | st.integers(0, 9))


@pytest.mark.long
@draws(400)
@given(instances())
def test_small_instances_are_solved_exactly(instance: Instance) -> None:
    choice = choose_levels(*instance)
    assert choice.value == exhaustive(*instance)
    assert choice.upper_bound == choice.value
    assert choice.gap == 0
    assert_kept(choice, instance)


def solver(worth: np.ndarray, sizes: np.ndarray, capacity: int, record_limit: int | None, *, relaxed: bool = False) -> float:
    """The same as a mixed-integer programme (or its linear relaxation), one variable per contact and level."""
    contacts, levels = worth.shape
    one_each = np.kron(np.eye(contacts), np.ones(levels))
    rows = np.vstack([sizes.reshape(1, -1), np.ones((1, contacts * levels)), one_each])
    upper = np.concatenate([[capacity, contacts if record_limit is None else record_limit], np.ones(contacts)])
    if relaxed:
        return -float(linprog(-worth.reshape(-1), A_ub=rows, b_ub=upper, bounds=(0, 1)).fun)
    found = milp(
        -worth.reshape(-1),
        constraints=LinearConstraint(rows, -np.inf, upper),
        integrality=np.ones(contacts * levels),
        bounds=Bounds(0, 1),
        options={"mip_rel_gap": 0},
    )
    return -float(found.fun)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("kind", KINDS)
def test_middling_instances_agree_with_both_oracles(kind: str, seed: int) -> None:
    worth, sizes = make_instance(40, kind, seed)
    record_limit = None if seed % 2 else 12
    capacity = int(sizes[:, 0].sum() * (0.15 + 0.05 * (seed % 4)))
    choice = choose_levels(worth, sizes, capacity, record_limit)
    best = exhaustive(worth, sizes, capacity, record_limit)
    assert choice.value == pytest.approx(best, rel=1e-12)
    assert choice.value == pytest.approx(solver(worth, sizes, capacity, record_limit), rel=1e-6)
    assert_kept(choice, (worth, sizes, capacity, record_limit))


@pytest.mark.parametrize("record_limit", [None, 150])
@pytest.mark.parametrize("kind", KINDS)
def test_the_bound_is_that_of_the_linear_relaxation(kind: str, record_limit: int | None) -> None:
    worth, sizes = make_instance(400, kind, 5)
    capacity = int(sizes[:, 0].sum() * 0.25)
    choice = choose_levels(worth, sizes, capacity, record_limit)
    relaxed = solver(worth, sizes, capacity, record_limit, relaxed=True)
    assert choice.value <= choice.upper_bound <= relaxed * (1 + 1e-9)
    assert choice.gap <= 1e-4
    bound = relax(make_problem(worth, sizes, capacity, record_limit)).best.bound
    assert bound == pytest.approx(relaxed, rel=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_hard_instances_with_both_limits(seed: int) -> None:
    """Worth close to size, few records: many near ties that only an exact search tells apart."""
    random = np.random.default_rng(seed)
    sizes = np.sort(random.integers(5, 40, (24, 3)), axis=1)[:, ::-1].copy()
    worth = sizes + random.integers(0, 12, (24, 3)) / 4
    capacity, record_limit = int(random.integers(80, 260)), int(random.integers(4, 10))
    choice = choose_levels(worth, sizes, capacity, record_limit)
    assert choice.value == exhaustive(worth, sizes, capacity, record_limit) == choice.upper_bound


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("contacts", "share"), [(10_000, 0.02), (10_000, 0.3), (10_000, 0.7), (10_000, 0.97), (100_000, 0.05), (100_000, 0.5)]
)
def test_gap_of_at_most_a_hundredth_of_a_percent(contacts: int, kind: str, share: float) -> None:
    worth, sizes = make_instance(contacts, kind, 3)
    capacity = int(sizes[:, 0].sum() * share)
    for record_limit in (None, int(contacts * share * 1.2)):
        choice = choose_levels(worth, sizes, capacity, record_limit)
        assert choice.gap <= 1e-4
        assert choice.gap == pytest.approx((choice.upper_bound - choice.value) / choice.upper_bound, abs=1e-15)
        assert_kept(choice, (worth, sizes, capacity, record_limit))


@pytest.mark.parametrize("seed", range(3))
def test_a_large_choice_is_gone_through_until_it_is_good_enough(seed: int) -> None:
    """Without cores the gap of these is above 7e-6."""
    worth, sizes = make_instance(1200, KINDS[0], seed)
    assert choose_levels(worth, sizes, int(sizes[:, 0].sum() * 0.2), None).gap <= 1e-6


@draws(100)
@given(st.integers(0, 2**32), st.sampled_from(KINDS), st.integers(1, 300), st.floats(0, 1.1), st.none() | st.integers(0, 300))
def test_limits_and_law_on_any_instance(seed: int, kind: str, contacts: int, share: float, record_limit: int | None) -> None:
    worth, sizes = make_instance(contacts, kind, seed)
    capacity = int(sizes[:, 0].sum() * share)
    choice = choose_levels(worth, sizes, capacity, record_limit)
    assert_kept(choice, (worth, sizes, capacity, record_limit))
    again = choose_levels(worth, sizes, capacity, record_limit)
    assert choice.level.tobytes() == again.level.tobytes()


@draws(20)
@given(st.integers(0, 1000))
def test_more_room_is_never_worth_less_than_the_bound_says(seed: int) -> None:
    worth, sizes = make_instance(30, "different", seed)
    values = [choose_levels(worth, sizes, capacity).value for capacity in range(0, 1600, 160)]
    assert all(later >= earlier - 1e-9 for earlier, later in itertools.pairwise(values))


def test_equal_contacts_are_taken_from_the_front() -> None:
    worth, sizes = np.ones((100_000, 1)), np.full((100_000, 1), 64)
    choice = choose_levels(worth, sizes, 64 * 777 + 63)
    assert np.flatnonzero(choice.level == 0).tolist() == list(range(777))
    assert (choice.value, choice.gap) == (777.0, 0.0)


@given(st.lists(st.integers(0, 4), min_size=1, max_size=12), st.data())
def test_the_nearest_are_the_front_of_a_stable_sort(losses: list[int], data: st.DataObject) -> None:
    apart = np.array(losses, dtype=np.float64)
    among = np.flatnonzero(data.draw(st.lists(st.booleans(), min_size=len(apart), max_size=len(apart))))
    with mock.patch.object(core, "_NEAREST", data.draw(st.integers(1, 12))):
        found = core._nearest(apart, among).tolist()
        assert found == sorted(among.tolist(), key=apart.__getitem__)[: core._NEAREST]


def test_a_choice_is_improved_where_one_contact_alone_loses_the_whole_gap() -> None:
    """At a price of 3 a byte the first contact loses 1 of worth, which is all that lies below the bound of 3."""
    problem = make_problem(np.array([[2.0], [3.0]]), np.array([[1], [1]]), 1, None)
    found = core.improve(problem, np.array([0, -1], dtype=np.int8), select(problem, 3.0))
    assert (found.level.tolist(), found.proven) == ([-1, 0], True)


def test_the_gap_is_the_share_of_the_bound_that_is_not_reached() -> None:
    """Of four bytes two go to half a call. The other two bring an eighth, or two thirds of another half, if that counted."""
    unproven = Improved(np.array([0, -1, -1], dtype=np.int8), proven=False)
    with mock.patch.object(knapsack, "improve", return_value=unproven):
        choice = choose_levels(np.array([[0.5], [0.125], [0.5]]), np.array([[2], [2], [3]]), 4)
    assert (choice.value, choice.upper_bound) == (0.625, pytest.approx(5 / 6))
    assert choice.gap == pytest.approx(1 / 4)
    assert choose_levels(np.zeros((2, 1)), np.full((2, 1), 3), 5).gap == 0.0


@pytest.mark.parametrize(("last", "capacity"), [(2, 4), (3, 5), (4, 4)])
def test_a_capacity_is_one_that_sums_of_all_sizes_can_reach(last: int, capacity: int) -> None:
    """Also where only a contact behind many others has an odd size."""
    sizes = np.full((1_001, 1), 2)
    sizes[-1] = last
    assert make_problem(np.ones((1_001, 1)), sizes, 5, None).capacity == capacity


def test_contacts_without_worth_fill_what_is_left_in_line() -> None:
    worth = np.array([[0.0, 0.0], [5.0, 3.0], [0.0, 0.0], [0.0, 0.0]])
    sizes = np.array([[50, 10], [40, 10], [50, 10], [30, 10]])
    line = np.array([3, 1, 2, 0])
    assert choose_levels(worth, sizes, 49, order=line).level.tolist() == [-1, 0, -1, -1]
    assert choose_levels(worth, sizes, 60, order=line).level.tolist() == [-1, 0, 1, 1]
    assert choose_levels(worth, sizes, 90, order=line).level.tolist() == [1, 0, 1, 0]
    assert choose_levels(worth, sizes, 90, 2, order=line).level.tolist() == [-1, 0, -1, 0]


@given(st.lists(st.integers(0, 20), max_size=30), st.integers(0, 120), st.none() | st.integers(0, 12))
def test_first_fit_is_a_plain_walk_down_the_line(sizes: list[int], room: int, places: int | None) -> None:
    expected, left, free = [], room, len(sizes) if places is None else places
    for size in sizes:
        fits = size <= left and free > 0
        expected.append(fits)
        left, free = (left - size, free - 1) if fits else (left, free)
    assert first_fit(np.array(sizes, dtype=np.int64), room, places).tolist() == expected


@pytest.mark.parametrize(
    ("worth", "sizes", "capacity", "limit"),
    [
        ([[1.0]], [[1, 2]], 1, None),
        ([[-1.0]], [[1]], 1, None),
        ([[np.nan]], [[1]], 1, None),
        ([[1.0]], [[-1]], 1, None),
        ([[1.0]], [[1]], -1, None),
        ([[1.0]], [[1]], 1, -1),
    ],
)
def test_nonsense_is_refused(worth: list[list[float]], sizes: list[list[int]], capacity: int, limit: int | None) -> None:
    with pytest.raises(ValueError, match="must"):
        choose_levels(np.array(worth), np.array(sizes), capacity, limit)


def test_nothing_to_choose_from() -> None:
    choice = choose_levels(np.zeros((0, 3)), np.zeros((0, 3), dtype=np.int64), 10)
    assert (len(choice.level), choice.value, choice.upper_bound, choice.gap) == (0, 0.0, 0.0, 0.0)
    nobody = choose_levels(np.ones((2, 1)), np.ones((2, 1), dtype=np.int64), 10, 0)
    assert (nobody.level.tolist(), nobody.value, nobody.upper_bound, nobody.gap) == ([-1, -1], 0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("worth", "sizes", "capacity", "record_limit", "begun", "expected"),
    [
        pytest.param([[1], [9]], [[5], [5]], 5, None, [-1, -1], [-1, 0], id="who adds most, not who stands first"),
        pytest.param([[1], [9]], [[1], [1]], 5, 1, [-1, -1], [-1, 0], id="no more records than may be"),
        pytest.param([[9, 5], [1, 1]], [[5, 1], [1, 1]], 5, 1, [1, -1], [0, -1], id="more of who is in, where nobody else may"),
        pytest.param([[1], [2]], [[1], [1]], 5, 1, [0, -1], [0, -1], id="nobody more, where the only place is taken"),
        pytest.param([[9], [1], [2]], [[1]] * 3, 5, 2, [0, -1, -1], [0, -1, 0], id="one more, where a place is left"),
        pytest.param([[5, 9], [1, 1]], [[2, 1], [1, 1]], 5, 1, [0, -1], [1, -1], id="a leaner level that is worth more"),
        pytest.param(
            [[11, 10], [5, 5]], [[6, 5], [1, 1]], 6, None, [1, -1], [1, 0], id="what is added counts, not what is held"
        ),
        pytest.param([[11, 10], [1, 1]], [[6, 5], [2, 2]], 6, None, [1, -1], [0, -1], id="only what fits"),
    ],
)
def test_what_is_left_goes_to_whatever_adds_most_worth(
    worth: list[list[int]],
    sizes: list[list[int]],
    capacity: int,
    record_limit: int | None,
    begun: list[int],
    expected: list[int],
) -> None:
    """Where nobody could prove that nothing better exists."""
    unproven = Improved(np.array(begun, dtype=np.int8), proven=False)
    with mock.patch.object(knapsack, "improve", return_value=unproven):
        choice = choose_levels(np.array(worth, dtype=float), np.array(sizes), capacity, record_limit)
    assert choice.level.tolist() == expected


def test_a_better_level_of_who_has_one_takes_no_place() -> None:
    problem = make_problem(np.array([[1.0, 9.0], [3.0, 3.0]]), np.array([[1, 2], [1, 1]]), 3, 2)
    level = np.array([0, -1], dtype=np.int8)
    knapsack._fill_with_worth(problem, level)
    assert level.tolist() == [1, 0]


@pytest.mark.parametrize(("levels", "is_refused"), [(127, False), (128, True)])
def test_as_many_levels_as_can_be_numbered(levels: int, is_refused: bool) -> None:
    with pytest.raises(ValueError, match="more levels") if is_refused else nullcontext():
        choose_levels(np.ones((1, levels)), np.ones((1, levels), dtype=np.int64), 1)
