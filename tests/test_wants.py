"""What rules ask for as a directory grows, against sums made by hand and a search one station at a time."""

from __future__ import annotations

import math

import pytest
from draws import draws
from history_samples import summary
from hypothesis import given
from hypothesis import strategies as st

from pruner.account.summary import RuleCount
from pruner.history.wants import Owned, Want, asked_for, outgrown_at, parts_in, parts_of, wants_of

PARTS = st.lists(st.tuples(st.integers(0, 60), st.none() | st.integers(0, 80)), min_size=1, max_size=4)


def test_by_hand() -> None:
    """Of 1,000 stations: 10 of a list, 200 of the home country, 100 at most of 400 neighbours, 60 at most of 30 others. At
    1,500 stations these ask for 10 + 300 + 100 + 45, at 2,000 for 10 + 400 + 100 + 60, at 3,000 for 10 + 600 + 100 + 60."""
    rules = [Owned(10, grows=False), Owned(200), Owned(400, 100), Owned(30, 60)]
    parts = parts_of(rules, 10 + 200 + 100 + 30)
    wants = wants_of(parts, 1000)
    assert asked_for(wants, 1000) == pytest.approx(340)
    assert asked_for(wants, 1500) == pytest.approx(455)
    assert asked_for(wants, 3000) == pytest.approx(770)
    assert outgrown_at(wants, 570) == pytest.approx(2000)
    assert outgrown_at(wants, 575) == pytest.approx(2025)


def test_where_rules_end_a_radio_never_fills() -> None:
    wants = wants_of(parts_of([Owned(10, grows=False), Owned(400, 100)], 110), 1000)
    assert outgrown_at(wants, 110) == math.inf
    assert outgrown_at(wants, 109) == pytest.approx(99 / 0.4), "those of the list are as many in a small directory"
    assert outgrown_at(wants, 9) == 0.0
    assert outgrown_at((), 0) == math.inf
    assert outgrown_at((Want(0.0),), 0) == math.inf


def test_who_bears_a_call_sign_again_is_not_asked_for() -> None:
    """Two rules own 80 and 20 contacts, of whom 15 bear the call sign of another one and are not asked for."""
    assert parts_of([Owned(80), Owned(20)], 85) == [(85.0, None)]
    assert parts_of([], 85) == [(85, None)]


def test_of_a_finished_fit() -> None:
    """A rule that names stations, one that is full, one that takes all that come."""
    rules = (
        RuleCount(name="club", order="id", matched=5, owned=5, kept=5, grows=False),
        RuleCount(name="near", order="id", at_most=40, matched=90, owned=90, kept=40),
        RuleCount(name="rest", order="id", matched=300, owned=205, kept=15),
    )
    told = summary(250, limit=60).model_copy(update={"rules": rules})
    assert parts_in(told) == [(205, None), (90, 40), (5, 5)]
    assert parts_in(summary(250, limit=60)) == [(250, None)]


@draws(50)
@given(PARTS, st.integers(0, 200))
def test_the_limit_is_passed_where_a_search_finds_it(parts: list[tuple[int, int | None]], contacts: int) -> None:
    """The first whole directory above the one found asks for more; the one found, and smaller ones, do not."""
    wants = wants_of(parts, 100)
    found = outgrown_at(wants, contacts)
    over = [size for size in range(20_001) if asked_for(wants, size) > contacts + 1e-9]
    if math.isinf(found):
        assert not over
        return
    if asked_for(wants, 0) > contacts:
        assert (found, len(over)) == (0.0, 20_001)
        return
    assert asked_for(wants, found) == pytest.approx(contacts)
    first = math.floor(found + 1e-6) + 1
    assert over[:1] == ([first] if first <= 20_000 else [])
    assert over == list(range(first, 20_001))
