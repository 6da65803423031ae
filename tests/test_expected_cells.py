"""Cells of contacts: by their definition contact by contact, and run by run the same."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.alike import Traits
from pruner.calls.cells import Day, day_of, sizes_of
from pruner.calls.rates import Rates
from pruner.calls.stations import CallingDays
from pruner.calls.strangers import _counts, _rates_of_all
from pruner.words.dense import dense

CUT, SPAN = 100, 28


class Case:
    """Contacts drawn by a seed, in the order of their ids or (`shuffled`) in any."""

    def __init__(self, seed: int, shuffled: bool) -> None:
        random = np.random.default_rng(seed)
        count = int(random.integers(1, 400))
        number = np.sort(random.choice(100_000, count, replace=False) + 1).astype(np.uint32)
        if shuffled:
            random.shuffle(number)
        self.traits = Traits(
            number,
            random.integers(1, random.integers(2, 4), count).astype(np.uint8),
            (random.random(count) < 0.1).astype(np.uint8),
            None if random.random() < 0.2 else random.integers(-1, random.integers(0, 4), count),
            None if random.random() < 0.2 else random.integers(-1, random.integers(0, 4), count),
            None if random.random() < 0.2 else random.integers(-1, random.integers(0, count), count),
        )
        called = random.random(count) < random.random() * 0.6
        # Ids are heard in rising order, so that some contacts do not stand in the directory at the cut.
        self.first = np.where(called, np.minimum(number // 600 + random.integers(0, 40, count), CUT + SPAN + 20), 10_000)
        ids = np.sort(random.choice(number, random.integers(0, count + 1))).astype(np.int64)
        elsewhere = np.unique(np.stack([ids, random.integers(0, CUT + SPAN, len(ids))]), axis=1)
        amount = random.geometric(0.1, elsewhere.shape[1])
        self.elsewhere = None if random.random() < 0.2 else CallingDays(*elsewhere, amount)

    @property
    def day(self) -> Day:
        return day_of(self.traits, self.first, self.elsewhere, CUT)


@draws(60)
@given(st.integers(0, 2**31), st.booleans())
def test_cells_are_what_a_plain_walk_finds(seed: int, shuffled: bool) -> None:
    """By the words of DEVELOPERS.md: who was heard elsewhere, whose call sign was, and the place of the id."""
    case = Case(seed, shuffled)
    traits, day = case.traits, case.day
    cells, count = day.cells(np.arange(len(traits.number))), len(traits.number)
    stood = day.stood(np.arange(count))
    calls: dict[int, list[tuple[int, int]]] = defaultdict(list)
    if case.elsewhere is not None:
        for one, on, amount in zip(
            *(c.tolist() for c in (case.elsewhere.id, case.elsewhere.day, case.elsewhere.calls)), strict=True
        ):
            if on <= CUT:
                calls[one].append((on, amount))
    heard = [case.first[at] <= CUT for at in range(count)]
    for at, number in enumerate(traits.number.tolist()):
        own = calls[number]
        lately = sum(CUT - max(on for on, _ in own) > bound for bound in (28, 90)) if own else 0
        often = 2 - sum(sum(amount for _, amount in own) > bound for bound in (5, 30)) if own else 0
        elsewhere = 1 + 3 * lately + often if own else 0
        others = [
            2 if heard[other] else 1 if calls[int(traits.number[other])] else 0
            for other in range(count)
            if traits.person is not None and other != at and traits.person[other] == traits.person[at] >= 0
        ]
        assert cells["stratum"][at] == elsewhere * 3 + max(others, default=0)
        group = (traits.country == traits.country[at]) & (traits.kind == traits.kind[at])
        known = [int(traits.number[o]) for o in np.flatnonzero(group) if heard[o] or calls[int(traits.number[o])]]
        assert stood[at] == (len(known) < 20 or number <= max(known))
        for name, of_group in (
            ("country", group),
            ("state", group & (True if traits.state is None else traits.state == traits.state[at])),
        ):
            smaller, there = int((of_group & (traits.number < number)).sum()), max(int((of_group & stood).sum()), 1)
            assert cells[f"age in {name}"][at] % 8 == min(smaller * 8 // there, 7)
        newer = max(there - smaller, 1)
        assert cells["newest"][at] == sum(newer * 2**band <= there for band in range(1, 8))
        assert cells["newest by elsewhere"][at] == cells["newest"][at] * 4 + (1 + lately if own else 0)
    for name, size in sizes_of(traits).items():
        assert cells[name].min() >= 0
        assert cells[name].max() < size


@draws(100)
@given(st.integers(0, 2**31), st.booleans(), st.booleans())
def test_runs_hold_contacts_with_equal_cells_only(seed: int, shuffled: bool, halved: bool) -> None:
    case = Case(seed, shuffled)
    day, groups = case.day, case.traits.alike_halved if halved else case.traits.alike
    begins = day.runs(groups)
    run = np.repeat(np.arange(len(begins)), np.diff(begins, append=len(groups.order)))
    each, once = day.cells(groups.order, unheard=True), day.cells(groups.order[begins], unheard=True)
    for name, cell in each.items():
        assert (once[name][run] == cell).all(), name
    assert (day.stood(groups.order[begins])[run] == day.stood(groups.order)).all()


@draws(100)
@given(st.integers(0, 2**31), st.booleans(), st.booleans())
def test_events_and_exposure_are_those_counted_contact_by_contact(seed: int, shuffled: bool, halved: bool) -> None:
    case = Case(seed, shuffled)
    day = case.day
    counts = _counts(day, case.first, CUT, CUT + SPAN, halved=halved)
    everybody = np.arange(len(case.first))
    risk = everybody[(case.first > CUT) & day.stood(everybody)]
    cells, called = day.cells(risk), case.first[risk] <= CUT + SPAN
    for name in cells:
        size = sizes_of(case.traits)[name]
        for of_rows, of_contacts in ((counts.exposure, np.ones(len(risk))), (counts.events, called)):
            plain = np.bincount(cells[name], weights=of_contacts, minlength=size)
            assert (np.bincount(counts.cells[name], weights=of_rows, minlength=size) == plain).all(), name
    if len(counts.events):
        rows = np.stack([cell for name, cell in sorted(counts.cells.items())])
        assert len(np.unique(rows, axis=1).T) == rows.shape[1], "rows with all cells alike are one"


@draws(60)
@given(st.integers(0, 2**31), st.booleans())
def test_rates_run_by_run_are_those_of_every_contact(seed: int, shuffled: bool) -> None:
    case = Case(seed, shuffled)
    day, random = case.day, np.random.default_rng(seed)
    sizes = sizes_of(case.traits)
    names = random.choice(sorted(set(sizes) & set(day.cells(np.arange(1)))), 3, replace=False).tolist()
    rates = Rates(0.1, tuple((name, random.gamma(1.0, size=sizes[name])) for name in names))
    assert (_rates_of_all(day, rates) == rates.of(day.cells(np.arange(len(case.first))))).all()


@draws(60)
@given(st.lists(st.integers(0, 10**9), max_size=30))
def test_dense_numbers_stand_in_the_order_of_their_keys(keys: list[int]) -> None:
    """Narrow and wide keys alike."""
    for several in (keys, [key % 100 for key in keys]):
        ordered = sorted(set(several))
        assert dense(np.array(several, dtype=np.int64)).tolist() == [ordered.index(key) for key in several]
