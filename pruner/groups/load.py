"""Talkgroup lists in, talkgroups out: everything that is known before a radio's limit applies.

Receives a `TalkgroupJob`, hands on the rows of every list and one entry per talkgroup, shared by all radios of a run.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.clean.duplicates import SourceIds, surviving_records
from pruner.groups.job import TalkgroupJob
from pruner.groups.order import HeardGroups, class_of
from pruner.groups.rows import GroupRows, collect_groups
from pruner.words.errors import InputRefusedError
from pruner.words.outcomes import Reason
from pruner.words.progress import Progress, silent
from pruner.words.threads import Pool, Work

#: A list of which more than this share cannot be read is taken for another kind of table.
REJECTED_SHARE_AT_MOST: Final = 0.5


@dataclass(slots=True)
class Groups:
    """Everything that is known before a limit is applied. `rows`: all lists; `record`: for each talkgroup (by number) the
    position of its row over all lists together; the other arrays have one entry per talkgroup."""

    job: TalkgroupJob
    rows: list[GroupRows]
    record: npt.NDArray[np.int64]
    number: npt.NDArray[np.uint32]
    country: npt.NDArray[np.uint8]
    calls: npt.NDArray[np.uint64]
    group_class: npt.NDArray[np.uint8]
    heard: HeardGroups | None


def load_groups(job: TalkgroupJob, progress: Progress = silent) -> Groups:
    """Reads and cleans all lists, marks duplicates and puts every talkgroup into its class."""
    rows = []
    with Pool(Work.PARSING) as pool:
        for (name, path), columns in zip(job.lists, job.columns, strict=True):
            progress(f"reading {path}")
            found = collect_groups(name, job.system, path, pool, by_number=job.by_number, columns=columns)
            _guard_rejected(path, found)
            rows.append(found)
    usable = [found.reason == Reason.NONE for found in rows]
    survivors = surviving_records(
        [SourceIds(job.system, found.number, good, found.is_nameless) for found, good in zip(rows, usable, strict=True)]
    )
    stays = np.zeros(sum(map(len, usable)), dtype=bool)
    stays[survivors.record] = True
    start = 0
    for found, good in zip(rows, usable, strict=True):
        found.reason[good & ~stays[start : start + len(good)]] = Reason.DUPLICATE_ID
        start += len(good)
    country = np.concatenate([found.country for found in rows])[survivors.record]
    heard = job.heard()
    calls = heard.calls_of(survivors.number) if heard else np.zeros(len(survivors.number), dtype=np.uint64)
    group_class = class_of(survivors.number, country, calls, job.mine, job.home)
    return Groups(job, rows, survivors.record, survivors.number, country, calls, group_class, heard)


def _guard_rejected(path: Path, rows: GroupRows) -> None:
    if len(rows.rejected) > REJECTED_SHARE_AT_MOST * len(rows.number):
        first = rows.rejected[0]
        raise InputRefusedError(
            f"{path}: {len(rows.rejected):,} of {len(rows.number):,} rows cannot be read (the first on line {first.line}: "
            f"{first.detail}); expected a list of talkgroups"
        )
