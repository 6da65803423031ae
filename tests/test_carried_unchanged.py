"""Carried entries stay as they are, or are named: golden cases in folders, looked through by hand.

`export.csv` is the export, `layout.toml` that of the radio (none: the plain file), `file.csv` what is written and
`carried.json` the account. After a wanted change run this file with `PRUNER_REMAKE=1`, then read the difference.
"""

from __future__ import annotations

import csv
import json
import os
from pathlib import Path
from typing import Any

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

GOLDEN = Path(__file__).parent / "golden" / "carried"
CASES = sorted(path.name for path in GOLDEN.iterdir() if path.is_dir())
Capture = pytest.CaptureFixture[str]
STATIONS = "callsign,id,name,country\nOE1AAA,2320001,Ada Gruber,Austria\nOE2BBB,2320002,Bea Maier,Austria\n"
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "everybody"
[[radio]]
name = "hand"
contacts = 100
carried = "export.csv"
"""


def fitted(name: str, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> tuple[str, dict[str, Any]]:
    """What the terminal says of a fit, and the account of the carried entries."""
    monkeypatch.chdir(folder)
    for path in (GOLDEN / name).iterdir():
        if path.name in ("export.csv", "layout.toml"):
            (folder / path.name).write_bytes(path.read_bytes())
    (folder / "stations.csv").write_text(STATIONS)
    (folder / "pruner.toml").write_text(SETTINGS + ('layout = "layout.toml"\n' if (folder / "layout.toml").exists() else ""))
    assert guarded(["fit"]) == ExitCode.DONE, capsys.readouterr().err
    return capsys.readouterr().out, json.loads((folder / "out/hand/summary.json").read_text())["carried"]


@pytest.mark.parametrize("name", CASES)
def test_golden_cases(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    out, account = fitted(name, tmp_path, monkeypatch, capsys)
    written = (tmp_path / "out/hand/contacts.csv").read_bytes()
    if os.environ.get("PRUNER_REMAKE"):
        (GOLDEN / name / "file.csv").write_bytes(written)
        (GOLDEN / name / "carried.json").write_text(json.dumps(account, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    assert written == (GOLDEN / name / "file.csv").read_bytes()
    assert account == json.loads((GOLDEN / name / "carried.json").read_text(encoding="utf-8"))
    words = " ".join(out.split())
    assert f"{account['unchanged']:,} are carried unchanged" in words
    for one in account["changed"]:
        assert one["entry"] in words
        assert all(" ".join(change.split()) in words for change in one["changes"])
    for one in account["not_carried"]:
        assert one["reason"] in words


@pytest.mark.parametrize("name", CASES)
def test_every_row_of_the_export_is_in_the_account(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    _, account = fitted(name, tmp_path, monkeypatch, capsys)
    assert account["rows"] == account["unchanged"] + len(account["changed"]) + len(account["not_carried"])


def test_unchanged_is_unchanged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    """The form of the layout itself: all lines of the export stand in the file as they were."""
    fitted("form-of-the-layout", tmp_path, monkeypatch, capsys)
    with (GOLDEN / "form-of-the-layout" / "export.csv").open(encoding="utf-8", newline="") as file:
        lines = list(csv.reader(file, delimiter=";"))
    with (tmp_path / "out/hand/contacts.csv").open(encoding="utf-8", newline="") as file:
        written = list(csv.reader(file, delimiter=";"))
    assert [line[1:] for line in lines] == [line[1:] for line in written if line[1:] in [own[1:] for own in lines]]
