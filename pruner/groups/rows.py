"""Records of one talkgroup list -> narrow columns: the work done on each run of records while the file is being read.

Receives Records, hands on group numbers, cleaned names, countries and rejected rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.account.rejected import RejectedRow
from pruner.clean.ids import parse_ids
from pruner.clean.text import clean_values
from pruner.read.entry_kinds import is_private
from pruner.read.records import Records, coded, rows_where
from pruner.read.talkgroup_list import DESCRIPTION, GROUPS, read_talkgroups
from pruner.reference import countries
from pruner.reference.numbering import country_of_talkgroups
from pruner.table.kinds import ENTRY_KIND
from pruner.table.understanding import Understanding
from pruner.words import schema
from pruner.words.outcomes import REASON_WORDS, Reason
from pruner.words.threads import Pool

#: What decided the country of a group, by number; 0 stands for unknown.
EVIDENCE: Final = ("", "text", "number")
_BAD_NUMBER: Final = "the number is not a whole number in the range of group numbers"

Numbers = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class GroupRows:
    """All records of one list, one entry each. `reason` is NONE for what can be a talkgroup. `name` is cleaned, null where
    missing; `is_nameless`: what has only its number for a name; `changes` is the mask of `clean.text.CHANGE_WORDS` for it;
    `written_country` the cleaned cell, "" where missing."""

    list_name: str
    number: npt.NDArray[np.uint32]
    reason: Numbers
    name: pa.ChunkedArray
    is_nameless: npt.NDArray[np.bool_]
    changes: Numbers
    country: Numbers
    evidence: Numbers
    written_country: pa.ChunkedArray
    rejected: list[RejectedRow]
    recoded: int
    understandings: list[Understanding]


@dataclass(frozen=True, slots=True)
class _Run:
    number: npt.NDArray[np.uint32]
    reason: Numbers
    name: pa.Array
    is_nameless: npt.NDArray[np.bool_]
    changes: Numbers
    country: Numbers
    evidence: Numbers
    written_country: pa.Array
    rejected: list[tuple[int, str, str, str]]
    recoded: int


def collect_groups(
    list_name: str,
    system: str,
    path: Path,
    pool: Pool,
    *,
    by_number: bool,
    columns: Mapping[str, str | int] | None = None,
) -> GroupRows:
    """Reads a list; `columns`: which column holds what, where that was said; `by_number` says whether a number may tell the
    country. Raises InputRefusedError or SourceMissingError."""
    runs: list[_Run] = []
    rejected: list[RejectedRow] = []
    understandings: list[Understanding] = []
    work = partial(_work_on, system=system, by_number=by_number)
    for line, run in read_talkgroups(path, work, pool, columns=columns, understood=understandings.append):
        runs.append(run)
        rejected.extend(RejectedRow(list_name, line + own, *rest) for own, *rest in run.rejected)
    return GroupRows(
        list_name,
        np.concatenate([run.number for run in runs]),
        np.concatenate([run.reason for run in runs]),
        pa.chunked_array([run.name for run in runs], pa.string()),
        np.concatenate([run.is_nameless for run in runs]),
        np.concatenate([run.changes for run in runs]),
        np.concatenate([run.country for run in runs]),
        np.concatenate([run.evidence for run in runs]),
        pa.chunked_array([run.written_country for run in runs], pa.string()),
        rejected,
        sum(run.recoded for run in runs),
        understandings,
    )


def _work_on(records: Records, *, system: str, by_number: bool) -> _Run:
    ids = parse_ids(records.columns[schema.ID], GROUPS[system])
    details = dict(records.unreadable)
    ids.reason[np.fromiter(details, dtype=np.int64, count=len(details))] = Reason.UNREADABLE_ROW
    privates = rows_where(records, ENTRY_KIND, is_private)
    if privates is not None:
        ids.reason[privates & np.isin(ids.reason, (Reason.NONE, Reason.RESERVED_ID))] = Reason.NO_TALKGROUP
    written, by_text = _countries(records)
    numbered = by_number and system == "dmr"
    by_code = country_of_talkgroups(ids.number) if numbered else np.zeros(records.count, dtype=np.uint8)
    usable = ids.reason == Reason.NONE
    name, changes = _names(records)
    is_nameless = usable & name.is_null().to_numpy(zero_copy_only=False)
    if is_nameless.any():
        numbers = pa.array([f"TG {number}" for number in ids.number[is_nameless].tolist()], pa.string())
        name = pc.replace_with_mask(name, pa.array(is_nameless), numbers)
    country = np.where(usable, np.where(by_text > 0, by_text, by_code), 0).astype(np.uint8)
    evidence = np.where(country == 0, 0, np.where(by_text > 0, 1, 2)).astype(np.uint8)
    rejected = _rejected(records, ids.reason, details)
    return _Run(ids.number, ids.reason, name, is_nameless, changes, country, evidence, written, rejected, records.recoded)


def _names(records: Records) -> tuple[pa.Array, Numbers]:
    """The cleaned name of each record, where it is missing the description, null where both are; and what was changed."""
    name, changes = _cleaned(records, schema.NAME)
    described, described_changes = _cleaned(records, DESCRIPTION)
    named = name.is_valid().to_numpy(zero_copy_only=False)
    return pc.coalesce(name, described), np.where(named, changes, described_changes).astype(np.uint8)


def _cleaned(records: Records, column: str) -> tuple[pa.Array, Numbers]:
    if column not in records.columns:
        return pa.nulls(records.count, pa.string()), np.zeros(records.count, dtype=np.uint8)
    encoded = coded(records.columns[column])
    texts, marks = clean_values(encoded.dictionary.to_pylist(), name_like=False)
    codes = encoded.indices.fill_null(len(texts)).to_numpy(zero_copy_only=False)
    cleaned = pa.array([*(text or None for text in texts), None], pa.string()).take(pa.array(codes))
    return cleaned, np.append(marks, np.uint8(0))[codes]


def _countries(records: Records) -> tuple[pa.Array, Numbers]:
    """The cleaned country cell of each record ("" where missing), and the country that it names (0: unknown)."""
    if schema.COUNTRY not in records.columns:
        return pa.array([""] * records.count, pa.string()), np.zeros(records.count, dtype=np.uint8)
    encoded = coded(records.columns[schema.COUNTRY])
    texts = encoded.dictionary.to_pylist()
    codes = encoded.indices.fill_null(len(texts)).to_numpy(zero_copy_only=False)
    found = np.array([*(countries.find(text) for text in texts), 0], dtype=np.uint8)
    cleaned, _ = clean_values(texts, name_like=True)
    return pa.array([*cleaned, ""], pa.string()).take(pa.array(codes)), found[codes]


def _rejected(records: Records, reason: Numbers, details: dict[int, str]) -> list[tuple[int, str, str, str]]:
    indices = np.flatnonzero((reason == Reason.UNREADABLE_ROW) | (reason == Reason.INVALID_ID))
    if not len(indices):
        return []
    return [
        (line, REASON_WORDS[Reason(int(reason[index]))], details.get(index, _BAD_NUMBER), raw)
        for index, (line, raw) in zip(indices.tolist(), records.origin(indices), strict=True)
    ]
