"""`pruner check` opens every file that the settings name and shows what it holds."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
ROWS = "".join(f"{2320001 + 7 * n};OE1AA{chr(65 + n)};Person{n}\n" for n in range(12))
LAYOUT = '[file]\n[[column]]\ntitle = "Id"\nvalue = "{id}"\n[[column]]\ntitle = "Call"\nvalue = "{callsign}"\n'
SETTINGS = """\
[[source]]
name = "world"
location = "part-*.csv"
[[heard]]
location = "log.csv"
[talkgroups]
list = "groups.csv"
[[drop]]
name = "left out"
list = "gone.txt"
[[keep]]
name = "club"
list = "club.csv"
[[keep]]
name = "rest"
[[radio]]
name = "one"
contacts = 50
carried = "export.csv"
layout = "l.toml"
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in ("part-1.csv", "part-2.csv", "export.csv"):
        Path(name).write_text(f"Funk-ID;Rufzeichen;Vorname\n{ROWS}")
    Path("log.csv").write_text("id,talkgroup,time\n2320001,232,2026-01-02T03:04:05Z\n2320008,232,2026-01-02T03:05:05Z\n")
    Path("groups.csv").write_text("TG;Titel\n232;Aus\x1b[2Jtria\n91;World\n262;Germany\n")
    Path("gone.txt").write_text("2329999\nOE1AAB\n")
    Path("club.csv").write_text("Mitglied;DMR ID\nAda;2320001\nBea;2320008\nCleo;2320015\n")
    Path("l.toml").write_text(LAYOUT)
    Path("pruner.toml").write_text(SETTINGS)
    return tmp_path


def test_every_file_is_shown_with_three_rows(folder: Path, capsys: Capture) -> None:
    assert guarded(["check"]) == ExitCode.DONE
    out, _ = capsys.readouterr()
    assert f"  source world: {folder / 'part-1.csv'} and 1 file more, alike\n    id from 'Funk-ID'" in out
    shown = [line.split() for line in out.splitlines()]
    assert shown.count(["2320001", "OE1AAA", "Person0"]) == 2  # the source and the carried entries
    assert ["2320015", "OE1AAC", "Person2"] in shown
    assert ["2320022", "OE1AAD", "Person3"] not in shown
    assert ["2320001", "232", "2026-01-02T03:04:05Z"] in shown
    assert ["232", "Aus?[2Jtria"] in shown
    assert ["2329999", "OE1AAB"] in shown
    for what in ("heard log", "list", "talkgroups", "carried by one", "layout"):
        assert f"  {what}: {folder}" in out
    assert "writes 2 columns: Id, Call" in out
    assert "\x1b" not in out


def test_a_file_that_cannot_be_read_is_one_line(folder: Path, capsys: Capture) -> None:
    Path("part-2.csv").write_text("<html><body>Sorry</body></html>\n")
    Path("log.csv").unlink()
    assert guarded(["check"]) == ExitCode.DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "part-2.csv cannot be read: " in said
    assert "page" in said.partition("part-2.csv")[2].partition("heard log")[0]
    assert "heard log: " in said
    assert said.count("cannot be read: ") == 2
    assert "id from 'Funk-ID'" in said


def test_check_takes_answers(folder: Path, capsys: Capture) -> None:
    assert guarded(["check", "--column", "name=3", "--column", "club.csv:id=2", "--json"]) == ExitCode.DONE
    files = json.loads(capsys.readouterr().out)["files"]
    sentences = {Path(one["file"]).name: one["sentence"] for one in files}
    assert "name from 'Vorname' (as set)" in sentences["part-1.csv"]
    assert "id from 'DMR ID' (as set)" in sentences["club.csv"]
    assert "first name from 'Vorname'" in sentences["export.csv"]
    assert len(files[0]["rows"]) == 3


def test_addresses_are_shown_without_their_secrets(folder: Path, capsys: Capture) -> None:
    Path("pruner.toml").write_text(SETTINGS.replace("part-*.csv", "https://stations.example.org/all.csv?token=hidden"))
    assert guarded(["check"]) == ExitCode.DONE
    out, err = capsys.readouterr()
    assert "hidden" not in out + err
    assert "source world: https://stations.example.org/all.csv" in out
    assert "nothing was fetched yet" in out
