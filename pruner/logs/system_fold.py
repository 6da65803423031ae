"""The fold of the heard logs of one system into its store.

Receives files of logs, hands on what became of each. A file that cannot be read is left out, whatever was taken of it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from pruner.calls.adding import add_days
from pruner.calls.calls import DAY
from pruner.calls.callsigns import CallsignFolding
from pruner.calls.folding import Folding
from pruner.calls.logs import Apart, Logs, load_logs, save_logs
from pruner.calls.marks import EARLIEST, Account
from pruner.calls.parts import day_name
from pruner.calls.store import MANIFEST, Manifest, Part, commit, load_manifest, sweep, without_days
from pruner.logs.apart import RowsApart
from pruner.logs.files import FileResult, LogFiles, is_finished
from pruner.logs.taken import TakenLogs
from pruner.logs.taking import Taking, Waiting
from pruner.read.heard_log import Log, is_empty, open_log
from pruner.read.log_identity import TEXT, WHOLE, Beginning
from pruner.words import schema
from pruner.words.errors import InputRefusedError, SettingsError, SourceMissingError
from pruner.words.progress import Progress
from pruner.words.threads import Pool, Work

if TYPE_CHECKING:
    from pruner.logs.rows import Bounds, Judged


def _shortest_first(paths: Sequence[Path]) -> list[int]:
    """The places of files, so that a copy of the beginning of a log comes before the log."""
    return sorted(range(len(paths)), key=lambda place: paths[place].stat().st_size if paths[place].is_file() else 0)


class SystemFold:
    """The fold of the logs of one system: `files` that were read, `refused` with the reason, the parts that changed or were
    forgotten."""

    def __init__(self, folder: Path, system: str, now: float, keep_days: int, progress: Progress) -> None:
        self._folder, self._system = folder, system
        self._now, self._keep_days, self._progress = now, keep_days, progress
        self._manifest = load_manifest(folder, system)
        self._logs = load_logs(folder)
        self._taken = TakenLogs(list(self._logs.taken))
        self.files: list[FileResult] = []
        self.refused: dict[Path, InputRefusedError | SourceMissingError] = {}
        self.changed: list[Part] = []
        self.forgotten: list[Part] = []
        _check_clock(now, self._manifest)
        sweep(folder, self._manifest, self._logs.files)

    def run(self, logs: Sequence[LogFiles]) -> None:
        """Reads the logs and commits what they bring, but for those in `refused`."""
        left_out: set[tuple[int, int]] = set()
        while not self._ran(logs, left_out):
            self._taken = TakenLogs(list(self._logs.taken))
            self.files = []

    def _ran(self, logs: Sequence[LogFiles], left_out: set[tuple[int, int]]) -> bool:
        """Whether it is done; else it has to begin anew, without a log of which calls were taken before it was refused."""
        folder, manifest = self._folder, self._manifest
        folding, callsigns = Folding(folder), CallsignFolding(folder)
        address = logs[0].address if logs else ""
        earlier = [one.file for one in self._logs.apart if one.address == address] if address else None
        with RowsApart(folder, earlier) as rows_apart:
            read = self._read(logs, left_out, folding, callsigns, rows_apart)
            if read is None:
                return False
            if any(file.account.read for file in self.files):
                self._progress("writing the store")
                manifest, self.changed, new = add_days(folder, manifest, folding, callsigns)
                for place, file in enumerate(read):
                    file.account.new = new[place]
                    file.account.check()
            last_day = max((part.day for part in self.changed), default=None)
            apart = tuple(Apart(name, last_day, address) for name in rows_apart.close()) if read else ()
        if left_out and not read:
            sweep(folder, manifest, self._logs.files)
            return True
        kept = tuple(one for one in self._logs.apart if one.file not in rows_apart.replaced)
        self._commit(manifest, Logs(self._taken.lasting(), (*kept, *apart)))
        return True

    def _read(
        self,
        logs: Sequence[LogFiles],
        left_out: set[tuple[int, int]],
        folding: Folding,
        callsigns: CallsignFolding,
        rows_apart: RowsApart,
    ) -> list[FileResult] | None:
        """Takes in all logs but those left out, to which it adds; the results in the order in which they were read. None where
        one of them is refused of which calls were taken."""
        manifest = self._manifest
        read: list[FileResult] = []
        with contextlib.ExitStack() as stack:
            # Text is parsed by two threads; the other files are unpacked one run after the other.
            pools = {kind: stack.enter_context(Pool(work)) for kind, work in ((TEXT, Work.PARSING), (WHOLE, Work.JUDGING))}
            for number, one in enumerate(logs):
                results, bounds = {}, partial(self._bounds, one, manifest)
                for place in _shortest_first(one.paths):
                    path = one.paths[place]
                    if (number, place) in left_out:
                        continue
                    self._progress(f"folding {path.name}")
                    taking = Taking(len(read), path, folding, callsigns, rows_apart)
                    try:
                        results[place] = _fold_file(taking, one, bounds, self._taken, self._now, pools)
                    except (InputRefusedError, SourceMissingError) as error:
                        self.refused[path] = error
                        left_out.add((number, place))
                        if taking.is_begun:
                            return None
                    else:
                        read.append(results[place])
                self.files += [results[place] for place in sorted(results)]
        return read

    def _bounds(self, log_files: LogFiles, manifest: Manifest) -> Bounds:
        from pruner.logs.rows import Bounds  # for logs that hold something new

        system, oldest = schema.SYSTEMS[self._system], self._oldest(manifest)
        return Bounds(system, log_files.zone or "UTC", int(self._now * 1000), manifest.floor, manifest.forgotten, oldest)

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
    bounds: Callable[[], Bounds],
    taken: TakenLogs,
    now: float,
    pools: Mapping[str, Pool],
) -> FileResult:
    """Takes what is new in a file; its account does not yet say what of it is new."""
    account, path = Account(), taking.path
    log = _opened(path, log_files, () if log_files.address else taken.beginnings(), now)
    if log is None:
        return FileResult(path, log_files.system, account, address=log_files.address, is_empty=is_empty(path))
    if log.columns is not None:
        _take(taking, log, log_files, bounds(), account, now, pools)
    taken.ends.add(log.taken)
    if log.taken != log.before:
        taken.remember(path, log.before, log.taken, account, lasts=not log_files.address)
    understanding = log.columns.understood(log_files.zone) if log.columns and account.read else None
    return FileResult(path, log_files.system, account, understanding, log_files.address)


def _take(
    taking: Taking, log: Log, log_files: LogFiles, bounds: Bounds, account: Account, now: float, pools: Mapping[str, Pool]
) -> None:
    """Takes the runs of a log that holds something new."""
    from pruner.logs.rows import judge

    assert log.columns is not None
    form = log.columns.form
    bounds = replace(bounds, form=form, zone=form.zone or bounds.zone)

    def runs(log: Log) -> Iterator[tuple[int, Judged]]:
        return log.runs(lambda records: judge(records, bounds), pools[log.before.kind])

    for line, judged in runs(log):
        taking.take(line, judged)
        account.add(judged.account)
    waiting = taking.waiting
    if waiting.runs and log.before.length and (whole := _opened(taking.path, log_files, (), now)) is not None:
        waiting = Waiting()
        for _, judged in runs(whole):
            waiting.add(judged)
        again = waiting.count - taking.waiting.count
        account.add(Account(again, again))
    taking.finish(waiting, bounds.zone)


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
