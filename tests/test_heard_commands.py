"""The commands heard fold, heard show and heard forget."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

LOG = """time,id,talkgroup,seconds
2026-11-20T10:00:00Z,2321234,232,30.5
2026-11-20T11:00:00Z,2321234,91,10
2026-11-21T12:00:00Z,2321234,232,20
2026-11-21T13:00:00Z,2625678,91,3600
broken
"""
SETTINGS = """[[source]]
name = "world"
location = "stations.csv"
[[heard]]
location = "logs/*.csv"
[[radio]]
name = "handheld"
contacts = 10
"""


@dataclass
class Told:
    returncode: int
    stdout: str
    stderr: str


Run = Callable[..., Told]


@pytest.fixture
def run(folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """The command line in the folder, without the cost of a process."""
    monkeypatch.chdir(folder)

    def command(*arguments: str) -> Told:
        code = guarded(["heard", *arguments])
        return Told(code, *capsys.readouterr())

    return command


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "pruner.toml").write_text(SETTINGS)
    (tmp_path / "stations.csv").write_text("id,callsign\n2321234,OE1XYZ\n")
    (tmp_path / "logs").mkdir()
    (tmp_path / "logs" / "one\x1b[31m.csv").write_text(LOG)
    return tmp_path


def test_a_log_whose_calls_are_all_known_holds_nothing_new(run: Run, folder: Path) -> None:
    """Two logs were taken whole before; the third tells the same calls in lines of its own, which are read."""
    headings, rows = "time,id,talkgroup", [f"2026-11-20T12:{n:02}:00Z,2321234,232" for n in range(40)]
    (folder / "logs" / "first.csv").write_text("\n".join([headings, *rows]) + "\n")
    assert run("fold").returncode == ExitCode.DONE
    (folder / "logs" / "turned.csv").write_text("\n".join([headings, *reversed(rows)]) + "\n")
    told = run("fold")
    assert told.returncode == ExitCode.DONE, told.stderr
    assert ["turned.csv", "40", "0", "40", "0", "0"] in [line.split() for line in told.stdout.splitlines()]
    assert "3 of 3 logs hold nothing new" in told.stdout


@pytest.mark.parametrize("text", ["", " \n\n"])
def test_an_empty_log_is_said_to_be_empty(run: Run, folder: Path, text: str) -> None:
    (folder / "logs" / "later.csv").write_text(text)
    told = run("fold")
    assert told.returncode == ExitCode.DONE, told.stderr
    assert "empty, with no calls in them: later.csv" in told.stdout
    assert "nothing new" not in told.stdout
    again = run("fold")
    assert "1 of 2 logs hold nothing new" in again.stdout
    assert [one.get("empty") for one in json.loads(run("fold", "--json").stdout)["files"]] == [True, None]


def test_fold_show_forget(run: Run, folder: Path) -> None:
    told = run("fold")
    assert told.returncode == ExitCode.DONE, told.stderr
    assert "\x1b" not in told.stdout
    assert max(map(len, told.stdout.splitlines())) <= max(80, len(str(folder)) + 20)
    assert told.stdout.splitlines()[3].split() == ["in", "all", "5", "4", "0", "0", "1"]
    again = json.loads(run("fold", "--json").stdout)
    assert again["total"] == {"read": 0, "folded": 0, "new": 0, "known": 0, "events": 0, "rejected": {}, "set_aside": {}}

    shown = json.loads(run("show", "--json").stdout)
    assert (shown["first_day"], shown["last_day"], shown["calls"], shown["stations"]) == ("2026-11-20", "2026-11-21", 4, 2)
    assert shown["most_heard"][0] == {
        "id": 2321234,
        "calls": 3,
        "seconds": 60.5,
        "first": "2026-11-20T10:00:00Z",
        "last": "2026-11-21T12:00:00Z",
        "talkgroups": [232, 91],
        "callsign": "OE1XYZ",
        "name": None,
        "country": "Austria",
    }
    everybody = json.loads(run("show", "--all", "--json").stdout)
    assert [tuple(one.values()) for one in everybody] == [
        (2321234, "OE1XYZ", 91, 1, 10_000, "2026-11-20T11:00:00Z", "2026-11-20T11:00:00Z"),
        (2321234, "OE1XYZ", 232, 2, 50_500, "2026-11-20T10:00:00Z", "2026-11-21T12:00:00Z"),
        (2625678, None, 91, 1, 3_600_000, "2026-11-21T13:00:00Z", "2026-11-21T13:00:00Z"),
    ]
    assert list(everybody[0]) == ["id", "callsign", "talkgroup", "calls", "milliseconds", "first", "last"]
    assert [len(line.split()) for line in run("show", "--all").stdout.splitlines()[-2:]] == [8, 7]
    assert [(line["talkgroup"], line["calls"], line["seconds"]) for line in shown["busiest"]] == [(91, 2, 3610), (232, 2, 50.5)]
    text = run("show", "--talkgroup", "91", "--days", "1").stdout
    assert "2026-11-21 to 2026-11-21 on talkgroup 91: 1 call of 1 station (days in UTC;" in text
    assert [
        "2625678",
        "not",
        "in",
        "the",
        "directory",
        "1",
        "100.0",
        "%",
        "1:00:00",
        "2026-11-21",
        "2026-11-21",
        "13:00",
        "91",
    ] in [line.split() for line in text.splitlines()]

    assert run("forget", "--before", "2026-11-21").stdout.startswith("dmr: 1 day with 2 calls forgotten")
    assert json.loads(run("show", "--json").stdout)["calls"] == 2
    future = run("forget", "--before", "2999-01-01")
    assert (future.returncode, future.stdout) == (ExitCode.SETTINGS, "")
    assert "lies in the future; to forget all calls so far, name" in " ".join(future.stderr.split())
    assert json.loads(run("show", "--json").stdout)["calls"] == 2


def test_files_as_arguments(run: Run, folder: Path) -> None:
    log = folder / "local.csv"
    log.write_text("time;id;talkgroup\n2026-11-20 00:30;5;9\n")
    written = time.time() - 3600
    os.utime(log, (written, written))
    assert run("fold", "local.csv", "--zone", "Europe/Vienna", "--state", "elsewhere").returncode == ExitCode.DONE
    shown = json.loads(run("show", "--state", "elsewhere", "--json").stdout)
    assert shown["most_heard"][0]["first"] == "2026-11-19T23:30:00Z"
    (folder / "pruner.toml").unlink()
    forgotten = run("forget", "--day", "2026-11-19", "--state", "elsewhere")
    assert forgotten.stdout.startswith("dmr: 1 day with 1 call forgotten")
    assert run("show", "--state", "elsewhere").returncode == ExitCode.NOTHING_TO_DO
    assert run("forget", "--day", "2026-11-19", "--state", "nowhere").returncode == ExitCode.NOTHING_TO_DO
    assert not (folder / "nowhere").exists()
    assert not (folder / ".pruner").exists()


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (["show"], ExitCode.NOTHING_TO_DO, "no such calls"),
        (["forget", "--before", "2026-01-01"], ExitCode.NOTHING_TO_DO, "nothing to forget"),
        (["forget", "--before", "January"], ExitCode.SETTINGS, "expected a date"),
        (["fold", "--zone", "UTC"], ExitCode.SETTINGS, "go with files"),
        (["fold", "x.csv", "--column", "who=3"], ExitCode.SETTINGS, "'who' is nothing that a column holds"),
        (["fold", "x.csv", "--dates", "first"], ExitCode.SETTINGS, "expected one of"),
        (["fold", "x.csv", "--zone", "Mars"], ExitCode.SETTINGS, "expected the name of a time zone"),
        (["fold", "x.csv", "--system", "fm"], ExitCode.SETTINGS, "expected one of dmr, nxdn, p25"),
        (["show", "--system", "fm"], ExitCode.SETTINGS, "expected one of dmr, nxdn, p25"),
        (["fold", "x.csv"], ExitCode.SOURCE_MISSING, "x.csv"),
        (["fold", "stations.csv"], ExitCode.INPUT_REFUSED, "no column of"),
        (["fold", "--settings", "none.toml"], ExitCode.SETTINGS, "no settings file"),
    ],
)
def test_mistakes_are_one_line(run: Run, arguments: list[str], code: ExitCode, word: str) -> None:
    told = run(*arguments)
    assert (told.returncode, told.stdout) == (code, "")
    assert word in told.stderr
    assert len(told.stderr.splitlines()) == 1


@pytest.mark.parametrize("command", [[], ["fold"], ["show"], ["forget"]])
def test_help(run: Run, command: list[str]) -> None:
    told = run(*command, "--help")
    assert told.returncode == ExitCode.DONE
    assert not command or "Example" in told.stdout


def test_one_log_that_cannot_be_read_harms_no_other(run: Run, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The fold goes on and ends with the right code; a fit says which calls it looks at."""
    settings = folder / "pruner.toml"
    broken = '[[heard]]\nlocation = "broken.log"\npattern = "(?P<time>a)(?P<id>b)(?P<talkgroup>c)"\n'
    settings.write_text(
        f'{broken}[[source]]\nname = "world"\nlocation = "stations.csv"\n[[radio]]\nname = "r"\ncontacts = 10\n'
    )
    (folder / "broken.log").write_text("nothing of the kind\n")
    assert guarded(["fit"]) == 0
    said = " ".join(capsys.readouterr().err.split())
    assert "explains none of the first lines" in said
    assert "no calls are known from before, so none are used" in said
    assert run("fold").returncode == 3
    settings.write_text(broken + SETTINGS)
    told = run("fold")
    assert told.returncode == 3
    assert told.stderr.count("explains none") == 1
    assert "in all              5    4" in told.stdout
    assert guarded(["fit"]) == 0
    assert "the calls of the other logs are used" in " ".join(capsys.readouterr().err.split())
    settings.write_text('[[heard]]\nlocation = "gone/*.csv"\n' + SETTINGS)
    told = run("fold")
    assert (told.returncode, "gone/*.csv: no file matches" in told.stderr) == (4, True)
    settings.write_text(settings.read_text().replace('"logs/*.csv"', '"none/*.csv"'))
    assert guarded(["fit"]) == 0
    assert "the calls known before are used" in " ".join(capsys.readouterr().err.split())


LINES = "".join(f"{20 + k % 3}.11.2026 1{k % 10}:00 | 262000{k % 10} at 91, {k}.5 long\n" for k in range(20))
PATTERN = r"^(?P<time>\S+ \S+) \| (?P<id>\d+) at (?P<talkgroup>\d+), (?P<seconds>\S+) long$"


def _quiet(path: Path, text: str) -> None:
    path.write_text(text)
    os.utime(path, (time.time() - 3600,) * 2)


def test_settings_describe_files_that_are_named(run: Run, folder: Path) -> None:
    (folder / "pruner.toml").write_text(
        SETTINGS + f'[[heard]]\nlocation = "lines/*.log"\nsystem = "nxdn"\nzone = "Europe/Vienna"\npattern = \'{PATTERN}\'\n'
        '[[heard]]\nlocation = "nothing/"\n[[heard]]\nlocation = "bare.csv"\ncolumns = { id = 3, talkgroup = 2 }\n'
    )
    (folder / "nothing").mkdir()
    (folder / "lines").mkdir()
    _quiet(folder / "lines" / "monday.log", LINES.replace("262000", "1200"))
    _quiet(folder / "bare.csv", "when,x,y\n2026-11-20T10:00:00Z,232,2321234\n")
    assert run("fold", "lines/monday.log", "bare.csv").returncode == ExitCode.DONE
    shown = json.loads(run("show", "--all", "--json", "--system", "nxdn").stdout)
    assert sum(row["calls"] for row in shown) == 20
    assert min(row["first"] for row in shown) == "2026-11-20T09:00:00Z"
    (row,) = json.loads(run("show", "--all", "--json").stdout)
    assert (row["id"], row["talkgroup"]) == (2321234, 232)
    # What the command says goes before.
    assert run("fold", "lines/monday.log", "--system", "p25", "--zone", "UTC").returncode == ExitCode.DONE
    shown = json.loads(run("show", "--all", "--json", "--system", "p25").stdout)
    assert min(row["first"] for row in shown) == "2026-11-20T10:00:00Z"


def test_a_learned_log_needs_no_source_and_no_radio(run: Run, folder: Path) -> None:
    (folder / "pruner.toml").unlink()
    _quiet(folder / "calls.log", LINES)
    assert run("learn", "calls.log", "--write").returncode == ExitCode.DONE
    assert run("fold").returncode == ExitCode.DONE
    assert json.loads(run("show", "--json").stdout)["calls"] == 20
    assert run("fold", "calls.log").returncode == ExitCode.DONE
    assert run("learn", "calls.log").returncode == ExitCode.DONE
    assert run("forget", "--before", "2026-11-21").returncode == ExitCode.DONE
    assert json.loads(run("show", "--json").stdout)["calls"] == 13
    (folder / "pruner.toml").write_text((folder / "pruner.toml").read_text() + "[calls]\nkeep_days = true\n")
    told = run("fold")
    assert told.returncode == ExitCode.SETTINGS
    assert len(told.stderr.splitlines()) == 1


def test_show_where_no_log_tells_durations(run: Run, folder: Path) -> None:
    (folder / "short.csv").write_text("time,id,talkgroup\n2026-11-20T10:00:01Z,2321234,232\n2026-11-20T10:07:02Z,2321234,91\n")
    assert run("fold", "short.csv", "--state", "other").returncode == 0
    for arguments in ((), ("--all",)):
        shown = run("show", "--state", "other", *arguments).stdout
        assert "not known" in shown
        assert "0:00:00" not in shown
