"""The history of runs: one line a run, whole or not at all, counts only."""

from __future__ import annotations

import datetime
import json
import tempfile
from pathlib import Path

import polars as pl
import pytest
from demo_worlds import folded_demo
from draws import draws
from history_samples import coverage, day, summary
from hypothesis import given
from hypothesis import strategies as st
from summary_samples import altered

from pruner.history.record import record
from pruner.history.runs import columns, history_file, no_runs, read
from pruner.history.series import radios_now, recorded
from pruner.job import run
from pruner.settings.load import load_settings
from pruner.words.errors import SettingsError


def test_a_run_as_the_ledger_counts_it(tmp_path: Path) -> None:
    """Stations found, wanted and kept are counted once more in the ledger with SQL."""
    file = folded_demo(tmp_path / "demo")
    file.write_text(file.read_text(encoding="utf-8").replace("200_000", "700"), encoding="utf-8")
    result = run(load_settings(file))
    path = record(tmp_path / "history", datetime.date(2026, 3, 1), result.summaries)
    rows = read(tmp_path / "history").runs
    assert rows.schema == columns()
    ledger = pl.scan_parquet(result.folders[0] / "ledger.parquet")
    found = ledger.sql(
        """select count(*) as read, sum((outcome = 'rejected')::int) as rejected, sum((outcome = 'kept')::int) as kept,
        count(distinct id) filter (where reason is null or reason <> 'reserved id') as contacts,
        sum((outcome = 'kept' or reason = 'over limit')::int) as wanted from self"""
    ).collect()
    for about in ("radio", "source"):
        assert rows.filter(pl.col("about") == about).select(found.columns).rows() == found.rows()
    assert found["wanted"][0] > found["kept"][0] == 700
    countries = rows.filter(pl.col("about") == "country")
    assert dict(countries.select("name", "kept").rows()) == result.summaries[0].countries
    assert rows.filter(pl.col("about") == "radio")["limit"].to_list() == [700]
    text = path.read_text(encoding="utf-8")
    callsigns = ledger.select("callsign").drop_nulls().collect()["callsign"].to_list()
    assert not [callsign for callsign in callsigns if len(callsign) > 3 and callsign in text]


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 9)), max_size=12))
@draws(25)
def test_runs_come_back_by_day_in_the_order_of_recording(runs: list[tuple[int, int]]) -> None:
    with tempfile.TemporaryDirectory() as name:
        for on, stations in runs:
            record(Path(name), day(on), [summary(stations)])
        found = read(Path(name)).runs.filter(pl.col("about") == "radio")
    expected = sorted(runs, key=lambda run: run[0])
    assert found.select("run", "day", "contacts").rows() == [(i, day(on), n) for i, (on, n) in enumerate(expected)]
    series, aside = recorded(found)
    assert aside == 0
    assert dict(zip(series.day.tolist(), series.count.tolist(), strict=True)) == dict(expected)


def test_a_run_killed_while_it_writes_is_as_if_it_had_not_been(tmp_path: Path) -> None:
    """A line cut off at any byte: the runs before stay, the next run is added whole."""
    path = history_file(tmp_path)
    record(tmp_path, day(1), [summary(1)])
    first = path.read_bytes()
    record(tmp_path, day(2), [summary(2)])
    second = path.read_bytes()
    for cut in range(len(first), len(second), 7):
        path.write_bytes(second[:cut])
        survivors = read(tmp_path)
        assert (survivors.runs["run"].n_unique(), survivors.broken) == (1, int(cut > len(first)))
        assert bool(survivors.notes) == bool(survivors.broken)
        record(tmp_path, day(3), [summary(3)])
        found = read(tmp_path).runs.filter(pl.col("about") == "radio")
        assert found["contacts"].to_list() == [1, 3]
    path.write_bytes(second[:-1])  # only the line feed is missing
    record(tmp_path, day(3), [summary(3)])
    assert read(tmp_path).runs["run"].n_unique() == 3


def test_no_history_is_an_empty_one(tmp_path: Path) -> None:
    assert read(tmp_path / "nowhere").runs.equals(no_runs())
    series, aside = recorded(no_runs())
    assert (len(series), series.span, aside, radios_now(no_runs())) == (0, 0, 0, {})


RADIO_ROW = {"about": "radio", "name": "one", "radio": "one", "kept": 1, "contacts": 2, "wanted": 3}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"schema": 2}, "was written by another version of pruner (schema 2)"),
        ({"schema": None}, "schema: expected a whole number, found nothing"),
        ({"day": "2026-13-01"}, "day: expected a date such as 2024-01-31, found a text"),
        ({"rows": {}}, "rows: expected a list, found a table"),
        ({"rows": [7]}, "rows[0]: expected a table, found a number"),
        ({"rows": [{**RADIO_ROW, "kept": "many"}]}, "rows[0].kept: expected a whole number, found a text"),
        ({"rows": [RADIO_ROW, {"about": "radio"}]}, "expected 'name' in rows[1], found none"),
        ({"rows": [{**RADIO_ROW, "wanted": None}]}, "rows[0]: expected what a radio kept, wanted"),
        ({"rows": [{**RADIO_ROW, "wants": [[1]]}]}, "rows[0].wants[0]: expected a list of 2, found one of 1"),
    ],
)
def test_a_history_that_is_not_ours_is_one_line(tmp_path: Path, change: dict, message: str) -> None:
    run = {"schema": 1, "day": "2026-01-01", "rows": [RADIO_ROW]}
    whole = json.dumps(run) + "\n"
    history_file(tmp_path).write_text(whole, encoding="utf-8")
    assert read(tmp_path).runs["kept"].to_list() == [1]
    history_file(tmp_path).write_text(whole + json.dumps({**run, **change}) + "\n", encoding="utf-8")
    with pytest.raises(SettingsError) as raised:
        read(tmp_path)
    [problem] = raised.value.problems
    assert problem.startswith(f"{history_file(tmp_path)}: line 2: ")
    assert message in problem
    assert "to begin anew" in problem


def test_a_history_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "history").write_text("a file")
    with pytest.raises(SettingsError, match="cannot be written"):
        record(tmp_path / "history", day(1), [summary(1)])


def test_coverage_counts_the_users_talkgroups_if_there_are_any(tmp_path: Path) -> None:
    points = {50: 0.5, 100: 1.0}
    told = {
        "both": coverage(0.25, mine=0.75, is_mine=True, by_limit=points),
        "all": coverage(0.25),
        "silent": coverage(0.25, mine=None, is_mine=True, by_limit=points),
    }
    for number, (radio, one) in enumerate(told.items(), 1):
        record(tmp_path, day(number), [summary(100, radio=radio, coverage=one)])
    now = radios_now(read(tmp_path).runs)
    assert {name: radio.coverage for name, radio in now.items()} == {"both": 0.75, "all": 0.25, "silent": None}
    assert now["both"].curve == ((0, 0), (0.5, 0.5), (1, 1))
    assert now["all"].curve == ((0, 0), (1, 0.25))
    assert now["silent"].curve == ()


def test_room_that_stays_free_is_no_room(tmp_path: Path) -> None:
    record(tmp_path, day(1), [altered(summary(5), limit={"contacts": 8, "keep_free": 2})])
    record(tmp_path, day(2), [altered(summary(5), limit={"contacts": None})])
    assert read(tmp_path).runs.filter(pl.col("about") == "radio")["limit"].to_list() == [6, None]


def test_a_radio_that_counts_its_memory_otherwise(tmp_path: Path) -> None:
    """It holds what it kept when it was full; a radio that was not full yet leaves its room unknown."""
    for radio, limit in (("full", 40), ("not full", 400)):
        record(tmp_path, day(1), [altered(summary(50, radio=radio, limit=limit), limit={"contacts": None})])
    assert {name: radio.room for name, radio in radios_now(read(tmp_path).runs).items()} == {"full": 40, "not full": None}
