"""The job of talkgroups: lists in, one fitted list and its account per radio out.

Receives a `TalkgroupJob`, writes a folder per radio, hands on the summaries. Lists are read, cleaned, ordered and fitted like
contacts, but their numbers are a space of their own: no id of a station is ever compared with them.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner.account.ledger import LedgerRows, write_ledger
from pruner.account.parts import FILE, FileMark
from pruner.account.rejected import write_rejected
from pruner.account.talkgroup_summary import TalkgroupSummary
from pruner.choose.by_number import Fit, fit_by_number
from pruner.groups.account import summarise
from pruner.groups.job import TalkgroupJob
from pruner.groups.load import Groups, load_groups
from pruner.groups.order import CLASSES, queues_of
from pruner.groups.rows import EVIDENCE
from pruner.publish.folders import fingerprint, new_folder
from pruner.publish.lock import locked
from pruner.publish.switch import current_version
from pruner.reference import countries
from pruner.words.errors import SettingsError
from pruner.words.outcomes import Reason
from pruner.words.progress import Progress, silent

FOLDER: Final = "talkgroups"


@dataclass(slots=True)
class TalkgroupResult:
    """Summaries, as written to summary.json, and folders, in the order of the radios."""

    summaries: list[TalkgroupSummary]
    folders: list[Path]


def run_talkgroups(job: TalkgroupJob, progress: Progress = silent) -> TalkgroupResult:
    """Fits the lists into every radio and writes its folder. Raises PrunerError with one line per problem."""
    if current_version(job.folder):
        raise SettingsError(f"{job.folder}: is published by refresh, which fits the talkgroups too; run pruner refresh --force")
    targets = [job.folder / FOLDER / radio for radio, _ in job.radios]
    with locked(job.state, "talkgroups", job.mode), contextlib.ExitStack() as folders:
        makings = (folders.enter_context(new_folder(target)) for target in targets)
        return TalkgroupResult(_fit_all(job, makings, progress), targets)


def run_talkgroups_into(job: TalkgroupJob, folder: Path, progress: Progress = silent) -> TalkgroupResult:
    """The same into `<folder>/talkgroups/<radio>/`, which must not exist yet; the caller holds the lock and publishes the
    folder."""
    targets = [folder / FOLDER / radio for radio, _ in job.radios]
    for target in targets:
        target.mkdir(parents=True)
    return TalkgroupResult(_fit_all(job, targets, progress), targets)


def _fit_all(job: TalkgroupJob, folders: Iterable[Path], progress: Progress) -> list[TalkgroupSummary]:
    """The summaries of all radios; a folder is asked for only when the lists are read and found good."""
    groups = load_groups(job, progress)
    files = [fingerprint(path) for _, path in job.lists]
    summaries = []
    for (radio, limit), folder in zip(job.radios, folders, strict=True):
        progress(f"fitting {radio}")
        summaries.append(_fit_one(groups, radio, limit, files, folder))
    return summaries


def fit_groups(groups: Groups, limit: int) -> Fit:
    """The reason and rank of every talkgroup under a limit; queues are the classes."""
    queues = queues_of(groups.number, groups.group_class, groups.calls)
    return fit_by_number(np.zeros(len(groups.number), dtype=np.uint8), queues, limit)


def _fit_one(groups: Groups, radio: str, limit: int, lists: Sequence[FileMark], folder: Path) -> TalkgroupSummary:
    fit = fit_groups(groups, limit)
    kept = np.flatnonzero(fit.reason == Reason.NONE)
    _write_list(groups, kept, folder / "talkgroups.csv")
    ledger = _ledger_rows(groups, fit)
    write_ledger(
        folder / "ledger.parquet",
        ledger,
        countries=countries.CODES,
        evidence=EVIDENCE,
        rules=["", *CLASSES],
        headings=("number", "name"),
    )
    write_rejected(folder / "rejected.csv", (row for rows in groups.rows for row in rows.rejected))
    files = [fingerprint(path) for path in sorted(folder.iterdir())]
    summary = summarise(groups, radio, limit, fit, ledger, lists, files)
    (folder / FILE).write_text(summary.text(), encoding="utf-8")
    return summary


def _write_list(groups: Groups, kept: npt.NDArray[np.int64], path: Path) -> None:
    """Writes the kept talkgroups by number. Names are clean (`clean.text`): no control characters, no formula starts."""
    place = pa.array(groups.record[kept])
    name = pa.chunked_array([chunk for rows in groups.rows for chunk in rows.name.chunks], pa.string()).take(place)
    written = pa.chunked_array([chunk for rows in groups.rows for chunk in rows.written_country.chunks], pa.string())
    known = pl.Series(countries.NAMES).gather(groups.country[kept].astype(np.uint32))
    frame = pl.DataFrame(
        {
            "number": groups.number[kept],
            "name": pl.Series(pl.from_arrow(name), dtype=pl.String),
            "country": known,
            "written": pl.Series(pl.from_arrow(written.take(place)), dtype=pl.String),
        }
    )
    country = pl.when(pl.col("country") == "").then(pl.col("written")).otherwise(pl.col("country"))
    frame.select("number", "name", country.replace("", None).alias("country")).write_csv(path)


def _ledger_rows(groups: Groups, fit: Fit) -> list[LedgerRows]:
    total = sum(len(rows.number) for rows in groups.rows)
    rule, rank = np.zeros(total, dtype=np.uint8), np.zeros(total, dtype=np.uint32)
    rule[groups.record] = groups.group_class + 1
    rank[groups.record] = fit.rank
    reason = np.concatenate([rows.reason for rows in groups.rows])
    reason[groups.record] = fit.reason
    ledger = []
    start = 0
    for rows in groups.rows:
        part = slice(start, start + len(rows.number))
        own = reason[part]
        has_number = (own != Reason.UNREADABLE_ROW) & (own != Reason.INVALID_ID)
        system, name = groups.job.system, rows.list_name
        ledger.append(
            LedgerRows(
                name, system, rows.number, has_number, rows.name, rows.country, rows.evidence, own, rule[part], rank[part]
            )
        )
        start = part.stop
    return ledger
