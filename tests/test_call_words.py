"""Words of calls against plain arithmetic, and what a fold holds in memory, counted.

How many calls wait, and how they are grouped, decides memory and time alone: the calls that are found are the same.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls import folding, packing, spill
from pruner.calls.calls import DAY_SECONDS, EXACT_MILLISECONDS, Calls, Sort
from pruner.calls.folding import Folding
from pruner.calls.parts import StoredDay, as_table, seam_of, write_part
from pruner.calls.spill import Spill, TalkgroupPlaces

DAY = 20_000


def calls_of(ids: list[int], talkgroups: list[int] | None = None, day: int = DAY) -> Calls:
    count = len(ids)
    return Calls(
        np.array(ids, dtype=np.uint32),
        np.array([91] * count if talkgroups is None else talkgroups, dtype=np.uint32),
        np.full(count, day * DAY_SECONDS + 61, dtype=np.int64),
        np.full(count, 5000, dtype=np.uint32),
    )


def many(count: int) -> Calls:
    return calls_of(list(range(1, count + 1)))


rest = st.tuples(
    st.integers(0, 86_399),
    st.sampled_from(Sort),
    st.one_of(
        st.integers(0, EXACT_MILLISECONDS - 1),
        st.integers(EXACT_MILLISECONDS // 500 + 1, 172_800).map(lambda halves: halves * 500),
    ),
)


@given(st.lists(st.tuples(st.integers(0, (1 << 26) - 1), rest), max_size=20))
def test_a_word_holds_id_and_talkgroup_then_second_sort_and_duration(rows: list[tuple[int, tuple[int, Sort, int]]]) -> None:
    """26 bits, 17, 2 and 19; from 2^18 milliseconds on the last count half seconds above 2^18."""
    pairs, seconds, sorts, milliseconds = ([row[0] for row in rows], *([row[1][at] for row in rows] for at in range(3)))
    last = [one if one < 1 << 18 else (one - 262_000) // 500 + (1 << 18) for one in milliseconds]
    expected = [
        (pair << 38) + (second << 21) + (sort << 19) + low
        for pair, second, sort, low in zip(pairs, seconds, sorts, last, strict=True)
    ]
    rests = packing.rest_of(np.array(seconds, np.int64), np.array(sorts, np.uint8), np.array(milliseconds, np.uint32))
    words = packing.with_pairs(rests, np.array(pairs, np.uint64))
    assert words.tolist() == expected
    assert packing.pairs(words).tolist() == pairs
    assert packing.rests(words).tolist() == rests.tolist() == [one & (1 << 38) - 1 for one in expected]
    assert [column.tolist() for column in packing.unpacked_rest(words)] == [seconds, sorts, milliseconds]


@given(st.lists(st.lists(st.tuples(st.integers(59, 61), st.integers(0, 3)), max_size=6), max_size=4))
def test_words_of_one_log_after_the_other_are_those_of_all(logs: list[list[tuple[int, int]]]) -> None:
    """Of equal starts the longest stays, in a whole minute each duration; a log is told how many it brought."""
    held, new = np.zeros(0, dtype=np.uint64), Counter[int]()
    longest: set[tuple[int, int]] = set()
    for log, rows in enumerate(logs):
        columns = np.array(rows, dtype=np.int64).reshape(len(rows), 2).T
        before = len(held)
        held = folding._united(held, packing.rest_of(columns[0], None, columns[1].astype(np.uint32)), log, new)
        longest |= set(rows)
        longest = {row for row in longest if row[0] == 60 or row[1] == max(one for at, one in longest if at == row[0])}
        second, _, milliseconds = packing.unpacked_rest(held)
        assert list(zip(second.tolist(), milliseconds.tolist(), strict=True)) == sorted(longest)
        assert new[log] == len(held) - before
    assert folding._united(held, held.copy(), None, new).tolist() == held.tolist()
    assert new.total() == len(held)


@pytest.mark.parametrize(("talkgroups", "bits"), [(0, 1), (1, 1), (2, 1), (3, 2), (4, 2), (5, 3), (16_384, 14), (16_385, 15)])
def test_bits_of_a_place_in_a_table(talkgroups: int, bits: int) -> None:
    assert packing.bits_for(talkgroups) == bits


def test_a_slice_has_4096_ids_and_leaves_room_for_16384_talkgroups() -> None:
    assert (1 << packing.SLICE_BITS, packing.MOST_TALKGROUPS, packing.PAIR_BITS) == (4096, 16_384, 26)


def test_short_runs_wait_for_each_other_up_to_two_million_calls(tmp_path: Path) -> None:
    fold = Folding(tmp_path)
    with mock.patch.object(fold._spill, "add") as add:
        for count, taken in (((1 << 21) - 2, []), (1, []), (1, [1 << 21]), ((1 << 21) - 1, [1 << 21]), (1, [1 << 21] * 2)):
            with mock.patch.object(Calls, "__len__", lambda self, count=count: count):
                fold.add(0, many(1))
            assert [call.args[0] for call in add.call_args_list] == [0] * len(taken)
        fold.add(0, many(3))
        assert add.call_count == 2
        fold.add(1, many(2))
        assert add.call_count == 3, "runs of one log wait for each other only"
        fold.days()
        assert [call.args[0] for call in add.call_args_list] == [0, 0, 0, 1]


def test_words_go_to_a_file_when_four_million_are_held(tmp_path: Path) -> None:
    held = Spill(tmp_path)
    for _ in range(2):
        held._held_words += (1 << 22) - 5
        held.add(0, many(4))
        assert held.runs[-1].words is not None
        held.add(0, many(1))
        assert [run.words for run in held.runs] == [None] * len(held.runs)
    assert [(run.path, run.offset) for run in held.runs] == [
        (tmp_path / f"making-spill-{file}", offset) for file in range(2) for offset in (0, 4)
    ]
    assert [len(run.read(0, len(run.day))) for run in held.runs] == [4, 1, 4, 1]
    assert held.runs[1].read(0, 1).tolist() == held.runs[3].read(0, 1).tolist()


def test_runs_share_one_table_of_talkgroups_as_long_as_it_has_room() -> None:
    with mock.patch.object(spill, "MOST_TALKGROUPS", 3):
        places = TalkgroupPlaces()
        own, table = places.of(np.array([9, 7, 9], np.uint32))
        assert (own.tolist(), table.tolist()) == ([1, 0, 1], [7, 9])
        own, table = places.of(np.array([8, 9], np.uint32))
        assert (own.tolist(), table.tolist()) == ([2, 1], [7, 9, 8])
        _, again = places.of(np.array([7], np.uint32))
        assert again is table
        for numbers in ([5, 7, 5], [7]):
            own, table = places.of(np.array(numbers, np.uint32))
            assert table[own].tolist() == numbers
            assert table.tolist() == sorted(set(numbers))


def test_a_run_with_too_many_talkgroups_is_halved(tmp_path: Path) -> None:
    with mock.patch.object(spill, "MOST_TALKGROUPS", 2):
        held = Spill(tmp_path)
        held.add(0, calls_of([1, 2, 3, 4], [11, 12, 13, 14]))
    assert [len(run.read(0, len(run.day))) for run in held.runs] == [2, 2]


@given(
    st.lists(st.sampled_from([1, 2, 4095, 4096, 4097, 8192, 20_000, 70_000, 16_777_215]), min_size=1, max_size=20),
    st.integers(1, 6),
    st.integers(12, 16),
)
def test_groups_are_as_large_as_may_be(
    tmp_path_factory: pytest.TempPathFactory, ids: list[int], most: int, id_bits: int
) -> None:
    """Slices in their order while they have no more calls than are sorted at once and share all but the lower bits; a single
    one with more is cut into so many equal parts as it has times as many, rounded down to a power of two."""
    held = Spill(tmp_path_factory.mktemp("groups"))
    held.add(0, calls_of(ids))
    counts: dict[int, int] = {}
    for id in ids:
        counts[id // 4096] = counts.get(id // 4096, 0) + 1
    ranges: list[list[int]] = []
    for place in sorted(counts):
        together = ranges and sum(counts[one] for one in (*ranges[-1], place)) <= most
        if together and ranges[-1][0] >> (id_bits - 12) == place >> (id_bits - 12):
            ranges[-1].append(place)
        else:
            ranges.append([place])
    expected = []
    for own, following in pairwise([*ranges, None]):
        end = own[-1] + 1 if following is None else following[0]
        parts = 1
        while end == own[0] + 1 and parts * 2 * most <= counts[own[0]]:
            parts *= 2
        expected += [(own[0], end, 4096 // parts * part, 4096 // parts * (part + 1)) for part in range(parts)]
    with mock.patch.object(folding, "_SORTED", most):
        found = list(folding._groups(list(held.of_day(DAY)), StoredDay(None), id_bits))
    assert [(one.first, one.last, one.low, one.high) for one in found] == expected
    assert [one.end for one in found] == [(last - 1) * 4096 + high for _, last, _, high in expected]


def test_half_a_million_calls_are_sorted_at_once(tmp_path: Path) -> None:
    """Of one slice of ids, so many calls and one more are a group; twice as many are two."""
    for count, groups in (((1 << 20) - 1, 1), (1 << 20, 2)):
        assert len(list(folding._split(0, 1, count))) == groups


def test_words_of_a_whole_slice_and_of_the_same_table_are_not_copied(tmp_path: Path) -> None:
    held = Spill(tmp_path)
    held.add(0, calls_of([1, 2, 3], [92, 91, 92]))
    ((run, low, high),) = held.of_day(DAY)
    words = run.read(low, high)
    (group,) = folding._split(0, 1, 3)
    assert np.shares_memory(group.chosen(run, words, low, high)[0], words)
    merge = folding._Merge(DAY, run.talkgroups)
    assert merge._same(run, words) is words
    for table in ([91, 92, 93], [90, 91, 92]):
        other = folding._Merge(DAY, np.array(table, np.uint32))._same(run, words)
        bits = packing.bits_for(3)
        assert [table[pair & 3] for pair in packing.pairs(other).tolist()] == [92, 91, 92]
        assert [pair >> bits for pair in packing.pairs(other).tolist()] == [1, 2, 3]


@pytest.mark.parametrize("seconds", [0, 1, 2, 3600])
def test_the_end_of_a_day(tmp_path: Path, seconds: int) -> None:
    calls = many(4)
    starts = (DAY + 1) * DAY_SECONDS - np.array([3601, 3600, 2, 1])
    path, _ = write_part([as_table(Calls(calls.id, calls.talkgroup, starts, calls.milliseconds))], tmp_path, DAY)
    assert seam_of(path, DAY, seconds=seconds).start.tolist() == [
        one for one in starts.tolist() if one >= (DAY + 1) * DAY_SECONDS - seconds
    ]
