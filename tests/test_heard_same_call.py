"""Which stored calls are one call, by hand and in plain Python: copies, midnight, logs in whole minutes, events."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.calls import DAY_SECONDS, Calls, Sort, joined
from pruner.calls.counting import are_full_of_minutes, counted, early, has_late_starts, seam, short_rows

DAY = 20_000
MIDNIGHT = DAY * DAY_SECONDS
Row = tuple[int, int, float, Sort]  # id, second of the day, seconds on air, what the row says


def calls_of(rows: Sequence[Row], talkgroup: int = 91) -> Calls:
    """Sorted as the store is."""
    ordered = sorted((id, second, sort, round(seconds * 1000)) for id, second, seconds, sort in rows)
    columns = np.array(ordered, dtype=np.int64).reshape(-1, 4).T
    sort = columns[2].astype(np.uint8)
    return Calls(
        columns[0].astype(np.uint32),
        np.full(len(ordered), talkgroup, dtype=np.uint32),
        columns[1] + MIDNIGHT,
        columns[3].astype(np.uint32),
        sort if sort.any() else None,
    )


def found(
    rows: Sequence[Row], before: Sequence[Row] = (), tolerance: int = 3, after: Sequence[Row] = ()
) -> list[tuple[int, int, float]]:
    """Id, second and seconds on air of what is counted."""
    earlier, later = seam(calls_of(before)) if before else None, early(calls_of(after)) if after else None
    result = counted(calls_of(rows), earlier, tolerance, after=later)
    columns = (result.id.tolist(), (result.start.astype(np.int64) - MIDNIGHT).tolist(), (result.milliseconds / 1000).tolist())
    return list(zip(*columns, strict=True))


def call(second: int, seconds: float = 0, id: int = 7, sort: Sort = Sort.CALL) -> Row:
    return id, second, seconds, sort


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        pytest.param([call(101, 12), call(103, 12.4)], [(101, 12.4)], id="two receivers"),
        pytest.param([call(101, 12), call(103, 30)], [(101, 30)], id="the second begins while the first goes on"),
        pytest.param([call(101, 1), call(104, 1)], [(101, 1)], id="equally long, three seconds apart"),
        pytest.param([call(101, 1), call(105, 1)], [(101, 1), (105, 1)], id="four seconds apart"),
        pytest.param([call(101, 1), call(103, 8)], [(101, 1), (103, 8)], id="the first was over"),
        pytest.param([call(101, 12), call(103, 0)], [(101, 12)], id="duration unknown"),
        pytest.param([call(101, 12), call(103, 12), call(106, 12)], [(101, 12)], id="one after the other"),
        pytest.param([call(101, 12), call(101, 12, id=8)], [(101, 12), (101, 12)], id="two stations"),
        pytest.param([call(120, 5), call(120, 9)], [(120, 9)], id="a call that went on in a later copy"),
        pytest.param([call(101, 1), call(103, 1.6)], [(101, 1.6)], id="six tenths of a second longer"),
        pytest.param([call(101, 1), call(103, 1.601)], [(101, 1), (103, 1.601)], id="more than six tenths longer"),
        pytest.param([call(101, 2.001), call(103, 9)], [(101, 9)], id="the first was just not over"),
        pytest.param([call(101, 2), call(103, 9)], [(101, 2), (103, 9)], id="the first was just over"),
        pytest.param([call(101, 0), call(103, 9)], [(101, 9)], id="duration of the first unknown"),
        pytest.param([call(101, 1), call(103, 0)], [(101, 1)], id="duration unknown, and the first was over"),
        pytest.param([call(101, 0.001), call(103, 9)], [(101, 0.001), (103, 9)], id="a very short one"),
        pytest.param([call(101, 9), call(103, 0.001), call(104, 9)], [(101, 9), (104, 9)], id="the shortest is over at once"),
    ],
)
def test_what_is_one_call(rows: list[Row], expected: list[tuple[int, float]]) -> None:
    assert [one[1:] for one in found(rows)] == expected


rows_of_a_day = st.lists(st.builds(call, st.integers(1, 40), st.integers(0, 6), st.integers(1, 2)), max_size=25)


@given(rows_of_a_day, st.integers(0, 5))
def test_the_rule_in_plain_python(rows: list[Row], tolerance: int) -> None:
    longest: dict[tuple[int, int], float] = {}
    for id, second, seconds, _ in rows:
        longest[id, second] = max(longest.get((id, second), 0), seconds)
    expected: list[list[float]] = []
    before: tuple[int, int] = (0, 0)
    for (id, second), seconds in sorted(longest.items()):
        gap, earlier = second - before[1], longest.get(before, 0)
        alike = gap < earlier or abs(earlier - seconds) <= 0.6 or not earlier or not seconds
        if id == before[0] and gap <= tolerance and alike:
            expected[-1][2] = max(expected[-1][2], seconds)
        else:
            expected.append([id, second, seconds])
        before = id, second
    distinct = [(*key, seconds, Sort.CALL) for key, seconds in longest.items()]
    assert found(distinct, tolerance=tolerance) == [tuple(one) for one in expected]


def test_a_call_at_midnight_counts_on_the_earlier_day() -> None:
    late = [call(-2, 12), call(-2, 12, id=8), call(-4000, 5, id=9)]
    assert found([call(0, 12), call(1, 3, id=8), call(0, 5, id=9), call(500, 5)], late) == [(7, 500, 5), (9, 0, 5)]
    assert found([call(2, 12)], late) == [(7, 2, 12)]


def test_a_log_in_whole_minutes() -> None:
    minute = Sort.MINUTE
    rows = [call(120, 5, sort=minute), call(120, 9, sort=minute), call(120, 0, sort=minute), call(180, 5, sort=minute)]
    assert [one[1:] for one in found(rows)] == [(120, 5), (120, 9), (180, 5)]
    # Another log tells two of these with their seconds.
    better = [call(130, 9.3), call(190, 5)]
    assert [one[1:] for one in found(rows + better)] == [(120, 5), (130, 9.3), (190, 5)]
    # Seconds that are all written as 00 tell the minute only, where a day is full of them.
    whole = [call(60 * minute_of_day, 5) for minute_of_day in range(40)]
    assert len(found([*whole, call(60, 9)])) == 41
    assert len(found([*whole[:5], call(60, 9)])) == 5


@pytest.mark.parametrize(
    ("whole", "others", "is_full"),
    [(30, 0, True), (29, 0, False), (30, 90, True), (30, 91, False), (31, 93, True), (31, 94, False)],
)
def test_days_full_of_minutes(whole: int, others: int, is_full: bool) -> None:
    """At least 30 starts in whole minutes, and a quarter of all; what a log tells by the minute anyway is none of them, and no
    event is a start in a whole minute."""
    day = calls_of([call(60 * at, 5) for at in range(whole)] + [call(60 * at + 7, 5) for at in range(others)])
    assert are_full_of_minutes([day]) is is_full
    assert are_full_of_minutes([day.where(slice(20)), day.where(slice(20, None))]) is is_full
    minutes = calls_of([call(60 * at, 5, sort=Sort.MINUTE) for at in range(50)])
    assert are_full_of_minutes([joined([day, minutes])]) is is_full
    events = calls_of([call(60 * at, sort=Sort.START) for at in range(3)])
    assert are_full_of_minutes([joined([day, events])]) is (is_full and whole >= (others + whole + 3) / 4)


def test_a_day_full_of_minutes_with_events_and_seconds() -> None:
    whole = [call(60 * at, 5) for at in range(40)]
    exact = [call(30_002, 5), call(30_004, 5)]
    events = [call(36_000, sort=Sort.START), call(36_012, sort=Sort.END)]
    assert len(found([*whole, *exact])) == 41
    assert len(found([*whole, call(62, 5), *events])) == 41  # the one told with its seconds is not told twice
    assert found([*whole, *exact, *events])[-2:] == [(7, 30_002, 5), (7, 36_000, 12)]
    # Two starts of one moment are one, also in a whole minute.
    assert len(found([*whole, *events, call(36_001, sort=Sort.START)])) == 41
    # A row without a duration from a log of minutes is the call of that minute.
    assert found([*whole, call(60, 0, sort=Sort.MINUTE)]) == found(whole)
    # A start knows its second: the same call two seconds later, from another log, is that call.
    assert found([*whole, *events, call(36_002, 12)])[40:] == [(7, 36_000, 12)]


@pytest.mark.parametrize(
    ("minutes", "better", "expected"),
    [
        pytest.param([5, 5.3], [(1, 5)], [(120, 5.3), (121, 5)], id="the first takes it"),
        pytest.param([5, 5.3], [(1, 5), (40, 5.2)], [(121, 5), (160, 5.2)], id="one each"),
        pytest.param([5.6], [(1, 5)], [(121, 5)], id="six tenths of a second"),
        pytest.param([5.601], [(1, 5)], [(120, 5.601), (121, 5)], id="more than six tenths"),
        pytest.param([9], [(1, 0)], [(121, 0)], id="of unknown duration with its second"),
        pytest.param([0], [(1, 9), (30, 20)], [(121, 9), (150, 20)], id="of unknown duration by the minute"),
        pytest.param([9], [(1, 5), (30, 9)], [(121, 5), (150, 9)], id="the second of the minute"),
        pytest.param([0], [(100, 9)], [(120, 0), (220, 9)], id="of unknown duration in another minute"),
        pytest.param([9], [(0, 9)], [(120, 9)], id="in the first second of the minute"),
        pytest.param([9], [(59, 9)], [(179, 9)], id="in its last"),
        pytest.param([9], [(-1, 9)], [(119, 9), (120, 9)], id="in the minute before"),
        pytest.param([9], [(60, 9)], [(120, 9), (180, 9)], id="in the minute behind"),
    ],
)
def test_what_is_told_better(minutes: list[float], better: list[tuple[int, float]], expected: list[tuple[int, float]]) -> None:
    """Also where others speak at the same time, and where the day has events."""
    day = [call(120, seconds, sort=Sort.MINUTE) for seconds in minutes] + [call(120 + at, seconds) for at, seconds in better]
    assert [one[1:] for one in found(day)] == expected
    another = [call(120, 5, id=6), call(125, 5, id=8), call(120, 5, id=8, sort=Sort.MINUTE)]
    assert [one[1:] for one in found([*day, *another]) if one[0] == 7] == expected
    assert [one[1:] for one in found([*day, call(120, sort=Sort.START, id=9)]) if one[0] == 7] == expected


def test_talkgroups_are_apart() -> None:
    day = joined([calls_of([call(120, 5), call(121, 5)], group) for group in (91, 92)])
    assert counted(day).talkgroup.tolist() == [91, 92]
    day = joined([calls_of([call(120, 5, sort=Sort.MINUTE)], 91), calls_of([call(125, 5)], 92)])
    assert counted(day).talkgroup.tolist() == [91, 92]
    day = joined([calls_of([call(120, sort=Sort.START)], 91), calls_of([call(125, sort=Sort.END)], 92)])
    assert counted(day).milliseconds.tolist() == [0, 0]


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        pytest.param([call(100, sort=Sort.START), call(112, sort=Sort.END)], [(100, 12)], id="start and end"),
        pytest.param([call(100, sort=Sort.START), call(112, 12.2, sort=Sort.END)], [(99, 12.2)], id="an end with duration"),
        pytest.param([call(100, sort=Sort.START), call(102, sort=Sort.END)], [(100, 2)], id="start and end of a short one"),
        pytest.param(
            [call(0, 4000, sort=Sort.START), call(4000, sort=Sort.END)], [(0, 4000)], id="a start that told a long one"
        ),
        pytest.param([call(112, 12, sort=Sort.END)], [(100, 12)], id="only an end"),
        pytest.param([call(112, sort=Sort.END)], [(112, 0)], id="only an end, of unknown duration"),
        pytest.param([call(100, sort=Sort.START)], [(100, 0)], id="only a start"),
        pytest.param(
            [call(100, sort=Sort.START), call(101, sort=Sort.START), call(112, sort=Sort.END), call(113, sort=Sort.END)],
            [(100, 12)],
            id="two receivers",
        ),
        pytest.param([call(100, sort=Sort.START), call(100, 12), call(112, sort=Sort.END)], [(100, 12)], id="and a call"),
        pytest.param(
            [call(100, sort=Sort.START), call(105, sort=Sort.END), call(120, sort=Sort.START), call(130, sort=Sort.END)],
            [(100, 5), (120, 10)],
            id="one after the other",
        ),
        pytest.param([call(0, sort=Sort.START), call(3600, sort=Sort.END)], [(0, 3600)], id="an hour"),
        pytest.param([call(0, sort=Sort.START), call(3601, sort=Sort.END)], [(0, 0), (3601, 0)], id="more than an hour"),
        pytest.param([call(100, 12), call(116, sort=Sort.END)], [(100, 12)], id="the end of a call, late"),
        pytest.param([call(100, 12), call(117, sort=Sort.END)], [(100, 12), (117, 0)], id="too late for an end of the call"),
        pytest.param([call(100, 12.9), call(116, sort=Sort.END)], [(100, 12.9)], id="the end of a call, parts of a second"),
        pytest.param([call(100, 12, sort=Sort.END), call(101, sort=Sort.END)], [(88, 12), (101, 0)], id="an end behind an end"),
        pytest.param([call(112, 12.001, sort=Sort.END)], [(99, 12.001)], id="a started second is a whole one"),
        pytest.param([call(100, sort=Sort.START), call(101, 5, sort=Sort.START)], [(100, 5)], id="a start with a duration"),
        pytest.param(
            [call(100, sort=Sort.START), call(104, sort=Sort.START), call(112, sort=Sort.END)],
            [(100, 0), (104, 8)],
            id="two starts, four seconds apart",
        ),
        pytest.param(
            [call(100, sort=Sort.START), call(112, id=8, sort=Sort.END)],
            [(100, 0), (112, 0)],
            id="start and end of two stations",
        ),
        pytest.param(
            [call(120, 5, sort=Sort.MINUTE), call(122, sort=Sort.START), call(127, sort=Sort.END)],
            [(122, 5)],
            id="an over that another log tells by the minute",
        ),
        pytest.param(
            [call(60, 5, sort=Sort.MINUTE), call(60, 9, sort=Sort.MINUTE), call(122, sort=Sort.START)],
            [(60, 5), (60, 9), (122, 0)],
            id="and two calls of one minute",
        ),
    ],
)
def test_events_of_starts_and_ends(rows: list[Row], expected: list[tuple[int, float]]) -> None:
    assert [one[1:] for one in found(rows)] == expected


def test_events_around_midnight() -> None:
    assert found([call(8, sort=Sort.END)], [call(-5, sort=Sort.START)]) == []
    assert found([call(8, 10, sort=Sort.END)], [call(-2, 10)]) == []
    assert found([call(8, 10, sort=Sort.END)], [call(-200, 10)]) == [(7, 0, 10)]
    assert found([call(0, sort=Sort.END)], [call(-3599, sort=Sort.START)]) == []
    assert found([call(8, sort=Sort.END)], [call(-3592, sort=Sort.START, id=8)]) == [(7, 8, 0)]


START_BEFORE_MIDNIGHT = call(DAY_SECONDS - 5, sort=Sort.START)


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        pytest.param([call(DAY_SECONDS + 8, sort=Sort.END)], 13, id="an end"),
        pytest.param([call(DAY_SECONDS + 8, 13, sort=Sort.END)], 13, id="an end that tells the duration"),
        pytest.param([call(DAY_SECONDS + 8, sort=Sort.END, id=8)], 0, id="an end of another station"),
        pytest.param([call(DAY_SECONDS + 2, sort=Sort.START), call(DAY_SECONDS + 8, sort=Sort.END)], 0, id="another call"),
        pytest.param([call(DAY_SECONDS + 3595, sort=Sort.END)], 3600, id="an hour"),
        pytest.param([call(DAY_SECONDS + 3596, sort=Sort.END)], 0, id="more than an hour"),
    ],
)
def test_an_event_behind_midnight_ends_a_call_of_the_day(after: list[Row], expected: int) -> None:
    assert found([START_BEFORE_MIDNIGHT], after=after) == [(7, DAY_SECONDS - 5, expected)]


def test_what_the_next_day_tells_is_none_of_the_day() -> None:
    ends = [call(DAY_SECONDS + 8, 13, sort=Sort.END), call(DAY_SECONDS + 60, 5, id=8)]
    assert found([call(100, 5, id=9)], after=ends) == [(9, 100, 5)]


def test_which_days_need_the_day_after() -> None:
    assert has_late_starts([calls_of([call(100, 5, id=1)]), calls_of([START_BEFORE_MIDNIGHT])])
    assert not has_late_starts([calls_of([call(100, sort=Sort.START), call(DAY_SECONDS - 5, sort=Sort.END)])])


events_of_all_sorts = st.lists(
    st.builds(
        call,
        st.integers(0, 200),
        st.integers(0, 6),
        st.integers(1, 3),
        st.sampled_from((Sort.CALL, Sort.START, Sort.END)),
    ),
    max_size=20,
    unique=True,
)


@given(events_of_all_sorts)
def test_midnight_changes_neither_count_nor_time_on_air(rows: list[Row]) -> None:
    """The same calls and ends, in the middle of a day and with midnight among them."""
    whole = found([call(50_000 + second, seconds, id, sort) for id, second, seconds, sort in rows])
    days = [[row for row in rows if (row[1] >= 100) is is_late] for is_late in (False, True)]
    first, second = ([(id, at - 100, seconds, sort) for id, at, seconds, sort in day] for day in days)
    behind = [(id, at + DAY_SECONDS, seconds, sort) for id, at, seconds, sort in second]
    ahead = [(id, at + DAY_SECONDS, seconds, sort) for id, at, seconds, sort in first]
    parts = [*(found(ahead, after=behind) if ahead else ()), *(found(second, first) if second else ())]
    assert sorted((id, seconds) for id, _, seconds in parts) == sorted((id, seconds) for id, _, seconds in whole)


def test_a_call_told_by_the_minute_is_none_of_the_day_before() -> None:
    late, early = [call(-2, 12)], [call(0, 12, sort=Sort.MINUTE)]
    assert found(early, late) == [(7, 0, 12)]
    assert found([*early, call(50, sort=Sort.START, id=8)], late) == [(7, 0, 12), (8, 50, 0)]


def test_what_of_a_day_the_next_one_must_see() -> None:
    late = calls_of([call(second, 1) for second in (DAY_SECONDS - 3601, DAY_SECONDS - 3600, DAY_SECONDS - 1)])
    assert (seam(late).start - MIDNIGHT).tolist() == [DAY_SECONDS - 3600, DAY_SECONDS - 1]
    assert len(seam(late.where(slice(0)))) == 0


def test_only_the_first_of_a_day_can_be_one_of_the_day_before() -> None:
    late = [call(-3, 1), call(-1, 1)]
    assert found([call(2, 1), call(5, 1), call(30, 1)], late) == [(7, 30, 1)]  # one after the other
    assert found([call(1, 9), call(2, 1)], late) == [(7, 1, 9)]
    assert found([call(2, 1)], [call(-2, 1)]) == [(7, 2, 1)]
    assert found([call(2, 1)], [call(-1, 1)]) == []
    assert found([call(2, 1)], [call(-1, 1)], tolerance=2) == [(7, 2, 1)]


rows_of_all_sorts = st.lists(
    st.builds(call, st.integers(0, 200), st.integers(0, 6), st.integers(1, 3), st.sampled_from(Sort)), max_size=20, unique=True
)


@given(rows_of_all_sorts, rows_of_all_sorts)
def test_stations_are_counted_apart(day: list[Row], before: list[Row]) -> None:
    """Whatever others do at the same time, and however a day is cut between stations."""
    late = [(id, second - 201, seconds, sort) for id, second, seconds, sort in before]
    alone = [one for id in (1, 2, 3) for one in found_alone(day, late, id)]
    assert found(day, late) == alone


def found_alone(day: list[Row], late: list[Row], id: int) -> list[tuple[int, int, float]]:
    return found([row for row in day if row[0] == id], [row for row in late if row[0] == id])


@given(rows_of_a_day)
def test_sums_of_counted_calls(day: list[Row]) -> None:
    both = joined([calls_of(day, group) for group in (91, 92)])
    result = counted(both.where(np.lexsort((both.start, both.talkgroup, both.id))))
    table = short_rows(result).to_pylist()
    expected = {}
    for id, group, start, milliseconds in zip(
        *(column.tolist() for column in (result.id, result.talkgroup, result.start, result.milliseconds)), strict=True
    ):
        count, total, first, last = expected.get((id, group), (0, 0, start, start))
        expected[id, group] = (count + 1, total + milliseconds, min(first, start), max(last, start))
    found = {(row["id"], row["talkgroup"]): tuple(row[name] for name in SUMS) for row in table}
    assert found == expected
    assert len(table) == len(expected)


SUMS = ("calls", "milliseconds", "first", "last")
