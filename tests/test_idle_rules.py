"""A rule or list that matches nobody is said in one line, by `check`, after a fit and in the report; it is never an error."""

from __future__ import annotations

import html
import json
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[drop]]
name = "left the club"
list = "gone.txt"
[[drop]]
name = "one of us"
ids = [2320002]
[[keep]]
name = "far away"
countries = ["JP"]
[[keep]]
name = "club <b>"
list = "club.txt"
[[keep]]
name = "the rest"
[[radio]]
name = "one"
contacts = 9
[[radio]]
name = "two"
contacts = 9
rules = ["club <b>", "the rest"]
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("stations.csv").write_text("id,callsign,name,country\n2320001,OE1AAA,Ada,Austria\n2320002,OE1AAB,Bea,Austria\n")
    Path("gone.txt").write_text("2329999\n")
    Path("club.txt").write_text("OE9ZZZ\n")
    Path("pruner.toml").write_text(SETTINGS)
    return tmp_path


@pytest.mark.parametrize("words", [["check"], ["check", "--json"], ["fit"], ["fit", "--json"]])
def test_check_and_fit_say_it(folder: Path, capsys: Capture, words: list[str]) -> None:
    assert guarded(words) == ExitCode.DONE
    assert capsys.readouterr().err.splitlines() == [
        f"pruner: drop rule 'left the club' (list {folder / 'gone.txt'}) leaves nobody out",
        "pruner: keep rule 'far away' matches nobody",
        f"pruner: keep rule 'club <b>' (list {folder / 'club.txt'}) matches nobody",
    ]


def test_a_list_that_names_nobody_is_said(folder: Path, capsys: Capture) -> None:
    Path("gone.txt").write_text("# nobody left\n")
    assert guarded(["fit"]) == ExitCode.DONE
    said = capsys.readouterr()
    assert f"(list {folder / 'gone.txt'}, which names no station) leaves nobody out" in said.err
    assert "gone.txt: no stations: the list is empty, or holds comments only" in said.out


def test_lines_that_are_no_rows_are_counted(folder: Path, capsys: Capture) -> None:
    text = Path("stations.csv").read_text()
    Path("stations.csv").write_text(text + "\n# more\n" + text.replace("232000", "232001"))
    assert guarded(["fit"]) == ExitCode.DONE
    assert "lines that are no rows, not among those read: comments 1, repeated headings 1" in capsys.readouterr().out


def test_summary_and_report_say_it(folder: Path) -> None:
    assert guarded(["fit"]) == ExitCode.DONE
    for radio, count in (("one", 3), ("two", 2)):
        told = json.loads(Path("out", radio, "summary.json").read_text("utf-8"))["matched_nobody"]
        assert len(told) == count
        page = Path("out", radio, "report.html").read_text("utf-8")
        assert "<b>" not in page
        for sentence in told:
            assert html.escape(sentence, quote=False).replace("'", "&#39;") in page or html.escape(sentence) in page


def test_rules_that_match_are_not_named(folder: Path, capsys: Capture) -> None:
    Path("gone.txt").write_text("2320001\n")
    Path("club.txt").write_text("OE1AAA\nOE1AAB\n")
    Path("pruner.toml").write_text(SETTINGS.replace('"JP"', '"AT"'))
    for words in (["check"], ["fit"]):
        assert guarded(words) == ExitCode.DONE
        assert capsys.readouterr().err == ""


@pytest.mark.parametrize("location", ["log.csv", "https://club.example/calls?key=secret"])
@pytest.mark.parametrize("words", [["check"], ["fit"]])
def test_a_heard_log_of_a_system_that_no_source_is_of(folder: Path, capsys: Capture, words: list[str], location: str) -> None:
    Path("gone.txt").write_text("2320001\n")
    Path("club.txt").write_text("OE1AAA\nOE1AAB\n")
    Path("log.csv").write_text("id,talkgroup,time,seconds\n2320001,232,2026-03-01T12:00:00Z,5\n")
    heard = f'[[heard]]\nlocation = "{location}"\nsystem = "p25"\n'
    Path("pruner.toml").write_text(SETTINGS.replace('"JP"', '"AT"') + heard)
    assert guarded(words) == ExitCode.DONE
    err = capsys.readouterr().err
    assert "are of p25, but every source is of dmr, so they count for nobody" in err
    assert ("log.csv" if location == "log.csv" else "club.example") in err
    assert "secret" not in err


def test_check_goes_on_without_the_directory(folder: Path, capsys: Capture) -> None:
    Path("stations.csv").unlink()
    assert guarded(["check"]) == ExitCode.SOURCE_MISSING
    out, err = capsys.readouterr()
    assert "1 mistake, for which fit would be refused" in out
    assert "stations.csv" in err
    assert err.count("\n") == 1


def test_entries_of_a_list_that_match_nobody_are_named(folder: Path, capsys: Capture) -> None:
    Path("club.txt").write_text("OE1AAA\nOE9ZZZZ\n2329999\n2320002\n2321*\n")
    assert guarded(["check"]) == ExitCode.DONE
    said = [line for line in capsys.readouterr().err.splitlines() if "club <b>" in line]
    assert said == [
        f"pruner: keep rule 'club <b>': 2 of 5 entries of list {folder / 'club.txt'} match nobody: OE9ZZZZ, 2329999"
    ]
    Path("club.txt").write_text("OE1AAA\n" + "".join(f"23299{n}\n" for n in range(10, 18)))
    assert guarded(["check"]) == ExitCode.DONE
    (line,) = [line for line in capsys.readouterr().err.splitlines() if "club <b>" in line]
    assert line.endswith("club.txt match nobody: 2329910, 2329911, 2329912, 2329913, 2329914 and 3 more")
    Path("club.txt").write_text("OE1AAA\n2320002\n")
    assert guarded(["check"]) == ExitCode.DONE
    assert "club <b>" not in capsys.readouterr().err


@pytest.mark.parametrize("damage", ["", "{", '{"schema": 1'])
def test_a_damaged_result_says_the_way_out(folder: Path, capsys: Capture, damage: str) -> None:
    assert guarded(["fit"]) == ExitCode.DONE
    result = next(Path(folder).glob("*/one/summary.json")).parent
    (result / "summary.json").write_text(damage)
    for words in (["why", "2320001"], ["fit"], ["report", str(result)]):
        capsys.readouterr()
        assert guarded(words) == ExitCode.SETTINGS, words
        said = " ".join(capsys.readouterr().err.split())
        assert "summary.json there is damaged" in said, words
        assert "move this folder away or delete it, then run pruner fit" in said, words
    result.rename(folder / "away")
    assert guarded(["fit"]) == ExitCode.DONE
    assert guarded(["why", "2320001"]) == ExitCode.DONE
