"""Heard logs of the settings -> the heard stores, one for each system.

Receives settings (or files), hands on what became of every row. A fold becomes true in one step, at its end.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pruner.calls.adding import add_days
from pruner.calls.calls import DAY
from pruner.calls.callsigns import CallsignFolding
from pruner.calls.folding import Folding
from pruner.calls.logs import Apart, Logs, load_logs, save_logs
from pruner.calls.marks import Account
from pruner.calls.parts import day_name
from pruner.calls.store import MANIFEST, Manifest, Part, commit, load_manifest, sweep, without_days
from pruner.logs.apart import RowsApart
from pruner.logs.files import FileResult, FoldResult, LogFiles, is_finished, written_as
from pruner.logs.pages import fold_waiting
from pruner.logs.rows import EARLIEST, Bounds, Judged, judge
from pruner.logs.taken import TakenLogs
from pruner.logs.taking import Taking, Waiting
from pruner.publish.lock import locked
from pruner.read.heard_log import Log, open_log
from pruner.read.log_identity import TEXT, WHOLE, Beginning
from pruner.sources.local import expand
from pruner.words import schema
from pruner.words.errors import SettingsError, SourceMissingError
from pruner.words.progress import Progress, silent
from pruner.words.threads import Pool, Work

if TYPE_CHECKING:
    from pruner.settings.models import Settings


#: Seconds for which a fold waits for another one.
WAIT_SECONDS: Final = 60.0
#: Calls so many days before the last one are forgotten, where the settings say nothing; no model looks back further.
KEEP_DAYS: Final = 730


def store_folder(settings: Settings, system: str) -> Path:
    """The folder of a system's heard store."""
    return settings.output.state / "heard" / system


def store_locked(state: Path, command: str) -> contextlib.AbstractContextManager[None]:
    """Holds the lock of the heard stores, which is apart from that of the results. Whoever folds just now is waited for."""
    return locked(state / "heard", command, wait_seconds=WAIT_SECONDS)


def settings_logs(settings: Settings) -> list[LogFiles]:
    """The files of all [[heard]] tables that name files. Raises SourceMissingError where no file matches, SettingsError without
    tables."""
    if not settings.heard:
        raise SettingsError("heard: the settings name no heard logs; add a table [[heard]] with a location, or name files")
    logs = []
    for heard in settings.heard:
        if heard.is_remote:
            continue
        location = heard.location
        found = expand(location)
        if not found:
            raise SourceMissingError(f"{location}: no file matches; check the location of the heard log")
        logs.append(written_as(heard, found))
    return logs


def fold_all(settings: Settings, progress: Progress = silent) -> FoldResult:
    """Folds all logs of the settings that hold anything new, and the pages of addresses that wait."""
    logs = settings_logs(settings)
    with store_locked(settings.output.state, "heard fold"):
        result = fold_pages(settings, progress)
        result.add(fold_logs_locked(settings.output.state, logs, progress, keep_days=settings.calls.keep_days))
    return result


def fold_pages(settings: Settings, progress: Progress = silent) -> FoldResult:
    """Folds the pages of addresses that wait, for a caller that holds the lock of the stores."""
    state, keep_days = settings.output.state, settings.calls.keep_days
    return fold_waiting(settings, lambda page: fold_logs_locked(state, [page], progress, keep_days=keep_days))


def fold_logs(
    state: Path,
    logs: Sequence[LogFiles],
    progress: Progress = silent,
    *,
    now: float | None = None,
    keep_days: int = KEEP_DAYS,
) -> FoldResult:
    """Folds logs into the stores under a state folder. `now`: seconds since 1970 (default: the clock); `keep_days`: for how
    many days up to the last one with calls they are kept.

    Raises PrunerError with one line; the stores are then what they were.
    """
    with store_locked(state, "heard fold"):
        return fold_logs_locked(state, logs, progress, now=now, keep_days=keep_days)


def fold_logs_locked(
    state: Path,
    logs: Sequence[LogFiles],
    progress: Progress = silent,
    *,
    now: float | None = None,
    keep_days: int = KEEP_DAYS,
) -> FoldResult:
    """As `fold_logs`, for a caller that holds the lock of the stores."""
    result = FoldResult()
    for system in (name for name in schema.SYSTEM_NAMES if any(one.system == name for one in logs)):
        folder = state / "heard" / system
        try:
            folder.mkdir(parents=True, exist_ok=True)
            fold = _SystemFold(folder, system, time.time() if now is None else now, keep_days, progress)
            fold.run([one for one in logs if one.system == system])
        except OSError as error:
            raise SettingsError(
                f"{folder}: cannot be written ({error.strerror or error}); make room or choose another state"
            ) from error
        result.files.extend(fold.files)
        result.changed[system] = fold.changed
        result.stores[system] = folder
        if fold.forgotten:
            result.forgotten[system] = fold.forgotten
    return result


def _shortest_first(paths: Sequence[Path]) -> list[int]:
    """The places of files, so that a copy of the beginning of a log comes before the log."""
    return sorted(range(len(paths)), key=lambda place: paths[place].stat().st_size if paths[place].is_file() else 0)


class _SystemFold:
    """The fold of the logs of one system."""

    def __init__(self, folder: Path, system: str, now: float, keep_days: int, progress: Progress) -> None:
        self._folder, self._system = folder, system
        self._now, self._keep_days, self._progress = now, keep_days, progress
        self._manifest = load_manifest(folder, system)
        self._logs = load_logs(folder)
        self._taken = TakenLogs(list(self._logs.taken))
        self.files: list[FileResult] = []
        self.changed: list[Part] = []
        self.forgotten: list[Part] = []
        _check_clock(now, self._manifest)
        sweep(folder, self._manifest, self._logs.files)

    def run(self, logs: Sequence[LogFiles]) -> None:
        """Reads the logs and commits what they bring."""
        folder, manifest = self._folder, self._manifest
        folding, callsigns = Folding(folder), CallsignFolding(folder)
        address = logs[0].address if logs else ""
        earlier = [one.file for one in self._logs.apart if one.address == address] if address else None
        with (
            RowsApart(folder, earlier) as rows_apart,
            contextlib.ExitStack() as stack,
        ):
            # Text is parsed by two threads; the other files are unpacked one run after the other.
            pools = {kind: stack.enter_context(Pool(work)) for kind, work in ((TEXT, Work.PARSING), (WHOLE, Work.JUDGING))}
            number = 0
            read: list[FileResult] = []
            for one in logs:
                bounds = Bounds(
                    schema.SYSTEMS[self._system],
                    one.zone,
                    int(self._now * 1000),
                    manifest.floor,
                    manifest.forgotten,
                    self._oldest(manifest),
                )
                results = {}
                for place in _shortest_first(one.paths):
                    path = one.paths[place]
                    self._progress(f"folding {path.name}")
                    taking = Taking(number, path, folding, callsigns, rows_apart)
                    results[place] = _fold_file(taking, one, bounds, self._taken, self._now, pools)
                    read.append(results[place])
                    number += 1
                self.files += [results[place] for place in range(len(one.paths))]
            if any(file.account.read for file in self.files):
                self._progress("writing the store")
                manifest, self.changed, new = add_days(folder, manifest, folding, callsigns)
                for place, file in enumerate(read):
                    file.account.new = new[place]
                    file.account.check()
            last_day = max((part.day for part in self.changed), default=None)
            apart = tuple(Apart(name, last_day, address) for name in rows_apart.close())
        kept = tuple(one for one in self._logs.apart if one.file not in rows_apart.replaced)
        self._commit(manifest, Logs(self._taken.lasting(), (*kept, *apart)))

    def _oldest(self, manifest: Manifest) -> int | None:
        """The first day that is kept, counted back from the last one with calls: a wrong clock shall not forget anything."""
        days = manifest.days
        return days[-1] - self._keep_days + 1 if days else None

    def _commit(self, manifest: Manifest, logs: Logs) -> None:
        oldest = self._oldest(manifest)
        kept = manifest if oldest is None else replace(without_days(manifest, oldest), floor=manifest.floor)
        self.forgotten = [part for part in manifest.all_parts if part not in kept.all_parts]
        self.changed = [part for part in self.changed if part not in self.forgotten]
        if self.forgotten:
            logs = logs.without_days(oldest)
        if kept != self._manifest or not (self._folder / MANIFEST).is_file():
            commit(self._folder, kept)
        if logs != self._logs:
            save_logs(self._folder, logs)
        sweep(self._folder, kept, logs.files)


def _check_clock(now: float, manifest: Manifest) -> None:
    """A clock that was not set yet would have good calls set aside as future ones, for good."""
    last = max((day * DAY for day in manifest.days), default=EARLIEST)
    if now * 1000 < last - DAY:
        shown, known = day_name(int(now * 1000) // DAY), day_name(last // DAY)
        raise SettingsError(f"the clock of this machine shows {shown}, before {known}; set the clock, then fold")


def _fold_file(
    taking: Taking,
    log_files: LogFiles,
    bounds: Bounds,
    taken: TakenLogs,
    now: float,
    pools: Mapping[str, Pool],
) -> FileResult:
    """Takes what is new in a file; its account does not yet say what of it is new."""
    account, path = Account(), taking.path
    log = _opened(path, log_files, () if log_files.address else taken.beginnings(), now)
    if log is None:
        return FileResult(path, log_files.system, account, address=log_files.address)
    if log.columns is not None:
        bounds = replace(bounds, form=log.columns.form)

    def runs(log: Log) -> Iterator[tuple[int, Judged]]:
        return log.runs(lambda records: judge(records, bounds), pools[log.before.kind])

    for line, judged in runs(log):
        taking.take(line, judged)
        account.add(judged.account)
    waiting = taking.waiting
    if waiting.runs and log.before.length and (whole := _opened(path, log_files, (), now)) is not None:
        waiting = Waiting()
        for _, judged in runs(whole):
            waiting.add(judged)
        again = waiting.count - taking.waiting.count
        account.add(Account(again, again))
    taking.finish(waiting, bounds.zone)
    taken.ends.add(log.taken)
    if log.taken != log.before:
        taken.remember(path, log.before, log.taken, account, lasts=not log_files.address)
    understanding = log.columns.understanding if log.columns and account.read else None
    return FileResult(path, log_files.system, account, understanding, log_files.address)


def _opened(path: Path, log_files: LogFiles, taken: Sequence[Beginning], now: float) -> Log | None:
    try:
        has_end = is_finished(path, now) if log_files.is_finished is None else log_files.is_finished
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    return open_log(
        path,
        log_files.columns,
        taken,
        is_finished=has_end,
        system=log_files.system,
        order=log_files.dates,
        pattern=log_files.pattern,
    )
