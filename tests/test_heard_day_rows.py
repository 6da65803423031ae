"""Covered days as they lie in the files of counted days: the same answers as the rows of the store, computed with polars."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import polars as pl
import pyarrow as pa
import pytest

from pruner.calls import remembered
from pruner.calls.covered import CoveredStore, load_covered
from pruner.calls.day_rows import day_rows
from pruner.calls.parts import ROW, in_seconds, of_day
from pruner.calls.weights import load_weights
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs

FIRST = 20_500
IDS = np.arange(2_320_001, 2_320_031, dtype=np.uint32)
GROUPS = list(range(1, 26))


def _store(folder: Path, seed: int) -> Path:
    draws = np.random.default_rng(seed)
    count = 8000
    day = draws.integers(0, 42, count)
    log = pl.DataFrame(
        {
            "time": (FIRST + day) * 86_400 + draws.integers(0, 86_400, count),
            "id": IDS[draws.integers(0, 25, count)],
            "talkgroup": draws.choice(GROUPS, count),
            "seconds": draws.integers(1, 60, count) / 2,
        }
    ).filter(pl.lit(~np.isin(day, range(15, 20))))  # silence
    log.write_parquet(folder / "log.parquet")
    fold_logs(folder / "state", [LogFiles([folder / "log.parquet"])])
    return folder / "state" / "heard" / "dmr"


def _answers(store: CoveredStore) -> list[list[int]]:
    found: list[list[int]] = []
    for groups in (None, [3, 1], [4_000_000], GROUPS[:20]):
        found.append(store.last_heard(IDS, groups).tolist())
        for days in (None, 1, 9, 400):
            found.append(store.calls(IDS, groups, days).tolist())
            found.append([store.total_calls(groups, days)])
            rows = store.rows(groups, days)
            found.append(rows.with_columns(pl.col("day", "last").to_physical()).to_numpy().ravel().tolist())
    return found


def _wanted(rows: pl.DataFrame, covered: list[int]) -> list[list[int]]:
    """The same from all rows of the store; counted days are numbered backwards from the last one without gaps."""
    rows = rows.filter(pl.col("day").to_physical().is_in(covered))
    found: list[list[int]] = []
    for groups in (None, [3, 1], [4_000_000], GROUPS[:20]):
        own = rows if groups is None else rows.filter(pl.col("talkgroup").is_in(groups))
        found.append(_of_ids(own, pl.col("last").dt.epoch("ms").max()))
        for days in (None, 1, 9, 400):
            within = own.filter(pl.col("day").to_physical().is_in(covered[-(days or 400) :]))
            found.append(_of_ids(within, pl.col("calls").sum()))
            found.append([int(within["calls"].sum())])
            place = {day: covered[-1] - len(covered) + 1 + place for place, day in enumerate(covered)}
            shown = within.select(
                "id", "talkgroup", pl.col("day").to_physical().replace_strict(place, return_dtype=pl.Int32), "calls", "last"
            )
            found.append(shown.with_columns(pl.col("last").to_physical()).to_numpy().ravel().tolist())
    return found


def _of_ids(rows: pl.DataFrame, value: pl.Expr) -> list[int]:
    known = dict(rows.group_by("id").agg(value.alias("value")).iter_rows())
    return [int(known.get(number, 0)) for number in IDS.tolist()]


@pytest.mark.parametrize("seed", [1, 2])
def test_answers_are_those_of_the_rows(tmp_path: Path, seed: int) -> None:
    folder = _store(tmp_path, seed)
    weights, store = load_weights(folder), load_covered(folder)
    assert weights is not None
    assert store is not None
    covered = store.calendar.days.tolist()
    assert len(covered) == 42 - 5
    wanted = _wanted(weights.rows(), covered)
    assert _answers(store) == wanted
    part = store.part(store.last_day - 4, store.last_day - 1)
    rows = weights.rows().filter(pl.col("day").to_physical().is_in(covered[-5:-1]))
    assert part.calls(IDS).tolist() == _of_ids(rows, pl.col("calls").sum())
    # What was opened stays where its files go, and where none can be written all is the same.
    shutil.rmtree(folder / "counted")
    assert _answers(store) == wanted
    (folder / "counted").write_text("no folder")
    unwritten = load_covered(folder)
    assert unwritten is not None
    assert _answers(unwritten) == wanted


def test_short_days_lie_in_one_piece_also_where_days_are_left_out(tmp_path: Path) -> None:
    weights = load_weights(_store(tmp_path, 4))
    assert weights is not None
    rows, _ = day_rows(weights, ["id", "calls"])
    some = rows.of(rows.days[::2])
    assert len(some.days) * 2 == len(rows.days) + len(rows.days) % 2
    for found in (rows, some):
        assert len(list(found.pieces(["id"]))) == 1


def test_a_damaged_file_of_counted_days_is_counted_anew(tmp_path: Path) -> None:
    folder = _store(tmp_path, 3)
    store = load_covered(folder)
    assert store is not None
    wanted = _answers(store)
    del store
    for place, path in enumerate(sorted((folder / "counted").iterdir())):
        damaged = path.read_bytes()[: 200 * place]
        path.unlink()
        path.write_bytes(damaged)
    again = load_covered(folder)
    assert again is not None
    assert _answers(again) == wanted


def test_rows_in_seconds_and_back() -> None:
    rows = pa.table(
        {
            "id": [1],
            "talkgroup": [2],
            "day": [FIRST],
            "calls": [3],
            "milliseconds": [4],
            "first": [FIRST * 86_400_000],
            "last": [(1 << 32) * 1000 - 1],  # the last second that 32 bits hold is in the year 2106
        }
    )
    rows = rows.set_column(2, "day", rows["day"].cast(pa.int32()).cast(pa.date32())).cast(ROW)
    short = in_seconds(rows)
    assert short["last"].to_pylist() == [(1 << 32) - 1]
    assert of_day(short, FIRST, ROW.names).drop(["last"]) == rows.drop(["last"])
    assert in_seconds(rows.select(["id", "last"])).column_names == ["id", "last"]


def test_a_file_that_is_not_there_is_not_remembered(tmp_path: Path) -> None:
    assert remembered.remembered(tmp_path / "none.arrow", ["id"]) is None
