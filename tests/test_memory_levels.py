"""Levels of detail under a limit of bytes: by rule order as brute force finds them, by coverage under exact packing."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from memory_pages import laid_out

from benchmarks.knapsack import KINDS, make_instance
from pruner.choose.levels import best_coverage, level_per_rule, one_level
from pruner.choose.memory import MemoryModel, total_bytes


class Situation:
    """A few contacts with sizes that never grow towards the leanest level, some of them in line."""

    def __init__(self, draw: st.DrawFn, most: int, levels: int) -> None:
        contacts = draw(st.integers(0, most))
        steps = st.lists(st.integers(0, 9), min_size=levels, max_size=levels)
        rows = [np.cumsum(draw(steps))[::-1] for _ in range(contacts)]
        self.sizes = np.array(rows, dtype=np.int64).reshape(contacts, levels)
        self.order = list(draw(st.permutations(range(contacts))))[: draw(st.integers(0, most))]
        self.key = list(draw(st.permutations(range(contacts))))
        longest = int(self.sizes.max(initial=1))
        page = draw(st.none() | st.integers(longest, longest + 30))
        self.model = MemoryModel((), draw(st.integers(0, 20)), 0, draw(st.integers(0, 3)), page)
        self.limit_bytes = draw(st.integers(0, 260))
        self.limit_records = draw(st.none() | st.integers(0, most))

    def bytes(self, levels: dict[int, int]) -> int:
        """All contacts at their levels, laid out in written order."""
        inside = sorted(levels, key=lambda position: self.key[position])
        return laid_out(self.model, [int(self.sizes[position, levels[position]]) for position in inside])

    def leanest_with_cut(self) -> dict[int, int]:
        queue = self.order[: self.limit_records]
        leanest = self.sizes.shape[1] - 1
        fitting = [
            count for count in range(len(queue) + 1) if self.bytes(dict.fromkeys(queue[:count], leanest)) <= self.limit_bytes
        ]
        return dict.fromkeys(queue[: max(fitting, default=0)], leanest)


situations = st.composite(lambda draw: Situation(draw, most=12, levels=3))()


def chosen(level: np.ndarray) -> dict[int, int]:
    return {position: int(level[position]) for position in np.flatnonzero(level >= 0).tolist()}


@draws(200)
@given(situations)
def test_one_level_for_all(case: Situation) -> None:
    queue = case.order[: case.limit_records]
    expected = case.leanest_with_cut()
    for level in range(3):
        if case.bytes(dict.fromkeys(queue, level)) <= case.limit_bytes:
            expected = dict.fromkeys(queue, level)
            break
    order, key = np.array(case.order, dtype=np.int64), np.array(case.key, dtype=np.int64)
    detail = one_level(case.model, case.sizes, order, key, case.limit_bytes, case.limit_records)
    assert chosen(detail.level) == expected
    assert detail.kept == len(expected)


@draws(200)
@given(situations, st.lists(st.integers(0, 12), min_size=0, max_size=3))
def test_levels_per_rule_are_the_first_that_let_all_in(case: Situation, cuts: list[int]) -> None:
    """Brute force: all levels for all rules, richest first in the first rule, then in the second, and so on."""
    edges = [0, *sorted(min(cut, len(case.order)) for cut in cuts), len(case.order)]
    queues = [case.order[start:end] for start, end in itertools.pairwise(edges)]
    inside = set(case.order[: case.limit_records])
    expected = case.leanest_with_cut()
    for levels in itertools.product(range(3), repeat=len(queues)):
        tried = {contact: level for level, queue in zip(levels, queues, strict=True) for contact in queue if contact in inside}
        if case.bytes(tried) <= case.limit_bytes:
            expected = tried
            break
    arrays = [np.array(queue, dtype=np.int64) for queue in queues]
    key = np.array(case.key, dtype=np.int64)
    detail = level_per_rule(case.model, case.sizes, arrays, key, case.limit_bytes, case.limit_records)
    assert chosen(detail.level) == expected
    assert detail.kept == len(expected)


small = st.composite(lambda draw: Situation(draw, most=6, levels=2))()


@draws(250)
@given(small, st.lists(st.lists(st.integers(0, 20), min_size=2, max_size=2), min_size=6, max_size=6))
def test_best_coverage_keeps_limits_and_leaves_nobody_out_who_fits(case: Situation, quarters: list[list[int]]) -> None:
    worth = np.array(quarters[: len(case.sizes)], dtype=np.float64).reshape(-1, 2) / 4
    order, key = np.array(case.order, dtype=np.int64), np.array(case.key, dtype=np.int64)
    choice = best_coverage(case.model, worth, case.sizes, order, key, case.limit_bytes, case.limit_records)
    inside = chosen(choice.level)
    assert set(inside) <= set(case.order)
    assert not inside or case.bytes(inside) <= case.limit_bytes
    assert case.limit_records is None or len(inside) <= case.limit_records
    assert choice.value == sum(worth[contact, level] for contact, level in inside.items())
    room = case.limit_records is None or len(inside) < case.limit_records
    for contact in set(case.order) - set(inside) if room else ():
        assert all(case.bytes({**inside, contact: level}) > case.limit_bytes for level in range(2))
    options = itertools.product(range(-1, 2), repeat=len(case.order))
    best = 0.0
    for levels in options:
        tried = {contact: level for contact, level in zip(case.order, levels, strict=True) if level >= 0}
        fits = case.bytes(tried) <= case.limit_bytes and (case.limit_records is None or len(tried) <= case.limit_records)
        best = max(best, sum(worth[contact, level] for contact, level in tried.items())) if fits else best
    assert choice.upper_bound >= best
    if case.model.page is None:
        assert choice.value == best


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("share", [0.05, 0.5])
def test_many_contacts_on_pages(kind: str, share: float) -> None:
    """Exact packing on 2 KiB pages with index entries: never over; the bound holds; no worse than with a safe margin."""
    worth, sizes = make_instance(10_000, kind, 2)
    model = MemoryModel((), header=64, index=4, page=2048)
    order = np.random.default_rng(1).permutation(len(worth))
    key = np.arange(len(worth))
    limit_bytes = int(sizes[:, 0].sum() * share)
    choice = best_coverage(model, worth, sizes, order, key, limit_bytes)
    kept = np.flatnonzero(choice.level >= 0)
    laid = sizes[kept, choice.level[kept]]
    used = total_bytes(model, laid)
    assert used == laid_out(model, laid.tolist())
    assert limit_bytes - 2 * 2048 < used <= limit_bytes
    out = np.flatnonzero(choice.level < 0)
    for contact in out[np.argsort(sizes[out, -1], kind="stable")][:60].tolist():
        place = int(np.searchsorted(kept, contact))
        assert laid_out(model, [*laid[:place].tolist(), int(sizes[contact].min()), *laid[place:].tolist()]) > limit_bytes
    without_pages = best_coverage(MemoryModel((), header=64, index=4), worth, sizes, order, key, limit_bytes)
    assert without_pages.gap <= 1e-4
    assert choice.value <= without_pages.value * (1 + 1e-12)
    assert without_pages.value <= choice.upper_bound * (1 + 1e-12)
    # With that much less, any choice fits: no page but the last leaves room for the largest record.
    safe = limit_bytes - (limit_bytes // 2048 + 1) * int(sizes.max()) - 2048
    assert choice.value >= best_coverage(MemoryModel((), header=64, index=4), worth, sizes, order, key, safe).value
    again = best_coverage(model, worth, sizes, order, key, limit_bytes)
    assert again.level.tobytes() == choice.level.tobytes()


def test_a_header_that_fills_the_memory() -> None:
    worth, sizes = make_instance(5, "different")
    for page in (None, 256):
        choice = best_coverage(MemoryModel((), header=100, page=page), worth, sizes, np.arange(5), np.arange(5), 99)
        assert (choice.level.tolist(), choice.value) == ([-1] * 5, 0.0)


def test_records_of_no_bytes_on_a_page_that_is_not_there() -> None:
    sizes = np.zeros((3, 2), dtype=np.int64)
    choice = best_coverage(MemoryModel((), page=9), np.ones((3, 2)), sizes, np.arange(3), np.arange(3), 8)
    assert choice.level.tolist() == [-1, -1, -1]
