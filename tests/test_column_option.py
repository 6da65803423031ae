"""The option `--column`: which column holds what, on the command line, for every command that reads a file."""

from __future__ import annotations

import csv
import json
import shlex
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.cli.columns import Table, columns_of
from pruner.words.errors import ExitCode, SettingsError

Capture = pytest.CaptureFixture[str]
#: Two columns hleft ids of stations of the same countries: nothing decides.
TWO = "left id,right id,who\n" + "".join(f"{2320001 + 977 * n},{2321004 + 991 * n},OE1AA{chr(65 + n)}\n" for n in range(20))
LAYOUT = '[file]\n[[column]]\ntitle = "Id"\nvalue = "{id}"\n[[column]]\ntitle = "Call"\nvalue = "{callsign}"\n'
SETTINGS = '[[source]]\nname = "world"\nlocation = "two.csv"\n[[radio]]\nname = "one"\ncontacts = 50\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("two.csv").write_text(TWO)
    Path("plain.layout.toml").write_text(LAYOUT)
    Path("pruner.toml").write_text(SETTINGS)
    return tmp_path


def ids(path: str) -> list[str]:
    with Path(path).open(encoding="utf-8", newline="") as file:
        return [row.get("id") or next(iter(row.values())) for row in csv.DictReader(file)][:2]


def test_what_a_refusal_says_can_be_pasted(folder: Path, capsys: Capture) -> None:
    assert guarded(["fit", "two.csv", "--contacts", "9"]) == ExitCode.INPUT_REFUSED
    err = capsys.readouterr().err
    assert "'left id' (2320001) or 'right id' (2321004) may hold the ids; say which" in err
    option = shlex.split(err.rpartition("--column ")[2])[0]
    assert option == "two.csv:id=right id"
    assert guarded(["fit", "two.csv", "--contacts", "9", "--column", option]) == ExitCode.DONE
    assert ids("out/radio/contacts.csv") == ["2321004", "2321995"]
    pasted = err.partition("in the settings: ")[2].partition(" or ")[0]
    assert pasted == 'columns = { id = "left id" }'
    Path("pruner.toml").write_text(SETTINGS.replace('"two.csv"', f'"two.csv"\n{pasted}').replace("one", "two"))
    assert guarded(["fit"]) == ExitCode.DONE
    assert ids("out/two/contacts.csv") == ["2320001", "2320978"]


@pytest.mark.parametrize("answer", ["id=2", "id=right id", "id=Right-ID", "two.csv:id=2", "./two.csv:id=2", "world:id=2"])
def test_settings_and_options_together(folder: Path, capsys: Capture, answer: str) -> None:
    assert guarded(["fit", "--column", answer]) == ExitCode.DONE, capsys.readouterr().err
    assert ids("out/one/contacts.csv") == ["2321004", "2321995"]
    assert "right id" in json.loads(Path("out/one/summary.json").read_bytes())["sources"][0]["understood"][0]["sentence"]


def test_convert_takes_it(folder: Path, capsys: Capture) -> None:
    words = ["convert", "two.csv", "--to", "plain.layout.toml", "--out", "new.csv"]
    assert guarded(words) == ExitCode.INPUT_REFUSED
    assert guarded([*words, "--column", "id=1"]) == ExitCode.DONE, capsys.readouterr().err
    assert ids("new.csv") == ["2320001", "2320978"]
    assert guarded([*words, "--column", "id=1", "--from", "plain.layout.toml"]) == ExitCode.SETTINGS


def test_talkgroups_take_it(folder: Path, capsys: Capture) -> None:
    Path("groups.csv").write_text("x,y,z\n232,Austria,11\n91,World,12\n262,Germany,13\n")
    words = ["talkgroups", "groups.csv", "--limit", "9", "--out", "g"]
    assert guarded([*words, "--column", "id=z", "--column", "groups.csv:name=2"]) == ExitCode.DONE, capsys.readouterr().err
    assert Path("g/talkgroups/radio/talkgroups.csv").read_text().splitlines()[1].startswith("11,Austria")
    capsys.readouterr()
    assert guarded([*words, "--column", "callsign=1"]) == ExitCode.SETTINGS
    assert capsys.readouterr().err == (
        "pruner: --column 'callsign=1': 'callsign' is nothing that a column holds; legal here: id, name, description, country\n"
    )


def test_heard_fold_takes_it(folder: Path, capsys: Capture) -> None:
    Path("log.csv").write_text("a,b,c\n2320001,232,2026-01-02T03:04:05Z\n2320008,232,2026-01-02T03:05:05Z\n")
    words = ["heard", "fold", "log.csv", "--column", "id=1", "--column", "talkgroup=b", "--column", "log.csv:time=3"]
    assert guarded([*words, "--json"]) == ExitCode.DONE, capsys.readouterr().err
    assert json.loads(capsys.readouterr().out)["total"]["folded"] == 2


@pytest.mark.parametrize(
    ("answer", "sentence"),
    [
        ("id", "expected [FILE:]MEANING=COLUMN, such as id=3"),
        ("calsign=3", "'calsign' is nothing that a column holds; did you mean callsign?"),
        ("First Name=3", "did you mean first_name?"),
        ("shoe size=3", "legal here: id, callsign"),
        ("id=0", "positions count from 1, got 0"),
        ("id=999999999999999999999", "positions count from 1"),
        ("id=", "expected a heading, or a position counted from 1"),
        ("three.csv:id=1", "no file 'three.csv' is read here (there are: one.csv, two=a:b.csv)"),
    ],
)
def test_wrong_answers_are_one_line_each(answer: str, sentence: str) -> None:
    tables = [Table(("data/one.csv", "one.csv")), Table(("two=a:b.csv",))]
    with pytest.raises(SettingsError) as error:
        columns_of([answer], tables)
    assert sentence in str(error.value)
    assert len(str(error.value).splitlines()) == 1


def test_files_and_headings_with_signs_in_them() -> None:
    tables = [Table(("data/one.csv", "one.csv")), Table(("two=a:b.csv",)), Table(("club.csv",), ("id",), is_main=False)]
    given = ["id=3", "two=a:b.csv:callsign=Call=sign: x", "data/one.csv:name=007x", "club.csv:id=1"]
    first, second, third = columns_of(given, tables)
    assert first == {"id": 3, "name": "007x"}
    assert second == {"id": 3, "callsign": "Call=sign: x"}
    assert third == {"id": 1}
    with pytest.raises(SettingsError, match="another column before"):
        columns_of(["id=3", "one.csv:id=4"], tables)
    with pytest.raises(SettingsError, match=r"legal here: id$"):
        columns_of(["club.csv:name=4"], tables)


def test_a_position_that_is_not_there(folder: Path, capsys: Capture) -> None:
    assert guarded(["fit", "two.csv", "--contacts", "9", "--column", "id=9"]) == ExitCode.INPUT_REFUSED
    assert "two.csv: it has no column 9 (the first line is 'left id,right id,who')" in capsys.readouterr().err
