"""The ledger: one line for every row that was read.

Receives narrow arrays, writes Parquet. Words are stored once per row group as dictionaries.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.words.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason, outcome_of

ROW_GROUP: Final = 1 << 18


@dataclass(frozen=True, slots=True)
class LedgerRows:
    """Arrays over the records of one source. `number` is null where `has_number` is False; `rule` indexes the rule names
    with 0 for none; `rank` 0 for none; `country` and `evidence` index the word lists with 0 for unknown."""

    source: str
    system: str
    number: npt.NDArray[np.uint32]
    has_number: npt.NDArray[np.bool_]
    callsign: pa.ChunkedArray
    country: npt.NDArray[np.uint8]
    evidence: npt.NDArray[np.uint8]
    reason: npt.NDArray[np.uint8]
    rule: npt.NDArray[np.uint8]
    rank: npt.NDArray[np.uint32]


def _words(words: Sequence[str], index: npt.NDArray[np.uint8]) -> pa.DictionaryArray:
    """Words by number; number 0 is null."""
    dictionary = pa.array(list(words[1:]) or [""], pa.string())
    return pa.DictionaryArray.from_arrays(pa.array(index - np.uint8(1), mask=index == 0), dictionary)


def _constant(word: str, count: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(pa.array(np.zeros(count, dtype=np.int8)), pa.array([word]))


_REASONS: Final = [REASON_WORDS.get(reason, "") for reason in Reason]
_OUTCOMES: Final = [""] + [OUTCOME_WORDS[outcome] for outcome in Outcome]
_OUTCOME_OF: Final = np.array([outcome_of(reason) + 1 for reason in Reason], dtype=np.uint8)


def _table(
    rows: LedgerRows,
    part: slice,
    countries: Sequence[str],
    evidence: Sequence[str],
    rules: Sequence[str],
    headings: tuple[str, str],
) -> pa.Table:
    reason = rows.reason[part]
    rank = rows.rank[part]
    count = len(reason)
    start = part.start or 0
    return pa.table(
        {
            "source": _constant(rows.source, count),
            "row": pa.array(np.arange(start + 1, start + 1 + count, dtype=np.uint32)),
            "system": _constant(rows.system, count),
            headings[0]: pa.array(rows.number[part], mask=~rows.has_number[part]),
            headings[1]: rows.callsign.slice(start, count),
            "country": _words(countries, rows.country[part]),
            "country_from": _words(evidence, rows.evidence[part]),
            "outcome": _words(_OUTCOMES, _OUTCOME_OF[reason]),
            "reason": _words(_REASONS, reason),
            "rule": _words(rules, rows.rule[part]),
            "rank": pa.array(rank, mask=rank == 0),
        }
    )


def _tables(
    sources: Sequence[LedgerRows],
    countries: Sequence[str],
    evidence: Sequence[str],
    rules: Sequence[str],
    headings: tuple[str, str],
) -> Iterator[pa.Table]:
    """One row group after the other; the next is made while one is written."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        waiting: Future[pa.Table] | None = None
        for rows in sources:
            for start in range(0, max(len(rows.number), 1), ROW_GROUP):
                made = pool.submit(_table, rows, slice(start, start + ROW_GROUP), countries, evidence, rules, headings)
                if waiting:
                    yield waiting.result()
                waiting = made
        if waiting:
            yield waiting.result()


def write_ledger(
    path: Path,
    sources: Sequence[LedgerRows],
    *,
    countries: Sequence[str],
    evidence: Sequence[str],
    rules: Sequence[str],
    headings: tuple[str, str] = ("id", "callsign"),
) -> None:
    """Writes the ledger: sources in the order of the settings, rows in the order of the file. The word lists begin with
    an entry for "none"; `headings` are those of the number and of the text beside it."""
    writer: parquet.ParquetWriter | None = None
    try:
        for table in _tables(sources, countries, evidence, rules, headings):
            if writer is None:
                writer = parquet.ParquetWriter(
                    path,
                    table.schema,
                    compression="lz4",
                    use_dictionary=[f.name for f in table.schema if pa.types.is_dictionary(f.type)],
                    column_encoding={
                        "row": "DELTA_BINARY_PACKED",
                        headings[0]: "PLAIN",
                        headings[1]: "DELTA_LENGTH_BYTE_ARRAY",
                        "rank": "PLAIN",
                    },
                    write_statistics=["row", headings[0]],
                    store_schema=False,
                )
            writer.write_table(table, row_group_size=ROW_GROUP)
    finally:
        if writer is not None:
            writer.close()
