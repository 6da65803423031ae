"""Homes that earlier releases left on disk are read by this one. The archives are described in fixtures/releases/README.md."""

from __future__ import annotations

import json
import shutil
import tarfile
from pathlib import Path

import pytest
from commands import ran

ARCHIVES = sorted((Path(__file__).parent.parent / "fixtures" / "releases").glob("*.tar.gz"))


@pytest.fixture(params=ARCHIVES, ids=lambda path: path.name)
def home(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    with tarfile.open(request.param) as archive:
        archive.extractall(tmp_path, filter="fully_trusted")
    return tmp_path


def test_heard_store_is_read(home: Path) -> None:
    shown = ran(home, "heard", "show", "--json")
    assert shown.returncode == 0, shown.stderr
    assert "2026-07-0" in shown.stdout


def test_a_log_that_was_folded_changes_nothing(home: Path) -> None:
    before = ran(home, "heard", "show", "--json").stdout
    folded = ran(home, "heard", "fold")
    assert folded.returncode in (0, 1), folded.stderr
    assert ran(home, "heard", "show", "--json").stdout == before


def test_results_versions_history_and_marks_are_read(home: Path) -> None:
    summary = json.loads((home / "out" / "loan-handheld" / "summary.json").read_text())
    for words in (
        ("report",),
        ("rollback", "--list"),
        ("compare", "--json"),
        ("forecast", "--json"),
        ("why", "--rule", "home"),
    ):
        found = ran(home, *words)
        assert found.returncode in (0, 1), f"{words}: {found.stderr}"
        assert "Traceback" not in found.stderr
    assert summary["kept"] == 289


def test_results_are_compared(home: Path) -> None:
    versions = [str(path) for path in sorted((home / ".pruner" / "versions").glob("*/loan-handheld"))]
    assert len(versions) > 1
    same = json.loads(ran(home, "compare", versions[-1], "out/loan-handheld", "--json").stdout)
    assert (same["same"], same["not_compared"], "town" in same["compared"]) == (True, [], True)
    two = json.loads(ran(home, "compare", versions[0], versions[-1], "--json").stdout)
    assert two["old"] > 0
    assert two["not_compared"] == []
    [since] = json.loads(ran(home, "compare", "--json").stdout)
    assert since["marked"]
    assert since["difference"]["not_compared"] == []


def test_the_next_run_goes_on_from_there(home: Path) -> None:
    shutil.copyfile(home / "stations.csv", home / "before.csv")
    with (home / "stations.csv").open("a") as file:
        file.write((home / "before.csv").read_text().splitlines()[1].replace("2", "3") + "\n")
    run = ran(home, "refresh")
    assert run.returncode == 0, run.stderr
    assert (home / "out" / "loan-handheld" / "contacts.csv").is_file()
    listed = ran(home, "rollback", "--list")
    assert listed.returncode == 0, listed.stderr
    back = ran(home, "rollback")
    assert back.returncode == 0, back.stderr
    assert (home / "out" / "loan-handheld" / "contacts.csv").is_file()
