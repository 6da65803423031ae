"""Call signs -> countries, by the longest prefix in the table of call sign series.

Receives cleaned (upper-case) call signs as an Arrow array, hands on country numbers. The first four
characters decide; they index one table of 37^4 entries, so no prefix is searched for.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.reference.countries import NUMBERS
from pruner.reference.tables import rows

_CHARACTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
_PLACE: Final = {character: place for place, character in enumerate(_CHARACTERS, start=1)}
_BASE: Final = len(_CHARACTERS) + 1
_PIECE: Final = 1 << 16
#: The bits of a little-endian 32-bit word that hold a text of 0, 1, 2 or 3 bytes.
_KEEP: Final = np.array([0, 0xFF, 0xFFFF, 0xFFFFFF], dtype="<u4")


@cache
def _countries() -> npt.NDArray[np.uint8]:
    """Country number per first four characters: uint8[37 ** 4].

    In an index 0 stands for the end of the text or a character that no call sign has.
    """
    table = np.zeros((_BASE, _BASE, _BASE, _BASE), dtype=np.uint8)
    for first, last, country in rows("callsigns.tsv"):  # short prefixes stand before longer ones
        stem = tuple(_PLACE[character] for character in first[:-1])
        table[stem][_PLACE[first[-1]] : _PLACE[last[-1]] + 1] = NUMBERS[country]
    return table.reshape(-1)


@cache
def _halves() -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    """What two characters, as one little-endian word, add to the index: as the first, as the last two."""
    place = np.zeros(256, dtype=np.int32)
    for character, number in _PLACE.items():
        place[ord(character)] = number
    pairs = (place[np.newaxis, :] * _BASE + place[:, np.newaxis]).reshape(-1)
    return pairs * (_BASE * _BASE), pairs


def country_of(callsign: str) -> int:
    """The country number of one call sign, 0 where no series is known."""
    index = 0
    for place in range(4):
        index = index * _BASE + _PLACE.get(callsign[place : place + 1], 0)
    return int(_countries()[index])


def country_of_callsigns(values: pa.StringArray) -> npt.NDArray[np.uint8]:
    """The country number of each call sign: uint8[len(values)], 0 for null, empty and unknown.

    `values` is a string or large_string array. ITU RR Appendix 42 with longer prefixes for territories.
    """
    result = np.zeros(len(values), dtype=np.uint8)
    if len(values) == 0:
        return result
    wide = pa.types.is_large_string(values.type)
    _, offset_buffer, text_buffer = values.buffers()
    offsets: npt.NDArray[np.integer] = np.frombuffer(offset_buffer, dtype=np.int64 if wide else np.int32)
    offsets = offsets[values.offset : values.offset + len(values) + 1]
    text = np.frombuffer(text_buffer or b"", dtype=np.uint8)
    for start in range(0, len(values), _PIECE):
        piece = offsets[start : start + _PIECE + 1]
        result[start : start + len(piece) - 1] = _of_piece(piece, text)
    if values.null_count:
        result[values.is_null().to_numpy(zero_copy_only=False)] = 0
    return result


def _of_piece(offsets: npt.NDArray[np.integer], text: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    begin, end = int(offsets[0]), int(offsets[-1])
    block = np.zeros(end - begin + 4, dtype=np.uint8)
    block[:-4] = text[begin:end]
    # A 32-bit word begins at every byte: one look-up reads four characters.
    every_word: npt.NDArray[np.uint32] = np.ndarray((len(block) - 3,), "<u4", block, 0, (1,))
    words = every_word[offsets[:-1] - begin]
    length = offsets[1:] - offsets[:-1]
    short = np.flatnonzero(length < 4)
    if len(short):  # what follows belongs to the next text
        words[short] &= _KEEP[length[short]]
    pairs = words.view("<u2").astype(np.intp)
    first, last = _halves()
    index = first.take(pairs[::2])
    index += last.take(pairs[1::2])
    found: npt.NDArray[np.uint8] = _countries().take(index)
    return found
