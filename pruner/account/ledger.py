"""The ledger: one line for every row that was read.

Receives narrow arrays, writes Parquet. Words are stored once per row group as dictionaries.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.words.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason, outcome_of
from pruner.words.threads import Future, Pool, Work

ROW_GROUP: Final = 1 << 18


#: What the columns hold, as their descriptions in the file say; of the number and the text beside it, by its heading.
DESCRIPTIONS: Final = {
    "source": "name of the source in the settings; for carried entries that of the radio's export",
    "row": "number of the record in its source, from 1; headings, titles and comments have none",
    "system": "dmr, nxdn or p25",
    "id": "the id as it was read, null where it could not be; a device suffix is taken off",
    "callsign": "the cleaned call sign, null where there is none",
    "number": "the number of the talkgroup, null where it could not be read",
    "name": "the name of the talkgroup",
    "country": "ISO 3166-1 alpha-2 code, null where unknown",
    "country_from": "what decided the country: text, id or call sign",
    "outcome": "kept, dropped or rejected",
    "reason": "why a row was not kept, null for kept rows",
    "rule": "the rule that decided: it owns the contact, or left it out",
    "calls": "calls in the window of the heard logs, on all talkgroups; only where there are logs",
    "calls_on_mine": "the same on the user's own talkgroups, null where the settings name none",
    "expected": "calls to expect in the next period, null where the order of the rule does not ask for them",
    "expected_from": "what they are taken from: own calls, or stations like it",
    "rank": "place in the radio, from 1, of rows that a rule took; those above the limit are over it",
}


@dataclass(frozen=True, slots=True)
class LedgerCalls:
    """What the logs say of the rows of one source: `calls` and `on_mine` (uint32, None: no talkgroups are named), `expected`
    (float32, NaN for none) and whether that comes from its own calls (`by_own`)."""

    calls: npt.NDArray[np.uint32]
    on_mine: npt.NDArray[np.uint32] | None
    expected: npt.NDArray[np.float32]
    by_own: npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class LedgerRows:
    """Arrays over the records of one source. `number` is null where `has_number` is False; `rule` indexes the rule names
    with 0 for none; `rank` 0 for none; `country` and `evidence` index the word lists with 0 for unknown; `heard`: None without
    heard logs, for all sources alike."""

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
    heard: LedgerCalls | None = None


def _words(words: Sequence[str], index: npt.NDArray[np.uint8]) -> pa.DictionaryArray:
    """Words by number; number 0 is null."""
    dictionary = pa.array(list(words[1:]) or [""], pa.string())
    return pa.DictionaryArray.from_arrays(pa.array(index - np.uint8(1), mask=index == 0), dictionary)


def _constant(word: str, count: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(pa.array(np.zeros(count, dtype=np.int8)), pa.array([word]))


_EXPECTED_FROM: Final = ("", "own calls", "stations like it")
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
            **({} if rows.heard is None else _heard(rows.heard, part)),
        }
    )


def _heard(heard: LedgerCalls, part: slice) -> dict[str, pa.Array]:
    expected = heard.expected[part]
    count, none = len(expected), np.isnan(expected)
    by = np.where(none, 0, np.where(heard.by_own[part], 1, 2)).astype(np.uint8)
    return {
        "calls": pa.array(heard.calls[part]),
        "calls_on_mine": pa.nulls(count, pa.uint32()) if heard.on_mine is None else pa.array(heard.on_mine[part]),
        "expected": pa.array(expected, mask=none),
        "expected_from": _words(_EXPECTED_FROM, by),
    }


def _tables(
    sources: Sequence[LedgerRows],
    countries: Sequence[str],
    evidence: Sequence[str],
    rules: Sequence[str],
    headings: tuple[str, str],
) -> Iterator[pa.Table]:
    """One row group after the other; the next is made while one is written."""
    with Pool(Work.LEDGER) as pool:
        waiting: Future[pa.Table] | None = None
        for rows in sources:
            for start in range(0, max(len(rows.number), 1), ROW_GROUP):
                made = pool.submit(_table, rows, slice(start, start + ROW_GROUP), countries, evidence, rules, headings)
                if waiting:
                    yield waiting.result()
                waiting = made
        if waiting:
            yield waiting.result()


def _described(schema: pa.Schema) -> str:
    """The schema that readers of Arrow find in the file: words as plain text, each column with its description."""
    fields = []
    for field in schema:
        plain = field.type.value_type if pa.types.is_dictionary(field.type) else field.type
        said = {"description": DESCRIPTIONS[field.name]} if field.name in DESCRIPTIONS else None
        fields.append(pa.field(field.name, plain, metadata=said))
    return base64.b64encode(pa.schema(fields).serialize().to_pybytes()).decode()


def ledger_table(
    sources: Sequence[LedgerRows], *, countries: Sequence[str], evidence: Sequence[str], rules: Sequence[str]
) -> pa.Table:
    """The same in memory, words once for each distinct word."""
    return pa.concat_tables(_tables(sources, countries, evidence, rules, ("id", "callsign"))).unify_dictionaries()


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
            writer.add_key_value_metadata({"ARROW:schema": _described(table.schema)})
            writer.close()
