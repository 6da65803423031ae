"""Exports of radios that come back: learned, converted, and the same bytes, or in doubt for a stated reason.

Golden cases in folders, looked through by hand: `export.csv` and what is learned of it (`layout.toml`). After a wanted change:
`PRUNER_REMAKE=1 .venv/bin/python -m pytest tests/test_layout_learning.py`, then read the difference.
"""

from __future__ import annotations

import json
import os
import shlex
from pathlib import Path

import pytest
from commands import run

from pruner.layout.model import load_layout
from pruner.words.errors import ExitCode

GOLDEN = Path(__file__).parent / "golden" / "learning"
CASES = sorted(path.name for path in GOLDEN.iterdir() if path.is_dir())
#: What each case leaves in doubt, by a word of it; the others nothing.
DOUBTS = {
    "capitals": ["stand in capitals", "stand in capitals"],
    "groups": ["groups, which are no stations"],
    "setting": ["looks like a setting ('Off', 'On')"],
    "two-columns-of-ids": ["another column holds ids too"],
}
#: Cases that cannot come back: groups are no stations, and no directory has the settings of a radio.
APART = {"groups", "setting", "two-columns-of-ids"}
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def learn(folder: Path, name: str, capsys: Capture, *more: str) -> tuple[str, str]:
    """The text of the layout and what was said of it; the export lies in the folder."""
    (folder / "export.csv").write_bytes((GOLDEN / name / "export.csv").read_bytes())
    (folder / "l.toml").unlink(missing_ok=True)
    code, _, err = run(capsys, "layout", "learn", "export.csv", "--out", "l.toml", *more)
    assert code == ExitCode.DONE, err
    return (folder / "l.toml").read_text(encoding="utf-8"), err


@pytest.mark.parametrize("name", CASES)
def test_golden_cases(name: str, folder: Path, capsys: Capture) -> None:
    text, err = learn(folder, name, capsys)
    golden = GOLDEN / name / "layout.toml"
    if os.environ.get("PRUNER_REMAKE"):
        golden.write_text(text, encoding="utf-8")
    assert text == golden.read_text(encoding="utf-8")
    doubts = load_layout(folder / "l.toml").doubts
    for doubt, word in zip(doubts, DOUBTS.get(name, []), strict=True):
        assert word in doubt
        assert "column " in doubt
    assert err.count("right as it is: --") == len(doubts)


@pytest.mark.parametrize("name", [name for name in CASES if name not in APART])
def test_exports_come_back_byte_for_byte(name: str, folder: Path, capsys: Capture) -> None:
    learn(folder, name, capsys)
    code, _, err = run(capsys, "convert", "export.csv", "--to", "l.toml", "--out", "new.csv")
    assert code == ExitCode.DONE, err
    assert (folder / "new.csv").read_bytes() == (folder / "export.csv").read_bytes()


@pytest.mark.parametrize("name", ["capitals", "groups"])
def test_answers_can_be_pasted(name: str, folder: Path, capsys: Capture) -> None:
    """What is said to be right as it is settles the doubt, and nothing else changes."""
    doubtful, err = learn(folder, name, capsys)
    answers = [shlex.split(line.rpartition("right as it is: ")[2]) for line in err.splitlines() if "right as it is" in line]
    settled, again = learn(
        folder,
        name,
        capsys,
        *dict.fromkeys(word for answer in answers for word in answer if len(answers) == 1 or word == "--capitals"),
    )
    assert "right as it is" not in again
    assert settled == "".join(line for line in doubtful.splitlines(keepends=True) if not line.startswith("# DOUBTFUL"))


def test_whole_names_beside_last_names_are_in_doubt(folder: Path, capsys: Capture) -> None:
    """Unless they hold them: then both are certain (golden case)."""
    (folder / "export.csv").write_text("Sign;Number;Name;Rest\nOE1AAA;2320001;Ada;Gruber\nOE2BBB;2320012;Bea;Maier\n")
    arguments = ("layout", "learn", "export.csv", "--out", "l.toml", "--column", "4={last_name}")
    code, _, err = run(capsys, *arguments)
    assert code == ExitCode.DONE
    assert "column 3, 'Name': taken for '{first_name} {last_name}': {last_name} has a column of its own" in err
    assert "right as it is: --column '3={first_name} {last_name}'" in err


def test_small_letters_can_be_asked_for(folder: Path, capsys: Capture) -> None:
    text, _ = learn(folder, "capitals", capsys, "--no-capitals")
    assert "capitals = true" not in text
    assert "# DOUBTFUL" not in text


def test_groups_are_set_aside_with_their_reason(folder: Path, capsys: Capture) -> None:
    learn(folder, "groups", capsys)
    code, out, _ = run(capsys, "convert", "export.csv", "--to", "l.toml", "--out", "new.csv")
    assert code == ExitCode.DONE
    assert "read 8 = written 6 + dropped 2 + rejected 0" in out
    assert "no station" in out
    summary = json.loads((folder / "new.summary.json").read_text())
    assert summary["dropped"] == {"no station": 2}
    assert b"Group" not in (folder / "new.csv").read_bytes()
    code, out, _ = run(capsys, "convert", "export.csv", "--from", "l.toml", "--to", "l.toml", "--out", "again.csv")
    assert code == ExitCode.DONE
    assert (folder / "again.csv").read_bytes() == (folder / "new.csv").read_bytes()
    assert json.loads((folder / "again.summary.json").read_text())["dropped"] == {"no station": 2}


def test_a_list_without_headings_is_learned_by_itself(folder: Path, capsys: Capture) -> None:
    """Call sign and name in one cell under a heading that is not understood."""
    names = enumerate(("Ada", "Bea", "Cora", "Dan", "Eva"), 1)
    rows = "".join(f"{place};OE{place}AAA {name};232000{place}\r\n" for place, name in names)
    (folder / "old.csv").write_text(f"Slot;Line;Address\r\n{rows}", newline="")
    columns = "".join(f'[[column]]\ntitle = "{name}"\nvalue = "{{{name}}}"\n' for name in ("id", "first_name", "callsign"))
    (folder / "new.toml").write_text(columns)
    code, out, err = run(capsys, "convert", "old.csv", "--to", "new.toml", "--out", "new.csv")
    assert code == ExitCode.DONE, err
    assert (folder / "new.csv").read_text().splitlines()[1] == "2320001,Ada,OE1AAA"
    assert "by its layout" in out
    assert "behind the call sign any text could stand" in err


def test_nothing_is_learned_where_two_columns_may_hold_the_ids(folder: Path, capsys: Capture) -> None:
    learn(folder, "two-columns-of-ids", capsys)
    code, _, err = run(capsys, "convert", "export.csv", "--to", "l.toml", "--out", "new.csv")
    assert code == ExitCode.INPUT_REFUSED
    assert "may hold the ids" in err
