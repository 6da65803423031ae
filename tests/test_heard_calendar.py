"""Which days a log covers: stray days and silent runs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.calendar import Calendar, calendar_of

#: A Monday.
START = 19_723


def steady(days: int, calls: int = 1000) -> dict[int, int]:
    return {START + day: calls for day in range(days)}


def test_one_false_clock_is_left_out_and_today_is_the_day_before_it() -> None:
    calls = steady(60) | {START + 300: 1, START - 2000: 3}
    found = calendar_of(calls)
    assert found.strays == (START - 2000, START + 300)
    assert (found.last_day, len(found.days)) == (START + 59, 60)
    assert found.notes()[0].startswith("The logs cover 60 days, 2024-01-01 to 2024-02-29: ")
    assert "2 days have far fewer calls than usual" in found.notes()[1]


def test_the_day_of_a_restart_and_the_silence_before_it() -> None:
    """Ten days without a log, then a day with three calls: the gap is silent, that day is stray."""
    calls = steady(40) | {START + 50: 3} | {START + day: 1000 for day in range(51, 80)}
    found = calendar_of(calls)
    assert found.silent == ((START + 40, START + 50),)
    assert found.strays == (START + 50,)
    assert len(found.days) == 40 + 29
    assert found.counted(found.days).tolist() == list(range(START + 11, START + 80))
    assert [found.real(int(day)) for day in found.counted(found.days)] == found.days.tolist()


def test_a_log_of_mondays_keeps_its_other_days() -> None:
    calls = {START + 7 * week: 500 for week in range(20)}
    found = calendar_of(calls)
    assert (found.strays, found.silent) == ((), ())
    assert len(found.days) == 19 * 7 + 1


def test_a_log_of_mondays_loses_whole_weeks_only() -> None:
    """Weeks 5 to 7 are missing: 27 days lie between the Mondays of weeks 4 and 8, three weeks of which are taken out."""
    calls = {START + 7 * week: 500 for week in range(20) if week not in (5, 6, 7)}
    found = calendar_of(calls)
    assert found.silent == ((START + 29, START + 49),)


def test_a_quiet_log_loses_nothing() -> None:
    """Three calls a day: under 30 in a gap of nine days, nothing can be said."""
    calls = {START + day: 3 for day in range(60) if not 20 <= day < 29}
    found = calendar_of(calls)
    assert (found.strays, found.silent, len(found.days)) == ((), (), 60)


def test_a_busy_weekend_and_a_quiet_weekday_stay() -> None:
    """Ten times the calls at weekends; Mondays with a twelfth of the mean: usual for Mondays."""
    calls = {START + day: (10_000 if day % 7 >= 5 else 300 if day % 7 == 0 else 3000) for day in range(70)}
    assert calendar_of(calls).strays == ()


def test_no_calls_make_no_calendar() -> None:
    with pytest.raises(ValueError, match="calls"):
        calendar_of({START: 0})


@given(st.dictionaries(st.integers(START, START + 400), st.integers(0, 5000), min_size=1))
def test_every_day_with_calls_is_covered_or_stray(calls: dict[int, int]) -> None:
    if not any(calls.values()):
        return
    found = calendar_of(calls)
    heard = {day for day, number in calls.items() if number}
    assert heard <= set(found.days.tolist()) | set(found.strays)
    assert not set(found.days.tolist()) & set(found.strays)
    assert found.last_day in heard
    assert (np.diff(found.counted(found.days)) == 1).all()
    assert isinstance(found, Calendar)
