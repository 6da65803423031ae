"""The whole job: settings in, files and a summary out.

sources -> read -> clean -> place -> weigh -> rank -> fit -> write -> account. Stages mark, they never remove; the split into
kept, dropped and rejected happens here, once per radio.
"""

from __future__ import annotations

import contextlib
import datetime
from dataclasses import dataclass, field
from pathlib import Path

from pruner.account.ledger import write_ledger
from pruner.account.parts import FILE
from pruner.account.rejected import write_rejected
from pruner.account.summary import Summary
from pruner.account.tallies import tally_rows
from pruner.history.record import record_once_a_day
from pruner.job.choose import Choice, choose
from pruner.job.idle_rules import idle_in
from pruner.job.load import Loaded, doubts_of, load
from pruner.job.missed import heard_contacts
from pruner.job.preview import FEW, preview_rows
from pruner.job.summarise import count_rows, ledger_rows, rejected_rows, rule_words, summarise
from pruner.job.write import write_contacts
from pruner.pages.page import prepare, write_report
from pruner.place.country import EVIDENCE
from pruner.publish.folders import fingerprint, new_folder
from pruner.publish.lock import locked
from pruner.publish.notes import Details
from pruner.publish.switch import current_version
from pruner.publish.versions import check_places, damaged, give_mode_to_versions, new_version
from pruner.reference import countries
from pruner.settings.models import Radio, Settings
from pruner.words.disk import creating
from pruner.words.errors import PrunerError
from pruner.words.progress import Progress, silent
from pruner.words.threads import Pool, Work

__all__ = ["Loaded", "RunResult", "load", "run", "run_into", "write_radio"]


@dataclass(slots=True)
class RunResult:
    """Summaries, as written to summary.json, in the order of the radios; `notes` on what went on without."""

    summaries: list[Summary]
    folders: list[Path]
    notes: list[str] = field(default_factory=list)


def run(settings: Settings, progress: Progress = silent) -> RunResult:
    """Fits every radio of the settings and writes its folder. Raises PrunerError with one line per problem.

    What is new in the heard logs is folded first; where that fails, the calls that are known count. Where `refresh` has
    published versions, the results become a new version.
    """
    if current_version(settings.output.folder):
        return _run_as_version(settings, progress)
    with locked(settings.output.state, "fit", settings.output.mode), contextlib.ExitStack() as folders:
        notes = fold_new_calls(settings, progress)
        loaded = load(settings, progress, will_write=True)
        remember_if_heard(loaded)
        targets = [settings.output.folder / radio.name for radio in settings.radios]
        summaries = [
            write_radio(loaded, radio, folders.enter_context(new_folder(target)), progress)
            for radio, target in zip(settings.radios, targets, strict=True)
        ]
    notes += _recorded(settings, summaries)
    return RunResult(summaries, targets, notes + doubts_of(settings, loaded.layouts) + idle_in(loaded))


def _recorded(settings: Settings, summaries: list[Summary]) -> list[str]:
    """Puts the run into the history that a forecast looks at, one a day; a note where that cannot be written."""
    try:
        with creating(settings.output.mode):
            record_once_a_day(settings.output.state / "history", datetime.datetime.now(datetime.UTC).date(), summaries)
    except PrunerError as error:
        return [f"the run was not recorded for a forecast: {error}"]
    return []


def fold_new_calls(settings: Settings, progress: Progress = silent) -> list[str]:
    """Takes in what is new in the heard logs, and pages of addresses that wait; a note where that was not possible."""
    if not settings.heard:
        return []
    from pruner.logs.fold import fold_all  # for those who have heard logs

    try:
        folded = fold_all(settings, progress)
    except PrunerError as error:
        return [f"{'; '.join(str(error).splitlines())}; {known_calls(settings)}"]
    return [f"{line}; the calls of the other logs are used" for line in folded.troubles]


def known_calls(settings: Settings) -> str:
    """What a run looks at where no heard log could be taken in, in words."""
    from pruner.calls.store import load_manifest
    from pruner.logs.fold import store_folder

    systems = dict.fromkeys(source.system for source in settings.sources)
    try:
        is_known = any(load_manifest(store_folder(settings.output.state, system), system).days for system in systems)
    except PrunerError as error:
        return str(error)
    return "the calls known before are used" if is_known else "no calls are known from before, so none are used"


def remember_if_heard(loaded: Loaded) -> None:
    """Notes which ids stand in the sources, where there are heard logs."""
    if loaded.calls is not None:
        from pruner.job.earlier import remember_directory  # for those who have heard logs

        remember_directory(loaded)


def _run_as_version(settings: Settings, progress: Progress) -> RunResult:
    folder, state = settings.output.folder, settings.output.state
    check_places(folder, state)
    kept: dict[str, int] = {}
    keep, names = settings.refresh.keep_versions, result_tops(settings)
    with locked(state, "fit", settings.output.mode), new_version(folder, state, keep, Details(kept=kept), names) as making:
        notes = fold_new_calls(settings, progress)
        result = run_into(settings, making, progress)
        kept.update((summary.radio, summary.kept) for summary in result.summaries)
    give_mode_to_versions(folder, state, settings.output.mode)
    notes += damaged(folder, state)
    notes += _recorded(settings, result.summaries)
    return RunResult(result.summaries, [folder / radio.name for radio in settings.radios], notes + result.notes)


def result_tops(settings: Settings) -> list[str]:
    """What stands in the published folder for the results of these settings."""
    from pruner.groups.job import wants_talkgroups  # for those who publish versions

    talkgroups = ["talkgroups"] if wants_talkgroups(settings) else []
    return [*(radio.name for radio in settings.radios), *talkgroups]


def run_into(settings: Settings, folder: Path, progress: Progress = silent) -> RunResult:
    """The same into `<folder>/<radio>/`, and talkgroups if there are any; the caller holds the lock and publishes it."""
    loaded = load(settings, progress, will_write=True)
    remember_if_heard(loaded)
    result = RunResult([], [], doubts_of(settings, loaded.layouts) + idle_in(loaded))
    for radio in settings.radios:
        target = folder / radio.name
        target.mkdir()
        result.summaries.append(write_radio(loaded, radio, target, progress))
        result.folders.append(target)
    if settings.talkgroups.list is not None:
        from pruner.groups.job import job_of_settings, wants_talkgroups  # for those who have a list of them
        from pruner.groups.run import run_talkgroups_into

        if wants_talkgroups(settings):
            run_talkgroups_into(job_of_settings(settings), folder, progress)
    return result


def write_radio(loaded: Loaded, radio: Radio, folder: Path, progress: Progress = silent) -> Summary:
    """Fits one radio and writes its files into a folder that exists; returns the summary."""
    progress(f"fitting {radio.name}")
    return write_choice(loaded, choose(loaded, radio), folder, progress)


def write_choice(loaded: Loaded, choice: Choice, folder: Path, progress: Progress = silent) -> Summary:
    """Writes the files of a choice into a folder that exists; returns the summary."""
    radio = choice.radio
    progress(f"writing {radio.name}")
    with Pool(Work.WRITING) as pool:
        contacts = pool.submit(write_contacts, loaded, choice, folder)
        ledger = ledger_rows(loaded, choice, heard_contacts(loaded, choice))
        rules = rule_words(loaded, choice)
        tallied = pool.submit(tally_rows, ledger, rules)
        counted = pool.submit(count_rows, loaded, choice, ledger)
        write_ledger(folder / "ledger.parquet", ledger, countries=countries.CODES, evidence=EVIDENCE, rules=rules)
        write_rejected(folder / "rejected.csv", rejected_rows(loaded, choice))
        prepare()
        contents = contacts.result()
        files = [fingerprint(path) for path in sorted(folder.iterdir())]
        summary = summarise(loaded, choice, counted.result(), contents.changes, loaded.fingerprints(), files)
        carried = None
        if choice.carried and contents.carried:
            carried = choice.carried.account(contents.carried.changed, contents.carried.columns_left)
        summary = summary.model_copy(update={"carried": carried, "preview": tuple(preview_rows(loaded, contents, FEW))})
        page = write_report(folder, summary, tallied=tallied.result())
        summary = summary.model_copy(update={"files": tuple(sorted((*files, page), key=lambda mark: mark.name))})
    (folder / FILE).write_text(summary.text(), encoding="utf-8")
    return summary
