"""Which tables are lists of talkgroups: ordinary ones in many languages, and tables of other kinds, all invented."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
TABLES = Path(__file__).parent / "tables" / "talkgroups"
LISTS = {path.name: path.read_text("utf-8") for path in sorted((TABLES / "lists").iterdir())}
#: Prices, members, weather, timetables, accounts, results, addresses, goods, directories, logs.
OTHERS = {path.name: path.read_text("utf-8") for path in sorted((TABLES / "others").iterdir())}


@pytest.mark.parametrize("name", LISTS)
def test_lists_of_talkgroups(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    monkeypatch.chdir(tmp_path)
    Path(name).write_text(LISTS[name], encoding="utf-8")
    assert guarded(["talkgroups", name, "--limit", "100", "--out", "out"]) == ExitCode.DONE
    with Path("out/talkgroups/radio/talkgroups.csv").open(encoding="utf-8", newline="") as file:
        rows = [*csv.DictReader(file)]
    assert rows
    for row in rows:
        assert row["number"] in LISTS[name]
        assert row["name"].partition(" ")[0] in LISTS[name]


@pytest.mark.parametrize("name", OTHERS)
def test_tables_of_other_kinds_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture, name: str) -> None:
    monkeypatch.chdir(tmp_path)
    Path(name).write_text(OTHERS[name], encoding="utf-8")
    assert guarded(["talkgroups", name, "--limit", "100", "--out", "out"]) == ExitCode.INPUT_REFUSED
    _, err = capsys.readouterr()
    assert (err.count("\n"), "if it is a list of talkgroups" in err or "say which" in err) == (1, True)


def test_what_the_user_says_beats_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("prices.csv").write_text(OTHERS["prices.csv"])
    answers = ["--column", "id=1", "--column", "name=2"]
    assert guarded(["talkgroups", "prices.csv", "--limit", "9", "--out", "out", *answers]) == ExitCode.DONE


WAYS = ["{} {}", "{}  {}", "{} = {}", "{}: {}", "{} - {}", "{}\t{}"]


@pytest.mark.parametrize("way", WAYS)
def test_a_number_and_a_text_a_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: str) -> None:
    """Names have one word, or several, and dashes of their own."""
    monkeypatch.chdir(tmp_path)
    groups = {"91": "World-wide", "232": "Austria", "31": "North America", "3100": "United States", "9990": "Echo - test only"}
    lines = ["# our groups", "", *(way.format(number, name) for number, name in groups.items())]
    Path("groups.txt").write_text("\n".join(lines) + "\n")
    assert guarded(["talkgroups", "groups.txt", "--limit", "100", "--out", "out"]) == ExitCode.DONE
    text = Path("out/talkgroups/radio/talkgroups.csv").read_text()
    assert {row["number"]: row["name"] for row in csv.DictReader(text.splitlines())} == groups
    assert json.loads(Path("out/talkgroups/radio/summary.json").read_text())["rejected"] == 0
