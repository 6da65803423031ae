"""Every source -> the files that this run reads: the new ones, or the last accepted ones with the reason why.

Receives settings, fetches and guards, hands on `Gathered`. The only place where a new directory becomes the accepted one.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from pruner.job.load import source_paths
from pruner.publish.folders import number_of
from pruner.refresh.accepted import Accepted, accept, digest_of, drop_refused, last_accepted, show_body, take_in
from pruner.refresh.guard import Limits, measure, suspicions
from pruner.refresh.log import RunLog
from pruner.settings.models import Settings, Source
from pruner.settings.refresh_models import Refresh
from pruner.sources import credentials
from pruner.sources.fetch import Request, fetch
from pruner.words.errors import InputRefusedError, PrunerError, SettingsError, SourceMissingError
from pruner.words.faults import ENDINGS, described
from pruner.words.progress import Progress, silent
from pruner.words.stored import StoredError

#: Where bodies arrive, below the state; what is accepted of them lies under `sources/`.
FETCHED: Final = "fetched"


@dataclass(slots=True)
class Gathered:
    """`accepted`: by source. `kept_back`: sources whose last good files are used, with the reason, one line each. `changed`:
    sources with new files. `notes`: what is worth knowing of the others."""

    accepted: dict[str, Accepted] = field(default_factory=dict)
    kept_back: dict[str, str] = field(default_factory=dict)
    changed: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def settings(self, settings: Settings) -> Settings:
        """The settings with each source at its accepted files."""
        sources = tuple(
            source.model_copy(update={"location": self.accepted[source.name].pattern}) for source in settings.sources
        )
        return settings.model_copy(update={"sources": sources})


def gather(
    settings: Settings,
    refresh: Refresh,
    day: str,
    *,
    accept_once: Collection[str] = (),
    force: bool = False,
    log: RunLog,
    progress: Progress = silent,
) -> Gathered:
    """Fetches and guards every source.

    `accept_once` names sources whose new directory is believed this time although it looks suspicious; `force` asks servers
    although the minimum interval has not passed. Raises the error of a source that has no last good files either.
    """
    gathered = Gathered()
    for source in settings.sources:
        _gather_one(settings, refresh, source, day, source.name in accept_once, force, gathered, log, progress)
    return gathered


def _gather_one(
    settings: Settings,
    refresh: Refresh,
    source: Source,
    day: str,
    believed: bool,
    force: bool,
    gathered: Gathered,
    log: RunLog,
    progress: Progress,
) -> None:
    state, name = settings.output.state, source.name
    try:
        last = last_accepted(state, name)
    except StoredError as error:
        gathered.notes.append(f"source {name!r}: what was accepted last is damaged, so nothing was compared with it: {error}")
        last = None
    files: Sequence[Path] = ()
    try:
        progress(f"fetching {name}" if source.is_remote else f"looking at {name}")
        files = _files(settings, refresh, source, force or believed, gathered)
        if last is None or digest_of(files) != last.digest:
            last = _guarded(settings, refresh, source, files, last, day, believed, progress)
            gathered.changed.append(name)
        elif source.is_remote:
            show_body(state, name, last)
        log.event("source", source=name, changed=name in gathered.changed, rows=last.statistics.rows, digest=last.digest[:16])
    except ENDINGS:
        raise
    except BaseException as error:  # panics of libraries derive from it
        reason = _kept_back(error, name, files, state, has_last=last is not None)
        if last is None or reason is None:
            raise
        gathered.kept_back[name] = f"{reason}; the directory accepted on {last.day} is used"
        log.event("kept back", source=name, reason=reason, accepted=last.day)
    gathered.accepted[name] = last


def _files(settings: Settings, refresh: Refresh, source: Source, force: bool, gathered: Gathered) -> Sequence[Path]:
    if not source.is_remote:
        paths = source_paths(source, settings.output.state)
        for path in paths:
            if not path.is_file():
                raise SourceMissingError(f"{path}: there is no such file; check the location of source {source.name!r}")
        return paths
    known = credentials.load(source.credentials or source.name, environ=os.environ, file=refresh.credentials)
    request = Request(
        source.name,
        source.location,
        credentials=known,
        user_agent_contact=refresh.contact,
        deadline_seconds=refresh.deadline_seconds,
        minimum_interval_seconds=refresh.minimum_interval_minutes * 60,
        certificates=refresh.certificates,
    )
    fetched = fetch(request, settings.output.state / FETCHED, force=force)
    if fetched.note:
        way = "" if fetched.asked else "; pruner refresh --force asks now"
        gathered.notes.append(f"source {source.name!r}: {fetched.note}{way}")
    return [fetched.path]


def _guarded(
    settings: Settings,
    refresh: Refresh,
    source: Source,
    files: Sequence[Path],
    last: Accepted | None,
    day: str,
    believed: bool,
    progress: Progress,
) -> Accepted:
    """Takes new files in, measures them and makes them the accepted ones. Raises InputRefusedError for suspicious ones."""
    state = settings.output.state
    bodies = take_in(state, source.name, files, may_link=source.is_remote)
    try:
        progress(f"checking {source.name}")
        try:
            found = measure(source, bodies.files)
        except PrunerError as error:
            raise InputRefusedError(_at_home(error, bodies.files, files)) from error
        limits = Limits(refresh.shrink_share_at_most, refresh.country_rows_many, refresh.repeat_share_at_most)
        doubts = [] if believed else suspicions(found, last.statistics if last else None, limits)
        if doubts:
            raise InputRefusedError(
                f"source {source.name!r}: the new directory was refused: {'; '.join(doubts)} "
                f"(if this is right: pruner refresh --accept {source.name})"
            )
        return accept(state, source.name, bodies, found, day, remote=source.is_remote)
    finally:
        drop_refused(state, source.name)


def _at_home(error: PrunerError, copies: Sequence[Path], files: Sequence[Path]) -> str:
    """The text of an error with the paths that the user knows."""
    text = str(error)
    for copy, path in zip(copies, files, strict=True):
        text = text.replace(str(copy), str(path))
    return text


def _kept_back(error: BaseException, name: str, files: Sequence[Path], state: Path, *, has_last: bool) -> str | None:
    """Why a source is not believed, in one line; None for what ends the whole run: mistakes in the settings, a lock, a state
    that cannot be written. Of a fault of ours a crash file is left."""
    if isinstance(error, SourceMissingError | InputRefusedError):
        return _prefixed(name, error)
    if isinstance(error, PrunerError):
        return None
    if isinstance(error, OSError) and number_of(error):
        if error.filename in map(str, files) and error.filename2 is None:  # not of a copy that could not be written
            return f"source {name!r}: {error.filename}: cannot be read ({error.strerror})"
        raise SettingsError(
            f"{error.filename or state}: cannot be used ({error.strerror or error}); check room and permissions"
        ) from error
    return f"source {name!r}: the new directory was refused: {described(error)}" if has_last else None


def _prefixed(name: str, error: PrunerError) -> str:
    text = " ".join(str(error).splitlines())
    return text if text.startswith("source ") else f"source {name!r}: {text}"
