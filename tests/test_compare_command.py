"""The command `compare` as a user meets it."""

from __future__ import annotations

import csv
import json
import re
import shutil
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded

HOSTILE = "Eve\x1b[2J\u202egnp"
STATIONS = f"""\
id,call sign,first name,town,country
2320001,OE1AAA,Ada,Linz,Austria
2320002,OE1BBB,Bea,Wien,Austria
2320003,OE1CCC,{HOSTILE},Graz,Austria
2620001,DL1AAA,Gero,Ulm,Germany
2620002,DL1BBB,Hans,Köln,Germany
"""
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "home"
countries = ["AT"]
[[keep]]
name = "the rest"
[[radio]]
name = "small"
contacts = 4
"""
Capture = pytest.CaptureFixture[str]


def run(capsys: Capture, *arguments: str) -> tuple[int, str, str]:
    code = guarded(arguments)
    told = capsys.readouterr()
    for text in (told.out, told.err):
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]", text)
        longest = max((len(line) for line in text.splitlines() if " " in line.strip() and "/" not in line), default=0)
        assert longest <= 80 or arguments[-1] == "--json" or "pruner: " in text
    return int(code), told.out, told.err


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fit in `out`, and in `old` one of before: station 2320002 has moved, 2320003 is new, 2620002 had to go."""
    folder = tmp_path_factory.mktemp("fitted")
    (folder / "pruner.toml").write_text(SETTINGS, encoding="utf-8")
    old = "".join(line for line in STATIONS.splitlines(keepends=True) if "2320003" not in line).replace("Wien", "Perg")
    for name, text in (("old", old), ("out", STATIONS)):
        (folder / "stations.csv").write_text(text, encoding="utf-8")
        assert guarded(["fit", "--settings", str(folder / "pruner.toml")]) == 0
        if name == "old":
            (folder / "out").rename(folder / "old")
    return folder


@pytest.fixture
def folder(fitted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> Path:
    shutil.copytree(fitted, tmp_path / "work")
    monkeypatch.chdir(tmp_path / "work")
    capsys.readouterr()
    return tmp_path / "work"


def test_two_results(folder: Path, capsys: Capture) -> None:
    code, out, err = run(capsys, "compare", "old/small", "out/small", "--out", "changes.csv")
    assert (code, err) == (1, "")
    assert "added 1, removed 1, changed 1" in out
    assert re.search(r"^AT +1 +0 +1$", out, re.MULTILINE)
    assert re.search(r"^DE +0 +1 +0$", out, re.MULTILINE)
    assert re.search(r"^the rest +0 +1 +0$", out, re.MULTILINE)
    assert re.search(r"^town +1$", out, re.MULTILINE)
    with (folder / "changes.csv").open(encoding="utf-8", newline="") as file:
        assert list(csv.reader(file)) == [
            ["id", "callsign", "what", "fields", "country", "rule"],
            ["2320002", "OE1BBB", "changed", "town", "AT", "home"],
            ["2320003", "OE1CCC", "added", "", "AT", "home"],
            ["2620002", "DL1BBB", "removed", "", "DE", "the rest"],
        ]
    code, out, err = run(capsys, "compare", "old/small", "old/small")
    assert (code, err) == (0, "")
    assert "nothing differs" in out


def test_exports_of_a_radio_whose_entries_are_no_stations(folder: Path, capsys: Capture) -> None:
    (folder / "before.csv").write_text("Number;Alias\n1;Workshop\n2;Bench\n7;Gate\n", encoding="utf-8")
    (folder / "after.csv").write_text("Number;Alias\n1;Workshop\n2;Bench\n9;Gate\n", encoding="utf-8")
    code, out, err = run(capsys, "compare", str(folder / "before.csv"), str(folder / "after.csv"), "--json")
    assert code in (0, 1), err
    assert [json.loads(out)[key] for key in ("old", "new", "added")] == [3, 3, 1]


def test_two_results_for_machines(folder: Path, capsys: Capture) -> None:
    code, out, _ = run(capsys, "compare", "old/small", "out/small/contacts.csv", "--threshold", "4", "--json")
    assert code == 0, "fewer changes than the threshold"
    found = json.loads(out)
    assert {key: found[key] for key in ("old", "new", "added", "removed", "changed", "total", "threshold", "same")} == {
        **{"old": 4, "new": 4, "added": 1, "removed": 1, "changed": 1, "total": 3, "threshold": 4, "same": False}
    }
    assert found["fields"] == {"town": 1}
    assert {"name": "DE", "added": 0, "removed": 1, "changed": 0, "total": 1} in found["countries"]


def test_rows_that_cannot_be_read_are_told(folder: Path, capsys: Capture) -> None:
    text = (folder / "out/small/contacts.csv").read_text(encoding="utf-8")
    (folder / "mine.csv").write_text(text + "no id,X\n", encoding="utf-8")
    code, _, err = run(capsys, "compare", "out/small", "mine.csv")
    assert code == 0
    assert err == "pruner: mine.csv: 1 rows could not be read and were left aside\n"


def test_is_writing_worth_it(folder: Path, capsys: Capture) -> None:
    code, out, _ = run(capsys, "compare")
    assert code == 1, "a radio that was never written"
    assert "small: never marked as written; 4 contacts wait" in out
    code, out, _ = run(capsys, "compare", "--mark", "--json")
    marked = json.loads(out)
    assert (code, marked["radio"], marked["contacts"]) == (0, "small", 4)
    code, out, _ = run(capsys, "compare")
    assert code == 0
    assert f"small: written on {marked['written_on']}; since then\n  nothing has changed\nnot worth it yet: 0" in out

    shutil.rmtree(folder / "out")
    (folder / "old").rename(folder / "out")
    code, out, _ = run(capsys, "compare", "--out", "changes.csv")
    assert code == 1
    assert "worth writing: 3 contacts differ, worth it from 1 on" in out
    assert (folder / "changes.csv").read_text(encoding="utf-8").splitlines()[2] == "2320003,,removed,,AT,home"
    code, out, _ = run(capsys, "compare", "--threshold", "4", "--json")
    [answer] = json.loads(out)
    assert code == 0
    assert (answer["worth_writing"], answer["threshold"], answer["difference"]["total"]) == (False, 4, 3)
    assert "OE1CCC" not in out


def test_radios_are_named_where_there_are_several(folder: Path, capsys: Capture) -> None:
    text = (folder / "pruner.toml").read_text(encoding="utf-8")
    (folder / "pruner.toml").write_text(text + '[[radio]]\nname = "large"\ncontacts = 9\n', encoding="utf-8")
    assert run(capsys, "fit")[0] == 0
    code, _, err = run(capsys, "compare", "--mark")
    assert (code, err) == (2, "pruner: compare: name one radio with --radio: small, large\n")
    assert run(capsys, "compare", "--mark", "--radio", "large")[0] == 0
    code, out, _ = run(capsys, "compare")
    assert code == 1
    assert "small: never marked" in out
    assert re.search(r"large: written on .*\n  nothing has changed", out)
    assert run(capsys, "compare", "--radio", "large")[0] == 0


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["old/small"], 2, "expected two results"),
        (["old/small", "out/small", "old/small"], 2, "expected two results"),
        (["old/small", "out/small", "--mark"], 2, "go without any"),
        (["old/small", "out/small", "--system", "morse"], 2, "expected one of dmr, nxdn, p25"),
        (["old", "out"], 2, "name the folder of one radio"),
        (["old/small", "nowhere.csv"], 4, "nowhere.csv"),
        (["--radio", "huge"], 2, "no radio is named 'huge'"),
        (["--out", "c.csv"], 2, "never marked"),
        (["--settings", "nowhere.toml"], 2, "no settings file here"),
    ],
)
def test_mistakes_are_one_line(folder: Path, capsys: Capture, arguments: list[str], code: int, message: str) -> None:
    got, out, err = run(capsys, "compare", *arguments)
    assert (got, out) == (code, "")
    assert message in err
    assert err.count("\n") == 1
