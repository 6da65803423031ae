"""The steps of choosing levels, each against plain Python; and how far the search goes, counted.

How far a search goes changes time alone, as long as limits and bounds hold: whoever changes it changes the counts at the end.
"""

from __future__ import annotations

import itertools
from unittest import mock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmarks.knapsack import KINDS, make_instance
from pruner.choose import core, knapsack, relaxation
from pruner.choose.core import improve
from pruner.choose.knapsack import choose_levels, fill_up, make_problem, worth_of
from pruner.choose.relaxation import Problem, Relaxation, Selection, mixture, relax, select

QUARTERS = st.integers(0, 12).map(lambda number: number / 4)


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """Few values, so that ties are common; sums of quarters are exact."""
    contacts, levels = draw(st.integers(1, 7)), draw(st.integers(1, 3))
    worth = [np.array(draw(st.lists(QUARTERS, min_size=contacts, max_size=contacts))) for _ in range(levels)]
    size = [np.array(draw(st.lists(st.integers(0, 6), min_size=contacts, max_size=contacts)), float) for _ in range(levels)]
    return Problem(worth, size, draw(st.integers(0, 20)), draw(st.integers(1, contacts)), draw(st.booleans()))


@st.composite
def chosen(draw: st.DrawFn) -> tuple[Problem, np.ndarray]:
    problem = draw(problems())
    levels = st.integers(-1, len(problem.worth) - 1)
    return problem, np.array(draw(st.lists(levels, min_size=len(problem), max_size=len(problem))), np.int8)


def options(problem: Problem, contact: int, price: float, record_price: float = 0.0) -> list[tuple[float, float, int]]:
    """Profit, size and level of each level of a contact."""
    return [
        (float(worth[contact] - price * size[contact] - record_price), float(size[contact]), level)
        for level, (worth, size) in enumerate(zip(problem.worth, problem.size, strict=True))
    ]


@given(problems(), QUARTERS)
def test_what_contacts_take_at_a_price(problem: Problem, price: float) -> None:
    """Each the greatest profit, of equal ones the later level; of too many those with the greatest, earlier ones first."""
    best = [max(options(problem, contact, price), key=lambda one: (one[0], one[2])) for contact in range(len(problem))]
    takes = [contact for contact, (profit, _, _) in enumerate(best) if profit > 0]
    inside = sorted(takes, key=lambda contact: -best[contact][0])[: problem.record_limit]
    out = sorted(takes, key=lambda contact: -best[contact][0])[problem.record_limit :]
    record_price = best[out[0]][0] if len(out) else 0.0
    if len(takes) > problem.record_limit:
        record_price = best[inside[-1]][0]
    found = select(problem, price)
    assert found.level.tolist() == [best[one][2] if one in inside else -1 for one in range(len(problem))]
    assert (found.price, found.record_price, found.records) == (price, record_price, len(inside))
    assert found.size == sum(best[contact][1] for contact in inside)
    profits = sum(best[contact][0] - record_price for contact in inside)
    assert found.bound == price * problem.capacity + record_price * problem.record_limit + profits


@given(chosen(), QUARTERS, QUARTERS)
def test_the_gap_of_any_choice_is_what_its_worth_lacks(
    both: tuple[Problem, np.ndarray], price: float, record_price: float
) -> None:
    problem, level = both
    prices = Selection(price, record_price, level, 0, 0, 0.0)
    profits = [[0.0, *(one[0] for one in options(problem, contact, price, record_price))] for contact in range(len(level))]
    best, second = core._two_best(problem, prices)
    assert best.tolist() == [max(one) for one in profits]
    assert second.tolist() == [sorted(one)[-2] for one in profits]
    own = core._loss(problem, prices, best, level)
    assert own.tolist() == [max(one) - one[taken + 1] for one, taken in zip(profits, level.tolist(), strict=True)]
    bound = float(best.sum()) + price * problem.capacity + record_price * problem.record_limit
    assert core._gap(problem, prices, level, own) == bound - problem.chosen(problem.worth, level).sum()


@given(problems(), st.integers(0, 6), QUARTERS, st.sampled_from([0.0, 0.25, 1.0, 3.0]))
def test_options_that_lose_less_than_the_gap(problem: Problem, at: int, price: float, gap: float) -> None:
    contact = at % len(problem)
    prices = Selection(price, 0.5, np.zeros(0, np.int8), 0, 0, 0.0)
    every = options(problem, contact, price, 0.5)
    best = max(0.0, *(one[0] for one in every))
    rows = [(0.0, 0.0, best, -1.0)] + [(size, 1.0, best - profit, float(level)) for profit, size, level in every]
    expected = [row for row in rows if row[2] < gap or row[2] == 0]
    assert [tuple(row) for row in core._options(problem, prices, contact, best, gap).tolist()] == expected


@given(problems(), QUARTERS, st.data())
def test_no_more_than_four_contacts_whose_best_options_have_the_same_sizes(
    problem: Problem, price: float, data: st.DataObject
) -> None:
    contacts = data.draw(st.lists(st.integers(0, len(problem) - 1), min_size=1, max_size=20))
    prices = Selection(price, 0.0, np.zeros(0, np.int8), 0, 0, 0.0)
    seen: list[tuple[float, ...]] = []
    expected = []
    for contact in contacts:
        every = [(0.0, 0.0, -1), *options(problem, contact, price)]
        kind = tuple(one[1] for one in sorted(every, key=lambda one: (-one[0], one[2]))[:2])
        expected += [contact] if seen.count(kind) < 4 else []
        seen.append(kind)
    assert core._various(problem, prices, np.array(contacts)).tolist() == expected


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 3), QUARTERS), max_size=12), st.booleans())
def test_states_that_no_smaller_one_is_worth_as_much_as(rows: list[tuple[int, int, float]], limited: bool) -> None:
    size, records, worth = (np.array([row[at] for row in rows], float if at == 2 else int) for at in range(3))
    found = core._undominated(size, records if limited else None, worth)
    best: dict[tuple[int, int], float] = {}
    for group in {row[1] if limited else 0 for row in rows}:
        own = [(row[0], row[2]) for row in rows if not limited or row[1] == group]
        for bytes_, value in own:
            if all(value > other for less, other in own if less < bytes_) and value == max(v for b, v in own if b == bytes_):
                best[group, bytes_] = value
    assert {(int(records[one]) if limited else 0, int(size[one])): float(worth[one]) for one in found} == best
    assert len(found) == len(best)


@given(st.lists(QUARTERS, min_size=1, max_size=12), st.integers(1, 12), st.data())
def test_states_that_lose_least_in_their_order(losses: list[float], most: int, data: st.DataObject) -> None:
    states = sorted(data.draw(st.sets(st.integers(0, len(losses) - 1))))
    expected = sorted(sorted(states, key=losses.__getitem__)[:most])
    assert core._with_least(np.array(states, dtype=np.int64), np.array(losses), most).tolist() == expected


@pytest.mark.parametrize(
    ("core_size", "contacts", "states"), [(65, 1000, 2000), (64, 1000, 20_000), (65, 999, 20_000), (256, 1_000_000, 2000)]
)
def test_how_many_states_are_carried_on(core_size: int, contacts: int, states: int) -> None:
    assert core._most_states(core_size, contacts) == states


@pytest.mark.parametrize(
    ("contacts", "share", "rounds", "proven"),
    [
        pytest.param(300, 0.5, [16, 64, 256], False, id="three rounds"),
        pytest.param(300, 1e-14, [], True, id="a gap that is rounding"),
        pytest.param(300, 2e-14, [16, 64, 256], False, id="a gap that is more"),
        pytest.param(999, 1e-6, [16, 64, 256], False, id="good enough, but not large"),
        pytest.param(1000, 1e-6, [], False, id="large and good enough"),
        pytest.param(1000, 2e-6, [16, 64, 256], False, id="large and not good enough"),
        pytest.param(256, 0.5, [16, 64, 256], True, id="all contacts in the last round"),
        pytest.param(257, 0.5, [16, 64, 256], False, id="all but one"),
        pytest.param(16, 0.5, [16], True, id="all contacts in the first round"),
    ],
)
def test_rounds_of_the_search(contacts: int, share: float, rounds: list[int], proven: bool) -> None:
    """Contacts of unlike sizes, whose loss is below the gap."""
    sizes = np.arange(1, contacts + 1)[:, None]
    problem = make_problem(np.full((contacts, 1), 0.25), sizes, contacts, None)
    prices = Selection(0.0, 0.25, np.zeros(0, np.int8), 0, 0, 1.0)
    with (
        mock.patch.object(core, "_gap", return_value=share * prices.bound),
        mock.patch.object(core, "_go_through", return_value=True) as gone,
    ):
        found = improve(problem, np.full(contacts, -1, np.int8), prices)
    assert [len(call.args[5]) for call in gone.call_args_list] == rounds
    assert found.proven is proven


def test_of_many_contacts_those_with_the_smallest_loss_are_looked_at() -> None:
    apart = np.arange(30_000, dtype=float)[::-1].copy()
    assert core._nearest(apart, np.arange(30_000)).tolist() == list(range(29_999, 9_999, -1))


@given(problems())
def test_an_equal_choice_replaces_nothing(problem: Problem) -> None:
    """Where the present choice is best, it stays, whatever else is worth as much."""
    columns = np.stack(problem.worth, axis=1), np.stack(problem.size, axis=1).astype(np.int64)
    made = make_problem(*columns, problem.capacity, None)
    prices = relax(made)
    best = improve(made, mixture(made, prices), prices.best)
    again = improve(made, best.level, prices.best)
    assert best.proven
    assert (again.level.tolist(), again.proven) == (best.level.tolist(), True)


@given(problems(), st.data())
def test_changes_from_the_lean_to_the_rich_come_closest_to_the_capacity(problem: Problem, data: st.DataObject) -> None:
    """In order of position; who leaves does so with one who enters."""
    levels = st.lists(st.integers(-1, len(problem.worth) - 1), min_size=len(problem), max_size=len(problem))
    lean, rich = (np.array(data.draw(levels), np.int8) for _ in range(2))

    def size_of(contact: int, level: int) -> float:
        return 0.0 if level < 0 else float(problem.size[level][contact])

    size = int(sum(size_of(contact, level) for contact, level in enumerate(lean.tolist())))
    leaving = [one for one in range(len(lean)) if lean[one] >= 0 > rich[one]]
    steps, level = [lean.tolist()], lean.tolist()
    for contact in range(len(lean)):
        if rich[contact] >= 0 and rich[contact] != lean[contact]:
            level = level.copy()
            level[contact] = int(rich[contact])
            if lean[contact] < 0 and leaving:
                level[leaving.pop(0)] = -1
            steps.append(level)
    sums = [sum(size_of(contact, one) for contact, one in enumerate(step)) for step in steps]
    fitting = [total if total - size <= problem.capacity - size else -np.inf for total in sums]
    expected = steps[int(np.argmax(fitting))]
    selections = [Selection(0.0, 0.0, one, size, 0, 0.0) for one in (lean, rich)]
    assert mixture(problem, Relaxation(selections[0], selections[1], selections[0])).tolist() == expected
    assert mixture(problem, Relaxation(selections[0], None, selections[0])) is lean


@given(problems())
def test_the_dearest_option(problem: Problem) -> None:
    ratios = [
        worth / size
        for columns in zip(problem.worth, problem.size, strict=True)
        for worth, size in zip(*columns, strict=True)
        if size
    ]
    assert relaxation._dearest(problem) == max(ratios, default=0.0)


@given(
    st.lists(st.tuples(QUARTERS, QUARTERS), min_size=1, max_size=6),
    st.integers(0, 30),
    st.none() | st.integers(0, 7),
    st.data(),
)
def test_a_problem_of_worths_and_sizes(
    worths: list[tuple[float, float]], capacity: int, limit: int | None, data: st.DataObject
) -> None:
    step = data.draw(st.sampled_from([1, 2, 3]))
    pairs = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), min_size=len(worths), max_size=len(worths))
    sizes = np.array(data.draw(pairs)) * step
    problem = make_problem(np.array(worths), sizes, capacity, limit)
    common = int(np.gcd.reduce(sizes.reshape(-1))) or 1
    assert problem.capacity == capacity // common * common
    worth = np.where(sizes <= problem.capacity, np.array(worths), -np.inf)
    assert np.array_equal(np.stack(problem.worth, axis=1), worth)
    assert np.array_equal(np.stack(problem.size, axis=1), sizes)
    smallest = sorted(
        min(own)
        for row in zip(worth, sizes, strict=True)
        if (own := [size for gain, size in zip(*row, strict=True) if gain > 0])
    )
    most = sum(int(total) <= problem.capacity for total in itertools.accumulate(smallest))
    assert problem.limited is (limit is not None and limit < most)
    assert problem.record_limit == (limit if problem.limited else most)
    assert knapsack._rounding(problem, 3.0) == 64 * 2.0**-52 * (sum(max(0.0, *row) for row in worth.tolist()) + 3.0)


@given(chosen(), st.integers(0, 8))
def test_who_has_a_better_option_for_so_many_bytes(both: tuple[Problem, np.ndarray], room: int) -> None:
    problem, level = both
    expected = []
    for contact, taken in enumerate(level.tolist()):
        every = options(problem, contact, 0.0)
        worth, size = (0.0, 0.0) if taken < 0 else every[taken][:2]
        if any(gain > worth and more - size <= room for gain, more, _ in every):
            expected.append(contact)
    assert knapsack._nearly(problem, level, room).tolist() == expected


@given(chosen(), st.none() | st.integers(0, 7), st.data())
def test_what_is_left_is_filled_in_line(both: tuple[Problem, np.ndarray], limit: int | None, data: st.DataObject) -> None:
    """Who is out gets in at the smallest size, of equal ones the leanest level; then those without worth get richer."""
    problem, level = both
    worth, sizes = np.stack(problem.worth, axis=1), np.stack(problem.size, axis=1).astype(np.int64)
    worth[data.draw(st.lists(st.booleans(), min_size=len(level), max_size=len(level)))] = 0.0
    line = np.array(data.draw(st.permutations(range(len(level)))))
    room = problem.capacity - sum(int(sizes[contact, taken]) for contact, taken in enumerate(level.tolist()) if taken >= 0)
    places = len(level) if limit is None else limit - int((level >= 0).sum())
    expected = level.tolist()
    for contact in line.tolist():
        least = int(sizes[contact].min())
        if expected[contact] < 0 and least <= room and places > 0:
            expected[contact] = max(np.flatnonzero(sizes[contact] == least).tolist())
            room, places = room - least, places - 1
    for richest in range(sizes.shape[1]):
        for contact in line.tolist():
            taken = expected[contact]
            if (
                taken > richest
                and not worth[contact].any()
                and (more := int(sizes[contact, richest] - sizes[contact, taken])) <= room
            ):
                expected[contact] = richest
                room -= more
    found = level.copy()
    fill_up(sizes, found, problem.capacity, limit, line, worth)
    assert found.tolist() == expected
    assert worth_of(worth, found) == sum(float(worth[one, taken]) for one, taken in enumerate(expected) if taken >= 0)


def passes_of(contacts: int, kind: str, share: float, limit: float | None, guess: float = 0.0) -> int:
    """How often all contacts are looked at until the price is found."""
    worth, sizes = make_instance(contacts, kind, 7)
    problem = make_problem(worth, sizes, int(sizes[:, 0].sum() * share), None if limit is None else int(contacts * limit))
    with mock.patch.object(relaxation, "select", side_effect=select) as looked:
        relax(problem, guess)
    return sum(len(call.args[0]) == contacts for call in looked.call_args_list)


def states_of(instance: tuple[np.ndarray, np.ndarray, int, int | None]) -> tuple[int, int]:
    """Contacts that are gone through, and how many states are compared for them."""
    with mock.patch.object(core, "_undominated", side_effect=core._undominated) as compared:
        choose_levels(*instance)
    return compared.call_count, sum(len(call.args[0]) for call in compared.call_args_list)


def near_ties(seed: int) -> tuple[np.ndarray, np.ndarray, int, int | None]:
    """Worth close to size; with a limit of records for every other seed."""
    random = np.random.default_rng(seed)
    sizes = np.sort(random.integers(5, 40, (24, 3)), axis=1)[:, ::-1].copy()
    worth = sizes + random.integers(0, 12, (24, 3)) / 4
    return worth, sizes, int(random.integers(80, 260)), int(random.integers(4, 10)) if seed % 2 else None


@pytest.mark.parametrize(
    ("contacts", "kind", "share", "limit", "passes"),
    [
        (40, "different", 0.02, None, 6),
        (40, "different", 0.3, None, 12),
        (40, "ties", 0.3, None, 10),
        (40, "zeros", 0.3, None, 1),
        (500, "different", 0.02, None, 13),
        (500, "different", 0.3, None, 15),
        (500, "different", 0.3, 0.2, 1),
        (500, "ties", 0.3, None, 9),
        (20_000, "different", 0.02, None, 7),
        (20_000, "different", 0.3, None, 6),
        (20_000, "ties", 0.02, None, 9),
        (20_000, "ties", 0.3, None, 3),
        (20_000, "zeros", 0.02, None, 9),
    ],
)
def test_how_often_all_contacts_are_looked_at(contacts: int, kind: str, share: float, limit: float | None, passes: int) -> None:
    """From 20,000 contacts on a sample tells where to begin."""
    assert passes_of(contacts, kind, share, limit) == passes


@pytest.mark.parametrize(
    ("guess", "passes"), [(1e-6, 25), (1e-4, 24), (0.002, 16), (0.005, 16), (0.008, 17), (0.02, 20), (1.0, 25), (1000.0, 26)]
)
def test_a_guess_is_widened_until_it_encloses_the_price(guess: float, passes: int) -> None:
    """The price is 0.003."""
    assert passes_of(500, "different", 0.3, None, guess) == passes


@pytest.mark.parametrize(
    ("seed", "contacts", "states"),
    [(0, 21, 2348), (1, 16, 17370), (3, 31, 18704), (4, 21, 2371), (5, 0, 0), (7, 21, 15851), (9, 25, 10790)],
)
def test_how_many_states_are_compared(seed: int, contacts: int, states: int) -> None:
    assert states_of(near_ties(seed)) == (contacts, states)


@pytest.mark.parametrize(("seed", "contacts", "states"), [(0, 16, 2348), (1, 96, 2569)])
def test_how_many_states_of_a_large_choice_are_compared(seed: int, contacts: int, states: int) -> None:
    worth, sizes = make_instance(1200, KINDS[seed], seed)
    assert states_of((worth, sizes, int(sizes[:, 0].sum() * 0.2), None)) == (contacts, states)
