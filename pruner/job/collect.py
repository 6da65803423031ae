"""Records of one source -> narrow columns: the work done on each run of records while the file is being read.

Receives Records, hands on numbers, cleaned call signs, places and rejected rows. Text columns stay as they were read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.account.rejected import RejectedRow
from pruner.clean.callsigns import clean_callsigns
from pruner.clean.ids import Ids, parse_ids
from pruner.place.country import Placement, place, states
from pruner.read.directory import read_directory
from pruner.read.entry_kinds import is_group
from pruner.read.forms import several_ids
from pruner.read.kinds import STATIONS
from pruner.read.open_table import Answers
from pruner.read.records import Records, rows_where
from pruner.read.system_words import is_of_another
from pruner.table.kinds import ENTRY_KIND, ENTRY_SYSTEM, Kind
from pruner.table.opened import Held
from pruner.table.understanding import Understanding
from pruner.words import schema
from pruner.words.errors import NoRowsError
from pruner.words.outcomes import NO_ROWS, REASON_WORDS, Reason
from pruner.words.threads import Pool

_NAMES = (schema.NAME, schema.FIRST_NAME, schema.LAST_NAME)
NAMES_NOBODY = "neither a call sign nor a name"
#: Of the records of longer files only few are kept: of their text only the country, which is needed at once, is coded while it
#: is read.
_LONG_FILE = 64 << 20
_BAD_ID = "the id is not a whole number in the range of the system"


@dataclass(slots=True)
class Run:
    """One run of records after cleaning and placing; arrays have one entry per record."""

    number: npt.NDArray[np.uint32]
    reason: npt.NDArray[np.uint8]
    suffixed: npt.NDArray[np.bool_]
    callsign: pa.Array
    country: npt.NDArray[np.uint8]
    evidence: npt.NDArray[np.uint8]
    texts: dict[str, pa.Array]
    rejected: list[tuple[int, str, str, str]]
    counts: Counter[str]


@dataclass(slots=True)
class SourceRows:
    """All records of one source. `texts` holds one array per run and column, of strings with or without one code per distinct
    string; `starts` where each run begins."""

    name: str
    system: str
    number: npt.NDArray[np.uint32]
    reason: npt.NDArray[np.uint8]
    suffixed: npt.NDArray[np.bool_]
    callsign: pa.ChunkedArray
    country: npt.NDArray[np.uint8]
    evidence: npt.NDArray[np.uint8]
    texts: list[dict[str, pa.Array]]
    starts: npt.NDArray[np.int64]
    rejected: list[RejectedRow]
    counts: Counter[str]
    understandings: list[Understanding]

    @property
    def station(self) -> npt.NDArray[np.bool_]:
        """Which records bear a station's address and can be read."""
        return self.reason == Reason.NONE.value

    @property
    def understanding(self) -> Understanding:
        """What was understood of the first file that has rows."""
        return next(one for one in self.understandings if not one.nothing)


def with_one_id_each(records: Records, system: schema.System) -> tuple[Records, Ids]:
    """Records with one for each id where rows hold several, and their ids."""
    ids = parse_ids(records.columns[schema.ID], system)
    several = several_ids(records, np.flatnonzero(ids.reason == Reason.INVALID_ID), system)
    return (records, ids) if several is None else with_one_id_each(several, system)


def work_on(read: Records, system: schema.System) -> Run:
    """Cleans ids and call signs of a run, marks what cannot be used and places the rest."""
    counts: Counter[str] = Counter()
    records, ids = with_one_id_each(read, system)
    counts["records out of cells with several ids, each with the call sign and names of its row"] += records.count - read.count
    callsign = records.columns.get(schema.CALLSIGN)
    if callsign is None:
        callsign = pa.nulls(records.count, pa.string())
    callsign, odd, tidied = clean_callsigns(callsign)
    details = _mark_unreadable(records, callsign, ids.reason)
    groups = rows_where(records, ENTRY_KIND, is_group)
    if groups is not None:
        ids.reason[groups & np.isin(ids.reason, (Reason.NONE, Reason.RESERVED_ID))] = Reason.NO_STATION
    others = rows_where(records, ENTRY_SYSTEM, partial(is_of_another, system=system.name))
    if others is not None:
        ids.reason[others & np.isin(ids.reason, (Reason.NONE, Reason.RESERVED_ID, Reason.NO_STATION))] = Reason.OTHER_SYSTEM
    station = ids.reason == Reason.NONE
    counts["call signs tidied"] += int(np.count_nonzero(station[tidied]))
    counts["device suffixes taken off ids"] += int(np.count_nonzero(ids.suffixed & station))
    present = callsign.is_valid().to_numpy(zero_copy_only=False)
    counts["odd call signs, kept"] += int(np.count_nonzero(odd & station & present))
    counts["lines that were not UTF-8"] += records.recoded
    for word, lines in records.aside.items():
        counts[f"{word}{NO_ROWS}"] += lines
    placement: Placement = place(records.columns.get(schema.COUNTRY), ids.number, callsign, station, system.name)
    for pair, number in placement.disagreements.items():
        counts[f"disagreement: {pair}"] += number
    if placement.forgiven:
        counts["country names with one wrong letter, forgiven"] += placement.forgiven
    texts: dict[str, pa.Array] = {name: records.columns[name] for name in schema.REPEATED_TEXT if name in records.columns}
    state = states(texts.get(schema.STATE), records.columns.get(schema.COUNTRY), placement.country)
    if state is not None:
        texts[schema.STATE] = state
    return Run(
        ids.number,
        ids.reason,
        ids.suffixed,
        callsign,
        placement.country,
        placement.evidence,
        texts,
        _rejected(records, ids.reason, details),
        counts,
    )


def _mark_unreadable(records: Records, callsign: pa.Array, reason: npt.NDArray[np.uint8]) -> dict[int, str]:
    details = dict(records.unreadable)
    nameless = np.flatnonzero(callsign.is_null().to_numpy(zero_copy_only=False))
    if len(nameless):
        named = np.zeros(len(nameless), dtype=bool)
        for column in _NAMES:
            if column in records.columns:
                texts = records.columns[column].take(pa.array(nameless)).to_pylist()
                named |= np.array([bool(text and text.strip()) for text in texts], dtype=bool)
        for index in nameless[~named].tolist():
            details.setdefault(index, NAMES_NOBODY)
    reason[np.fromiter(details, dtype=np.int64, count=len(details))] = Reason.UNREADABLE_ROW
    return details


def _rejected(records: Records, reason: npt.NDArray[np.uint8], details: dict[int, str]) -> list[tuple[int, str, str, str]]:
    indices = np.flatnonzero((reason == Reason.UNREADABLE_ROW) | (reason == Reason.INVALID_ID))
    if not len(indices):
        return []
    return [
        (line, REASON_WORDS[Reason(int(reason[index]))], details.get(index, _BAD_ID), raw)
        for index, (line, raw) in zip(indices.tolist(), records.origin(indices), strict=True)
    ]


def collect(
    name: str,
    system: schema.System,
    paths: Sequence[Path | Held],
    pool: Pool,
    *,
    columns: Answers | None = None,
    kind: Kind = STATIONS,
    encoding: str | None = None,
    told: Callable[[int, float], None] | None = None,
) -> SourceRows:
    """Reads all files of a source, or tables that are in memory; `told` hears of rows and of the share of the bytes taken so
    far. Of several files some may be empty, or hold headings alone: `understandings` say so.

    Raises InputRefusedError or SourceMissingError with one line.
    """
    runs: list[Run] = []
    rejected: list[RejectedRow] = []
    understandings: list[Understanding] = []
    whole = sum(path.stat().st_size for path in paths if isinstance(path, Path) and path.is_file()) or 1
    coded = schema.REPEATED_TEXT if whole <= _LONG_FILE else (schema.COUNTRY,)
    before = rows = taken = 0

    def reached(position: int) -> None:
        nonlocal taken
        taken = before + position

    empty: NoRowsError | None = None
    for file, path in enumerate(paths):
        results = read_directory(
            path,
            lambda records: work_on(records, system),
            pool,
            kind=kind,
            system=system.name,
            columns=columns,
            encoding=encoding,
            coded=coded,
            reached=reached,
            understood=understandings.append,
        )
        try:
            for line, run in results:
                runs.append(run)
                rows += len(run.number)
                if told is not None:
                    told(rows, min(taken / whole, 1.0))
                rejected.extend(RejectedRow(name, line + own, *rest) for own, *rest in run.rejected)
        except NoRowsError as error:
            empty = empty or error
            nothing = str(error).removeprefix(f"{path}: ").partition(";")[0]
            understandings[file:] = [Understanding(str(path), "", (), (), False, nothing=nothing)]
        before = taken
    if empty is not None and not rows:
        raise empty
    counts: Counter[str] = Counter()
    for run in runs:
        counts.update(run.counts)
    number = _joined([run.number for run in runs], np.uint32)
    return SourceRows(
        name,
        system.name,
        number,
        _joined([run.reason for run in runs], np.uint8),
        _joined([run.suffixed for run in runs], np.bool_),
        pa.chunked_array([run.callsign for run in runs], pa.string()),
        _joined([run.country for run in runs], np.uint8),
        _joined([run.evidence for run in runs], np.uint8),
        [run.texts for run in runs],
        np.cumsum([0] + [len(run.number) for run in runs]),
        rejected,
        counts,
        understandings,
    )


def _joined(arrays: list[npt.NDArray], dtype: type) -> npt.NDArray:  # type: ignore[type-arg]
    return np.concatenate(arrays) if arrays else np.zeros(0, dtype=dtype)
