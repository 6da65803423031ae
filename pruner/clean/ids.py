"""The text of an id -> a number and what the system's standard says of it.

Receives an Arrow string array, hands on dense numbers. Addresses and ranges: `schema.SYSTEMS`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner import schema
from pruner.outcomes import Reason

_NUMBER: Final = re.compile(r"0*([0-9]{1,15})(?:\.0+)?", re.ASCII)
_SUFFIXED_FIRST, _SUFFIXED_LAST = 100_000_000, 999_999_999


@dataclass(frozen=True, slots=True)
class Ids:
    """`number`: uint32, 0 where there is none; `reason`: uint8 `Reason`, NONE for a station's address;
    `suffixed`: whether a two-digit device suffix was taken off."""

    number: npt.NDArray[np.uint32]
    reason: npt.NDArray[np.uint8]
    suffixed: npt.NDArray[np.bool_]


def parse_ids(text: pa.Array, system: schema.System) -> Ids:
    """Reads ids: digits, with white space, leading zeros or a `.0` behind them; null and anything else is invalid."""
    series = pl.Series(values=text) if not len(text) else pl.Series(pl.from_arrow(text))
    parsed = series.cast(pl.UInt32, strict=False)
    known = parsed.is_not_null().to_numpy()
    number = parsed.fill_null(0).to_numpy().astype(np.int64)
    plus = pc.starts_with(text, "+").fill_null(False).to_numpy(zero_copy_only=False)
    known = known & ~plus
    doubtful = np.flatnonzero(~known)
    number[doubtful] = _parse_one_by_one(text.take(pa.array(doubtful)))
    suffixed = np.zeros(len(number), dtype=bool)
    if system.name == "dmr":
        suffixed = (number >= _SUFFIXED_FIRST) & (number <= _SUFFIXED_LAST)
        if suffixed.any():
            number[suffixed] //= 100
    reason = np.zeros(len(number), dtype=np.uint8)
    reason[(number < system.first) | (number > system.last)] = Reason.RESERVED_ID
    invalid = (number < 0) | (number > system.highest)
    reason[invalid] = Reason.INVALID_ID
    number[invalid] = 0
    return Ids(number.astype(np.uint32), reason, suffixed)


def _parse_one_by_one(text: pa.Array) -> npt.NDArray[np.int64]:
    """Reads distinct texts that are no plain number; -1 for those that are no id."""
    encoded = text.dictionary_encode()
    values = np.fromiter((_parse(value) for value in encoded.dictionary.to_pylist()), dtype=np.int64)
    codes: npt.NDArray[np.int64] = encoded.indices.fill_null(len(values)).to_numpy(zero_copy_only=False)
    return np.append(values, -1)[codes]


def _parse(value: str) -> int:
    match = _NUMBER.fullmatch("".join(value.split()))
    return int(match[1]) if match else -1
