"""Heard logs from addresses: every address asked, its page put in the queue, what waits folded.

Receives settings, hands on what came of every address. The results and their lock are not touched: this runs every few minutes,
also while a fit is under way. Pages are fetched under locks of their own, so nobody waits for a slow server.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final, Literal

from pydantic import Field

from pruner.account.parts import Moment, Part
from pruner.logs.files import FoldResult
from pruner.logs.fold import fold_pages, store_locked
from pruner.logs.pages import FETCHED, page_folder, pages_of
from pruner.publish.lock import locked
from pruner.settings.models import Heard, Settings
from pruner.sources import credentials
from pruner.sources.fetch import fetch
from pruner.sources.location import shown
from pruner.sources.request import Fetched, Request
from pruner.words.disk import write_whole
from pruner.words.errors import (
    ExitCode,
    InputRefusedError,
    LockedError,
    NothingToDoError,
    PrunerError,
    SourceMissingError,
)
from pruner.words.faults import ENDINGS, described
from pruner.words.progress import Progress, silent
from pruner.words.threads import Pool, Work

#: What came of the last run, below the state.
LAST_FETCH: Final = FETCHED / "last.json"
#: Timers are not exact: an address may be asked again after this share of its interval.
_INTERVAL_SHARE: Final = 0.9


@dataclass(slots=True)
class Asked:
    """One address: `what` came of asking it ("new", "not changed", "not asked" or "failed"), why it failed, what is worth
    knowing."""

    address: str
    what: str
    trouble: str = ""
    note: str = ""


@dataclass(slots=True)
class FetchResult:
    """What came of every address, and of the fold of what waited."""

    asked: list[Asked]
    folded: FoldResult = field(default_factory=FoldResult)

    @property
    def troubles(self) -> list[str]:
        """One line for each address that could not be had or whose page cannot be read."""
        return [*(one.trouble for one in self.asked if one.trouble), *self.folded.troubles]

    @property
    def exit_code(self) -> ExitCode:
        """4 where any address is in trouble."""
        return ExitCode.SOURCE_MISSING if self.troubles else ExitCode.DONE

    def plain(self) -> dict[str, object]:
        """For JSON."""
        return {"addresses": [asdict(one) for one in self.asked], **self.folded.plain(), "exit_code": int(self.exit_code)}


def fetch_and_fold(settings: Settings, *, force: bool = False, progress: Progress = silent) -> FetchResult:
    """Asks every address that may be asked and folds what waits. A failing address harms no other and loses nothing.

    Raises NothingToDoError where the settings name no address, LockedError where the heard store is locked for too long: the
    pages then wait for the next run.
    """
    if not any(heard.is_remote for heard in settings.heard):
        raise NothingToDoError("heard: the settings name no address of heard logs; for files there is: pruner heard fold")
    started, state = _now(), settings.output.state
    result = FetchResult(fetch_pages(settings, force=force, progress=progress))
    try:
        with store_locked(state, "heard fetch"):
            result.folded = fold_pages(settings, progress)
    except PrunerError as error:
        _remember(state, started, result, str(error), error.exit_code)
        raise
    _remember(state, started, result)
    return result


def fetch_pages(settings: Settings, *, force: bool = False, progress: Progress = silent) -> list[Asked]:
    """Asks every address that may be asked, several at a time; each page that is new waits then."""
    with contextlib.ExitStack() as turns:
        mine = [(heard, _turn(settings, heard, turns)) for heard in settings.heard if heard.is_remote]
        ours = [heard for heard, is_ours in mine if is_ours]
        for heard in ours:
            pages_of(settings, heard).queue()  # left by a run that was killed right behind the fetch
            progress(f"fetching {shown(heard.location)}")
        with Pool(Work.FETCHING) as pool:
            found = dict(
                zip([heard.location for heard in ours], pool.map(lambda one: _ask(settings, one, force), ours), strict=True)
            )
        for heard in ours:
            pages_of(settings, heard).queue()
    other = "another run is asking it"
    return [found.get(heard.location) or Asked(shown(heard.location), "not asked", note=other) for heard, _ in mine]


def _turn(settings: Settings, heard: Heard, turns: contextlib.ExitStack) -> bool:
    """Whether nobody else is fetching from an address; nobody does then before the stack ends."""
    try:
        turns.enter_context(locked(settings.output.state / FETCHED / page_folder(heard.location), "heard fetch"))
    except LockedError:
        return False
    return True


def _ask(settings: Settings, heard: Heard, force: bool) -> Asked:
    address = shown(heard.location)
    try:
        fetched = fetch(_request(settings, heard), settings.output.state / FETCHED, force=force)
    except ENDINGS:
        raise
    except BaseException as error:
        return Asked(address, "failed", _trouble(error, address))
    return Asked(address, _what(fetched), note=fetched.note)


def _what(fetched: Fetched) -> str:
    if not fetched.asked:
        return "not asked"
    return "new" if fetched.changed else "not changed"


def _trouble(error: BaseException, address: str) -> str:
    """Why an address could not be had; raises again what is wrong with the settings or the disk."""
    if isinstance(error, SourceMissingError | InputRefusedError):
        return "; ".join(str(error).splitlines())
    if isinstance(error, PrunerError):
        raise error
    return f"heard log {address}: {described(error)}"


def _request(settings: Settings, heard: Heard) -> Request:
    refresh = settings.refresh
    name = heard.credentials
    return Request(
        page_folder(heard.location),
        heard.location,
        credentials=credentials.load(name, environ=os.environ, file=refresh.credentials) if name else None,
        user_agent_contact=refresh.contact,
        deadline_seconds=min(refresh.deadline_seconds, refresh.heard_interval_minutes * 60),
        minimum_interval_seconds=refresh.heard_interval_minutes * 60 * _INTERVAL_SHARE,
        certificates=refresh.certificates,
        called=f"heard log {shown(heard.location)}",
        secret=name,
        again="pruner heard fetch --force",
        takes_pages=True,
    )


def _remember(state: Path, started: str, result: FetchResult, trouble: str = "", code: ExitCode = ExitCode.DONE) -> None:
    """Writes what came of it. A state that cannot be written must not hide how the run itself ended."""
    known = LastFetch(
        schema=1,
        started=started,
        ended=_now(),
        exit_code=int(code or result.exit_code),
        new=result.folded.total.new,
        troubles=(*result.troubles, *trouble.splitlines()),
    )
    with contextlib.suppress(OSError):
        write_whole(state / LAST_FETCH, json.dumps(known.document(), indent=1) + "\n")


class LastFetch(Part):
    """What came of the last run over the addresses of heard logs: new calls, and one line for each trouble."""

    schema_: Literal[1] = Field(alias="schema")
    started: Moment
    ended: Moment
    exit_code: int
    new: int
    troubles: tuple[str, ...] = ()

    def document(self) -> dict[str, object]:
        """The record as a table of JSON."""
        return self.model_dump(mode="json", by_alias=True)


def last_fetch(state: Path) -> LastFetch | None:
    """What is known of the last run; None if there was none, or what is written of it cannot be understood."""
    try:
        return LastFetch.model_validate_json((state / LAST_FETCH).read_bytes())
    except (OSError, ValueError):
        return None


def _now() -> str:
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
