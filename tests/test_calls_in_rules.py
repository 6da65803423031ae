"""Heard logs in rules, orders and the summary: compared with a plain count over the log, call by call."""

from __future__ import annotations

import csv
import json
import shutil
import subprocess
import sys
from collections import Counter
from pathlib import Path

import polars as pl
import pytest

from pruner.account.summary import Summary
from pruner.job import run
from pruner.logs.fold import fold_all
from pruner.settings.load import load_settings

AUSTRIANS = [2320001, 2320002, 2320003, 2320004]
GERMANS = [2620001, 2620002]
FRENCH = [2080001, 2080002]
UNKNOWN = 2999999  # heard, but in no directory


def log_rows() -> list[tuple[int, int, str]]:
    """(id, talkgroup, day of June or earlier): a few stations with habits that can be counted by hand."""
    rows = []
    rows += [(2320003, 232, f"2026-06-{day:02}") for day in range(1, 31)]  # daily on 232
    rows += [(2320002, 91, "2026-06-30")]  # once, the latest of all
    rows += [(2620001, 232, "2026-06-10")] * 3  # three calls in one day
    rows += [(2080002, 91, "2026-01-05")] * 5  # long ago
    rows += [(UNKNOWN, 232, "2026-06-20")] * 6
    return rows


RULES = """
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[[heard]]
location = "log.csv"
[calls]
window_days = 30
[[radio]]
name = "r"
contacts = 100
"""


@pytest.fixture(scope="module")
def folded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A directory, and a log that was folded."""
    folder = tmp_path_factory.mktemp("heard")
    stations = [*AUSTRIANS, *GERMANS, *FRENCH]
    (folder / "stations.csv").write_text("id,callsign\n" + "".join(f"{number},X{number}A\n" for number in stations))
    lines = [f"{number},{talkgroup},{day}T12:{minute:02}:07Z,5\n" for minute, (number, talkgroup, day) in enumerate(log_rows())]
    (folder / "log.csv").write_text("id,talkgroup,time,seconds\n" + "".join(lines))
    (folder / "pruner.toml").write_text(RULES + '[[keep]]\nname = "k"\n')
    fold_all(load_settings(folder / "pruner.toml"))
    return folder


@pytest.fixture
def folder(folded: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(folded, tmp_path, dirs_exist_ok=True))


def result(folder: Path, rules: str, settings: str = "") -> tuple[pl.DataFrame, Summary]:
    (folder / "pruner.toml").write_text(RULES + rules + settings)
    loaded = load_settings(folder / "pruner.toml")
    fold_all(loaded)
    summary = run(loaded).summaries[0]
    return pl.read_parquet(folder / "out/r/ledger.parquet"), summary


def owned_by(ledger: pl.DataFrame, rule: str) -> set[int]:
    return set(ledger.filter(pl.col("rule") == rule)["id"].to_list())


def in_rank_order(ledger: pl.DataFrame) -> list[int]:
    ids: list[int] = ledger.filter(pl.col("rank").is_not_null()).sort("rank")["id"].to_list()
    return ids


@pytest.mark.parametrize(
    ("condition", "expected"),
    [
        ("heard_within_days = 1", {2320002, 2320003}),
        ("heard_within_days = 30", {2320002, 2320003, 2620001}),
        ("heard_within_days = 21", {2320002, 2320003, 2620001}),  # the 10th is the first of the last 21 days
        ("heard_within_days = 20", {2320002, 2320003}),
        ("heard_at_least = 4", {2320003, 2080002}),
        ("heard_within_days = 30\nheard_at_least = 3", {2320003, 2620001}),
        ("talkgroups = [91]", {2320002, 2080002}),
        ("talkgroups = [91]\nheard_within_days = 30", {2320002}),
        ("talkgroups = [232]", {*AUSTRIANS, 2620001}),  # begins with the code of Austria (E.212)
        ('talkgroups = "mine"\nheard_at_least = 1', {2320003, 2620001, 2320002, 2080002}),
        ('talkgroups = [232]\ncountries = ["DE"]', {2620001}),
    ],
)
def test_conditions(folder: Path, condition: str, expected: set[int]) -> None:
    ledger, summary = result(folder, f'[[keep]]\nname = "k"\n{condition}\n', "[talkgroups]\nmine = [232, 91]\n")
    assert owned_by(ledger, "k") == expected
    assert summary.rules[0].matched == len(expected)


def test_the_switch_turns_country_codes_of_talkgroups_off(folder: Path) -> None:
    ledger, _ = result(folder, '[[keep]]\nname = "k"\ntalkgroups = [232]\n', "[talkgroups]\ncountries = false\n")
    assert owned_by(ledger, "k") == {2320003, 2620001}


def test_talkgroups_serve_those_who_have_no_log(tmp_path: Path, folder: Path) -> None:
    (folder / "log.csv").unlink()
    shutil.rmtree(folder / ".pruner")
    text = RULES.replace('[[heard]]\nlocation = "log.csv"\n', "") + '[[keep]]\nname = "k"\ntalkgroups = [2328, 262]\n'
    (folder / "pruner.toml").write_text(text)
    summary = run(load_settings(folder / "pruner.toml")).summaries[0]
    assert summary.coverage is None
    assert owned_by(pl.read_parquet(folder / "out/r/ledger.parquet"), "k") == {*AUSTRIANS, *GERMANS}


@pytest.mark.parametrize(
    ("order", "first"),
    [
        ("recent", [2320002, 2320003, 2620001, 2080002]),
        ("often", [2320003, 2620001, 2320002, 2080002]),
        ("id", [2080001, 2080002, 2320001, 2320002]),
    ],
)
def test_orders(folder: Path, order: str, first: list[int]) -> None:
    ledger, summary = result(folder, f'[[keep]]\nname = "k"\norder = "{order}"\n')
    ranks = in_rank_order(ledger)
    assert ranks[:4] == first
    if order != "id":
        assert ranks[4:] == sorted(ranks[4:])  # never heard: by id
    assert summary.rules[0].order == order


def test_orders_look_at_the_talkgroups_that_count(folder: Path) -> None:
    own, _ = result(folder, '[[keep]]\nname = "k"\norder = "often"\n', "[talkgroups]\nmine = [91]\n")
    assert in_rank_order(own)[:2] == [2320002, 2080002]  # once in the window; five calls before it
    rule, _ = result(
        folder,
        '[[keep]]\nname = "k"\norder = "often"\ntalkgroups = [232]\n[[keep]]\nname = "rest"\norder = "id"\n',
        "[talkgroups]\nmine = [91]\n",
    )
    assert in_rank_order(rule)[:2] == [2320003, 2620001]


def test_the_default_order_is_expected_where_there_are_logs(folder: Path) -> None:
    ledger, summary = result(folder, '[[keep]]\nname = "k"\n')
    assert summary.rules[0].order == "expected"
    assert in_rank_order(ledger)[0] == 2320003
    assert list(summary.coverage.expected_by)  # says which method, here the fall-back for too little data


@pytest.mark.parametrize("limit", [0, 1, 2, 3, 100])
@pytest.mark.parametrize("mine", [(), (232,)])
def test_coverage_is_what_counting_gives(folder: Path, limit: int, mine: tuple[int, ...]) -> None:
    settings = f"[talkgroups]\nmine = {list(mine)}\n"
    text = RULES.replace("contacts = 100", f"contacts = {limit}") + '[[keep]]\nname = "k"\norder = "often"\n' + settings
    (folder / "pruner.toml").write_text(text)
    loaded = load_settings(folder / "pruner.toml")
    fold_all(loaded)
    told = run(loaded).summaries[0].coverage
    with (folder / "out/r/contacts.csv").open(newline="") as file:
        kept = {int(row["id"]) for row in csv.DictReader(file)}
    june = [(number, group) for number, group, day in log_rows() if day.startswith("2026-06")]
    assert (told.mine is not None) == bool(mine)
    for part, groups in ((told.all, None), *([(told.mine, mine)] if mine else [])):
        calls = Counter(number for number, group in june if groups is None or group in groups)
        total = sum(calls.values())
        assert part.calls == total
        assert part.named == sum(count for number, count in calls.items() if number in kept)
        assert part.share == pytest.approx(part.named / total, abs=1e-6)
        known = sorted((count for number, count in calls.items() if number != UNKNOWN), reverse=True)
        assert part.best_share == pytest.approx(sum(known[: len(kept)]) / total, abs=1e-6)
    curve = {row.contacts: row.share for row in told.by_limit}
    if limit in curve:
        assert curve[limit] == (told.mine or told.all).share


@pytest.mark.long
def test_reruns_and_the_command_agree(folder: Path) -> None:
    result(folder, '[[keep]]\nname = "k"\norder = "expected"\n')
    first = {path.name: path.read_bytes() for path in (folder / "out/r").iterdir()}
    command = [sys.executable, "-m", "pruner", "fit", "--settings", str(folder / "pruner.toml"), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    assert {path.name: path.read_bytes() for path in (folder / "out/r").iterdir()} == first
    assert json.loads(done.stdout)[0]["coverage"]["all"]["calls"] == 40


def test_fit_takes_in_what_is_new_in_the_logs(folder: Path) -> None:
    (folder / "pruner.toml").write_text(RULES + '[[keep]]\nname = "k"\n')
    settings = load_settings(folder / "pruner.toml")
    assert run(settings).summaries[0].coverage.all.calls == 40
    with (folder / "log.csv").open("a") as log:
        log.write("2320001,232,2026-06-30T13:00:00Z,5\n")
    assert run(settings).summaries[0].coverage.all.calls == 41
    assert run(settings).summaries[0].coverage.all.calls == 41


def test_without_the_log_the_calls_that_are_known_count(folder: Path) -> None:
    (folder / "pruner.toml").write_text(RULES + '[[keep]]\nname = "k"\n')
    settings = load_settings(folder / "pruner.toml")
    run(settings)
    (folder / "log.csv").unlink()
    result = run(settings)
    assert result.summaries[0].coverage.all.calls == 40
    assert len(result.notes) == 1
    assert "log.csv" in result.notes[0]


def test_carried_entries_have_a_name_too(folder: Path) -> None:
    """One of them is in the directory, one is in none; both called."""
    (folder / "export.csv").write_text(f"id,callsign\n{UNKNOWN},BENCH\n2320003,MINE\n")
    text = RULES.replace("contacts = 100", 'contacts = 3\ncarried = "export.csv"')
    (folder / "pruner.toml").write_text(text + '[[keep]]\nname = "k"\norder = "often"\n')
    told = run(load_settings(folder / "pruner.toml")).summaries[0].coverage
    calls = Counter(number for number, _, day in log_rows() if day.startswith("2026-06"))
    kept = {UNKNOWN, 2320003, 2620001}
    assert told.all.named == sum(calls[number] for number in kept)
    assert told.all.best_share == pytest.approx(told.all.named / calls.total(), abs=1e-6)
    curve = {row.contacts: row.share for row in told.by_limit}
    assert curve[1] == pytest.approx(calls[2320003] / calls.total(), abs=1e-6)
    assert curve[3] == told.all.share
