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
import pyarrow.compute as pc

from pruner.reference import callsigns, countries, names, numbering

#: What decided a country, by number; 0 stands for unknown.
EVIDENCE: Final = ("", "text", "id", "call sign")
UNKNOWN, TEXT, ID, CALLSIGN = range(4)

Numbers = npt.NDArray[np.uint8]

_find = lru_cache(maxsize=100_000)(countries.find)
_may_name_state = lru_cache(maxsize=100_000)(lambda text: bool(text) and names.may_name_state(text))
_is_nearly = lru_cache(maxsize=100_000)(countries.is_nearly)


@dataclass(slots=True)
class Placement:
    """`country` and `evidence`: uint8 per record, 0 where unknown; `disagreements`: pairs of evidence -> records;
    `forgiven`: records whose text names the country but for one wrong letter."""

    country: Numbers
    evidence: Numbers
    disagreements: dict[str, int] = field(default_factory=dict)
    forgiven: int = 0


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
    forgiven = _forgive(text, by_text, (by_id, by_callsign))
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
    return Placement(country, decided.astype(np.uint8), disagreements, forgiven)


def _from_text(text: pa.DictionaryArray | None, count: int) -> Numbers:
    if text is None:
        return np.zeros(count, dtype=np.uint8)
    found = np.fromiter((_find(value) for value in text.dictionary.to_pylist()), dtype=np.uint8)
    return np.append(found, np.uint8(0))[text.indices.fill_null(len(found)).to_numpy(zero_copy_only=False)]


def _forgive(text: pa.DictionaryArray | None, by_text: Numbers, evidence: tuple[Numbers, ...]) -> int:
    """Fills `by_text` where a text is a country's name but for one wrong letter and other evidence says that country.

    The evidence is asked in its order; the result is the number of records filled.
    """
    if text is None:
        return 0
    codes = text.indices.fill_null(-1).to_numpy(zero_copy_only=False).astype(np.int64)
    before = np.count_nonzero(by_text)
    for countries_of_rows in evidence:
        rows = np.flatnonzero((by_text == 0) & (codes >= 0) & (countries_of_rows > 0))
        if len(rows):
            pairs, inverse = np.unique(codes[rows] << 8 | countries_of_rows[rows], return_inverse=True)
            said = np.fromiter((_said(text, pair) for pair in pairs.tolist()), dtype=np.uint8, count=len(pairs))
            by_text[rows] = said[inverse.reshape(-1)]
    return int(np.count_nonzero(by_text) - before)


def _said(text: pa.DictionaryArray, pair: int) -> int:
    value, number = text.dictionary[pair >> 8].as_py(), pair & 0xFF
    return number if value and _is_nearly(value, number) else 0


def states(state: pa.Array | None, text: pa.DictionaryArray | None, country: Numbers) -> pa.Array | None:
    """The state column, filled where it is empty and the country cell names a state of the record's country.

    `state` and `text` are the columns as they were read (None: there is none), `country` the number of each record. The
    result is `state` itself where nothing is filled.
    """
    values = text.dictionary.to_pylist() if text is not None else []
    may = np.array([*map(_may_name_state, values), False])
    if text is None or not may.any():
        return state
    codes = text.indices.fill_null(len(values)).to_numpy(zero_copy_only=False).astype(np.int64)
    rows = np.flatnonzero(may[codes] & (country > 0))
    pairs, inverse = np.unique(codes[rows] << 8 | country[rows], return_inverse=True)
    words = [names.state_in(values[pair >> 8], countries.CODES[pair & 0xFF]) or None for pair in pairs.tolist()]
    if not any(words):
        return state
    plain = pa.nulls(len(codes), pa.string()) if state is None else state.cast(pa.string())
    missing = pc.equal(pc.utf8_trim_whitespace(plain.fill_null("")), "").to_numpy(zero_copy_only=False)
    filled = pa.array(words, pa.string()).take(pa.array(inverse.reshape(-1)[missing[rows]]))
    mask = np.zeros(len(codes), dtype=bool)
    mask[rows[missing[rows]]] = True
    return pc.replace_with_mask(plain, pa.array(mask), filled).dictionary_encode()


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
