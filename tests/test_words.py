"""Numbers with their nouns."""

from __future__ import annotations

import pytest

from pruner.words.nouns import counted, last_days, next_days


@pytest.mark.parametrize(("count", "text"), [(0, "0 contacts"), (1, "1 contact"), (2, "2 contacts"), (1234, "1,234 contacts")])
def test_one_is_singular(count: int, text: str) -> None:
    assert counted(count, "contact") == text


def test_other_plurals_are_told() -> None:
    assert (counted(1, "week is", "weeks are"), counted(3, "week is", "weeks are")) == ("1 week is", "3 weeks are")


def test_days_that_have_gone_and_that_come() -> None:
    assert (last_days(1), last_days(90)) == ("the last day", "the last 90 days")
    assert (next_days(1), next_days(1234)) == ("the next day", "the next 1,234 days")
