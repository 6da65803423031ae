"""The whole job: settings in, files and a summary out. The only module that knows all stages.

sources -> read -> clean -> place -> rank -> fit -> write -> account. Stages mark, they never remove; the split into kept,
dropped and rejected happens here, once per radio.
"""

from __future__ import annotations

import contextlib
import fcntl
import glob
import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner import schema
from pruner.clean.duplicates import SourceIds, Survivors, surviving_records
from pruner.errors import InputRefusedError, LockedError, SettingsError, SourceMissingError
from pruner.fit.by_number import Fit, Queue, fit_by_number
from pruner.layout.plain import write_plain
from pruner.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason, outcome_of
from pruner.pipeline.collect import SourceRows, collect
from pruner.pipeline.texts import fetch_callsigns, fetch_text, written_contacts
from pruner.place.country import EVIDENCE, kinds
from pruner.rank.contacts import Contacts, codes
from pruner.rank.rules import Ownership, assign_owners, queue_of
from pruner.reference import countries
from pruner.report.ledger import LedgerRows, write_ledger
from pruner.report.publish import fingerprint, new_folder
from pruner.report.rejected import write_rejected
from pruner.settings.models import Radio, Settings, Source

SUMMARY_SCHEMA = 1
Progress = Callable[[str], None]


@dataclass(slots=True)
class Loaded:
    """Everything that is known before a radio's limit is applied: shared by all radios of a run."""

    settings: Settings
    sources: list[SourceRows]
    files: list[list[Path]]
    records: npt.NDArray[np.int64]
    contacts: Contacts
    ownership: Ownership


@dataclass(slots=True)
class RunResult:
    """Summaries, as written to summary.json, in the order of the radios."""

    summaries: list[dict[str, Any]]
    folders: list[Path]


def _silent(stage: str) -> None:
    """Tells nobody."""


def run(settings: Settings, progress: Progress = _silent) -> RunResult:
    """Fits every radio of the settings and writes its folder. Raises PrunerError with one line per problem."""
    with _lock(settings.output.state):
        loaded = load(settings, progress)
        result = RunResult([], [])
        with contextlib.ExitStack() as folders:
            for radio in settings.radios:
                target = settings.output.folder / radio.name
                progress(f"fitting {radio.name}")
                making = folders.enter_context(new_folder(target))
                result.summaries.append(_fit_one(loaded, radio, making, progress))
                result.folders.append(target)
        return result


def load(settings: Settings, progress: Progress = _silent) -> Loaded:
    """Reads, cleans and places all sources and applies the rules."""
    sources, files = [], []
    with ThreadPoolExecutor(max_workers=2) as pool:
        for source in settings.sources:
            progress(f"reading {source.name}")
            paths = _paths(source)
            rows = collect(
                source.name,
                schema.SYSTEMS[source.system],
                paths,
                pool,
                columns=dict(source.columns) if source.columns else None,
                encoding=source.encoding,
            )
            _guard_rejected(source, rows)
            sources.append(rows)
            files.append(paths)
    pa.default_memory_pool().release_unused()
    progress("ranking")
    survivors = _survivors(sources)
    contacts = _contacts(settings, sources, survivors)
    return Loaded(settings, sources, files, survivors.record, contacts, assign_owners(contacts, settings))


@contextlib.contextmanager
def _lock(state: Path) -> Iterator[None]:
    try:
        state.mkdir(parents=True, exist_ok=True)
        file = (state / "lock").open("w")
    except OSError as error:
        raise SettingsError(f"{state}: cannot be written ({error.strerror}); choose another [output] state") from error
    with file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            raise LockedError(f"{state / 'lock'}: another run is under way; wait for it to end") from error
        yield


def _paths(source: Source) -> list[Path]:
    location = source.location
    # The pattern may be absolute, which Path.glob refuses.
    paths = sorted(Path(found) for found in glob.glob(location)) if glob.has_magic(location) else [Path(location)]  # noqa: PTH207
    if not paths:
        raise SourceMissingError(f"{location}: no file matches; check the location of source {source.name!r}")
    return paths


def _guard_rejected(source: Source, rows: SourceRows) -> None:
    share = len(rows.rejected) / max(len(rows.number), 1)
    if not len(rows.number):
        raise InputRefusedError(f"{source.location}: has headings but no rows; expected a table of stations")
    if share > source.rejected_share_at_most:
        first = rows.rejected[0]
        raise InputRefusedError(
            f"{source.location}: {len(rows.rejected):,} of {len(rows.number):,} rows cannot be read (the first on line "
            f"{first.line}: {first.detail}); more than rejected_share_at_most = {source.rejected_share_at_most} allows"
        )


def _survivors(sources: Sequence[SourceRows]) -> Survivors:
    """The records that stay; the others with a station's address are marked as duplicates."""
    survivors = surviving_records([SourceIds(rows.system, rows.number, rows.station, rows.suffixed) for rows in sources])
    for rows, (_, places) in zip(sources, _by_source(sources, survivors.record), strict=True):
        stays = np.zeros(len(rows.number), dtype=bool)
        stays[places] = True
        rows.reason[rows.station & ~stays] = Reason.DUPLICATE_ID
    return survivors


def _by_source(
    sources: Sequence[SourceRows], records: npt.NDArray[np.int64]
) -> Iterator[tuple[slice | npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """For each source: which entries of `records` lie in it, and where in the source."""
    if len(sources) == 1:
        yield slice(None), records
        return
    start = 0
    for rows in sources:
        end = start + len(rows.number)
        inside = np.flatnonzero((records >= start) & (records < end))
        yield inside, records[inside] - start
        start = end


def _contacts(settings: Settings, sources: Sequence[SourceRows], survivors: Survivors) -> Contacts:
    number, systems, records = survivors.number, survivors.system, survivors.record
    country = np.zeros(len(records), dtype=np.uint8)
    source = np.zeros(len(records), dtype=np.uint8)
    for index, (rows, (inside, places)) in enumerate(zip(sources, _by_source(sources, records), strict=True)):
        country[inside] = rows.country[places]
        source[inside] = index
    kind = np.zeros(len(records), dtype=np.uint8)
    for slot in range(len(schema.SYSTEM_NAMES)):
        low, high = np.searchsorted(systems, (slot, slot + 1))
        kind[low:high] = kinds(number[low:high], schema.SYSTEM_NAMES[slot])
    return Contacts(
        number,
        systems,
        source,
        kind,
        country,
        lambda: fetch_callsigns(sources, records),
        lambda column: fetch_text(sources, records, column),
        settings.home.place,
    )


def _fit(loaded: Loaded, radio: Radio) -> Fit:
    settings, ownership = loaded.settings, loaded.ownership
    queues = []
    for index, rule in enumerate(settings.keep):
        waiting = queue_of(loaded.contacts, ownership, index, rule.order)
        queues.append(Queue(waiting, rule.at_most, settings.one_per_callsign(rule)))
    single_any = any(queue.one_per_callsign for queue in queues)
    callsign_codes = codes(loaded.contacts.callsign) if single_any else None
    return fit_by_number(ownership.reason, queues, radio.contacts, callsign_codes)


def _fit_one(loaded: Loaded, radio: Radio, folder: Path, progress: Progress) -> dict[str, Any]:
    fit = _fit(loaded, radio)
    kept = np.flatnonzero(fit.reason == Reason.NONE)
    progress(f"writing {radio.name}")
    with ThreadPoolExecutor(max_workers=2) as pool:
        prints = [[pool.submit(fingerprint, path) for path in paths] for paths in loaded.files]
        ledger = _ledger_rows(loaded, fit)
        rules = ["", *(rule.name for rule in loaded.settings.drop), *(rule.name for rule in loaded.settings.keep)]
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
    summary = _summary(loaded, radio, fit, ledger, changes, source_files, folder)
    (folder / "summary.json").write_text(json.dumps(summary, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
    return summary


def _ledger_rows(loaded: Loaded, fit: Fit) -> list[LedgerRows]:
    drops = len(loaded.settings.drop)
    owner = loaded.ownership.owner
    rule_of = np.where(loaded.ownership.reason == Reason.LEFT_OUT, owner + 1, owner + 1 + drops).astype(np.uint8)
    rule_of[owner < 0] = 0
    ledger = []
    for rows, (inside, places) in zip(loaded.sources, _by_source(loaded.sources, loaded.records), strict=True):
        count = len(rows.number)
        reason = rows.reason.copy()
        reason[places] = fit.reason[inside]
        rule = np.zeros(count, dtype=np.uint8)
        rule[places] = rule_of[inside]
        rank = np.zeros(count, dtype=np.uint32)
        rank[places] = fit.rank[inside]
        has_number = (reason != Reason.UNREADABLE_ROW) & (reason != Reason.INVALID_ID)
        ledger.append(
            LedgerRows(
                rows.name, rows.system, rows.number, has_number, rows.callsign, rows.country, rows.evidence, reason, rule, rank
            )
        )
    return ledger


def _account(reason: npt.NDArray[np.uint8]) -> dict[str, Any]:
    """The account of rows by their reasons. The law read = kept + dropped + rejected is checked here."""
    by_reason = np.bincount(reason, minlength=len(Reason))
    by_outcome: Counter[str] = Counter()
    for which in Reason:
        by_outcome[OUTCOME_WORDS[outcome_of(which)]] += int(by_reason[which])
    read = len(reason)
    if read != sum(by_outcome.values()):
        raise AssertionError(f"{read} rows read, {sum(by_outcome.values())} accounted for")
    return {
        "read": read,
        **{OUTCOME_WORDS[outcome]: by_outcome[OUTCOME_WORDS[outcome]] for outcome in Outcome},
        "reasons": {REASON_WORDS[which]: int(by_reason[which]) for which in Reason if which and by_reason[which]},
    }


def _summary(
    loaded: Loaded,
    radio: Radio,
    fit: Fit,
    ledger: Sequence[LedgerRows],
    changes: Counter[str],
    source_files: list[list[dict[str, Any]]],
    folder: Path,
) -> dict[str, Any]:
    settings, ownership = loaded.settings, loaded.ownership
    total = _account(ledger[0].reason if len(ledger) == 1 else np.concatenate([rows.reason for rows in ledger]))
    counts = sum((rows.counts for rows in loaded.sources), changes)
    kept = fit.reason == Reason.NONE
    per_country = np.bincount(loaded.contacts.country[kept], minlength=len(countries.CODES))
    cut = None
    if fit.cut is not None:
        rule = settings.keep[fit.cut[0]]
        cut = {"rule": rule.name, "rank": fit.cut[1], "matched": ownership.owned[fit.cut[0]], "kept": fit.kept[fit.cut[0]]}
    dropped = {
        word: number
        for word, number in total["reasons"].items()
        if word not in (REASON_WORDS[Reason.UNREADABLE_ROW], REASON_WORDS[Reason.INVALID_ID])
    }
    return {
        "schema": SUMMARY_SCHEMA,
        "radio": radio.name,
        "limit": {"contacts": radio.contacts},
        "read": total["read"],
        "kept": total["kept"],
        "rejected": total["rejected"],
        "dropped": dropped,
        "rejected_reasons": {word: n for word, n in total["reasons"].items() if word not in dropped},
        "drop_rules": [
            {"name": rule.name, "matched": number} for rule, number in zip(settings.drop, ownership.left_out, strict=True)
        ],
        "rules": [
            {"name": rule.name, "order": rule.order, "at_most": rule.at_most, "matched": matched, "owned": owned, "kept": taken}
            for rule, matched, owned, taken in zip(settings.keep, ownership.matched, ownership.owned, fit.kept, strict=True)
        ],
        "countries": {
            countries.CODES[number] or "unknown": int(per_country[number]) for number in np.flatnonzero(per_country).tolist()
        },
        "placed_by": {
            word or "unknown": sum(int(np.count_nonzero(r.station & (r.evidence == index))) for r in loaded.sources)
            for index, word in enumerate(EVIDENCE)
        },
        "changed": {word: number for word, number in sorted(counts.items()) if number},
        "sources": [
            {
                "name": source.name,
                "rows": len(rows.number),
                "account": _account(account.reason),
                "files": files,
            }
            for source, rows, account, files in zip(settings.sources, loaded.sources, ledger, source_files, strict=True)
        ],
        "cut": cut,
        "coverage": None,
        "files": [fingerprint(path) for path in sorted(folder.iterdir())],
    }
