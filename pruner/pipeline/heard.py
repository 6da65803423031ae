"""Heard logs of the settings -> the heard stores, one for each system.

Receives settings (or files), hands on what became of every row. A fold becomes true in one step, at its end.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from pruner import schema
from pruner.errors import NothingToDoError, SettingsError, SourceMissingError
from pruner.heard.fold import DAY
from pruner.heard.folding import Folding
from pruner.heard.marks import Account
from pruner.heard.parts import day_name
from pruner.heard.store import Apart, Manifest, Part, add_days, commit, forget, load_manifest, sweep
from pruner.pipeline.heard_apart import RowsApart
from pruner.pipeline.heard_rows import EARLIEST, Bounds, judge
from pruner.pipeline.heard_taken import TakenLogs
from pruner.pipeline.lock import locked
from pruner.read.heard_log import Log, is_packed, open_log
from pruner.read.log_identity import TEXT, WHOLE, Beginning
from pruner.settings.models import Settings
from pruner.sources.local import expand
from pruner.table.understanding import Understanding

Progress = Callable[[str], None]
#: A file that was not written to for so long has its last line whole (seconds).
FINISHED_AFTER: Final = 600


@dataclass(frozen=True, slots=True)
class LogFiles:
    """Files of one system that are written alike; `zone` is the IANA name for times that name none; `dates`: in
    which order day and month stand in dates of numbers (`date_texts.ORDERS`; "": the file decides)."""

    paths: Sequence[Path]
    system: str = "dmr"
    zone: str = "UTC"
    columns: Mapping[str, str | int] = field(default_factory=dict)
    dates: str = ""


@dataclass(frozen=True, slots=True)
class FileResult:
    """What became of one file in this fold, and what was understood of it; no row is read of a file that was taken before, and
    nothing is understood anew."""

    path: Path
    system: str
    account: Account
    understanding: Understanding | None = None

    def plain(self) -> dict[str, Any]:
        """For JSON."""
        said = {} if self.understanding is None else {"understood": self.understanding.sentence()}
        return {"file": str(self.path), "system": self.system, **self.account.plain(), **said}


@dataclass(frozen=True, slots=True)
class FoldResult:
    """All files, and the days of each system's store that were changed."""

    files: list[FileResult]
    changed: dict[str, list[Part]]
    stores: dict[str, Path]

    @property
    def total(self) -> Account:
        """The account of all files."""
        total = Account()
        for file in self.files:
            total.add(file.account)
        return total

    def plain(self) -> dict[str, Any]:
        """For JSON."""
        return {
            "files": [one.plain() for one in self.files],
            "total": self.total.plain(),
            "days_changed": {system: len(parts) for system, parts in self.changed.items()},
        }


def _silent(stage: str) -> None:
    """Tells nobody."""


def store_folder(settings: Settings, system: str) -> Path:
    """The folder of a system's heard store."""
    return settings.output.state / "heard" / system


def settings_logs(settings: Settings) -> list[LogFiles]:
    """The files of all [[heard]] tables. Raises SourceMissingError where no file matches, SettingsError without tables."""
    if not settings.heard:
        raise SettingsError("heard: the settings name no heard logs; add a table [[heard]] with a location, or name files")
    logs = []
    for heard in settings.heard:
        location = heard.location
        found = expand(location)
        if not found:
            raise SourceMissingError(f"{location}: no file matches; check the location of the heard log")
        logs.append(LogFiles(found, heard.system, heard.zone, dict(heard.columns), heard.dates or ""))
    return logs


def fold_all(settings: Settings, progress: Progress = _silent) -> FoldResult:
    """Folds all logs of the settings that hold anything new."""
    return fold_logs(settings.output.state, settings_logs(settings), progress)


def fold_logs(state: Path, logs: Sequence[LogFiles], progress: Progress = _silent, *, now: float | None = None) -> FoldResult:
    """Folds logs into the stores under a state folder. `now`: seconds since 1970 (default: the clock).

    Raises PrunerError with one line; the stores are then what they were.
    """
    with locked(state, "heard fold"):
        return fold_logs_locked(state, logs, progress, now=now)


def fold_logs_locked(
    state: Path, logs: Sequence[LogFiles], progress: Progress = _silent, *, now: float | None = None
) -> FoldResult:
    """As `fold_logs`, for a caller that holds the lock of the state folder."""
    result = FoldResult([], {}, {})
    for system in (name for name in schema.SYSTEM_NAMES if any(one.system == name for one in logs)):
        folder = state / "heard" / system
        try:
            folder.mkdir(parents=True, exist_ok=True)
            chosen = [one for one in logs if one.system == system]
            files, parts = _fold_system(folder, system, chosen, time.time() if now is None else now, progress)
        except OSError as error:
            raise SettingsError(
                f"{folder}: cannot be written ({error.strerror or error}); make room or choose another state"
            ) from error
        result.files.extend(files)
        result.changed[system] = parts
        result.stores[system] = folder
    return result


def _shortest_first(paths: Sequence[Path]) -> list[int]:
    """The places of files, so that a copy of the beginning of a log comes before the log."""
    return sorted(range(len(paths)), key=lambda place: paths[place].stat().st_size if paths[place].is_file() else 0)


def _fold_system(
    folder: Path, system: str, logs: Sequence[LogFiles], now: float, progress: Progress
) -> tuple[list[FileResult], list[Part]]:
    manifest = load_manifest(folder, system)
    _check_clock(now, manifest)
    sweep(folder, manifest)
    taken = TakenLogs(list(manifest.taken))
    files = []
    with Folding(folder) as folding, RowsApart(folder) as rows_apart, contextlib.ExitStack() as stack:
        # Text is parsed by two threads; the other files are unpacked one run after the other.
        pools = {kind: stack.enter_context(ThreadPoolExecutor(count)) for kind, count in ((TEXT, 2), (WHOLE, 1))}
        for one in logs:
            bounds = Bounds(schema.SYSTEMS[system], one.zone, int(now * 1000), manifest.floor)
            results = {}
            for place in _shortest_first(one.paths):
                path = one.paths[place]
                progress(f"folding {path.name}")
                results[place] = _fold_file(path, one, bounds, folding, rows_apart, taken, now, pools)
            files += [results[place] for place in range(len(one.paths))]
        if not any(file.account.read for file in files):
            return files, []
        progress("writing the store")
        changed_manifest, parts = add_days(folder, manifest, folding.days())
        last_day = max((part.day for part in parts), default=None)
        apart = tuple(Apart(name, last_day) for name in rows_apart.close())
    commit(folder, replace(changed_manifest, taken=taken.lasting(), apart=(*manifest.apart, *apart)))
    return files, parts


def _check_clock(now: float, manifest: Manifest) -> None:
    """A clock that was not set yet would have good calls set aside as future ones, for good."""
    last = max((part.day * DAY for part in manifest.parts), default=EARLIEST)
    if now * 1000 < last - DAY:
        shown, known = day_name(int(now * 1000) // DAY), day_name(last // DAY)
        raise SettingsError(f"the clock of this machine shows {shown}, before {known}; set the clock, then fold")


def _fold_file(
    path: Path,
    log_files: LogFiles,
    bounds: Bounds,
    folding: Folding,
    rows_apart: RowsApart,
    taken: TakenLogs,
    now: float,
    pools: Mapping[str, ThreadPoolExecutor],
) -> FileResult:
    """Folds what is new in a file."""
    account = Account()
    log = _opened(path, log_files, taken.beginnings(), now)
    if log is None:
        return FileResult(path, log_files.system, account)
    if log.columns is not None:
        bounds = replace(bounds, form=log.columns.form)
    for line, judged in log.runs(lambda records: judge(records, bounds), pools[log.before.kind]):
        folding.add(judged.calls)
        rows_apart.write(path, line, judged)
        account.add(judged.account)
    account.check()
    taken.ends.add(log.taken)
    if log.taken != log.before:
        taken.remember(path, log.before, log.taken, account)
    return FileResult(path, log_files.system, account, log.columns.understanding if log.columns and account.read else None)


def _opened(path: Path, log_files: LogFiles, taken: Sequence[Beginning], now: float) -> Log | None:
    try:
        is_finished = now - path.stat().st_mtime > FINISHED_AFTER or is_packed(path)
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    return open_log(path, log_files.columns, taken, is_finished=is_finished, system=log_files.system, order=log_files.dates)


def forget_days(settings: Settings, before: int) -> dict[str, list[Part]]:
    """Removes all days before a day (counted from 1970-01-01) from all stores; returns the removed parts by system.

    Raises NothingToDoError when there is no store, SettingsError for a day to come: calls of all days until then would be
    set aside, for good.
    """
    removed = {}
    with locked(settings.output.state, "heard forget"):
        for system in schema.SYSTEM_NAMES:
            folder = store_folder(settings, system)
            if not folder.is_dir():
                continue
            manifest: Manifest = load_manifest(folder, system)
            last = max([int(time.time()) // 86_400, *(part.day for part in manifest.parts)])
            if before > last + 1:
                raise SettingsError(
                    f"heard forget: --before {day_name(before)}: lies in the future; to forget all calls so far, "
                    f"name {day_name(last + 1)}"
                )
            kept = forget(folder, manifest, before)
            removed[system] = [part for part in manifest.parts if part not in kept.parts]
    if not removed:
        raise NothingToDoError(f"{settings.output.state}: holds no heard store; nothing to forget")
    return removed
