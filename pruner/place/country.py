"""Country of each record from its text, then its id, then its call sign.

Receives narrow arrays, hands on country numbers (`reference.countries`), what decided, and the disagreements.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.reference import callsigns, countries, numbering

#: What decided a country, by number; 0 stands for unknown.
EVIDENCE: Final = ("", "text", "id", "call sign")
UNKNOWN, TEXT, ID, CALLSIGN = range(4)

Numbers = npt.NDArray[np.uint8]

_find = lru_cache(maxsize=100_000)(countries.find)


@dataclass(slots=True)
class Placement:
    """`country` and `evidence`: uint8 per record, 0 where unknown; `disagreements`: pairs of evidence -> records."""

    country: Numbers
    evidence: Numbers
    disagreements: dict[str, int] = field(default_factory=dict)


def place(
    text: pa.DictionaryArray | None,
    number: npt.NDArray[np.uint32],
    callsign: pa.Array,
    station: npt.NDArray[np.bool_],
    system: str,
) -> Placement:
    """Places records; those that bear no station's address (`station` False) stay unknown and are not counted."""
    by_text = _from_text(text, len(number))
    by_id = country_of_ids(number) if system == "dmr" else np.zeros(len(number), dtype=np.uint8)
    by_callsign = callsigns.country_of_callsigns(callsign)
    for evidence in (by_text, by_id, by_callsign):
        evidence[~station] = 0
    country = np.where(by_text > 0, by_text, np.where(by_id > 0, by_id, by_callsign)).astype(np.uint8)
    decided = np.where(by_text > 0, TEXT, np.where(by_id > 0, ID, np.where(by_callsign > 0, CALLSIGN, UNKNOWN)))
    pairs = {
        "text against id": (by_text, by_id),
        "text against call sign": (by_text, by_callsign),
        "id against call sign": (by_id, by_callsign),
    }
    disagreements = {
        name: int(np.count_nonzero((one != other) & (one > 0) & (other > 0))) for name, (one, other) in pairs.items()
    }
    return Placement(country, decided.astype(np.uint8), disagreements)


def _from_text(text: pa.DictionaryArray | None, count: int) -> Numbers:
    if text is None:
        return np.zeros(count, dtype=np.uint8)
    found = np.fromiter((_find(value) for value in text.dictionary.to_pylist()), dtype=np.uint8)
    return np.append(found, np.uint8(0))[text.indices.fill_null(len(found)).to_numpy(zero_copy_only=False)]


def country_of_ids(number: npt.NDArray[np.uint32]) -> Numbers:
    """Country by the first three digits of ids with 6 or 7 digits (common practice, no source); 0 elsewhere."""
    code = np.where(number >= 1_000_000, number // 10_000, number // 1_000)
    code[(number < 100_000) | (number > 9_999_999)] = 0
    return numbering.country_of_code()[code]


def kinds(number: npt.NDArray[np.uint32], system: str) -> Numbers:
    """Kind of station (`schema.KINDS`) by the length of a dmr id (common practice, no source); else other."""
    if system != "dmr":
        return np.zeros(len(number), dtype=np.uint8)
    person = (number >= 1_000_000) & (number <= 9_999_999)
    repeater = (number >= 100_000) & (number <= 999_999)
    return np.multiply(person, 1, dtype=np.uint8) + np.multiply(repeater, 2, dtype=np.uint8)
