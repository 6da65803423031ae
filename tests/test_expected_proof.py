"""The proof: the same as a plain walk over days and calls, and no order sees what it is scored on."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.proof import BEST, FEWEST_WEEKS, Proof, Ranking, cut_days, prove

FIRST = 20_000
Call = tuple[int, int, int, int]  # id, talkgroup, day, calls


def frame(calls: list[Call]) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "id": pl.Series([one[0] for one in calls], dtype=pl.UInt32),
            "talkgroup": pl.Series([one[1] for one in calls], dtype=pl.UInt32),
            "day": pl.Series([date(1970, 1, 1) + timedelta(days=one[2]) for one in calls], dtype=pl.Date),
            "calls": pl.Series([one[3] for one in calls], dtype=pl.UInt32),
        }
    )


def fixed(order: list[int]) -> Ranking:
    return lambda before, cut: np.array(order, dtype=np.int64)


calls_of = st.lists(
    st.tuples(st.integers(1, 12), st.sampled_from([1, 91]), st.integers(FIRST, FIRST + 40), st.integers(1, 9)),
    min_size=1,
    max_size=60,
    unique_by=lambda one: one[:3],
)


@draws(60)
@given(
    calls_of,
    st.permutations(range(8)),
    st.integers(0, 8),
    st.lists(st.integers(1, 12), min_size=1, max_size=4),
    st.integers(3, 15),
    st.integers(1, 3),
)
def test_same_as_a_plain_walk(
    calls: list[Call], order: list[int], ranked: int, limits: list[int], period: int, cuts: int
) -> None:
    """Contacts are ids 3 to 10; 1, 2, 11 and 12 are strangers; an order may leave contacts out."""
    numbers = np.arange(3, 11, dtype=np.uint32)
    chosen = order[:ranked]
    days = cut_days(FIRST, FIRST + 40, cuts, period)
    inside = [[one for one in calls if cut < one[2] <= cut + period] for cut in days]
    total = sum(one[3] for part in inside for one in part)
    if not total:
        with pytest.raises(ValueError, match="no call"):
            prove(frame(calls), numbers, {"some": fixed(chosen)}, limits=limits, cuts=days, period_days=period)
        return
    proof = prove(frame(calls), numbers, {"some": fixed(chosen)}, limits=limits, cuts=days, period_days=period)
    assert proof.limits == tuple(sorted(set(limits)))
    assert proof.calls == total
    for place, limit in enumerate(proof.limits):
        kept = {3 + contact for contact in chosen[:limit]}
        covered = sum(one[3] for part in inside for one in part if one[0] in kept)
        assert proof.coverage["some"][place].value == pytest.approx(covered / total)
        best = 0
        for part in inside:
            by_id = [sum(one[3] for one in part if one[0] == number) for number in range(3, 11)]
            best += sum(sorted(by_id, reverse=True)[:limit])
        assert proof.coverage[BEST][place].value == pytest.approx(best / total)


def test_orders_see_nothing_after_the_cut() -> None:
    calls = [(number, 1, FIRST + day, 1) for number in (3, 4) for day in range(40)]
    seen = []

    def looks(before: pl.DataFrame, cut: int) -> np.ndarray:  # type: ignore[type-arg]
        seen.append((cut, int(before["day"].to_physical().max())))  # type: ignore[arg-type]
        return np.array([0, 1])

    days = cut_days(FIRST, FIRST + 39, 3, 10)
    prove(frame(calls), np.array([3, 4], dtype=np.uint32), {"looks": looks}, limits=[1], cuts=days, period_days=10)
    assert seen == [(cut, cut) for cut in days]
    assert days == (FIRST + 29, FIRST + 19, FIRST + 9)


def test_contacts_that_may_not_be_chosen_are_not_in_the_best() -> None:
    calls = [(3, 1, FIRST + 8, 5), (4, 1, FIRST + 8, 3), (99, 1, FIRST + 8, 2)]
    proof = prove(
        frame(calls),
        np.array([3, 4], dtype=np.uint32),
        {"all": fixed([1])},
        limits=[1, 2],
        cuts=[FIRST + 7],
        period_days=7,
        allowed=lambda cut: np.array([False, True]),
    )
    assert [one.value for one in proof.coverage[BEST]] == [0.3, 0.3]
    assert (proof.known, proof.calls) == (3, 10)


@pytest.mark.parametrize(
    ("days", "cuts", "period", "expected"),
    [(56, 4, 28, 1), (55, 4, 28, 0), (84, 4, 28, 2), (400, 4, 28, 4), (10, 1, 5, 1), (1, 3, 1, 0)],
)
def test_a_period_lies_before_every_cut(days: int, cuts: int, period: int, expected: int) -> None:
    found = cut_days(FIRST, FIRST + days - 1, cuts, period)
    assert len(found) == expected
    assert all(cut - FIRST + 1 >= period for cut in found)
    if found:
        assert found[0] + period == FIRST + days - 1


def weekly(shares: list[int]) -> Proof:
    """Ten calls a week, of which so many come from the contact that is kept."""
    calls = []
    for week, share in enumerate(shares):
        calls += [(3, 1, FIRST + 8 + 7 * week, share), (4, 1, FIRST + 8 + 7 * week, 10 - share)]
    rows = frame([one for one in calls if one[3]])
    numbers = np.array([3, 4], dtype=np.uint32)
    orders = {"one": fixed([0, 1]), "other": fixed([1, 0])}
    return prove(rows, numbers, orders, limits=[1, 2], cuts=[FIRST + 7], period_days=7 * len(shares))


def test_interval_comes_from_weeks() -> None:
    """The bootstrap's standard error of a mean is s / sqrt(n) with s over n (Efron, Tibshirani 1993, chapter 5)."""
    shares = [5, 6, 7, 8, 5, 6, 7, 8, 5, 6, 7, 8, 5, 6, 7, 8]
    proof = weekly(shares)
    estimate = proof.coverage["one"][0]
    error = float(np.std(shares)) / 10 / np.sqrt(len(shares))
    assert estimate.value == pytest.approx(0.65)
    assert estimate.low == pytest.approx(0.65 - 1.96 * error, abs=0.01)
    assert estimate.high == pytest.approx(0.65 + 1.96 * error, abs=0.01)
    assert weekly(shares) == proof
    always = proof.coverage["one"][1]
    assert (always.value, always.low, always.high) == (1.0, 1.0, 1.0)


def test_leads_are_paired() -> None:
    """Weeks that are good for both orders do not blur the difference between them."""
    proof = weekly([6] * 12)
    lead = proof.lead["one", "other"][0]
    assert (lead.value, lead.low, lead.high) == pytest.approx((0.2, 0.2, 0.2))
    assert proof.lead["other", "one"][0].value == pytest.approx(-0.2)


def test_few_weeks_give_no_interval() -> None:
    few, enough = weekly([5] * (FEWEST_WEEKS - 1)), weekly([5] * FEWEST_WEEKS)
    assert few.coverage["one"][0].low is None
    assert enough.coverage["one"][0].low is not None
