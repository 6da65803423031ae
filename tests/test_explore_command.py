"""The command explore: where it writes, what it refuses, what it says."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from explore_worlds import fitted, world

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    world(tmp_path, heard=False, share=0.02)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_the_page_lies_in_the_current_folder_and_is_written_again(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert guarded(["explore"]) == ExitCode.DONE
    told = capsys.readouterr()
    assert told.out == f"{folder / 'explore.html'}\n"
    assert told.err == ""
    first = (folder / "explore.html").read_bytes()
    assert guarded(["explore", "--json"]) == ExitCode.DONE
    result = json.loads(capsys.readouterr().out)
    assert result == {
        "file": str(folder / "explore.html"), "radio": "bench", "contacts": result["contacts"], "bytes": len(first)
    }  # fmt: skip
    assert result["contacts"] > 200
    assert (folder / "explore.html").read_bytes() == first


@pytest.mark.parametrize(
    "out",
    ["out/bench/explore.html", "out/bench/deep/explore.html", "out/talkgroups/x.html", ".pruner/explore.html", "link/x.html"],
)
def test_never_among_the_results(folder: Path, capsys: pytest.CaptureFixture[str], out: str) -> None:
    fitted(folder / "pruner.toml")
    (folder / "link").symlink_to("out/bench")
    before = sorted(str(path) for path in folder.rglob("*"))
    assert guarded(["explore", "--out", out]) == ExitCode.SETTINGS
    assert "lies among the results of pruner; name another file with --out" in capsys.readouterr().err
    assert sorted(str(path) for path in folder.rglob("*")) == before


def test_a_foreign_file_stays(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("stations.csv", "pruner.toml"):
        content = (folder / name).read_bytes()
        assert guarded(["explore", "--out", name]) == ExitCode.SETTINGS
        assert "exists and is no page of pruner explore" in capsys.readouterr().err
        assert (folder / name).read_bytes() == content
    assert guarded(["explore", "--out", "."]) == ExitCode.SETTINGS


def test_a_place_that_cannot_be_written(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert guarded(["explore", "--out", "no/such/folder/x.html"]) == ExitCode.SETTINGS
    assert capsys.readouterr().err.count("\n") == 1


def test_which_of_several_radios(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = folder / "pruner.toml"
    path.write_text(path.read_text() + '[[radio]]\nname = "other"\ncontacts = 5\nrules = ["far", "home"]\n')
    assert guarded(["explore"]) == ExitCode.SETTINGS
    assert "several radios (bench, other); say which with --radio" in capsys.readouterr().err
    assert guarded(["explore", "--radio", "third"]) == ExitCode.SETTINGS
    assert "no radio is named 'third'; the settings name bench, other" in capsys.readouterr().err
    assert guarded(["explore", "--radio", "other", "--out", "other.html"]) == ExitCode.DONE
    page = (folder / "other.html").read_text(encoding="utf-8")
    assert "<title>Explore other</title>" in page
    assert '"order_by_name":true' in page  # the other radio goes on using the rules as they stand


def test_what_cannot_be_explored_is_said_at_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = folder / "pruner.toml"
    path.write_text(path.read_text() + "[clean]\none_per_callsign = true\n")
    (folder / "stations.csv").unlink()  # not even looked at
    assert guarded(["explore"]) == ExitCode.SETTINGS
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "one_per_callsign is on for 'club', 'heard \"lately\"', 'home'" in told


@pytest.mark.long
def test_opening_it(folder: Path) -> None:
    """The standard library starts what BROWSER names (Python documentation, module webbrowser)."""
    witness = folder / "opened"
    script = folder / "browser.sh"
    script.write_text(f'#!/bin/sh\necho "$1" > {witness}\n')
    script.chmod(0o755)
    command = [sys.executable, "-m", "pruner", "explore", "--open"]
    done = subprocess.run(
        command,
        cwd=folder,
        env=os.environ | {"BROWSER": f"{script} %s"},
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert done.stdout == f"{folder / 'explore.html'}\n"
    assert witness.read_text().strip() == (folder / "explore.html").as_uri()


def test_the_help_has_examples(capsys: pytest.CaptureFixture[str]) -> None:
    assert guarded(["explore", "--help"]) == ExitCode.DONE
    assert "pruner explore --open" in capsys.readouterr().out
