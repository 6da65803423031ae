"""Counts of stored calls: any order of logs, days in pieces, what is remembered, and what is forgotten."""

from __future__ import annotations

import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from unittest import mock

import pytest
from draws import draws
from heard_weights import weights_in
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls import counted_days, folding
from pruner.calls.calls import DAY_SECONDS
from pruner.calls.counted_days import CountedDays
from pruner.calls.packing import SLICE_BITS
from pruner.calls.store import load_manifest
from pruner.calls.weights import load_weights
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC).timestamp()


def lines_of(seed: int, count: int = 60) -> list[str]:
    """Calls of four days, with repeats, growing durations and times in whole minutes."""
    draw = random.Random(seed)
    lines = []
    for _ in range(count):
        second = 20_700 * DAY_SECONDS + draw.choice([0, 86_399, 86_400, 100, 101, 160, 259_200]) + draw.choice([0, 0, 1, 2])
        moment = datetime.fromtimestamp(second, UTC)
        form = draw.choice(["%Y-%m-%dT%H:%M:%SZ", "%Y-%m-%d %H:%M"])
        id = draw.choice(["2320001", "2320002", "2320003"])
        lines.append(f"{moment:{form}},{id},{draw.choice([91, 232])},{draw.randint(0, 20)}\n")
    return lines


def store_of(folder: Path, logs: Sequence[Sequence[str]], at_once: int) -> tuple[dict[str, bytes], int]:
    """The files of a store into which logs were folded, some at a time, and how many calls were new."""
    folder.mkdir()
    paths = []
    for number, lines in enumerate(logs):
        path = folder / f"{number}.csv"
        path.write_text("time,id,talkgroup,seconds\n" + "".join(lines))
        paths.append(path)
    new = 0
    for begin in range(0, len(paths), at_once):
        result = fold_logs(folder / "state", [LogFiles(paths[begin : begin + at_once])], now=NOW)
        assert all(one.account.read == one.account.new + one.account.known for one in result.files)
        new += result.total.new
    store = folder / "state" / "heard" / "dmr"
    return {path.name: path.read_bytes() for path in store.iterdir() if path.is_file() and path.name != "logs.json"}, new


@draws(12)
@given(
    st.integers(0, 1000),
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=1, max_size=5),
    st.randoms(use_true_random=False),
    st.integers(1, 3),
)
def test_any_order_any_cut_any_overlap_leaves_the_same_bytes(
    tmp_path_factory: pytest.TempPathFactory,
    seed: int,
    cuts: list[tuple[int, int]],
    draw: random.Random,
    at_once: int,
) -> None:
    folder = tmp_path_factory.mktemp("orders")
    lines = lines_of(seed)
    once, new = store_of(folder / "once", [lines], 1)
    logs = [lines[min(cut) : max(cut)] for cut in cuts] + [lines[:30], lines[20:]]
    for log in logs:
        draw.shuffle(log)
    draw.shuffle(logs)
    pieces, new_in_pieces = store_of(folder / "pieces", logs, at_once)
    assert pieces == once
    assert new_in_pieces == new


@pytest.mark.parametrize("changes", [{"_SORTED": 1 << 19}, {"_SORTED": 8}, {"_SORTED": 8, "PAIR_BITS": SLICE_BITS}])
def test_ids_from_everywhere_are_merged_with_what_is_stored(tmp_path: Path, changes: dict[str, int]) -> None:
    """In many groups, and where a day has too many talkgroups for a word: the store is that of one fold."""
    draw = random.Random(11)
    numbers = [draw.randrange(1, 1 << 24) for _ in range(30)]
    logs = [
        [
            f"2026-11-02T{draw.randrange(24):02}:00:{draw.randrange(60):02}Z,{draw.choice(numbers)},{draw.randrange(1, 90)},5\n"
            for _ in range(60)
        ]
        for _ in range(3)
    ]
    once = store_of(tmp_path / "once", logs, 3)
    with mock.patch.multiple(folding, **changes):
        assert store_of(tmp_path / "pieces", [*logs, logs[0]], 1) == once


@pytest.mark.parametrize("whole_minutes", [False, True])
def test_a_day_is_counted_the_same_in_pieces(tmp_path: Path, whole_minutes: bool) -> None:
    draw = random.Random(4)
    lines = []
    for _ in range(3000):
        second = 20_700 * DAY_SECONDS + draw.choice([0, DAY_SECONDS - 4, DAY_SECONDS]) + draw.randrange(8)
        second = second // 60 * 60 if whole_minutes else second
        moment = datetime.fromtimestamp(second, UTC)
        lines.append(
            f"{moment:%Y-%m-%dT%H:%M:%SZ},{2320001 + draw.randrange(40)},{draw.choice([91, 232])},{draw.randint(0, 9)}\n"
        )
    store_of(tmp_path / "store", [lines], 1)
    folder = tmp_path / "store" / "state" / "heard" / "dmr"
    found = []
    for at_once in (1, 50, 1 << 20):
        with mock.patch.object(counted_days, "_AT_ONCE", at_once):
            weights = load_weights(folder)
            assert weights is not None
            found.append(weights.rows())
        for path in (folder / "counted").iterdir():
            path.unlink()
    assert found[0].equals(found[1])
    assert found[0].equals(found[2])
    assert 0 < found[0]["calls"].sum() < 3000


def test_counts_are_those_of_the_store_whatever_was_remembered(tmp_path: Path) -> None:
    """A call late on one day makes the call early on the next the same one: that day's file stays, its count does not."""
    state, folder = tmp_path / "state", tmp_path / "state" / "heard" / "dmr"
    rows = ["2026-11-02T00:00:01Z,2320001,91,30", "2026-11-02T09:00:00Z,2320001,91,5", "2026-11-03T00:00:01Z,2320001,91,9"]
    late = ["2026-11-01T23:59:59Z,2320001,91,30", "2026-11-02T23:59:59Z,2320001,91,9"]
    counts = []
    for number, line in enumerate([*rows, *late]):
        log = tmp_path / f"{number}.csv"
        log.write_text(f"time,id,talkgroup,seconds\n{line}\n")
        fold_logs(state, [LogFiles([log])], now=NOW)
        store = load_weights(folder)
        assert store is not None
        by_day = [sum(store.counted.of_day(day, ["calls"])["calls"].to_pylist()) for day in store.days]
        for path in (folder / "counted").iterdir():
            path.rename(path.with_suffix(".kept"))
        again = load_weights(folder)
        assert again is not None
        assert [sum(again.counted.of_day(day, ["calls"])["calls"].to_pylist()) for day in again.days] == by_day
        for path in (folder / "counted").glob("*.kept"):
            path.rename(path.with_suffix(".arrow"))
        counts.append(by_day)
    assert counts == [[1], [2], [2, 1], [1, 1, 1], [1, 2, 0]]


def test_another_tolerance_has_counts_of_its_own(tmp_path: Path) -> None:
    store_of(tmp_path / "store", [[f"2026-11-02T10:00:{second:02}Z,2320001,91,9\n" for second in (0, 2, 9)]], 1)
    folder = tmp_path / "store" / "state" / "heard" / "dmr"
    manifest = load_manifest(folder, "dmr")
    assert [part.rows for part in manifest.parts] == [3]
    for tolerance, calls in ((3, 2), (0, 3), (9, 1), (3, 2), (0, 3)):
        assert CountedDays(folder, manifest, tolerance).of_day(manifest.days[0], ["calls"])["calls"].to_pylist() == [calls]


@given(st.permutations(range(4)), st.integers(0, 1 << 30))
@draws(20)
def test_the_order_in_which_days_are_asked_for_changes_no_count(order: list[int], seed: int) -> None:
    """What was kept of one day for the next is that of the day before, or nothing."""
    draw = random.Random(seed)
    seconds = [20_700 * DAY_SECONDS + draw.randrange(4) * DAY_SECONDS + draw.choice([0, 1, 86_398, 86_399]) for _ in range(40)]
    lines = [
        f"{datetime.fromtimestamp(second, UTC):%Y-%m-%dT%H:%M:%SZ},{2320001 + draw.randrange(2)},91,{draw.randrange(4)}\n"
        for second in seconds
    ]
    with tempfile.TemporaryDirectory() as name:
        store_of(Path(name) / "store", [lines], 1)
        folder = Path(name) / "store" / "state" / "heard" / "dmr"
        manifest = load_manifest(folder, "dmr")
        days = list(manifest.days)
        expected = {}
        for day in days:
            expected[day] = CountedDays(folder, manifest).of_day(day, ["id", "calls"]).to_pylist()
            shutil.rmtree(folder / "counted")
        counted = CountedDays(folder, manifest)
        for place in order:
            if place < len(days):
                assert counted.of_day(days[place], ["id", "calls"]).to_pylist() == expected[days[place]]


def test_forgetting_a_single_day_and_what_is_too_old(tmp_path: Path) -> None:
    log, state = tmp_path / "log.csv", tmp_path / "state"
    days = ["2025-01-01", "2026-11-01", "2026-11-10"]
    log.write_text("time,id,talkgroup\n" + "".join(f"{day}T10:00:01Z,2320001,91\n" for day in days))
    result = fold_logs(state, [LogFiles([log])], now=NOW, keep_days=100)
    assert [part.calls for part in result.forgotten["dmr"]] == [1]
    store = weights_in(state)
    assert store.total_calls() == 2
    log.write_text(log.read_text() + "2026-11-10T12:00:01Z,2320001,91\n2024-11-10T12:00:01Z,2320001,91\n")
    account = fold_logs(state, [LogFiles([log])], now=NOW, keep_days=100).total
    assert (account.new, account.set_aside) == (1, Counter({"older than calls are kept": 1}))
    manifest = load_manifest(state / "heard" / "dmr", "dmr")
    assert manifest.floor is None, "with another setting the old log can be folded again"
