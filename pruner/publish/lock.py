"""One run at a time: a lock on the folder of what the tool keeps for itself.

Receives the state folder, holds the lock for the length of a block. The file says who holds it.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import BinaryIO, Final

from pruner.words.disk import PRIVATE, creating, set_mode
from pruner.words.errors import LockedError, SettingsError
from pruner.words.locks import take
from pruner.words.stored import StoredError, stored

#: Seconds between two looks at a lock that another run holds.
_PAUSE: Final = 0.05
_LOCK: Final = "lock"
#: Bytes of the file that are looked at.
_LONGEST: Final = 1000
#: Folders of ours in the state that are never published.
_OURS: Final = ("heard", "sources", "fetched", "history", "written", "what-if")


@dataclass(frozen=True, slots=True)
class Holder:
    """Who holds a lock: process, command, since when (UTC, ISO 8601)."""

    process: int
    command: str
    since: str


@contextlib.contextmanager
def locked(state: Path, command: str, mode: int = PRIVATE, *, wait_seconds: float = 0.0) -> Iterator[None]:
    """Holds `<state>/lock`, released by the system even when the process is killed. What is made meanwhile has a mode.
    Whoever holds it is given `wait_seconds` to end.

    Raises LockedError with the holder (process, command, since when), SettingsError where the state cannot be written.
    """
    try:
        with creating(PRIVATE):
            state.mkdir(parents=True, exist_ok=True)
            file = (state / _LOCK).open("a+b", buffering=0)  # nothing is left to be written when it is closed
    except OSError as error:
        if state.parent.is_dir():
            raise SettingsError(f"{state}: cannot be written ({error.strerror}); choose another [output] state") from error
        advice = "choose another folder for the results (--out), or another [output] state"
        raise SettingsError(f"{state.parent}: cannot be written ({error.strerror}); {advice}") from error
    with file, creating(mode):
        try:
            _take(file, wait_seconds)
        except BlockingIOError as error:
            raise LockedError(f"{state / _LOCK}: another run is under way{_holder(file)}; wait for it to end") from error
        since = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
        _write(file, json.dumps(asdict(Holder(os.getpid(), command, since))) + "\n")
        try:
            _close_to_others(state)
            yield
        finally:
            _write(file, "")


def _take(file: BinaryIO, wait_seconds: float) -> None:
    ends = time.monotonic() + wait_seconds
    while True:
        try:
            take(file)
            return
        except BlockingIOError:
            if time.monotonic() >= ends:
                raise
        time.sleep(_PAUSE)


def _close_to_others(state: Path) -> None:
    """What earlier releases left open in the state is for its owner only."""
    for name in _OURS:
        with contextlib.suppress(OSError):  # not there, or of another user
            folder = state / name
            if not folder.is_symlink() and folder.stat().st_mode & 0o077:
                set_mode(folder, 0o700)


def _write(file: BinaryIO, text: str) -> None:
    with contextlib.suppress(OSError):  # who holds the lock is a courtesy: a full disk must not stop the run
        file.seek(0)
        file.truncate()
        file.write(text.encode())


def _holder(file: BinaryIO) -> str:
    try:
        file.seek(0)
        holder = stored(Holder, file.read(_LONGEST))
        return f" ({holder.command}, process {holder.process}, since {holder.since})"
    except (OSError, StoredError):
        return ""


def holder_in(state: Path) -> Holder | None:
    """Who holds the lock of a state folder, as its file says; None where it says nothing. The lock itself is left alone: a run
    may want it right now."""
    try:
        with (state / _LOCK).open("rb") as file:
            return stored(Holder, file.read(_LONGEST))
    except (OSError, StoredError):
        return None
