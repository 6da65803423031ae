"""The whole job: settings in, files and a summary out.

sources -> read -> clean -> place -> weigh -> rank -> fit -> write -> account. Stages mark, they never remove; the split into
kept, dropped and rejected happens here, once per radio.
"""

from __future__ import annotations

import contextlib
import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from pruner.fit.by_number import Fit, Queue, fit_by_number
from pruner.layout.plain import write_plain
from pruner.outcomes import Reason
from pruner.pipeline.account import ledger_rows, summarise
from pruner.pipeline.load import Loaded, Progress, load, silent
from pruner.pipeline.lock import locked
from pruner.pipeline.texts import written_contacts
from pruner.place.country import EVIDENCE
from pruner.rank.contacts import codes
from pruner.rank.rules import queue_of
from pruner.reference import countries
from pruner.report.ledger import write_ledger
from pruner.report.publish import fingerprint, new_folder
from pruner.report.rejected import write_rejected
from pruner.settings.models import Radio, Settings

__all__ = ["Loaded", "RunResult", "fit_radio", "load", "run", "write_radio"]


@dataclass(slots=True)
class RunResult:
    """Summaries, as written to summary.json, in the order of the radios."""

    summaries: list[dict[str, Any]]
    folders: list[Path]


def run(settings: Settings, progress: Progress = silent) -> RunResult:
    """Fits every radio of the settings and writes its folder. Raises PrunerError with one line per problem."""
    with locked(settings.output.state, "fit"), contextlib.ExitStack() as folders:
        loaded = load(settings, progress)
        targets = [settings.output.folder / radio.name for radio in settings.radios]
        summaries = [
            write_radio(loaded, radio, folders.enter_context(new_folder(target)), progress)
            for radio, target in zip(settings.radios, targets, strict=True)
        ]
    return RunResult(summaries, targets)


def run_into(settings: Settings, folder: Path, progress: Progress = silent) -> RunResult:
    """The same into `<folder>/<radio>/`, which must not exist yet; the caller holds the lock and publishes the folder."""
    loaded = load(settings, progress)
    result = RunResult([], [])
    for radio in settings.radios:
        target = folder / radio.name
        target.mkdir()
        result.summaries.append(write_radio(loaded, radio, target, progress))
        result.folders.append(target)
    return result


def fit_radio(loaded: Loaded, radio: Radio) -> Fit:
    """The choice for one radio; writes nothing."""
    settings, ownership = loaded.settings, loaded.ownership(radio)
    queues = []
    for index, rule in enumerate(loaded.keep_rules(radio)):
        owned = np.flatnonzero((ownership.owner == index) & (ownership.reason == Reason.NONE))
        talkgroups = settings.talkgroups_of(rule) or settings.talkgroups.mine or None
        order = settings.order(rule, radio)
        waiting = queue_of(loaded.contacts, owned, order, talkgroups, settings.calls.window_days)
        queues.append(Queue(waiting, rule.at_most, settings.one_per_callsign(rule)))
    single_any = any(queue.one_per_callsign for queue in queues)
    callsign_codes = codes(loaded.contacts.callsign) if single_any else None
    limit = max((radio.contacts or 0) - radio.keep_free, 0)
    return fit_by_number(ownership.reason, queues, limit, callsign_codes)


def write_radio(loaded: Loaded, radio: Radio, folder: Path, progress: Progress = silent) -> dict[str, Any]:
    """Fits one radio and writes its files into a folder that exists; returns the summary."""
    progress(f"fitting {radio.name}")
    fit = fit_radio(loaded, radio)
    kept = np.flatnonzero(fit.reason == Reason.NONE)
    progress(f"writing {radio.name}")
    with ThreadPoolExecutor(max_workers=2) as pool:
        prints = [[pool.submit(fingerprint, path) for path in paths] for paths in loaded.files]
        ledger = ledger_rows(loaded, radio, fit)
        rules = ["", *(rule.name for rule in loaded.settings.drop), *(rule.name for rule in loaded.keep_rules(radio))]
        writing = pool.submit(
            write_ledger, folder / "ledger.parquet", ledger, countries=countries.CODES, evidence=EVIDENCE, rules=rules
        )
        written, changes = written_contacts(
            loaded.sources, loaded.records[kept], loaded.contacts.number[kept], loaded.contacts.country[kept]
        )
        write_plain(written, folder / "contacts.csv")
        write_rejected(folder / "rejected.csv", (row for rows in loaded.sources for row in rows.rejected))
        writing.result()
        source_files = [[one.result() for one in files] for files in prints]
    summary = summarise(loaded, radio, fit, ledger, changes, source_files, folder)
    (folder / "summary.json").write_text(json.dumps(summary, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
    return summary
