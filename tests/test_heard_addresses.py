"""Heard logs from addresses: pages of last calls, fetched from real servers, that scroll away and overlap. Invented calls."""

from __future__ import annotations

import base64
import bz2
import datetime
import gzip
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from heard_weights import weights_in
from servers import NGINX, RawServer, answer, header, in_turn, nginx, sends

from pruner.calls.weights import load_weights
from pruner.cli.boundary import guarded
from pruner.job.run import run as fit
from pruner.logs import fold as folding
from pruner.logs import rows
from pruner.logs.fetch import FetchResult, fetch_and_fold, last_fetch
from pruner.logs.fold import fold_all
from pruner.logs.forget import forget_days
from pruner.logs.pages import pages_of
from pruner.publish.lock import locked
from pruner.refresh.run import Options, refresh
from pruner.settings.load import load_settings
from pruner.settings.models import Settings
from pruner.sources import pages as queue
from pruner.words.errors import LockedError, NothingToDoError, PrunerError

HEADING = "time,id,talkgroup,seconds\n"
START = datetime.datetime(2026, 11, 20, 12, tzinfo=datetime.UTC)


def calls(first: int, behind: int) -> str:
    """Rows of the calls with these numbers, one a minute and a second, the newest first."""
    rows = []
    for number in reversed(range(first, behind)):
        moment = START + datetime.timedelta(seconds=61 * number)
        rows.append(f"{moment:%Y-%m-%dT%H:%M:%SZ},{2320001 + number % 7},232,{4 + number % 5}.5\n")
    return "".join(rows)


def page(first: int, behind: int) -> bytes:
    return (HEADING + calls(first, behind)).encode()


class Home:
    """A folder with a directory, a radio and heard logs."""

    def __init__(self, folder: Path, *locations: str, more: str = "", minutes: int = 5) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)
        names = "".join(f"{2320001 + n},OE1A{chr(65 + n)},Ada,Steyr,Austria\n" for n in range(7))
        (folder / "stations.csv").write_text(f"id,call sign,name,town,country\n{names}")
        tables = "".join(f'[[heard]]\nlocation = "{location}"\n{more}\n' for location in locations)
        (folder / "pruner.toml").write_text(
            '[[source]]\nname = "world"\nlocation = "stations.csv"\n[[radio]]\nname = "small"\ncontacts = 5\n'
            f"{tables}\n[refresh]\nheard_interval_minutes = {minutes}\n"
        )

    @property
    def settings(self) -> Settings:
        return load_settings(self.folder / "pruner.toml")

    @property
    def state(self) -> Path:
        return self.folder / ".pruner"

    def fetch(self, *, force: bool = True) -> FetchResult:
        return fetch_and_fold(self.settings, force=force)

    def count(self) -> int:
        weights = load_weights(self.state / "heard" / "dmr")
        return 0 if weights is None else weights.total_calls()

    def waiting(self, place: int = 0) -> list[Path]:
        return pages_of(self.settings, self.settings.heard[place]).waiting()


def serving(*bodies: bytes, headers: tuple[str, ...] = ("Content-Type: text/csv",)) -> Callable[..., None]:
    return in_turn(*(sends(answer(body, *headers)) for body in bodies))


def test_pages_that_overlap_count_each_call_once(tmp_path: Path) -> None:
    """The last 50 calls, asked for whenever 20 more were made."""
    pages = [page(first, first + 50) for first in range(0, 200, 20)]
    with RawServer(serving(*pages)) as server:
        home = Home(tmp_path, server.url("/last.csv"))
        news = [home.fetch().folded.total.new for _ in pages]
        assert news == [50, *[20] * 9]
        assert home.count() == 230
        assert home.waiting() == []
        same = home.fetch()
    assert (same.asked[0].what, same.folded.total.read, same.exit_code) == ("not changed", 0, 0)
    kept = {path.name.rpartition("-")[0] or path.name for path in (home.state / "heard" / "dmr").iterdir()}
    assert kept == {"2026-11-20", "manifest.json", "counted"}  # nothing grows with the number of pages


def test_the_same_calls_as_from_files_give_the_same_store(tmp_path: Path) -> None:
    with RawServer(serving(page(0, 50), page(30, 80))) as server:
        home = Home(tmp_path / "a", server.url())
        home.fetch()
        home.fetch()
    other = Home(tmp_path / "b", "log.csv")
    (tmp_path / "b" / "log.csv").write_bytes(page(0, 80))
    fold_all(other.settings)
    stores = [(one.state / "heard" / "dmr" / "manifest.json").read_bytes() for one in (home, other)]
    assert stores[0] == stores[1]


def test_a_page_is_asked_for_again_after_its_interval_only(tmp_path: Path) -> None:
    with RawServer(serving(page(0, 5), page(0, 9))) as server:
        home = Home(tmp_path, server.url(), minutes=60)
        assert home.fetch(force=False).asked[0].what == "new"
        held = home.fetch(force=False).asked[0]
        assert (held.what, len(server.heads)) == ("not asked", 1)
        assert "not asked again before" in held.note
        assert home.fetch().asked[0].what == "new"
    assert home.count() == 9


@pytest.mark.skipif(NGINX is None, reason="needs nginx")
def test_a_page_that_did_not_change_is_not_sent_again(tmp_path: Path) -> None:
    (tmp_path / "server" / "www").mkdir(parents=True)
    last = tmp_path / "server" / "www" / "last.csv"
    last.write_bytes(page(0, 30))
    with nginx(tmp_path / "server", "") as address:
        home = Home(tmp_path / "home", f"{address}/last.csv")
        assert [home.fetch().asked[0].what for _ in range(2)] == ["new", "not changed"]
        last.write_bytes(page(10, 40))
        os.utime(last, (1, 1_700_000_000))
        assert home.fetch().folded.total.new == 10
    log = (tmp_path / "server" / "access.log").read_text()
    assert [line.split('" ')[1].split()[0] for line in log.splitlines()] == ["200", "304", "200"]
    assert home.count() == 40


REFUSED: list[tuple[str, bytes, str]] = [
    ("not there", answer(b"gone", status="404 Not Found"), "answered 404 (Not Found); check the location"),
    ("page for people", answer(b"<!doctype html><p>Back soon", "Content-Type: text/html"), "sent a page (text/html)"),
    ("empty", answer(b""), "sent an empty answer"),
    ("cut", answer(page(0, 50)[:200], length=2000), "ends early"),
    ("no table", answer(b"nothing to see here\n" * 9, "Content-Type: text/plain"), "line"),
    ("another table", answer(b"plant,height\nfern,12\nmoss,3\n"), "no column"),
    (
        "wants a name",
        answer(b"", status="401 Unauthorized"),
        'write credentials = "log" into its table of the settings and give',
    ),
]


@pytest.mark.long
@pytest.mark.parametrize(("what", "wrong", "words"), REFUSED, ids=[row[0] for row in REFUSED])
def test_a_failing_address_is_one_line_and_loses_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], what: str, wrong: bytes, words: str
) -> None:
    with (
        RawServer(sends(answer(page(0, 20)))) as bad,
        RawServer(serving(page(100, 110), page(105, 115), page(110, 120))) as good,
    ):
        home = Home(tmp_path, bad.url("/bad?key=secret"), good.url())
        options = ["--settings", str(home.folder / "pruner.toml"), "--force"]
        assert guarded(["heard", "fetch", *options]) == 0
        capsys.readouterr()
        bad.behaviour = sends(wrong)
        assert guarded(["heard", "fetch", "--quiet", *options]) == 4
        told = capsys.readouterr()
        assert told.out == ""
        assert len(told.err.splitlines()) == 1, told.err
        assert told.err.startswith("pruner: ")
        assert f"127.0.0.1:{bad.port}/bad" in told.err
        assert words in told.err
        assert "secret" not in told.err
        assert home.count() == 35  # 20 of the one, 15 of the other
        known = last_fetch(home.state)
        assert known is not None
        assert (known.exit_code, known.new, len(known.troubles)) == (4, 5, 1)
        bad.behaviour = sends(answer(page(10, 30)))
        after = home.fetch()
    assert home.count() == 50
    assert home.waiting() == []
    assert after.exit_code == (4 if what in ("no table", "another table") else 0)  # said once more, and laid aside


def test_a_dead_address_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with RawServer(serving(b"")) as server:
        address = server.url()
    home = Home(tmp_path, address, more="")
    with (home.folder / "pruner.toml").open("a") as file:
        file.write("deadline_seconds = 1\n")
    code = guarded(["heard", "fetch", "--quiet", "--settings", str(home.folder / "pruner.toml")])
    told = capsys.readouterr()
    assert (code, told.out) == (4, "")
    assert len(told.err.splitlines()) == 1
    assert "cannot be reached" in told.err


def test_pages_that_settings_do_not_fit_wait_until_they_do(tmp_path: Path) -> None:
    """Dates that can be read in two ways, until the settings say how; meanwhile two pages scroll away."""

    def odd(first: int, behind: int) -> bytes:
        rows = [f"0{1 + n % 9}/0{1 + n // 9}/2026 12:00:{n:02},{2320001 + n},232,3.5\n" for n in reversed(range(first, behind))]
        return (HEADING + "".join(rows)).encode()

    with RawServer(serving(odd(0, 20), odd(20, 40), odd(40, 60))) as server:
        home = Home(tmp_path, server.url())
        for pages in (1, 2):
            refused = home.fetch()
            assert refused.exit_code == 4
            assert "dates" in refused.troubles[0]
            assert len(home.waiting()) == pages
        assert "2 pages wait" in refused.troubles[0]
        assert str(home.waiting()[0]) in refused.troubles[0]
        text = (home.folder / "pruner.toml").read_text()
        (home.folder / "pruner.toml").write_text(text.replace("[[heard]]\n", '[[heard]]\ndates = "day first"\n'))
        assert home.fetch().folded.total.new == 60
    assert home.count() == 60


def test_waiting_pages_are_folded_by_any_fold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A light run that could not get the lock leaves its page to the next fold, whoever does it."""
    with RawServer(serving(page(0, 20), page(50, 70), page(100, 120), page(150, 170))) as server:
        home = Home(tmp_path, server.url())
        monkeypatch.setattr(folding, "WAIT_SECONDS", 0.1)

        def shut_out() -> None:
            with locked(home.state / "heard", "heard fold"), pytest.raises(LockedError, match="heard fold"):
                home.fetch()
            assert len(home.waiting()) == 1

        shut_out()
        known = last_fetch(home.state)
        assert known is not None
        assert known.exit_code == 5
        assert fold_all(home.settings).total.new == 20
        shut_out()
        assert fit(home.settings).notes == []
        assert home.count() == 40
        shut_out()
        home.fetch()
    assert home.count() == 80


def test_a_light_run_does_not_touch_the_publication(tmp_path: Path) -> None:
    """While a fit or a refresh holds the lock of the results, and reads the store, pages are fetched and folded."""
    with RawServer(serving(page(0, 20), page(10, 40))) as server:
        home = Home(tmp_path, server.url())
        refresh(home.settings)
        published = {path: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()}
        reader = weights_in(home.state)
        with locked(home.state, "refresh"):
            assert home.fetch().folded.total.new == 20
        assert reader.total_calls() == 20
        assert {path: path.read_bytes() for path in (tmp_path / "out").rglob("*") if path.is_file()} == published


def test_refresh_asks_the_addresses_too(tmp_path: Path) -> None:
    wrong = answer(b"no", status="500 Internal Server Error")
    with RawServer(in_turn(sends(answer(page(0, 20))), sends(wrong))) as server:
        home = Home(tmp_path, server.url())
        first = refresh(home.settings)
        assert (first.what, first.exit_code, home.count()) == ("published", 0, 20)
        held = refresh(home.settings)
        assert (held.what, held.exit_code, len(server.heads)) == ("nothing changed", 0, 1)
        text = (home.folder / "pruner.toml").read_text()
        (home.folder / "pruner.toml").write_text(text + "deadline_seconds = 2\n")
        failed = refresh(home.settings, Options(force=True))
    assert failed.exit_code == 4
    assert failed.kept_back["heard logs"].startswith(f"heard logs: heard log http://127.0.0.1:{server.port}/")
    assert "answered 500" in failed.kept_back["heard logs"]
    assert home.count() == 20


def test_a_last_line_that_is_cut_waits_for_the_next_page(tmp_path: Path) -> None:
    """A log that is served while it grows ends anywhere; what stands behind its last line feed is folded once it is whole."""
    log = (HEADING + calls(0, 30)).encode()
    lines = log.splitlines(keepends=True)
    cut = b"".join(lines[:20]) + lines[20][:34]  # "...,2320001,23" of talkgroup 232
    with RawServer(serving(cut, log)) as server:
        home = Home(tmp_path, server.url())
        assert home.fetch().folded.total.plain()["rejected"] == {}
        assert (home.count(), len(home.waiting())) == (19, 1)
        home.fetch()
    assert (home.count(), home.waiting()) == (30, [])
    weights = weights_in(home.state)
    assert set(weights.rows()["talkgroup"]) == {232}


def test_a_page_without_a_last_line_feed_loses_no_call(tmp_path: Path) -> None:
    first, second = page(0, 20)[:-1], page(30, 50)[:-1]
    with RawServer(serving(first, second)) as server:
        home = Home(tmp_path, server.url())
        home.fetch()
        assert home.count() == 19
        home.fetch()
        assert home.count() == 39
        (waiting,) = home.waiting()
        os.utime(waiting, (0, 0))  # nothing came for a while
        home.fetch()
    assert (home.count(), home.waiting()) == (40, [])


def test_credentials_come_from_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PRUNER_GATEWAY_USER", "ada")
    monkeypatch.setenv("PRUNER_GATEWAY_PASSWORD", "sesame")
    with RawServer(serving(page(0, 20))) as server:
        home = Home(tmp_path, server.url(), more='credentials = "gateway"')
        assert home.fetch().exit_code == 0
        sent = header(server.heads[0], "Authorization")
    assert sent == "Basic " + base64.b64encode(b"ada:sesame").decode()
    for path in home.state.rglob("*"):
        assert not path.is_file() or b"sesame" not in path.read_bytes()


KINDS: list[tuple[str, bytes, tuple[str, ...]]] = [
    ("gzip file", gzip.compress(page(0, 20)), ()),
    ("bzip2 file", bz2.compress(page(0, 20)), ()),
    ("content coding", gzip.compress(page(0, 20)), ("Content-Encoding: gzip",)),
    (
        "one JSON value",
        json.dumps(
            {"calls": [{"t": f"2026-11-20T12:00:{n:02}Z", "id": 2320001 + n, "tg": "TG 232", "secs": 3.5} for n in range(20)]}
        ).encode(),
        ("Content-Type: application/json",),
    ),
]


@pytest.mark.parametrize(("body", "headers"), [row[1:] for row in KINDS], ids=[row[0] for row in KINDS])
def test_pages_of_any_kind(tmp_path: Path, body: bytes, headers: tuple[str, ...]) -> None:
    with RawServer(serving(body, headers=headers)) as server:
        home = Home(tmp_path, server.url("/x"))
        home.fetch()
    assert home.count() == 20


def test_a_pattern_is_learned_from_a_page_that_waits(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    who = [f"OE1A{chr(65 + n)} ({2320001 + n})" for n in range(7)]
    lines = [
        f"[2026-11-20 12:{n:02}:{n % 53:02}] voice from {who[n % 7]} to TG {91 + n % 2} took {n % 9}.{n % 7} s\n"
        for n in range(60)
    ]
    with RawServer(serving("".join(lines).encode(), headers=("Content-Type: text/plain",))) as server:
        home = Home(tmp_path, server.url("/calls.log"))
        assert home.fetch().exit_code == 4
        (waiting,) = home.waiting()
        address, asked = server.url("/calls.log"), ["--settings", str(home.folder / "pruner.toml")]
        for location in (address, str(waiting)):
            capsys.readouterr()
            assert guarded(["heard", "learn", location, *asked]) == 0
            shown = capsys.readouterr().out
            assert f"# into the table [[heard]] of {address}\npattern = " in shown
            assert str(home.state) not in shown
        assert guarded(["heard", "learn", address, "--write", *asked]) == 0
        assert home.settings.heard[0].pattern
        assert len(home.settings.heard) == 1
        assert home.fetch().folded.total.new == 60


def test_rows_that_are_no_calls_are_kept_once(tmp_path: Path) -> None:
    bad = b"2026-11-20T12:00:00Z,seven,232,4\n"
    with RawServer(serving(*(page(first, first + 20) + bad for first in range(0, 60, 10)))) as server:
        home = Home(tmp_path, server.url())
        for _ in range(6):
            assert home.fetch().folded.total.rejected.total() == 1
    (kept,) = (home.state / "heard" / "dmr").glob("rejected-*.csv")
    assert kept.read_text().splitlines() == ["log,line,reason,raw", ',,invalid id,"""2026-11-20T12:00:00Z,seven,232,4"""']
    forget_days(home.state, None, [20_000])
    assert not list((home.state / "heard" / "dmr").glob("rejected-*.csv"))


def test_forgetting_removes_pages_too(tmp_path: Path) -> None:
    with RawServer(serving(page(0, 20))) as server:
        home = Home(tmp_path, server.url())
        home.fetch()
        folder = pages_of(home.settings, home.settings.heard[0]).folder
        assert (folder / "body").is_file()
        forget_days(home.state, (datetime.date(2026, 11, 21) - datetime.date(1970, 1, 1)).days)
        assert not (folder / "body").exists()
        again = home.fetch()
    assert home.count() == 0
    assert again.folded.total.read == 0  # the same page as before


def test_too_many_pages_that_cannot_be_read_are_dropped_and_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queue, "MOST_PAGES", 3)
    bodies = [b"plant,height\n" + f"fern,{n}\n".encode() * 5 for n in range(5)]
    with RawServer(serving(*bodies)) as server:
        home = Home(tmp_path, server.url())
        told = [home.fetch().troubles[0] for _ in bodies]
    assert ["for lack of room" in line for line in told] == [False, False, False, True, True]
    assert len(home.waiting()) == 3


def test_settings_without_addresses_have_nothing_to_fetch(tmp_path: Path) -> None:
    home = Home(tmp_path, "log.csv")
    with pytest.raises(NothingToDoError, match="heard fold"):
        home.fetch()


def test_check_shows_what_was_fetched(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with RawServer(serving(page(0, 20))) as server:
        home = Home(tmp_path, server.url("/last?key=secret"))
        command = ["check", "--settings", str(home.folder / "pruner.toml")]
        assert guarded(command) == 0
        assert "run pruner heard fetch first" in " ".join(capsys.readouterr().out.split())
        home.fetch()
        assert guarded(command) == 0
    out = capsys.readouterr().out
    assert "2320006" in out
    assert "secret" not in out


@pytest.mark.slow
def test_killed_at_any_moment_no_page_is_lost(tmp_path: Path) -> None:
    """Pages without overlap: each call is on one page only, which the server sends once."""
    bodies = [page(first, first + 20) for first in range(0, 400, 20)]
    with RawServer(serving(*bodies)) as server:
        home = Home(tmp_path, server.url())
        command = [sys.executable, "-m", "pruner", "heard", "fetch", "--force", "--quiet"]
        killed = 0
        for number in range(60):
            process = subprocess.Popen([*command, "--settings", str(home.folder / "pruner.toml")], cwd=tmp_path)
            time.sleep(0.25 + 0.01 * number)
            process.send_signal(signal.SIGKILL)
            killed += process.wait() == -signal.SIGKILL
            got = len(server.heads)
            if got >= len(bodies):
                break
        assert killed > 3
        for _ in range(len(bodies)):
            home.fetch()
    assert home.count() == 400


def test_a_fault_in_reading_a_page_is_that_page_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: Any, **__: Any) -> None:
        raise RuntimeError("a panic")

    with RawServer(serving(page(0, 20))) as server:
        home = Home(tmp_path, server.url())
        with monkeypatch.context() as fault:
            fault.setattr(rows, "judge", broken)
            told = home.fetch()
        assert told.exit_code == 4
        assert "a fault of ours: RuntimeError: a panic; details in" in told.troubles[0]
        Path(told.troubles[0].split("details in ")[1].split(" ")[0]).unlink()
        home.fetch()
    assert home.count() == 20


def test_a_state_that_cannot_be_written_is_an_error_of_the_settings(tmp_path: Path) -> None:
    with RawServer(serving(page(0, 20))) as server:
        home = Home(tmp_path, server.url())
        (home.state).mkdir()
        (home.state / "heard").write_text("a file")
        with pytest.raises(PrunerError) as raised:
            home.fetch()
    assert raised.value.exit_code == 2
