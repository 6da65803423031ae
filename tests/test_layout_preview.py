"""Telling rows of the file to import: golden cases in folders, and that the cells are those of the written file."""

from __future__ import annotations

import csv
import json
import os
import re
from collections.abc import Sequence
from itertools import accumulate
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from commands import run
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from layout_samples import contacts

from pruner.layout.telling import telling_rows
from pruner.words.errors import ExitCode
from pruner.words.frames import table_of

GOLDEN = Path(__file__).parent / "golden" / "preview"
CASES = sorted(path for path in GOLDEN.iterdir() if path.is_dir())
Capture = pytest.CaptureFixture[str]

SETTINGS = """\
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "home"
countries = ["home"]
[[keep]]
name = "the rest"
[[radio]]
name = "hand"
contacts = 100
"""


def folder_of(case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the settings, the directory and, if the case has one, the layout of the radio."""
    layout = case / "layout.toml"
    (tmp_path / "stations.csv").write_bytes((case / "stations.csv").read_bytes())
    (tmp_path / "pruner.toml").write_text(SETTINGS + ('layout = "layout.toml"\n' if layout.is_file() else ""))
    if layout.is_file():
        (tmp_path / "layout.toml").write_bytes(layout.read_bytes())
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_golden_cases(case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """Looked through by hand."""
    folder_of(case, tmp_path, monkeypatch)
    code, out, err = run(capsys, "layout", "preview")
    assert (code, err) == (ExitCode.DONE, "")
    golden = case / "terminal.txt"
    if os.environ.get("PRUNER_REMAKE"):
        golden.write_text(out, encoding="utf-8")
    assert out == golden.read_text(encoding="utf-8")
    assert max(map(len, out.splitlines())) <= 80


#: Widths of the columns of a file whose columns are fixed, in bytes.
FIXED = {"fixed-code-page": (4, 8, 14, 10)}


def cut_lines_of(path: Path, widths: Sequence[int]) -> dict[int, list[str]]:
    """The lines of a file in code page 1252 by number, cut by hand."""
    ends = list(accumulate(widths))
    lines = path.read_bytes().split(b"\r\n")[:-1]
    assert {len(line) for line in lines} == {ends[-1]}
    cells = [[line[end - width : end].decode("cp1252") for end, width in zip(ends, widths, strict=True)] for line in lines]
    return dict(enumerate(cells, 1))


def lines_of(path: Path, delimiter: str) -> dict[int, list[str]]:
    """The lines of a file by number, read by Python's own csv module."""
    with path.open(encoding="utf-8", newline="") as file:
        return dict(enumerate(csv.reader(file, delimiter=delimiter), 1))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_cells_are_those_of_the_written_file(
    case: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    folder_of(case, tmp_path, monkeypatch)
    shown = json.loads(run(capsys, "layout", "preview", "--json")[1])["hand"]
    assert run(capsys, "fit")[0] == ExitCode.DONE
    delimiter = ";" if (case / "layout.toml").is_file() else ","
    assert len(shown) == 10
    for row in shown:
        path = tmp_path / "out" / "hand" / row["file"]
        lines = cut_lines_of(path, FIXED[case.name]) if case.name in FIXED else lines_of(path, delimiter)
        line = lines[row["line"]]
        assert [cell["text"] for cell in row["cells"]] == line
    summary = json.loads((tmp_path / "out" / "hand" / "summary.json").read_text())
    assert summary["preview"] == shown[:3]


def test_what_was_read_stands_beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    folder_of(GOLDEN / "ascii-short", tmp_path, monkeypatch)
    shown = json.loads(run(capsys, "layout", "preview", "--rows", "100", "--json")[1])["hand"]
    with (tmp_path / "stations.csv").open(encoding="utf-8") as file:
        read = {row["Number"]: row for row in csv.DictReader(file)}
    assert len(shown) == len(read)
    for row in shown:
        cells = {cell["title"]: cell for cell in row["cells"]}
        own = read[cells["On air"]["text"]]
        name = " ".join(text for text in (own["Given name"], own["Family name"]) if text)
        assert cells["Shown"]["as_read"] == name


def test_every_kind_of_oddity_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    folder_of(GOLDEN / "ascii-short", tmp_path, monkeypatch)
    shown = json.loads(run(capsys, "layout", "preview", "--json")[1])["hand"]
    told = {reason for row in shown for reason in row["because"]}
    assert {
        "cut",
        "transliterated",
        "fallback",
        "delimiters replaced",
        "Cyrillic letters",
        "Greek letters",
        "Han letters",
        "Hangul letters",
        "Hebrew letters",
    } <= told
    assert any(reason.startswith("longest") for reason in told)


def test_a_layout_is_tried_on_a_directory_without_settings(tmp_path: Path, capsys: Capture) -> None:
    case = GOLDEN / "ascii-short"
    arguments = ("layout", "preview", str(case / "layout.toml"), "--source", str(case / "stations.csv"), "--rows", "2")
    code, out, err = run(capsys, *arguments)
    assert (code, err) == (ExitCode.DONE, "")
    assert len(re.findall(r"^contacts-\d\d\.csv line \d+: ", out, re.MULTILINE)) == 2


def test_a_radio_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    folder_of(GOLDEN / "plain", tmp_path, monkeypatch)
    code, out, err = run(capsys, "layout", "preview", "--radio", "none")
    assert (code, out) == (ExitCode.SETTINGS, "")
    assert "no radio is named 'none' (there are: hand)" in err


def test_an_empty_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    folder = folder_of(GOLDEN / "plain", tmp_path, monkeypatch)
    text = (folder / "pruner.toml").read_text()
    (folder / "pruner.toml").write_text(text.replace("contacts = 100", "contacts = 0"))
    code, out, _ = run(capsys, "layout", "preview")
    assert (code, out) == (ExitCode.NOTHING_TO_DO, "hand: the file would be empty\n")
    assert run(capsys, "fit")[0] == ExitCode.DONE


def test_fit_check_and_page_show_three(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    folder_of(GOLDEN / "ascii-short", tmp_path, monkeypatch)
    _, checked, _ = run(capsys, "check")
    assert len(re.findall(r"^    contacts-\d\d\.csv line", checked, re.MULTILINE)) == 3
    _, fitted, _ = run(capsys, "fit")
    assert "out/hand/contacts-01.csv to contacts-03.csv (all 3 files, in this order)" in " ".join(fitted.split())
    assert "Of 12 contacts 3 cut and 8 transliterated for the layout" in " ".join(fitted.split())
    page = (tmp_path / "out" / "hand" / "report.html").read_text(encoding="utf-8")
    assert page.count("<caption><bdi>contacts-") == 3


def test_init_shows_three(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    folder_of(GOLDEN / "plain", tmp_path, monkeypatch)
    (tmp_path / "pruner.toml").unlink()
    (tmp_path / "export.csv").write_text("Shown;Address\nAnna;2320002\nEva;2320007\nZoe;2320012\n")
    arguments = ("init", "--source", "stations.csv", "--country", "AT", "--sample", "export.csv", "--dry-run")
    code, out, _ = run(capsys, *arguments)
    assert code == ExitCode.DONE
    assert len(re.findall(r"^  contacts\.csv line", out, re.MULTILINE)) == 3
    assert "Address" in out


@draws(40)
@given(people=contacts(1, 40), count=st.integers(1, 12), data=st.data())
def test_rows_are_distinct_and_true(people: pl.DataFrame, count: int, data: st.DataObject) -> None:
    """No more than asked for, each once, and each reason holds for its row."""
    cells = people.select("callsign", "first_name", "town")
    mask = pl.Series(data.draw(st.lists(st.booleans(), min_size=people.height, max_size=people.height)), dtype=pl.Boolean)
    told = telling_rows(
        table_of(people), table_of(cells), {"cut": mask.to_numpy()}, {0: "callsign", 1: "first_name", 2: "town"}, count
    )
    places = [row.place for row in told]
    assert len(set(places)) == len(places) == min(count, people.height)
    longest: dict[str, Any] = {name: cells[name].str.len_chars().max() for name in cells.columns}
    for row in told:
        assert ("cut" in row.because) == bool(mask[row.place])
        for name in (reason.removeprefix("longest ") for reason in row.because if reason.startswith("longest ")):
            assert len(str(cells[name][row.place])) == longest[name]
    assert not mask.any() or "cut" in told[0].because
