"""One unattended run after another: what is fetched, refused, kept, published, told and forgotten."""

from __future__ import annotations

import datetime
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import polars as pl
import pytest
from pytest_httpserver import HTTPServer

from pruner.history.runs import read
from pruner.job import run as fit
from pruner.publish.lock import locked
from pruner.publish.versions import rollback, versions
from pruner.refresh.outcome import last_run
from pruner.refresh.run import Options, refresh
from pruner.settings.load import load_settings
from pruner.settings.models import Settings
from pruner.words.errors import ExitCode, InputRefusedError, LockedError, PrunerError, SettingsError, SourceMissingError

HEADINGS = "id,call sign,first name,town,country"
PAGE = "<!doctype html>\n<html><body>Back soon</body></html>\n"


def stations(count: int, first: int = 0, name: str = "Ada") -> str:
    """Invented stations: whoever is met under one of these ids has nothing to do with it."""
    rows = [
        f"{2320000 + n},OE1{chr(65 + n // 676 % 26)}{chr(65 + n // 26 % 26)}{chr(65 + n % 26)},{name},Steyr,Austria"
        for n in range(first, first + count)
    ]
    return "\n".join([HEADINGS, *rows]) + "\n"


class Home:
    """A folder with settings, one or more sources and two radios."""

    def __init__(self, folder: Path, location: str = "stations.csv", more: str = "") -> None:
        self.folder = folder
        self.source = folder / "stations.csv"
        self.source.write_text(stations(300))
        text = f"""
[[source]]
name = "world"
location = "{location}"
{more}
[[radio]]
name = "large"
contacts = 1000
[[radio]]
name = "small"
contacts = 50
"""
        (folder / "pruner.toml").write_text(text)

    @property
    def settings(self) -> Settings:
        return load_settings(self.folder / "pruner.toml")

    def add(self, text: str) -> None:
        with (self.folder / "pruner.toml").open("a") as file:
            file.write(text)

    def refresh(self, **options: Any) -> tuple[str, int, int | None]:
        outcome = refresh(self.settings, Options(**options))
        return outcome.what, int(outcome.exit_code), outcome.version

    @property
    def state(self) -> Path:
        return self.folder / ".pruner"

    def published(self) -> dict[str, bytes]:
        """The files that a reader finds below the names of results."""
        out = self.folder / "out"
        tops = [top for top in out.iterdir() if top.name not in (".versions", "current")]
        files = [path for top in tops for path in sorted([*top.glob("*"), *top.glob("*/*")]) if path.is_file()]
        return {str(path.relative_to(out)): path.read_bytes() for path in files}

    def contacts(self, radio: str = "large") -> str:
        return (self.folder / "out" / radio / "contacts.csv").read_text()


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


@pytest.fixture
def remote(tmp_path: Path, httpserver: HTTPServer) -> Home:
    return Home(tmp_path, httpserver.url_for("/stations.csv"), "[refresh]\nminimum_interval_minutes = 0\n")


def serve(server: HTTPServer, text: str, status: int = 200, kind: str = "text/csv") -> None:
    server.clear()
    server.expect_request("/stations.csv").respond_with_data(text, status=status, content_type=kind)


def test_published_once_and_then_only_what_is_new(home: Home) -> None:
    fit(home.settings)
    plain = home.published()
    shutil.rmtree(home.folder / "out")
    assert home.refresh() == ("published", 0, 1)
    assert (home.folder / "out" / "current").readlink() == Path(".versions/1")
    assert home.published() == plain  # the same bytes as a plain fit
    assert home.refresh() == ("nothing changed", 0, 1)
    os.utime(home.source)
    assert home.refresh() == ("nothing changed", 0, 1)
    home.source.write_text(stations(301))
    assert home.refresh() == ("published", 0, 2)
    assert home.refresh() == ("nothing changed", 0, 2)
    assert home.refresh(force=True) == ("nothing changed", 0, 2)
    home.add('[[drop]]\nname = "asked"\nids = [2320007]\n')
    assert home.refresh() == ("published", 0, 3)
    assert "2320007," not in home.contacts()
    fit(home.settings)  # a version with the same contents is none, whoever makes it
    assert [version.number for version in versions(home.folder / "out", home.state)] == [1, 2, 3]
    assert home.refresh() == ("nothing changed", 0, 3)
    home.source.write_text(stations(302))
    fit(home.settings)  # a plain fit counts as well
    assert home.refresh() == ("nothing changed", 0, 4)


def test_a_version_with_the_same_contents_pushes_none_out(home: Home) -> None:
    home.add("[refresh]\nkeep_versions = 2\n")
    home.refresh()
    first = home.published()
    home.source.write_text(stations(310))
    home.refresh()
    home.source.write_text(PAGE)
    for _ in range(3):
        assert home.refresh(force=True) == ("nothing changed", 4, 2)
    assert [version.number for version in versions(home.folder / "out", home.state)] == [1, 2]
    rollback(home.folder / "out", home.state)
    assert home.published() == first
    assert home.refresh(force=True) == ("published", 4, 2)  # the newest one again
    assert [version.current for version in versions(home.folder / "out", home.state)] == [False, True]


def test_a_list_that_is_named_in_the_settings_counts_as_an_input(home: Home) -> None:
    (home.folder / "club.txt").write_text("2320001\n")
    home.add('[[keep]]\nname = "club"\nlist = "club.txt"\n')
    home.refresh()
    assert home.contacts().count("\n") == 2
    (home.folder / "club.txt").write_text("2320001\n2320002\n")
    assert home.refresh()[0] == "published"
    assert home.contacts().count("\n") == 3


def test_a_rollback_stays_until_something_changes(home: Home) -> None:
    home.refresh()
    first = home.published()
    home.source.write_text(stations(310))
    home.refresh()
    rollback(home.folder / "out", home.state)
    outcome = refresh(home.settings)
    assert (outcome.what, outcome.version) == ("nothing changed", 1)
    assert "version 1 stays published" in outcome.result
    assert home.published() == first
    home.source.write_text(stations(320))
    assert home.refresh() == ("published", 0, 3)


def test_a_damaged_or_missing_publication_is_made_anew(home: Home) -> None:
    home.refresh()
    good = home.published()
    (home.folder / "out/large/contacts.csv").write_text("rotten")
    assert home.refresh()[0] == "published"
    assert home.published() == good
    (home.folder / "out" / "current").unlink()
    assert home.refresh()[0] == "published"
    assert home.published() == good
    shutil.rmtree(home.folder / "out")
    assert home.refresh()[0] == "published"
    assert home.published() == good


def test_damaged_accepted_files_are_taken_in_again(home: Home) -> None:
    home.refresh()
    copy = next((home.state / "sources/world").glob("*/*/stations.csv"))
    copy.write_text(stations(1))
    outcome = refresh(home.settings, Options(force=True))
    assert home.contacts().count("\n") == 301
    [note] = outcome.more
    assert note.startswith("source 'world': what was accepted last is damaged, so nothing was compared with it: ")
    manifest = home.state / "sources/world/accepted.json"
    manifest.write_text(manifest.read_text().replace('"rows": 300', '"rows": "300"'))
    [note] = refresh(home.settings).more
    assert note.endswith(f"{manifest}: statistics.rows: expected a whole number, found a text")
    assert refresh(home.settings).more == []


@pytest.mark.parametrize(
    ("bad", "reason"),
    [
        (PAGE, "this is a page"),
        ("", "empty"),
        (stations(200), "200 rows, the last accepted one had 300"),
        (stations(300).replace(",town", ",nothing"), "'town' is gone"),
        (stations(299) + "2320299,OE1ZZ", "middle of a line"),
        (HEADINGS + "\n" + "2320001,OE1AAB,Ada,Steyr,Austria\n" * 300, "one id stands in 300 of 300 rows"),
    ],
)
def test_a_bad_directory_is_refused_and_the_last_good_one_used(home: Home, bad: str, reason: str) -> None:
    home.refresh()
    good = home.published()
    home.source.write_text(bad)
    outcome = refresh(home.settings)
    assert outcome.exit_code == ExitCode.SOURCE_MISSING == 4
    assert outcome.what == "nothing changed"
    assert reason in outcome.kept_back["world"]
    assert str(home.source) in outcome.kept_back["world"] or "source 'world'" in outcome.kept_back["world"]
    assert "arriving" not in outcome.kept_back["world"]
    assert home.published() == good
    home.add('[[drop]]\nname = "asked"\nids = [2320007]\n')  # the run goes on with the last good directory
    assert home.refresh() == ("published", 4, 2)
    assert home.contacts().count("\n") == 300
    assert not list(home.state.rglob("arriving"))


def test_a_suspicious_directory_can_be_accepted_once(home: Home) -> None:
    home.refresh()
    home.source.write_text(stations(200))
    assert home.refresh()[1] == 4
    assert home.refresh(accept=["world"]) == ("published", 0, 2)
    assert home.refresh() == ("nothing changed", 0, 2)
    home.source.write_text(stations(100))
    assert home.refresh()[1] == 4
    home.source.write_text(PAGE)
    assert home.refresh(accept=["world"])[1] == 4  # a page is never a directory
    with pytest.raises(SettingsError, match=r"no source is named 'word' \(there are: world\)"):
        home.refresh(accept=["word"])


@pytest.mark.parametrize(("text", "expected"), [(PAGE, InputRefusedError), (None, SourceMissingError)])
def test_without_a_last_good_directory_nothing_is_published(home: Home, text: str | None, expected: type[PrunerError]) -> None:
    home.source.write_text(text) if text else home.source.unlink()
    with pytest.raises(expected):
        home.refresh()
    assert not (home.folder / "out").exists()
    known = last_run(home.state)
    assert known is not None
    assert (known.what, known.exit_code) == ("failed", int(expected.exit_code))
    home.source.write_text(stations(300))
    assert home.refresh() == ("published", 0, 1)


class PanicError(BaseException):
    """As the panics of libraries in Rust arrive: pyo3's PanicException derives from BaseException (pyo3 documentation)."""


@pytest.mark.parametrize("fault", [ZeroDivisionError, PanicError, MemoryError, OSError])
@pytest.mark.parametrize("where", ["measure", "fetch"])
def test_a_fault_of_ours_in_a_source_is_that_source_refused(
    remote: Home, httpserver: HTTPServer, monkeypatch: pytest.MonkeyPatch, fault: type[BaseException], where: str
) -> None:
    serve(httpserver, stations(300))
    remote.refresh()
    good = remote.published()
    serve(httpserver, stations(301))

    def fail(*_: object, **__: object) -> None:
        raise fault("out of\nbounds \x1b[2J")

    monkeypatch.setattr("tempfile.tempdir", str(remote.folder))
    monkeypatch.setattr(f"pruner.refresh.gather.{where}", fail)
    outcome = refresh(remote.settings)
    assert (outcome.what, outcome.exit_code, outcome.headline[:7]) == ("nothing changed", 4, "REFUSED")
    (crash,) = remote.folder.glob("pruner-crash-*.txt")
    reason = outcome.kept_back["world"]
    assert f"a fault of ours: {fault.__name__}: out of bounds [2J; details in {crash}" in reason
    assert "is used" in reason
    assert fault.__name__ in crash.read_text()
    assert remote.published() == good
    shutil.rmtree(remote.state / "sources")
    with pytest.raises(fault):  # without a last good directory it is a fault of the whole run
        refresh(remote.settings)
    known = last_run(remote.state)
    assert known is not None
    assert known.exit_code == ExitCode.OUR_FAULT == 70


@pytest.mark.parametrize("ending", [KeyboardInterrupt, SystemExit])
def test_an_interrupt_while_a_source_is_read_ends_the_run(
    home: Home, monkeypatch: pytest.MonkeyPatch, ending: type[BaseException]
) -> None:
    home.refresh()
    home.source.write_text(stations(301))

    def end(*_: object) -> None:
        raise ending

    monkeypatch.setattr("pruner.refresh.gather.measure", end)
    with pytest.raises(ending):
        refresh(home.settings)
    assert not list(home.state.rglob("arriving"))


def test_a_fault_while_calls_are_folded_leaves_the_calls_that_are_known(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise PanicError("index out of bounds")

    monkeypatch.setattr("tempfile.tempdir", str(home.folder))
    monkeypatch.setattr("pruner.refresh.run.fold_new_calls", fail)
    assert home.refresh() == ("published", 4, 1)
    assert len(list(home.folder.glob("pruner-crash-*.txt"))) == 1


def test_a_file_that_may_not_be_read_is_kept_back(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    home.refresh()

    def refuse(files: Any) -> str:
        raise PermissionError(13, "Permission denied", str(files[0]))

    monkeypatch.setattr("pruner.refresh.gather.digest_of", refuse)
    outcome = refresh(home.settings)
    assert outcome.exit_code == 4
    assert f"{home.source}: cannot be read (Permission denied)" in outcome.kept_back["world"]


def test_a_vanished_file_is_one_line_and_the_last_good_one_used(home: Home) -> None:
    home.refresh()
    home.source.unlink()
    outcome = refresh(home.settings)
    assert outcome.exit_code == 4
    assert "no such file" in outcome.kept_back["world"]


def test_several_files_keep_their_order(home: Home) -> None:
    (home.folder / "a").mkdir()
    (home.folder / "b").mkdir()
    (home.folder / "a/part.csv").write_text(stations(10, name="Old"))
    (home.folder / "b/part.csv").write_text(stations(10, name="New"))
    text = (home.folder / "pruner.toml").read_text()
    (home.folder / "pruner.toml").write_text(text.replace('"stations.csv"', '"[ab]/part.csv"'))
    fit(home.settings)
    plain = home.published()
    home.refresh()
    assert home.published() == plain
    assert home.contacts().count("New") == 10


def test_fetched_from_a_server(remote: Home, httpserver: HTTPServer) -> None:
    serve(httpserver, stations(300))
    assert remote.refresh() == ("published", 0, 1)
    assert remote.refresh() == ("nothing changed", 0, 1)
    serve(httpserver, stations(305))
    assert remote.refresh() == ("published", 0, 2)
    before = remote.published()
    for text, status, reason in ((PAGE, 200, "page"), ("gone", 404, "404"), (stations(9), 200, "9 rows"), ("", 503, "503")):
        server_pauses = {"Retry-After": "86400"} if status == 503 else {}
        httpserver.clear()
        httpserver.expect_request("/stations.csv").respond_with_data(text, status, server_pauses, content_type="text/csv")
        outcome = refresh(remote.settings)
        assert (outcome.exit_code, outcome.what) == (4, "nothing changed")
        assert reason in outcome.kept_back["world"]
        assert remote.published() == before
    fit(remote.settings)  # a plain fit uses the last accepted directory, not what was fetched last
    assert remote.published() == before


def test_a_server_is_not_asked_more_often_than_it_should_be(tmp_path: Path, httpserver: HTTPServer) -> None:
    home = Home(tmp_path, httpserver.url_for("/stations.csv"))
    serve(httpserver, stations(300))
    home.refresh()
    told = refresh(home.settings).result
    assert "source 'world': not asked again before" in told
    assert told.endswith("; pruner refresh --force asks now")
    assert len(httpserver.log) == 1
    home.refresh(force=True)
    assert len(httpserver.log) == 2


@pytest.mark.parametrize(("text", "status", "reason"), [("gone", 404, "404"), (PAGE, 200, "page")])
def test_a_failure_within_the_minimum_interval_stays_one(
    tmp_path: Path, httpserver: HTTPServer, text: str, status: int, reason: str
) -> None:
    home = Home(tmp_path, httpserver.url_for("/stations.csv"))
    serve(httpserver, stations(300))
    assert home.refresh() == ("published", 0, 1)
    serve(httpserver, text, status, "text/html")
    assert home.refresh(force=True)[1] == 4
    asked = len(httpserver.log)
    for _ in range(2):
        outcome = refresh(home.settings)
        assert (outcome.exit_code, outcome.headline[:7]) == (4, "REFUSED")
        assert reason in outcome.kept_back["world"]
        assert "not asked again before" in outcome.kept_back["world"]
        assert "pruner refresh --force asks now" in outcome.kept_back["world"]
    assert len(httpserver.log) == asked
    serve(httpserver, stations(300))
    assert home.refresh(force=True)[1] == 0
    assert home.refresh()[1] == 0


def test_who_is_erased_at_the_source_is_gone(remote: Home, httpserver: HTTPServer) -> None:
    serve(httpserver, stations(300).replace("2320007,OE1AAH,Ada", "2320007,OE1AAH,Zenobia"))
    remote.refresh()
    assert "Zenobia" in remote.contacts()
    serve(httpserver, "".join(line for line in stations(300).splitlines(keepends=True) if "2320007" not in line))
    assert remote.refresh() == ("published", 0, 2)
    assert "2320007" not in remote.contacts()
    assert [version.number for version in versions(remote.folder / "out", remote.state)] == [1, 2]
    assert remote.refresh(purge=True) == ("nothing changed", 0, 2)
    for path in [*remote.state.rglob("*"), *(remote.folder / "out").rglob("*")]:
        if path.suffix == ".parquet":
            assert 2320007 not in pl.read_parquet(path)["id"].to_list()
        elif path.is_file():
            data = path.read_bytes()
            assert b"2320007" not in data, path
            assert b"Zenobia" not in data, path
    assert not (remote.state / "fetched").exists()
    assert remote.refresh() == ("nothing changed", 0, 2)


def test_two_runs_at_once(home: Home) -> None:
    home.refresh()
    before = home.published(), (home.state / "last-run.json").read_bytes()
    home.source.write_text(stations(302))
    with locked(home.state, "refresh"), pytest.raises(LockedError) as raised:
        refresh(home.settings)
    assert raised.value.exit_code == 5
    assert f"refresh, process {os.getpid()}, since 20" in str(raised.value)
    assert (home.published(), (home.state / "last-run.json").read_bytes()) == before
    assert home.refresh() == ("published", 0, 2)


def test_a_lock_that_cannot_be_written_does_not_stop_the_run(home: Home) -> None:
    """A full disk: who holds the lock is not known then, but one run at a time holds."""
    home.state.mkdir()
    (home.state / "lock").symlink_to("/dev/full")
    with locked(home.state, "refresh"), pytest.raises(LockedError):
        refresh(home.settings)
    assert home.refresh() == ("published", 0, 1)


def test_a_directory_that_stands_still_is_recorded_once_a_day(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    today = [1]
    clock = SimpleNamespace(now=lambda zone: datetime.datetime(2027, 3, today[0], tzinfo=zone))
    monkeypatch.setattr("pruner.refresh.run.datetime", SimpleNamespace(datetime=clock, UTC=datetime.UTC))
    home.refresh()
    for today[0] in (2, 2, 3):
        assert home.refresh()[0] == "nothing changed"
    today[0] = 4
    home.source.write_text("<html>")
    assert home.refresh()[1] == 4  # what the directory holds is not known on this day
    runs = (
        read(home.state / "history").runs.filter(about="radio").unique(["run", "day", "contacts"]).sort("run")
    )  # the same for all radios
    assert [day.day for day in runs["day"]] == [1, 2, 3]
    assert runs["contacts"].to_list() == [300] * 3


def test_what_each_version_changes_and_how_far_the_radio_is_behind(home: Home) -> None:
    from pruner.ask.history import mark_written

    home.refresh()
    mark_written(home.settings, "small", None)
    home.source.write_text(stations(302, name="Bea"))
    more = refresh(home.settings).more
    assert "large: 2 added, 0 removed, 300 changed since version 1" in more
    assert "small: 0 added, 0 removed, 50 changed since version 1" in more
    assert "small: 50 contacts differ from those in the radio, it is worth writing anew" in more
    home.add("[refresh]\nworth_writing = 52\n")
    home.source.write_text(stations(303, name="Cleo"))
    assert any("not yet worth writing anew" in line for line in refresh(home.settings).more)
    assert len((home.state / "history/runs.jsonl").read_text().splitlines()) == 3


def test_a_comparison_that_fails_does_not_undo_a_publication(home: Home) -> None:
    home.refresh()
    (home.state / "written/small").mkdir(parents=True)
    (home.state / "written/small/contacts.parquet").write_text("no parquet")
    shutil.rmtree(home.state / "history")
    (home.state / "history").write_text("no folder")
    home.source.write_text(stations(302))
    outcome = refresh(home.settings)
    assert (outcome.what, outcome.exit_code) == ("published", 0)
    assert [warning.split(":")[0] for warning in outcome.warnings] == ["history", "comparison of small"]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Callable[[str], None]]:
    """Lets the folder `disk` be a file system of its own, with mount options."""
    folder = tmp_path / "disk"
    folder.mkdir()

    def mount(options: str) -> None:
        done = subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(folder)], capture_output=True, check=False)
        if done.returncode:
            pytest.skip("a small file system cannot be mounted here (needs root)")

    if shutil.which("mount") is None:
        pytest.skip("there is no mount command")
    yield mount
    subprocess.run(["umount", "-l", str(folder)], capture_output=True, check=False)


@pytest.mark.parametrize("size", ["400k", *(pytest.param(f"{n}k", marks=pytest.mark.slow) for n in (450, 500, 600))])
def test_a_full_disk_is_one_line_and_the_published_version_stays(
    home: Home, small_disk: Callable[[str], None], size: str
) -> None:
    small_disk(f"size={size}")
    home.add('[output]\nfolder = "out"\nstate = "disk/state"\n')
    home.source.write_text(stations(50))
    refresh(home.settings)
    good = home.published()
    home.source.write_text(stations(17_000))
    with pytest.raises(SettingsError, match="No space left on device") as raised:
        refresh(home.settings)
    assert len(str(raised.value).splitlines()) == 1
    assert home.published() == good
    home.source.write_text(stations(60))
    assert refresh(home.settings).what == "published"


def test_a_read_only_output_is_one_line_and_the_published_version_stays(home: Home, small_disk: Callable[[str], None]) -> None:
    small_disk("size=4m")
    home.add('[output]\nfolder = "disk/out"\nstate = ".pruner"\n')
    refresh(home.settings)
    good = {path: path.read_bytes() for path in (home.folder / "disk/out/").rglob("*") if path.is_file()}
    small_disk_path = str(home.folder / "disk")
    subprocess.run(["mount", "-o", "remount,ro", small_disk_path], check=True)
    home.source.write_text(stations(302))
    with pytest.raises(SettingsError, match="Read-only file system"):
        refresh(home.settings)
    assert {path: path.read_bytes() for path in (home.folder / "disk/out/").rglob("*") if path.is_file()} == good
    subprocess.run(["mount", "-o", "remount,rw", small_disk_path], check=True)
    assert refresh(home.settings).what == "published"


@pytest.mark.slow
def test_killed_at_any_moment(home: Home) -> None:
    """The real command dies by SIGKILL; the published folder is the old version or the new one, and the next run succeeds."""
    import random
    import time

    kills = 200
    command = [sys.executable, "-m", "pruner", "refresh", "--quiet"]
    started = time.monotonic()
    subprocess.run(command, cwd=home.folder, check=True)
    whole = time.monotonic() - started
    randomness, killed = random.Random(7), 0
    for count in range(1, kills + 1):
        old = home.contacts().count("\n")
        home.source.write_text(stations(300 + count))
        process = subprocess.Popen(command, cwd=home.folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            process.wait(whole * randomness.uniform(0.4, 1.05))
        except subprocess.TimeoutExpired:
            process.kill()
        killed += process.wait() == -9
        both = {radio: home.contacts(radio).count("\n") for radio in ("large", "small")}
        assert both["large"] in (old, 301 + count)
        for radio in both:
            summary = json.loads((home.folder / "out" / radio / "summary.json").read_bytes())
            assert summary["read"] == both["large"] - 1, "radios of different versions stand together"
    assert killed > kills // 3
    home.source.write_text(stations(301 + kills))
    assert refresh(home.settings).what == "published"
    assert home.contacts().count("\n") == 302 + kills
    left = [path.name for path in home.state.rglob("*") if path.name.endswith(("-making", "-removing", ".part", "arriving"))]
    assert left == []
    assert len(versions(home.folder / "out", home.state)) <= 4


def test_heard_logs_are_folded(home: Home) -> None:
    """Whoever was heard last comes first; a log that cannot be had leaves the calls that are known."""
    home.add(
        '[[heard]]\nlocation = "heard.csv"\n[[keep]]\nname = "heard"\nheard_at_least = 1\n'
        '[[keep]]\nname = "rest"\norder = "id"\n'
    )
    (home.folder / "heard.csv").write_text("time,id,talkgroup,seconds\n2026-11-01T10:00:00Z,2320200,232,5\n")
    assert home.refresh() == ("published", 0, 1)
    assert "2320200," in home.contacts("small")
    assert home.refresh() == ("nothing changed", 0, 1)
    (home.folder / "heard.csv").write_text("time,id,talkgroup,seconds\n2026-11-02T10:00:00Z,2320201,232,5\n")
    assert home.refresh() == ("published", 0, 2)
    assert "2320201," in home.contacts("small")
    (home.folder / "heard.csv").unlink()
    outcome = refresh(home.settings)
    assert (outcome.what, outcome.exit_code) == ("nothing changed", 4)
    assert "the calls known before are used" in outcome.kept_back["heard logs"]


def test_talkgroups_are_part_of_every_version(home: Home) -> None:
    text = (home.folder / "pruner.toml").read_text()
    (home.folder / "pruner.toml").write_text(text.replace("contacts = 50", "contacts = 50\ntalkgroups = 2"))
    home.add('[talkgroups]\nmine = [232]\nlist = "groups.csv"\n')
    (home.folder / "groups.csv").write_text("number,name\n91,World\n232,Austria\n262,Germany\n")
    assert home.refresh() == ("published", 0, 1)
    assert (home.folder / "out/talkgroups/small/talkgroups.csv").read_text().count("\n") == 3
    assert home.refresh() == ("nothing changed", 0, 1)
    (home.folder / "groups.csv").write_text("number,name\n232,Austria!\n")
    assert home.refresh() == ("published", 0, 2)
    assert "Austria!" in (home.folder / "out/talkgroups/small/talkgroups.csv").read_text()
    fit(home.settings)
    assert versions(home.folder / "out", home.state)[-1].radios == ("large", "small", "talkgroups/small")
