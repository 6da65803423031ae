"""Empty files among the files of a source, and sources that are nothing else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
HEADINGS = "id,callsign,name\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("parts").mkdir()
    for part in (1, 2):
        rows = "".join(f"23200{part}{row},OE1AA{row},Ada\n" for row in range(4))
        Path(f"parts/{part}.csv").write_text(HEADINGS + rows)
    return tmp_path


@pytest.mark.parametrize(
    ("text", "why"), [("", "the file is empty"), ("\n \n", "the file is empty"), (HEADINGS, "headings but no rows")]
)
@pytest.mark.parametrize("name", ["0.csv", "9.csv"])
def test_an_empty_file_beside_others_is_said(folder: Path, capsys: Capture, text: str, why: str, name: str) -> None:
    Path("parts", name).write_text(text)
    assert guarded(["fit", "parts", "--contacts", "10"]) == ExitCode.DONE
    out, _ = capsys.readouterr()
    assert f"{name}: no rows: {why}" in out
    summary = json.loads(Path("out/radio/summary.json").read_text())
    assert (summary["read"], summary["kept"]) == (8, 8)
    assert [one["sentence"] for one in summary["sources"][0]["understood"] if one["file"] == name] == [f"no rows: {why}"]
    Path("pruner.toml").write_text('[[source]]\nname = "world"\nlocation = "parts"\n[[radio]]\nname = "one"\ncontacts = 9\n')
    assert guarded(["check"]) == ExitCode.DONE
    assert "no mistakes" in capsys.readouterr().out


def test_a_source_of_nothing_is_refused(folder: Path, capsys: Capture) -> None:
    for path in Path("parts").iterdir():
        path.write_text("")
    assert guarded(["fit", "parts", "--contacts", "10"]) == ExitCode.INPUT_REFUSED
    assert "1.csv: the file is empty" in capsys.readouterr().err
    Path("pruner.toml").write_text('[[source]]\nname = "world"\nlocation = "parts"\n[[radio]]\nname = "one"\ncontacts = 9\n')
    assert guarded(["check"]) == ExitCode.INPUT_REFUSED


def test_another_source_that_is_empty_is_refused(folder: Path, capsys: Capture) -> None:
    """Each file on the command line is a source of its own, and a source without rows is a mistake."""
    Path("empty.csv").write_text("")
    assert guarded(["fit", "parts/1.csv", "empty.csv", "--contacts", "10"]) == ExitCode.INPUT_REFUSED
    assert capsys.readouterr().err.count("\n") == 1


def test_a_file_that_is_something_else_stops_the_run(folder: Path, capsys: Capture) -> None:
    Path("parts/0.csv").write_text("<html><body>Sign in</body></html>")
    assert guarded(["fit", "parts", "--contacts", "10"]) == ExitCode.INPUT_REFUSED
    assert "page" in capsys.readouterr().err
