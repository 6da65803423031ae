"""What a page counts in the ledger of a finished run: who was kept by country, and where the limit fell.

Receives the ledger as a Parquet file, hands on counts and the few rows around the limit. One run of rows at a time is in
memory; texts are read only where a row is shown.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.outcomes import OUTCOME_WORDS, REASON_WORDS, Outcome, Reason
from pruner.reference import countries

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
        counts = np.zeros((len(countries.CODES), len(Reason)), dtype=np.int64)
        edges = _Edges(around)
        for group in range(file.num_row_groups):
            table = file.read_row_group(group, columns=[*_CODED, "rank"])
            country = _numbers(table["country"], countries.NUMBERS)
            reason = _numbers(table["reason"], _REASONS)
            rejected = (reason == Reason.UNREADABLE_ROW) | (reason == Reason.INVALID_ID)
            counts += np.bincount((country * len(Reason) + reason)[~rejected], minlength=counts.size).reshape(counts.shape)
            edges.look(group, table["rank"], reason)
        border = _border(file, edges.found())
    return Tallies(_by_country(counts), border)


def _numbers(column: pa.ChunkedArray, known: dict[str, int]) -> npt.NDArray[np.uint16]:
    """The number of each word; null and unknown words are 0."""
    parts = [np.zeros(0, dtype=np.uint16)]
    for chunk in column.chunks:
        words = [known.get(word, 0) for word in chunk.dictionary.to_pylist()]
        index = chunk.indices.fill_null(len(words)).to_numpy(zero_copy_only=False)
        parts.append(np.array([*words, 0], dtype=np.uint16)[index])
    return np.concatenate(parts)


class _Edges:
    """The places (row group, row) of the last kept and the first over the limit."""

    def __init__(self, around: int) -> None:
        self._around = around
        self._kept: list[tuple[int, int, int]] = []
        self._over: list[tuple[int, int, int]] = []

    def look(self, group: int, column: pa.ChunkedArray, reason: npt.NDArray[np.uint16]) -> None:
        rank = column.fill_null(0).to_numpy()
        self._kept = self._first([*self._kept, *self._places(group, rank, np.flatnonzero((reason == 0) & (rank > 0)), -1)])
        over = np.flatnonzero((reason == Reason.OVER_LIMIT) & (rank > 0))
        self._over = self._first([*self._over, *self._places(group, rank, over, 1)])

    def _places(
        self, group: int, rank: npt.NDArray[np.uint32], rows: npt.NDArray[np.intp], sign: int
    ) -> list[tuple[int, int, int]]:
        key = rank[rows].astype(np.int64) * sign
        chosen = np.argpartition(key, self._around - 1)[: self._around] if len(rows) > self._around else np.arange(len(rows))
        return [(int(key[place]), group, int(rows[place])) for place in chosen]

    def _first(self, places: list[tuple[int, int, int]]) -> list[tuple[int, int, int]]:
        return sorted(places)[: self._around]

    def found(self) -> list[tuple[int, int]]:
        """Row group and row, by rank; none where nobody was over the limit."""
        if not self._over:
            return []
        return [(group, row) for _, group, row in sorted([(abs(k), g, r) for k, g, r in (*self._kept, *self._over)])]


def _border(file: parquet.ParquetFile, places: list[tuple[int, int]]) -> list[BorderRow]:
    columns = ["rank", "outcome", "rule", "system", "id", "callsign", "country"]
    rows: dict[tuple[int, int], dict[str, Any]] = {}
    for group in sorted({group for group, _ in places}):
        own = [row for one, row in places if one == group]
        table = file.read_row_group(group, columns=columns).take(pa.array(own))
        rows |= dict(zip([(group, row) for row in own], table.to_pylist(), strict=True))
    return [
        BorderRow(
            row["rank"],
            row["outcome"] == _KEPT,
            row["rule"],
            row["system"],
            row["id"],
            row["callsign"],
            row["country"] or "",
        )
        for row in (rows[place] for place in places)
    ]


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
