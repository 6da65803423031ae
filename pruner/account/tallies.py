"""What a page counts in a ledger: who was kept by country, and where the limit fell.

Receives the ledger as a Parquet file or as the rows that are about to be written, hands on counts and the few rows around the
limit. Of a file one run of rows at a time is in memory; texts are read only where a row is shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.account.ledger import LedgerRows
from pruner.reference import countries
from pruner.words.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason
from pruner.words.pieces import pieces

#: Reasons of rows that are contacts: every station once, with a legal id.
STATION_REASONS: Final = tuple(
    REASON_WORDS[reason]
    for reason in (Reason.LEFT_OUT, Reason.NO_RULE, Reason.DUPLICATE_CALLSIGN, Reason.RULE_FULL, Reason.OVER_LIMIT)
)
_REASONS: Final = {REASON_WORDS.get(reason, ""): int(reason) for reason in Reason}
_KEPT: Final = OUTCOME_WORDS[Outcome.KEPT]
_CODED: Final = ("country", "reason")
#: Columns of few words, which are read as codes.
_WORDS: Final = (*_CODED, "outcome", "rule", "system")
#: A source or row group, and a row in it.
_Where = tuple[int, int]
#: A rank, negative where the highest come first, and where its row stands.
_Ranked = tuple[int, _Where]


@dataclass(frozen=True, slots=True)
class CountryTally:
    """`code` is ISO 3166-1 alpha-2, "" for unknown; `stations` = `kept` + the stations in `dropped`, which counts by reason."""

    code: str
    kept: int
    dropped: dict[str, int]

    @property
    def stations(self) -> int:
        return self.kept + sum(self.dropped.get(reason, 0) for reason in STATION_REASONS)


@dataclass(frozen=True, slots=True)
class BorderRow:
    """One of the last that were kept or of the first that were over the limit."""

    rank: int
    kept: bool
    rule: str | None
    system: str
    number: int
    callsign: str | None
    code: str


@dataclass(slots=True)
class Tallies:
    """`by_country`: the countries that occur, most stations first, of equals by code; `border`: by rank."""

    by_country: list[CountryTally] = field(default_factory=list)
    border: list[BorderRow] = field(default_factory=list)


def tally(ledger: Path, around: int = 5) -> Tallies:
    """Counts a ledger. `around`: how many rows are shown on either side of the limit."""
    with parquet.ParquetFile(ledger, read_dictionary=list(_WORDS)) as file:
        counted = _Count(around)
        for group in range(file.num_row_groups):
            table = file.read_row_group(group, columns=[*_CODED, "rank"])
            country = _numbers(table["country"], countries.NUMBERS)
            counted.take((group, 0), country, _numbers(table["reason"], _REASONS), table["rank"].fill_null(0).to_numpy())
        border = _border(file, counted.edges())
    return Tallies(_by_country(counted.counts), border)


def tally_rows(ledger: Sequence[LedgerRows], rules: Sequence[str], around: int = 5) -> Tallies:
    """The same of rows that are about to be written; `rules` as `write_ledger` takes them."""
    counted = _Count(around)
    for source, rows in enumerate(ledger):
        for part in pieces(len(rows.reason)):
            counted.take((source, part.start), rows.country[part], rows.reason[part], rows.rank[part])
    border = [_border_row(ledger[source], row, rules) for source, row in counted.edges()]
    return Tallies(_by_country(counted.counts), border)


def _border_row(rows: LedgerRows, row: int, rules: Sequence[str]) -> BorderRow:
    return BorderRow(
        int(rows.rank[row]),
        rows.reason[row] == Reason.NONE,
        rules[rows.rule[row]] or None,
        rows.system,
        int(rows.number[row]),
        rows.callsign[row].as_py(),
        countries.CODES[rows.country[row]],
    )


def _numbers(column: pa.ChunkedArray, known: dict[str, int]) -> npt.NDArray[np.uint8]:
    """The number of each word; null and unknown words are 0."""
    parts = [np.zeros(0, dtype=np.uint8)]
    for chunk in column.chunks:
        words = [known.get(word, 0) for word in chunk.dictionary.to_pylist()]
        index = chunk.indices.fill_null(len(words)).to_numpy(zero_copy_only=False)
        parts.append(np.array([*words, 0], dtype=np.uint8)[index])
    return np.concatenate(parts)


class _Count:
    """Rows by country and reason, taken run by run, and where the last kept and the first over the limit stand."""

    def __init__(self, around: int) -> None:
        self.counts = np.zeros((len(countries.CODES), len(Reason)), dtype=np.int64)
        self._around = around
        self._kept: list[_Ranked] = []
        self._over: list[_Ranked] = []

    def take(
        self, where: _Where, country: npt.NDArray[np.uint8], reason: npt.NDArray[np.uint8], rank: npt.NDArray[np.uint32]
    ) -> None:
        """Counts one run of rows that begins at `where`."""
        both = country.astype(np.intp) * len(Reason) + reason
        counts = np.bincount(both, minlength=self.counts.size).reshape(self.counts.shape)
        counts[:, [Reason.UNREADABLE_ROW, Reason.INVALID_ID]] = 0
        self.counts += counts
        ranked = rank > 0
        self._kept = self._nearest(self._kept, where, rank, ranked & (reason == Reason.NONE), -1)
        self._over = self._nearest(self._over, where, rank, ranked & (reason == Reason.OVER_LIMIT), 1)

    def _nearest(
        self,
        known: list[_Ranked],
        where: _Where,
        rank: npt.NDArray[np.uint32],
        candidates: npt.NDArray[np.bool_],
        sign: int,
    ) -> list[_Ranked]:
        """The rows whose rank is closest to the limit: the highest (`sign` -1) or the lowest (1) of the known and these."""
        if len(known) == self._around:
            worst = known[-1][0] * sign
            candidates &= rank > worst if sign < 0 else rank < worst
        rows = np.flatnonzero(candidates)
        key = rank[rows].astype(np.int64) * sign
        if len(rows) > self._around:
            chosen = np.argpartition(key, self._around - 1)[: self._around]
            rows, key = rows[chosen], key[chosen]
        found = [(one, (where[0], where[1] + row)) for one, row in zip(key.tolist(), rows.tolist(), strict=True)]
        return sorted([*known, *found])[: self._around]

    def edges(self) -> list[_Where]:
        """Where they stand, by rank; none where nobody was over the limit."""
        if not self._over:
            return []
        return [where for _, where in sorted([(abs(key), where) for key, where in (*self._kept, *self._over)])]


def _border(file: parquet.ParquetFile, places: list[tuple[int, int]]) -> list[BorderRow]:
    columns = ["rank", "outcome", "rule", "system", "id", "callsign", "country"]
    rows: dict[tuple[int, int], BorderRow] = {}
    for group in sorted({group for group, _ in places}):
        own = [row for one, row in places if one == group]
        table = file.read_row_group(group, columns=columns).take(pa.array(own))
        for place, row in zip(own, table.to_pylist(), strict=True):
            rows[group, place] = BorderRow(
                row["rank"],
                row["outcome"] == _KEPT,
                row["rule"],
                row["system"],
                row["id"],
                row["callsign"],
                row["country"] or "",
            )
    return [rows[place] for place in places]


def _by_country(counts: npt.NDArray[np.int64]) -> list[CountryTally]:
    words = {number: word for word, number in _REASONS.items() if number}
    found = [
        CountryTally(
            countries.CODES[number],
            int(counts[number, 0]),
            {words[reason]: int(counts[number, reason]) for reason in sorted(words) if counts[number, reason]},
        )
        for number in np.flatnonzero(counts.sum(axis=1)).tolist()
    ]
    return sorted(found, key=lambda one: (-one.stations, one.code or "~"))
