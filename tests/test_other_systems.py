"""Systems without locks, links, modes and folders that can be opened: emulated in a process of its own.

What is taken away is what the documentation of Python marks as "Availability: Unix" (modules fcntl and pwd, os.O_DIRECTORY,
os.geteuid, os.killpg), and what it says of Windows (os.chmod sets the read-only flag only, os.symlink needs a right). That
os.open takes no folders there, and os.fsync no file that is open for reading, is from memory.
"""

from __future__ import annotations

import fcntl
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pruner.words import disk, locks
from pruner.words.errors import ExitCode, LockedError

pytestmark = pytest.mark.long

PRELUDE = """\
import builtins, fcntl as _fcntl, os, pathlib, stat, subprocess, sys

for name in ("fcntl", "pwd", "grp", "resource"):
    sys.modules[name] = None
for name in ("O_DIRECTORY", "O_CLOEXEC", "O_NOFOLLOW", "geteuid", "getuid", "killpg", "fchmod", "confstr", "sched_getaffinity"):
    if hasattr(os, name):
        delattr(os, name)
real_open, real_fsync = os.open, os.fsync
def opened(path, flags, *more, **named):
    if isinstance(path, (str, bytes, os.PathLike)) and os.path.isdir(path):
        raise PermissionError(13, "Permission denied", str(path))
    return real_open(path, flags, *more, **named)
def fsync(descriptor):
    number = descriptor if isinstance(descriptor, int) else descriptor.fileno()
    if _fcntl.fcntl(number, _fcntl.F_GETFL) & 3 == os.O_RDONLY:
        raise OSError(9, "Bad file descriptor")
    return real_fsync(number)
def no_link(*_, **__):
    error = OSError(22, "A required privilege is not held by the client")
    raise error
def no_mode(path, mode, *_, **__):
    return None
os.open, os.fsync, os.symlink, os.chmod = opened, fsync, no_link, no_mode
pathlib.Path.chmod = lambda self, mode, **_: None
import json
from contextlib import redirect_stderr
from io import StringIO
from pruner.cli.boundary import guarded
for line in sys.stdin:
    words = json.loads(line)
    os.chdir(words.pop(0))
    with redirect_stderr(StringIO()) as errors:
        code = guarded(words)
    print(json.dumps([code, errors.getvalue()]), file=sys.__stderr__, flush=True)
"""


#: Runs a command in a folder where the parts are missing: exit code and standard error.
Elsewhere = Callable[..., tuple[int, str]]


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[Elsewhere]:
    with subprocess.Popen(
        [sys.executable, "-c", PRELUDE],
        stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        assert process.stdin
        assert process.stderr
        requests, answers = process.stdin, process.stderr

        def run(folder: Path, *words: str) -> tuple[int, str]:
            print(json.dumps([str(folder), *words]), file=requests, flush=True)
            code, errors = json.loads(answers.readline())
            return code, errors

        yield run
        requests.close()
        assert process.wait(timeout=60) == 0


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory, elsewhere: Elsewhere) -> Path:
    folder = tmp_path_factory.mktemp("elsewhere")
    for place, words in [(folder, ("demo", "tour", "--stations", "1000")), (folder / "tour", ("fit",))]:
        code, errors = elsewhere(place, *words)
        assert code == 0, errors
    return folder / "tour"


WORK = [
    ["check"],
    ["fit"],
    ["why", "--rule", "home"],
    ["heard", "fold"],
    ["heard", "show"],
    ["talkgroups"],
    ["compare", "--mark"],
    ["compare"],
    ["compare", "--export", "out/loan-handheld/contacts.csv"],
    ["report"],
    ["explore"],
    ["convert", "out/loan-handheld/contacts.csv", "--to", "radio.layout.toml", "--out", "converted"],
    ["fit", "stations.csv", "--contacts", "100", "--out", "short"],
]


@pytest.mark.parametrize("words", WORK, ids=" ".join)
def test_commands_work_without_locks_links_and_modes(demo: Path, elsewhere: Elsewhere, words: list[str]) -> None:
    (demo / "radio.layout.toml").write_text('[file]\n[[column]]\ntitle = "Number"\nvalue = "{id}"\n')
    code, errors = elsewhere(demo, *words)
    assert code == 0, errors
    assert "fault of ours" not in errors


REFUSED = [
    (["refresh"], "no links can be made here, and versions are published by them; use pruner fit"),
    (["schedule"], "schedule: this system has neither systemd nor cron"),
    (["schedule", "--install"], "schedule: this system has neither systemd nor cron"),
]


@pytest.mark.parametrize(("words", "sentence"), REFUSED)
def test_what_cannot_be_done_is_refused_in_one_line(demo: Path, elsewhere: Elsewhere, words: list[str], sentence: str) -> None:
    code, errors = elsewhere(demo, *words)
    assert code not in (0, ExitCode.OUR_FAULT), errors
    assert sentence in errors
    assert [line.startswith("pruner: ") for line in errors.splitlines()].count(True) == 1
    assert elsewhere(demo, "fit")[0] == 0


def test_a_lock_is_a_lock_where_there_are_locks(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    with path.open("wb") as mine, path.open("wb") as other:
        assert locks.take(mine)
        with pytest.raises(BlockingIOError):
            locks.take(other)
    descriptor, again = locks.open_folder(tmp_path), locks.open_folder(tmp_path)
    assert locks.take(descriptor, shared=True)
    assert locks.take(again, shared=True, wait=True)
    with pytest.raises(BlockingIOError):
        locks.take(again)
    locks.close_folder(descriptor)
    assert locks.take(again)
    locks.close_folder(again)


def test_file_systems_without_locks_and_modes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(95, "Operation not supported")

    def not_permitted(*_: object, **__: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    path = tmp_path / "file"
    path.write_text("")
    with monkeypatch.context() as patch, path.open("rb") as file:
        patch.setattr(fcntl, "flock", refuse)
        assert not locks.take(file)
    monkeypatch.setattr(os, "chmod", not_permitted)
    disk.set_mode(path, 0o600)
    disk.give_mode(tmp_path, 0o640)
    assert not locks.take(locks.NOTHING)
    locks.close_folder(locks.NOTHING)


def test_another_run_is_still_seen(tmp_path: Path) -> None:
    from pruner.publish.lock import locked

    with (
        locked(tmp_path, "fit"),
        pytest.raises(LockedError, match=r"another run is under way \(fit, process"),
        locked(tmp_path, "fit"),
    ):
        pass
