"""The text of an id -> a number and what the system's standard says of it.

Receives an Arrow string array, hands on dense numbers. Addresses and ranges: `schema.SYSTEMS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.words import schema
from pruner.words.number import whole_number
from pruner.words.outcomes import Reason
from pruner.words.short_texts import WIDTH, words_of

#: By the length of a text of up to 8 digits: how far its word is shifted so that it ends with the text, and the zeros that
#: come in as its low bytes.
_SHIFT: Final = np.array([8 * (WIDTH - length) for length in range(WIDTH + 1)], dtype=np.uint64)
_ZEROS: Final = np.array([int.from_bytes(b"0" * (WIDTH - length), "little") for length in range(WIDTH + 1)], dtype=np.uint64)
#: Longer texts than those of the words, but no number that an integer of 64 bits does not hold.
_DIGITS: Final = "^[0-9]{1,15}$"
_SUFFIXED_FIRST, _SUFFIXED_LAST = 100_000_000, 999_999_999


@dataclass(frozen=True, slots=True)
class Ids:
    """`number`: uint32, 0 where there is none; `reason`: uint8 `Reason`, NONE for a station's address;
    `suffixed`: whether a two-digit device suffix was taken off."""

    number: npt.NDArray[np.uint32]
    reason: npt.NDArray[np.uint8]
    suffixed: npt.NDArray[np.bool_]


def parse_ids(text: pa.Array, system: schema.System) -> Ids:
    """Reads ids as `number.whole_number` does; null and anything else is invalid."""
    number = _parse_short(text)
    longer = np.flatnonzero(number < 0)
    if len(longer):
        number[longer] = _parse_longer(text.take(pa.array(longer)).fill_null(""))
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


def _parse_short(text: pa.StringArray) -> npt.NDArray[np.int64]:
    """Reads texts of 1 to 8 digits; -1 for all others.

    Digits are added up in pairs, fours and eights within one word (as in D. Lemire, "Quickly parsing eight digits", 2018; from
    memory).
    """
    number = np.empty(len(text), dtype=np.int64)
    for part, words, lengths in words_of(text):
        short = (lengths > 0) & (lengths <= WIDTH)
        digits = (words << _SHIFT.take(lengths, mode="clip")) | _ZEROS.take(lengths, mode="clip")
        high, low = np.uint64(0xF0F0F0F0F0F0F0F0), np.uint64(0x3030303030303030)
        short &= (digits & high) == low
        short &= ((digits + np.uint64(0x0606060606060606)) & high) == low
        digits &= np.uint64(0x0F0F0F0F0F0F0F0F)
        for step, keep in ((1, 0x00FF00FF00FF00FF), (2, 0x0000FFFF0000FFFF), (4, 0xFFFFFFFF)):
            digits = (digits * np.uint64(10**step) + (digits >> np.uint64(8 * step))) & np.uint64(keep)
        number[part] = np.where(short, digits.view(np.int64), -1)
    return number


def _parse_longer(text: pa.StringArray) -> npt.NDArray[np.int64]:
    """Reads any texts, none missing; -1 for those that are no id."""
    is_plain = pc.match_substring_regex(text, _DIGITS)
    plain = is_plain.to_numpy(zero_copy_only=False)
    number = np.empty(len(text), dtype=np.int64)
    number[plain] = text.filter(is_plain).cast(pa.int64()).to_numpy()
    number[~plain] = _parse_one_by_one(text.filter(pc.invert(is_plain)))
    return number


def _parse_one_by_one(text: pa.Array) -> npt.NDArray[np.int64]:
    """Reads distinct texts that are no plain number; -1 for those that are no id."""
    encoded = text.dictionary_encode()
    values = np.fromiter((whole_number(value) for value in encoded.dictionary.to_pylist()), dtype=np.int64)
    return values[encoded.indices.to_numpy()]
