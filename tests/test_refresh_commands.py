"""`pruner refresh` and `pruner rollback` as a user meets them."""

from __future__ import annotations

import json
import re
import shutil
import socket
from pathlib import Path

import pytest
from commands import run
from test_refresh_run import PAGE, Home, stations

from pruner.publish.lock import locked

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Home:
    monkeypatch.chdir(tmp_path)
    return Home(tmp_path)


def outcome_of(line: str) -> str:
    """The outcome at the start of a headline, of which host and time are left out."""
    word, _, where = line.partition(": pruner refresh on ")
    assert where.startswith(f"{socket.gethostname()}, 20")
    return word


def test_the_outcome_comes_first_and_nothing_is_said_when_quiet(home: Home, capsys: Capture) -> None:
    for text in (
        "Version 1 was published (large 300, small 50 contacts)",
        "Nothing has changed since version 1; nothing was published",
    ):
        code, out, err = run(capsys, "refresh")
        first, *rest = out.splitlines()
        assert (code, outcome_of(first), rest, err) == (0, "OK", [text], "")
    assert run(capsys, "refresh", "--quiet") == (0, "", "")
    code, out, err = run(capsys, "refresh", "--json", "--force")
    told = json.loads(out)
    assert (code, err, told["version"], told["outcome"], told["host"]) == (0, "", 1, "OK", socket.gethostname())


def test_what_is_wrong_is_said_also_when_quiet(home: Home, capsys: Capture) -> None:
    run(capsys, "refresh")
    home.source.write_text(PAGE)
    code, out, err = run(capsys, "refresh", "--quiet")
    first, *rest = out.splitlines()
    assert (code, outcome_of(first)) == (4, "REFUSED (last good used)")
    assert rest == ["Nothing has changed since version 1; nothing was published"]
    assert err.startswith("pruner: source 'world': ")
    assert err.count("\n") == 1
    home.source.write_text(stations(10))
    code, _, err = run(capsys, "refresh")
    assert code == 4
    assert "if this is right: pruner refresh --accept world" in err
    assert run(capsys, "refresh", "--accept", "world")[0] == 0
    assert run(capsys, "refresh", "--accept", "word")[0] == 2
    home.add('[refresh.tell]\ncommand = ["/no/such"]\n')
    assert run(capsys, "refresh", "--quiet")[1:] == (
        "",
        "pruner: tell.command: such cannot be run (No such file or directory)\n",
    )
    (home.folder / "pruner.toml").write_text((home.folder / "pruner.toml").read_text().replace("stations.csv", "none.csv"))
    shutil.rmtree(home.state / "sources")
    code, out, err = run(capsys, "refresh")
    assert (code, out, outcome_of(err.splitlines()[0])) == (4, "", "FAILED")
    status = run(capsys, "schedule", "--status")[1]
    assert status.startswith("FAILED: ")
    assert re.search(r"A refresh last went well:\s20\d\d-\d\d-\d\d\s\d\d:\d\d\sUTC", status)
    code, out, err = run(capsys, "refresh", "--json")
    told = json.loads(out)
    assert (code, told["outcome"], told["exit_code"], outcome_of(err.splitlines()[0])) == (4, "FAILED", 4, "FAILED")
    assert "none.csv" in told["result"]


def test_the_lock_says_who_holds_it(home: Home, capsys: Capture) -> None:
    run(capsys, "refresh")
    with locked(home.state, "refresh"):
        for command in ("refresh", "rollback", "fit"):
            code, out, err = run(capsys, command)
            assert (code, out, err.count("\n")) == (5, "", 1)
            assert "(refresh, process " in err


def test_there_and_back(home: Home, capsys: Capture) -> None:
    assert run(capsys, "rollback", "--list") == (1, "no version was published yet; the first comes with: pruner refresh\n", "")
    assert run(capsys, "rollback")[0] == 2
    run(capsys, "refresh")
    home.source.write_text(stations(310))
    run(capsys, "refresh")
    code, out, err = run(capsys, "rollback", "--list")
    assert (code, err) == (0, "")
    assert [line.split()[0] for line in out.splitlines()[2:]] == ["1", "2"]
    assert all(len(line) <= 80 for line in out.splitlines())
    assert "published" in out.splitlines()[3]
    assert run(capsys, "rollback")[0] == 0
    assert home.contacts().count("\n") == 301
    assert run(capsys, "rollback", "--to", "1")[0] == 1
    code, out, _ = run(capsys, "rollback", "--to", "2", "--json")
    assert (code, json.loads(out)["published"]) == (0, True)
    assert run(capsys, "rollback", "--to", "7")[0] == 2


def test_help_has_examples(capsys: Capture) -> None:
    for command in ("refresh", "rollback", "schedule"):
        code, out, _ = run(capsys, command, "--help")
        assert code == 0
        assert f"Examples: pruner {command}" in " ".join(out.split())
