"""One unattended run: lock, fetch, guard, fold, fit, publish, compare, tell.

Receives settings, hands on an `Outcome`. Whatever goes wrong, the published folder is one whole version, and whoever asked
to be told is told.
"""

from __future__ import annotations

import contextlib
import datetime
import shutil
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from pruner.ask.history import since_written
from pruner.history.contacts import read_summary
from pruner.history.record import record
from pruner.history.runs import read
from pruner.job.run import fold_new_calls, known_calls, result_tops, run_into
from pruner.logs.fetch import fetch_pages
from pruner.logs.pages import pages_of
from pruner.publish.lock import locked
from pruner.publish.notes import Details
from pruner.publish.switch import is_among_results
from pruner.publish.version_files import verify
from pruner.publish.versions import check_places, damaged, elsewhere, give_mode_to_versions, new_version, purge, versions
from pruner.refresh.changes import since_version
from pruner.refresh.gather import FETCHED, Gathered, gather
from pruner.refresh.inputs import fingerprint_of
from pruner.refresh.log import RunLog
from pruner.refresh.outcome import Outcome, last_run, now, remember
from pruner.refresh.tell import hand_over, ping_for
from pruner.settings.models import Settings
from pruner.words.errors import ExitCode, PrunerError, SettingsError
from pruner.words.faults import ENDINGS, described
from pruner.words.nouns import counted
from pruner.words.progress import Progress, silent


@dataclass(frozen=True, slots=True)
class Options:
    """`accept`: sources whose new directory is believed this once; `purge`: drop old versions and bodies afterwards; `force`:
    ask servers and publish although nothing calls for it; `log`: a file for machines."""

    accept: Sequence[str] = ()
    purge: bool = False
    force: bool = False
    log: Path | None = None


def refresh(
    settings: Settings,
    options: Options | None = None,
    progress: Progress = silent,
    ended: Callable[[Outcome], None] | None = None,
) -> Outcome:
    """Refreshes the published folder and tells of it; `ended` is called with the outcome of a run that began, however it ends.

    The outcome's exit code is 4 where a source could not be had or was refused and the last good one was used. Raises
    PrunerError when nothing could be published; the published folder is then what it was. LockedError: another run is
    under way, which nobody is told.
    """
    options = options or Options()
    unknown = sorted(set(options.accept) - {source.name for source in settings.sources})
    if unknown:
        known = ", ".join(source.name for source in settings.sources)
        raise SettingsError(f"--accept: no source is named {unknown[0]!r} (there are: {known})")
    check_places(settings.output.folder, settings.output.state)
    for path in (options.log, settings.refresh.tell.file):
        if path is not None and is_among_results(path, settings.output.folder, result_tops(settings)):
            raise SettingsError(f"{path}: lies among the results, which each version replaces; name another place")
    with locked(settings.output.state, "refresh", settings.output.mode):
        log = RunLog(options.log)
        before = last_run(settings.output.state)
        outcome = Outcome(now(), last_good=before.last_good if before else None)
        remember(outcome, settings.output.state)
        with _told(settings, outcome, log, ended):
            _refresh(settings, options, outcome, log, progress)
        return outcome


@contextlib.contextmanager
def _told(settings: Settings, outcome: Outcome, log: RunLog, ended: Callable[[Outcome], None] | None) -> Iterator[None]:
    """Tells of the start and, whatever happens, of the end."""
    tell, state = settings.refresh.tell, settings.output.state
    log.event("start")
    outcome.warnings += ping_for("start", tell, log)
    try:
        yield
    except BaseException as error:
        expected = isinstance(error, PrunerError)
        outcome.what, outcome.exit_code = "failed", error.exit_code if isinstance(error, PrunerError) else ExitCode.OUR_FAULT
        outcome.result = "; ".join(str(error).splitlines()) if expected else f"interrupted or at fault: {type(error).__name__}"
        raise
    finally:
        outcome.ended = now()
        outcome.last_good = outcome.ended if outcome.good else outcome.last_good
        outcome.warnings += hand_over(outcome.headline, outcome.message(), tell, log)
        outcome.warnings += ping_for("success" if outcome.good else "failure", tell, log)
        outcome.warnings += log.warnings
        log.event("end", **{key: value for key, value in outcome.plain().items() if key != "schema"})
        remember(outcome, state)
        if ended is not None:
            ended(outcome)


def _refresh(settings: Settings, options: Options, outcome: Outcome, log: RunLog, progress: Progress) -> None:
    today = datetime.datetime.now(datetime.UTC).date()
    gathered = gather(
        settings,
        settings.refresh,
        today.isoformat(),
        accept_once=options.accept,
        force=options.force,
        log=log,
        progress=progress,
    )
    outcome.kept_back |= gathered.kept_back
    outcome.more += gathered.notes
    _fold(settings, options, outcome, progress)
    if outcome.kept_back:
        outcome.exit_code = ExitCode.SOURCE_MISSING
    inputs = fingerprint_of(settings, {name: accepted.digest for name, accepted in gathered.accepted.items()})
    standing = None if options.force else _standing(settings, inputs)
    if standing is not None:
        newest, current = standing
        outcome.what, outcome.version = "nothing changed", current
        stays = f"version {current} stays published (pruner rollback)" if current != newest else "nothing was published"
        outcome.result = "; ".join([f"Nothing has changed since version {newest}", stays, *gathered.notes])
        if not outcome.kept_back:
            with _beside(outcome, "history"):
                _record_standstill(settings, newest, today)
    else:
        _publish(settings, gathered, inputs, outcome, log, progress, today)
    give_mode_to_versions(settings.output.folder, settings.output.state, settings.output.mode)
    outcome.warnings += damaged(settings.output.folder, settings.output.state)
    if options.purge:
        _purge(settings, outcome)


def _fold(settings: Settings, options: Options, outcome: Outcome, progress: Progress) -> None:
    """Fetches and folds the heard logs; where that fails, for whatever reason, the run goes on with the calls known before."""
    try:
        asked = fetch_pages(settings, force=options.force, progress=progress) if _asks_for_logs(settings) else []
        outcome.more += [f"heard log {one.address}: {one.note}" for one in asked if one.note and one.what != "not asked"]
        notes = [*(one.trouble for one in asked if one.trouble), *fold_new_calls(settings, progress)]
    except ENDINGS:
        raise
    except BaseException as error:  # panics of libraries derive from it
        notes = [f"{described(error)}; {known_calls(settings)}"]
    if notes:
        outcome.kept_back["heard logs"] = f"heard logs: {'; '.join(notes)}"


def _asks_for_logs(settings: Settings) -> bool:
    return any(heard.is_remote for heard in settings.heard)


def _standing(settings: Settings, inputs: str) -> tuple[int, int] | None:
    """The newest and the published version, if nothing that a new one would hold differs from the newest one and the files of
    the published one are whole. These are two after a rollback, which stays until something changes."""
    folder, state = settings.output.folder, settings.output.state
    known = versions(folder, state)
    current = next((version for version in known if version.current), None)
    if current is None or known[-1].details.inputs != inputs:
        return None
    try:
        verify(current.files)
    except PrunerError:
        return None
    return known[-1].number, current.number


def _record_standstill(settings: Settings, newest: int, today: datetime.date) -> None:
    """A directory that does not change is a point of its growth too, one a day."""
    state = settings.output.state
    if read(state / "history").runs["day"].max() == today:
        return
    version = next(version for version in versions(settings.output.folder, state) if version.number == newest)
    record(state / "history", today, [read_summary(version.files / radio.name) for radio in settings.radios])


def _publish(
    settings: Settings,
    gathered: Gathered,
    inputs: str,
    outcome: Outcome,
    log: RunLog,
    progress: Progress,
    today: datetime.date,
) -> None:
    folder, state = settings.output.folder, settings.output.state
    kept: dict[str, int] = {}
    details = Details(inputs, kept)
    before = next((version.number for version in versions(folder, state) if version.current), None)
    with new_version(folder, state, settings.refresh.keep_versions, details, result_tops(settings)) as making:
        summaries = run_into(gathered.settings(settings), making, progress).summaries
        kept.update((summary.radio, summary.kept) for summary in summaries)
        progress("publishing")
    current = next(version for version in versions(folder, state) if version.current)
    outcome.version = current.number
    if current.number == before:
        outcome.what = "nothing changed"
        outcome.result = f"The same contents as version {before}, which stays published; nothing new was published"
        if not outcome.kept_back:
            with _beside(outcome, "history"):
                _record_standstill(settings, current.number, today)
        return
    outcome.what = "published"
    counts = ", ".join(f"{radio} {count:,}" for radio, count in kept.items())
    outcome.result = f"Version {current.number} was published ({counts} contacts)"
    log.event("published", version=current.number, kept=kept)
    for source in summaries[0].sources:
        for one in source.understood:
            log.event("understood", source=source.name, file=one.file, columns=one.sentence)
    with _beside(outcome, "history"):
        record(state / "history", today, summaries)
    for radio in settings.radios:
        with _beside(outcome, f"comparison of {radio.name}"):
            outcome.more += _since(settings, radio.name)


def _since(settings: Settings, radio: str) -> list[str]:
    """What differs from the version before, and from what the radio holds, where that is known."""
    told = since_version(settings.output.folder, settings.output.state, radio)
    behind = since_written(settings, radio, settings.refresh.worth_writing)
    if behind.difference is not None:
        worth = "it is worth writing anew" if behind.worth else "not yet worth writing anew"
        differ = counted(behind.difference.total, "contact differs", "contacts differ")
        told.append(f"{radio}: {differ} from those in the radio, {worth}")
    return told


@contextlib.contextmanager
def _beside(outcome: Outcome, what: str) -> Iterator[None]:
    """Something that comes after the publication and must not undo its success."""
    try:
        yield
    except (PrunerError, OSError) as error:
        outcome.warnings.append(f"{what}: {'; '.join(str(error).splitlines())}")


def _purge(settings: Settings, outcome: Outcome) -> None:
    """Drops old versions and the bodies as they were fetched; what the present version was made from stays."""
    state = settings.output.state
    gone = purge(settings.output.folder, state)
    shutil.rmtree(state / FETCHED, ignore_errors=True)
    for heard in settings.heard:
        if heard.is_remote:
            pages_of(settings, heard).purge()
    names = {source.name for source in settings.sources}
    for path in (state / "sources").iterdir():
        if path.name not in names:  # a source that the settings no longer name
            shutil.rmtree(path, ignore_errors=True)
    numbers = f"versions {', '.join(map(str, gone))}" if gone else "no old version"
    outcome.more.append(f"Purged: {numbers} and what was stored of fetched files")
    for number, folder in elsewhere(state):
        outcome.more.append(f"Version {number} stays: {folder} leads to it, and other settings may use it")
