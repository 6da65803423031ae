"""Who may read what is written: files for their owner only (0600 in folders of 0700) unless `[output] mode` says otherwise.

Modes as in POSIX.1-2017, chmod(2) and umask(2).
"""

from __future__ import annotations

import os
import stat
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from test_refresh_run import Home, stations

from pruner.cli.boundary import guarded
from pruner.job import run
from pruner.refresh.run import refresh
from pruner.words.disk import creating, found_umask
from pruner.words.errors import SettingsError


@pytest.fixture(autouse=True)
def open_umask() -> Iterator[None]:
    """As most systems have it: what a process makes may be read by everybody."""
    before = os.umask(0o022)
    yield
    assert os.umask(before) == 0o022, "the process is left as it was"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Home:
    monkeypatch.chdir(tmp_path)
    home = Home(tmp_path)
    home.add('[[heard]]\nlocation = "heard.csv"\n')
    (tmp_path / "heard.csv").write_text("time,id,talkgroup,seconds\n2026-11-01T10:00:00Z,2320200,232,5\n")
    return home


def modes(folder: Path) -> set[tuple[str, int]]:
    """What modes there are, of a folder and all in it."""
    paths = [path for path in [folder, *folder.rglob("*")] if not path.is_symlink()]
    return {("folder" if path.is_dir() else "file", stat.S_IMODE(path.stat().st_mode)) for path in paths}


PRIVATE = {("file", 0o600), ("folder", 0o700)}


def test_everything_is_private(home: Home) -> None:
    run(home.settings)
    assert modes(home.folder / "out") == modes(home.state) == PRIVATE
    refresh(home.settings)
    home.source.write_text(stations(301))
    run(home.settings)
    assert modes(home.folder / "out") == modes(home.state) == PRIVATE


def test_everything_that_commands_write_is_private(home: Home) -> None:
    (home.folder / "sample.csv").write_text("id,call sign\n2320001,OE1AAB\n")
    for words in (
        "refresh --log-json log.jsonl",
        "heard fold",
        "report --out page.html",
        "explore --radio small --out explore.html",
        "compare --mark --radio small",
        "compare out/small out/large --out changes.csv",
        "fit --what-if 10,20",
        "layout learn sample.csv --out new.layout.toml",
        "fit stations.csv --contacts 5 --out short",
        "demo demo --stations 1000",
    ):
        assert guarded(words.split()) in (0, 1), words
    given = {"pruner.toml", "stations.csv", "heard.csv", "sample.csv"}
    made = [path for path in home.folder.iterdir() if path.name not in given]
    assert len(made) >= 8
    for path in made:
        assert modes(path) <= PRIVATE, path


@pytest.mark.parametrize(
    ("written", "file", "folder"),
    [('"group"', 0o640, 0o750), ('"everyone"', 0o644, 0o755), ('"0640"', 0o640, 0o750), ("0o660", 0o660, 0o770)],
)
def test_the_setting_says_otherwise(home: Home, written: str, file: int, folder: int) -> None:
    refresh(home.settings)
    home.add(f"[output]\nmode = {written}\n")
    refresh(home.settings)  # nothing is new, but who may read it
    assert modes(home.folder / "out" / ".versions") == {("file", file), ("folder", folder)}
    assert guarded(["report", "--out", "page.html"]) == 0
    assert stat.S_IMODE((home.folder / "page.html").stat().st_mode) == file
    assert stat.S_IMODE(home.state.stat().st_mode) == 0o700, "the state is nobody else's"
    home.source.write_text(stations(301))
    refresh(home.settings)
    assert modes(home.folder / "out" / ".versions") == {("file", file), ("folder", folder)}


@pytest.mark.parametrize("written", ['"0666"', '"0400"', '"0755"', '"private "', "644", "true", '"4640"'])
def test_modes_that_make_no_sense_are_one_line(home: Home, written: str) -> None:
    home.add(f"[output]\nmode = {written}\n")
    with pytest.raises(SettingsError, match=r'output\.mode: expected "private", "group", "everyone"') as raised:
        _ = home.settings
    assert len(str(raised.value).splitlines()) == 1


def test_what_existed_keeps_its_mode(home: Home) -> None:
    (home.folder / "out").mkdir(mode=0o755)
    run(home.settings)
    (home.folder / "out" / "small").chmod(0o750)
    run(home.settings)
    assert stat.S_IMODE((home.folder / "out").stat().st_mode) == 0o755
    assert stat.S_IMODE((home.folder / "out" / "small").stat().st_mode) == 0o750
    assert (
        guarded(["report", "--out", "page.html"]) == guarded(["compare", "out/small", "out/large", "--out", "c.csv"]) - 1 == 0
    )
    for name in ("page.html", "c.csv"):
        (home.folder / name).chmod(0o640)
    home.source.write_text(stations(302))
    refresh(home.settings)
    guarded(["report", "--out", "page.html"])
    guarded(["compare", "out/small", "out/large", "--out", "c.csv"])
    for name in ("page.html", "c.csv"):
        assert stat.S_IMODE((home.folder / name).stat().st_mode) == 0o640
    assert stat.S_IMODE((home.folder / "out").stat().st_mode) == 0o755


def test_what_an_earlier_release_left_open_is_closed(home: Home) -> None:
    refresh(home.settings)
    for path in (home.state / "heard", home.state / "heard" / "dmr", home.state / "history"):
        path.chmod(0o755)
    refresh(home.settings)
    assert stat.S_IMODE((home.state / "heard").stat().st_mode) == stat.S_IMODE((home.state / "history").stat().st_mode) == 0o700


def test_programs_of_the_user_have_their_own_mask(home: Home) -> None:
    script = "import os, sys; open(sys.argv[1], 'w').close()"
    home.add(f'[refresh.tell]\ncommand = ["{sys.executable}", "-c", "{script}", "{home.folder / "theirs.txt"}"]\n')
    assert refresh(home.settings).warnings == []
    assert stat.S_IMODE((home.folder / "theirs.txt").stat().st_mode) == 0o644
    with creating(0o600), creating(0o644):
        assert found_umask() == 0o022
    assert found_umask() == -1
