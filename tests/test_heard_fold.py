"""The fold: its definition against plain Python, on several engines, and the quick way against the definition."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import polars as pl
import pyarrow.parquet as parquet
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls import folding, spill
from pruner.calls.calls import DAY_SECONDS, EXACT_MILLISECONDS, Calls, kept_milliseconds
from pruner.calls.fold import KEY, LOG_COLUMNS, SUMS, distinct, fold
from pruner.calls.folding import Folding
from pruner.calls.packing import MOST_TALKGROUPS, PAIR_BITS, SLICE_BITS, bits_for
from pruner.calls.parts import CALL, StoredDay, as_calls, as_table, read_part, write_part

Row = tuple[int, int, int, int]
COLUMNS = [*KEY, *SUMS]

#: Few ids, talkgroups, days and seconds, so that rows meet; some numbers at the ends of their ranges.
rows_of_a_log = st.lists(
    st.tuples(
        st.one_of(st.integers(1, 6), st.integers(4095, 4099), st.sampled_from([16_776_415, (1 << 24) - 1])),
        st.one_of(st.integers(1, 3), st.sampled_from([0xFFFFFF, 9_990_001])),
        st.builds(
            lambda day, second: day * DAY_SECONDS + second,
            st.sampled_from([20_000, 20_001, 20_002, 12_000]),
            st.one_of(st.sampled_from([0, 1, 60, 61, 86_399]), st.integers(0, 86_399)),
        ),
        st.one_of(st.integers(0, 90_000), st.sampled_from([EXACT_MILLISECONDS - 1, 262_500, 86_400_000])),
    ),
    max_size=60,
)


def distinct_by_hand(rows: Sequence[Row]) -> list[Row]:
    """The definition once more, in plain Python."""
    longest: dict[tuple[int, ...], int] = {}
    for number, talkgroup, start, milliseconds in rows:
        key = (number, talkgroup, start, milliseconds if start % 60 == 0 else -1)
        longest[key] = max(longest.get(key, 0), milliseconds)
    return sorted((*key[:3], milliseconds) for key, milliseconds in longest.items())  # type: ignore[misc]


def by_hand(rows: Sequence[Row]) -> list[tuple[int, ...]]:
    """Distinct calls by day, id and talkgroup."""
    found: dict[tuple[int, int, int], list[int]] = {}
    for number, talkgroup, start, milliseconds in distinct_by_hand(rows):
        entry = found.setdefault((start // DAY_SECONDS, number, talkgroup), [0, 0, start, start])
        entry[0] += 1
        entry[1] += milliseconds
        entry[2], entry[3] = min(entry[2], start), max(entry[3], start)
    return [(*key, *entry) for key, entry in sorted(found.items())]


def frame_of(rows: Sequence[Row]) -> pl.DataFrame:
    schema = {"id": pl.UInt32, "talkgroup": pl.UInt32, "start": pl.Int64, "milliseconds": pl.UInt32}
    return pl.DataFrame(rows, schema=schema, orient="row")


def calls_of(rows: Sequence[Row]) -> Calls:
    frame = frame_of(rows)
    return Calls(*(frame[name].to_numpy() for name in LOG_COLUMNS))


def some_log(count: int = 3000) -> list[Row]:
    generator = np.random.default_rng(5)
    columns = [
        generator.integers(1, 90, count),
        generator.integers(1, 9, count),
        generator.integers(20_000 * DAY_SECONDS, 20_003 * DAY_SECONDS, count),
        generator.integers(0, 90_000, count),
    ]
    return list(zip(*(column.tolist() for column in columns), strict=True))


def quick(folder: Path, folds: Sequence[Sequence[Sequence[Row]]]) -> tuple[list[Row], int]:
    """What several folds of runs (each a log of its own) leave in the files, and how many calls were new."""
    files: dict[int, Path] = {}
    new: Counter[int] = Counter()
    for runs in folds:
        under_way = Folding(folder)
        for log, run in enumerate(runs):
            under_way.add(log, calls_of(run))
        for day in under_way.days():
            files[day], _ = write_part(under_way.merged(day, files.get(day), new), folder, day)
    result: list[Row] = []
    for path in files.values():
        calls = as_calls(read_part(path))
        columns = (calls.id, calls.talkgroup, calls.start, calls.milliseconds)
        result += list(zip(*(column.tolist() for column in columns), strict=True))
    return sorted(result), new.total()


@given(rows_of_a_log)
def test_the_definition(rows: list[Row]) -> None:
    frame = frame_of(rows)
    assert sorted(distinct(frame).rows()) == distinct_by_hand(rows)
    assert fold(distinct(frame)).sort(KEY).select(COLUMNS).rows() == by_hand(rows)
    assert fold(distinct(frame.lazy())).collect().sort(KEY).select(COLUMNS).rows() == by_hand(rows)


@draws(60)
@given(rows_of_a_log, st.lists(st.integers(0, 60), max_size=4), st.integers(0, 4), st.sampled_from([1, 3, 1 << 20]))
def test_the_quick_way_gives_the_same_calls(
    tmp_path_factory: pytest.TempPathFactory, rows: list[Row], cuts: list[int], first: int, sorted_at_once: int
) -> None:
    """Unsorted, wide id space, days spread out, any cut into logs and folds, everything in memory or in files; each call is new
    once. One table of talkgroups may be too small for a log, and all of them for a day."""
    edges = [0, *sorted(cuts), len(rows)]
    runs = [rows[begin:end] for begin, end in pairwise(edges)]
    few = {"_FEW": 7, "_SORTED": sorted_at_once}
    for held, talkgroups, pair_bits in ((1 << 22, 1 << 14, PAIR_BITS), (1, 2, PAIR_BITS), (1 << 22, 1 << 14, SLICE_BITS)):
        with (
            mock.patch.multiple(folding, PAIR_BITS=pair_bits, **few),
            mock.patch.multiple(spill, _HELD=held, MOST_TALKGROUPS=talkgroups),
        ):
            found, new = quick(tmp_path_factory.mktemp("fold"), [runs[:first], runs[first:]])
        assert found == distinct_by_hand(rows)
        assert new == len(found)


@pytest.mark.slow  # the test before this one does it with small tables
def test_more_talkgroups_on_a_day_than_a_word_can_tell_apart(tmp_path: Path) -> None:
    generator = np.random.default_rng(3)
    columns = [generator.integers(1, 1 << 24, 40_000) for _ in range(2)]
    columns += [20_000 * DAY_SECONDS + generator.integers(0, 86_400, 40_000), generator.integers(0, 90_000, 40_000)]
    rows = list(zip(*(column.tolist() for column in columns), strict=True))
    found, new = quick(tmp_path, [[rows[:30_000]], [rows[20_000:], rows]])
    assert found == distinct_by_hand(rows)
    assert new == len(found)


def test_long_durations_are_kept_to_the_half_second() -> None:
    given_ = np.array([0, 1, EXACT_MILLISECONDS - 1, EXACT_MILLISECONDS, 300_499, 300_500, 86_400_000], dtype=np.uint64)
    assert kept_milliseconds(given_).tolist() == [0, 1, 262_143, 262_000, 300_000, 300_500, 86_400_000]


def test_a_file_does_not_show_how_its_rows_were_cut(tmp_path: Path) -> None:
    generator = np.random.default_rng(9)
    count = 600_000
    columns = (generator.integers(0, 1000, count).astype(np.uint32) for _ in range(3))
    whole = as_table(Calls(np.arange(count, dtype=np.uint32), *columns))
    one, rows = write_part([whole], tmp_path, 20_000)
    data = one.read_bytes()
    other, _ = write_part([whole.slice(0, 5), whole.slice(5, 270_000), whole.slice(270_005)], tmp_path, 20_000)
    assert (other.name, other.read_bytes(), rows) == (one.name, data, count)
    groups = parquet.ParquetFile(one).metadata
    assert [groups.row_group(at).num_rows for at in range(groups.num_row_groups)] == [262_144, 262_144, 75_712]
    stored = StoredDay(one)
    assert [len(run) for run in stored.values("id")] == [262_144, 262_144, 75_712]
    assert [len(run) for run in stored.below(300_000)] == [262_144, 300_000 - 262_144]
    assert next(len(run) for run in stored.by_ids(rows=250_000)) == 249_999


def test_a_part_is_on_the_disk_before_it_has_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[list[str]] = []
    monkeypatch.setattr(os, "fsync", lambda _: synced.append([path.name for path in tmp_path.iterdir()]))
    one = Calls(*(np.array([value], dtype=np.uint32) for value in (7, 91, 20_000 * DAY_SECONDS, 0)))
    path, rows = write_part([as_table(one)], tmp_path, 20_000)
    assert (synced, rows, path.is_file()) == ([["making-20000-id.parquet"]], 1, True)
    columns = [parquet.ParquetFile(path).metadata.row_group(0).column(at) for at in range(len(CALL))]
    in_dictionaries = {column.path_in_schema for column in columns if column.has_dictionary_page}
    assert in_dictionaries == {"talkgroup", "milliseconds", "grain", "kind"}


def test_duckdb_gives_the_same_rows() -> None:
    import duckdb

    rows = some_log()
    found = fold(distinct(duckdb.from_arrow(frame_of(rows).to_arrow()))).pl().sort(KEY)
    assert found.select(COLUMNS).rows() == by_hand(rows)


@pytest.mark.filterwarnings("ignore:Dask support is moving out of Narwhals:FutureWarning")
def test_dask_gives_the_same_rows() -> None:
    import dask.dataframe as dask

    rows = some_log()
    found = fold(distinct(dask.from_pandas(frame_of(rows).to_pandas(), npartitions=3))).compute()
    assert sorted(found[COLUMNS].itertuples(index=False, name=None)) == by_hand(rows)


def test_what_tells_calls_apart_fits_into_a_word() -> None:
    """An id within its slice and a place in the largest table of talkgroups; one talkgroup more has no room."""
    assert SLICE_BITS + bits_for(MOST_TALKGROUPS) == PAIR_BITS
    assert SLICE_BITS + bits_for(MOST_TALKGROUPS + 1) > PAIR_BITS
