"""A source on the network -> its stored body, fresh or confirmed.

Receives a Request and the store's folder; hands on Fetched. A failed fetch never touches the last good body.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import BinaryIO, Final, NoReturn, TypeVar

from pruner.sources import location
from pruner.sources.credentials import Credentials
from pruner.sources.exchange import Answer, ask, late
from pruner.sources.request import FailedError, Fetched, Request
from pruner.sources.store import Asked, Record, Shelf, folder_name, open_shelf
from pruner.sources.waiting import clock, seconds_to_wait, still
from pruner.words.errors import InputRefusedError, SourceMissingError
from pruner.words.threads import LateError, within

__all__ = ["Credentials", "Fetched", "Request", "fetch", "last_good"]

Result = TypeVar("Result")
_WAIT_HERE_SECONDS: Final = 30.0
_TOO_MANY_REQUESTS: Final = 429


def fetch(request: Request, store: Path, *, now: Callable[[], float] = time.time, force: bool = False) -> Fetched:
    """Asks for a source unless it was asked lately, and returns its stored body.

    `now` is the wall clock in seconds since 1970. `force` asks although the minimum interval has not passed, but not before a
    time that the server itself named (Retry-After). Raises SourceMissingError (it could not be had), InputRefusedError (what
    came is no table, too large or not complete), SettingsError (location, certificates or folder unusable) and LockedError.
    """
    location.checked(request.location, request.subject)
    with open_shelf(store, request.name) as shelf:
        held = _held(request, shelf, now(), force)
        return held or _ask(request, shelf, now)


def last_good(name: str, store: Path) -> Fetched | None:
    """The stored body of a source without asking anyone; None if there is none or its bytes are not those received."""
    if not (store / folder_name(name)).is_dir():
        return None
    with open_shelf(store, name) as shelf:
        return _fetched(shelf.body, shelf.record, changed=False) if shelf.record else None


def _held(request: Request, shelf: Shelf, now: float, force: bool) -> Fetched | None:
    """The stored body if the source was asked lately; raises when the server wants to be left alone, and again what went wrong
    when it was asked since."""
    asked, record = shelf.asked, shelf.record
    if asked is None or asked.location != location.fingerprint(request.location):
        return None
    if asked.wait is not None:
        if still(asked.at, asked.wait, now):
            _fail(request, shelf, FailedError(f"wants not to be asked before {clock(asked.at + asked.wait)}"))
        return None
    if force or record is None or not still(asked.at, request.minimum_interval_seconds, now):
        return None
    note = f"not asked again before {clock(asked.at + request.minimum_interval_seconds)}"
    if asked.failure is not None:
        _fail(request, shelf, FailedError(f"{asked.failure}; {note}; {request.again} asks now", refused=asked.refused))
    return _fetched(shelf.body, record, changed=False, note=note, asked=False)


def _ask(request: Request, shelf: Shelf, now: Callable[[], float]) -> Fetched:
    ends = time.monotonic() + request.deadline_seconds
    here = location.fingerprint(request.location)
    known = shelf.record if shelf.record and shelf.record.location == here else None
    pause = request.pause_seconds
    for tries_left in reversed(range(max(request.tries_at_most, 1))):
        with shelf.arriving() as file:
            try:
                answer = in_time(partial(ask, request, known, file, ends), ends, request)
            except FailedError as error:
                wait = _asked_to_wait(error, request, now())
                if wait is not None:
                    shelf.remember(shelf.record, Asked(here, now(), wait))
                pause = max(pause, wait or 0.0)
                again = error.again if wait is None else wait <= _WAIT_HERE_SECONDS
                if not again or not tries_left or time.monotonic() + pause >= ends:
                    if wait is None and shelf.asked is not None and shelf.asked.wait is None:
                        failed = replace(shelf.asked, failure=str(error), refused=error.refused)
                        shelf.remember(shelf.record, failed)  # what went wrong stands until the next answer
                    _fail(request, shelf, error, now() + wait if wait is not None else None)
            else:
                return _kept(answer, known, shelf, file, here, now())
        time.sleep(pause)
        pause *= 2
    raise AssertionError("the last try returns or raises")


def _asked_to_wait(error: FailedError, request: Request, now: float) -> float | None:
    wait = seconds_to_wait(error.retry_after, now)
    if wait is None and error.status == _TOO_MANY_REQUESTS:
        return request.minimum_interval_seconds
    return wait


def _kept(answer: Answer, known: Record | None, shelf: Shelf, file: BinaryIO, here: str, now: float) -> Fetched:
    note = "; ".join(answer.notes)
    asked = Asked(here, now, None)
    if not answer.sha256:
        assert known is not None, "nothing is asked conditionally without a record"
        record = Record(
            known.sha256, known.bytes, here, answer.answered_by, known.etag, known.last_modified, known.fetched_at, now
        )
        shelf.remember(record, asked)
        return _fetched(shelf.body, record, changed=False, note=note)
    changed = shelf.record is None or shelf.record.sha256 != answer.sha256
    record = Record(answer.sha256, answer.bytes, here, answer.answered_by, answer.etag, answer.last_modified, now, now)
    shelf.take(file, record, asked)
    return _fetched(shelf.body, record, changed=changed, note=note)


def _fetched(path: Path, record: Record, *, changed: bool, note: str = "", asked: bool = True) -> Fetched:
    return Fetched(path, record.sha256, record.bytes, changed, record.fetched_at, record.checked_at, note, asked)


def _fail(request: Request, shelf: Shelf, error: FailedError, not_before: float | None = None) -> NoReturn:
    parts = [f"{request.subject} {error}"]
    if not_before is not None:
        parts.append(f"it wants not to be asked before {clock(not_before)}")
    if shelf.record is not None:
        parts.append(f"the copy of {clock(shelf.record.fetched_at)} is kept")
    text = "; ".join(parts)
    raise InputRefusedError(text) if error.refused else SourceMissingError(text)


def in_time(work: Callable[[], Result], ends: float, request: Request) -> Result:
    """Runs work in a thread of its own and leaves it alone when its time is over: a look-up of a name cannot be broken off."""
    try:
        return within(ends - time.monotonic(), work, "fetch")
    except LateError:
        raise late(request) from None
