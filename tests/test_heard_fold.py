"""The fold: its definition against plain Python, on several engines, and the quick way against the definition."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from unittest import mock

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pruner.heard import dense, folding
from pruner.heard.fold import DAY, KEY, LOG_COLUMNS, SUMS, fold, merge
from pruner.heard.folding import Calls, Folding, merged_day
from pruner.heard.parts import as_rows, read_part, write_part

Row = tuple[int, int, int, int]
COLUMNS = [*KEY, *SUMS]

#: Few ids, talkgroups and days, so that rows meet; some numbers at the ends of their ranges.
rows_of_a_log = st.lists(
    st.tuples(
        st.one_of(st.integers(1, 6), st.sampled_from([16_776_415, (1 << 24) - 1, 1 << 24, (1 << 32) - 1])),
        st.one_of(st.integers(1, 3), st.sampled_from([0xFFFFFF, (1 << 32) - 1])),
        st.one_of(st.integers(20_000 * DAY, 20_003 * DAY), st.sampled_from([20_001 * DAY - 1, 20_001 * DAY, 12_000 * DAY])),
        st.integers(0, 86_400_000),
    ),
    max_size=60,
)


def by_hand(rows: Sequence[Row]) -> list[tuple[int, ...]]:
    """The definition once more, in plain Python."""
    found: dict[tuple[int, int, int], list[int]] = {}
    for number, talkgroup, time, milliseconds in rows:
        entry = found.setdefault((time // DAY, number, talkgroup), [0, 0, time, time])
        entry[0] += 1
        entry[1] += milliseconds
        entry[2], entry[3] = min(entry[2], time), max(entry[3], time)
    return [(*key, *entry) for key, entry in sorted(found.items())]


def frame_of(rows: Sequence[Row]) -> pl.DataFrame:
    schema = {"id": pl.UInt32, "talkgroup": pl.UInt32, "time": pl.Int64, "milliseconds": pl.UInt64}
    return pl.DataFrame(rows, schema=schema, orient="row")


def calls_of(rows: Sequence[Row]) -> Calls:
    frame = frame_of(rows)
    return Calls(*(frame[name].to_numpy() for name in LOG_COLUMNS))


def some_log(count: int = 3000) -> list[Row]:
    generator = np.random.default_rng(5)
    columns = [
        generator.integers(1, 90, count),
        generator.integers(1, 9, count),
        generator.integers(20_000 * DAY, 20_003 * DAY, count),
        generator.integers(0, 90_000, count),
    ]
    return list(zip(*(column.tolist() for column in columns), strict=True))


def folded_by(folder: Path, runs: Sequence[Sequence[Row]]) -> list[tuple[int, ...]]:
    """What `Folding` makes of runs, read from its files again."""
    result: list[tuple[int, ...]] = []
    with Folding(folder) as under_way:
        for run in runs:
            under_way.add(calls_of(run))
        for day, pieces, rest in under_way.days():
            path = write_part(merged_day(day, pieces, rest), folder, day)
            table = pl.DataFrame(read_part(path))
            result += table.select(pl.col(name).to_physical().cast(pl.Int64) for name in COLUMNS).rows()
    return result


@settings(deadline=None)
@given(rows_of_a_log)
def test_the_definition(rows: list[Row]) -> None:
    frame = frame_of(rows)
    assert fold(frame).sort(KEY).select(COLUMNS).rows() == by_hand(rows)
    assert fold(frame.lazy()).collect().sort(KEY).select(COLUMNS).rows() == by_hand(rows)


@settings(deadline=None)
@given(rows_of_a_log, st.integers(0, 60))
def test_parts_of_a_log_add_up_to_the_whole(rows: list[Row], cut: int) -> None:
    parts = pl.concat([fold(frame_of(rows[:cut])), fold(frame_of(rows[cut:]))])
    assert merge(parts).sort(KEY).select(COLUMNS).rows() == by_hand(rows)


@settings(max_examples=60, deadline=None)
@given(rows_of_a_log, st.lists(st.integers(0, 60), max_size=4), st.sampled_from([1, 4, 40]), st.sampled_from([1, 3, 100]))
def test_the_quick_way_gives_the_same_rows(
    tmp_path_factory: pytest.TempPathFactory, rows: list[Row], cuts: list[int], cells: int, many: int
) -> None:
    """Unsorted, wide id space, days spread out, any cut into runs, with room for all cells or for few."""
    edges = [0, *sorted(cuts), len(rows)]
    runs = [rows[begin:end] for begin, end in pairwise(edges)]
    few = {"_FEW": 1, "_MANY": many, "_SPARSE": 7, "_MERGED": 3}
    with mock.patch.multiple(folding, **few), mock.patch.object(dense, "MOST_CELLS", cells):
        assert folded_by(tmp_path_factory.mktemp("fold"), runs) == by_hand(rows)


def test_the_quick_way_on_a_longer_log(tmp_path: Path) -> None:
    """Real sizes of the constants: cells, calls without cells, and a merge of both for each day."""
    generator = np.random.default_rng(3)
    count = 500_000
    calls = Calls(
        generator.integers(1, 3000, count).astype(np.uint32),
        np.where(
            generator.random(count) < 0.99, generator.integers(1, 20, count), generator.integers(1, 1 << 24, count)
        ).astype(np.uint32),
        np.sort(generator.integers(20_000 * DAY, 20_003 * DAY, count)),
        generator.integers(0, 90_000, count).astype(np.uint64),
    )
    expected = fold(pl.DataFrame({name: getattr(calls, name) for name in LOG_COLUMNS})).sort(KEY).select(COLUMNS)
    with Folding(tmp_path) as under_way:
        for begin in range(0, count, 70_000):
            under_way.add(calls.where(np.arange(begin, min(begin + 70_000, count))))
        tables = [table for day, pieces, rest in under_way.days() for table in merged_day(day, pieces, rest)]
    found = pl.concat([pl.DataFrame(table) for table in tables])
    assert found.select(pl.col(name).to_physical().cast(pl.Int64) for name in COLUMNS).equals(expected)


def test_the_bytes_of_a_day_do_not_show_how_it_was_cut(tmp_path: Path) -> None:
    generator = np.random.default_rng(4)
    count = 300_000
    names = ("talkgroup", "calls", "milliseconds", "first", "last")
    columns = {name: generator.integers(0, 1000, count).astype(np.uint32) for name in names}
    whole = as_rows({"id": np.arange(count, dtype=np.uint32), **columns}, 20_000)
    one = write_part([whole], tmp_path, 20_000)
    data = one.read_bytes()
    other = write_part([whole.slice(0, 5), whole.slice(5, 270_000), whole.slice(270_005)], tmp_path, 20_000)
    assert (other.name, other.read_bytes()) == (one.name, data)


def test_duckdb_gives_the_same_rows() -> None:
    import duckdb

    rows = some_log()
    found = fold(duckdb.from_arrow(frame_of(rows).to_arrow())).pl().sort(KEY)
    assert found.select(COLUMNS).rows() == by_hand(rows)


@pytest.mark.filterwarnings("ignore:Dask support is moving out of Narwhals:FutureWarning")
def test_dask_gives_the_same_rows() -> None:
    dask = pytest.importorskip("dask.dataframe")
    rows = some_log()
    found = fold(dask.from_pandas(frame_of(rows).to_pandas(), npartitions=3)).compute()
    assert sorted(found[COLUMNS].itertuples(index=False, name=None)) == by_hand(rows)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")
def test_a_cluster_gives_the_same_rows(tmp_path: Path) -> None:
    """PySpark on this machine; reads Parquet as a cluster would."""
    pyspark = pytest.importorskip("pyspark.sql", reason="pyspark is not installed (extra: cluster)")
    rows = some_log()
    frame_of(rows).cast(pl.Int64).write_parquet(tmp_path / "log.parquet")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            builder = pyspark.SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false")
            session = builder.config("spark.sql.shuffle.partitions", "2").getOrCreate()
        except Exception as error:
            pytest.skip(f"no cluster engine could be started here, probably for want of Java: {error}")
        try:
            found = fold(session.read.parquet(str(tmp_path / "log.parquet"))).select(*COLUMNS).collect()
        finally:
            session.stop()
    assert sorted(tuple(row) for row in found) == by_hand(rows)
