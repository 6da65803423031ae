"""Call signs -> countries, by the longest prefix in the table of call sign series.

Receives cleaned (upper-case) call signs as an Arrow array, hands on country numbers. The first four characters decide;
they index one table of 37^4 entries, so no prefix is searched for.
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


@cache
def _countries() -> npt.NDArray[np.uint8]:
    """Country number per first four characters, uint8[37 ** 4]; 0 in an index stands for the end or an odd character."""
    table = np.zeros((_BASE, _BASE, _BASE, _BASE), dtype=np.uint8)
    for first, last, country in rows("callsigns.tsv"):  # short prefixes stand before the longer ones they contain
        *stem, low = (_PLACE[character] for character in first)
        table[(*stem, slice(low, _PLACE[last[-1]] + 1))] = NUMBERS.get(country, 0)
    return table.reshape(-1)


@cache
def _pairs() -> npt.NDArray[np.intp]:
    """Index of two characters, read as one little-endian 16-bit word, in one half of the table's index."""
    place = np.zeros(256, dtype=np.intp)
    for character, number in _PLACE.items():
        place[ord(character)] = number
    return (place[np.newaxis, :] * _BASE + place[:, np.newaxis]).reshape(-1)


def country_of(callsign: str) -> int:
    """The country number of one call sign, 0 where no series is known."""
    return int(country_of_callsigns(pa.array([callsign], pa.string()))[0])


def country_of_callsigns(values: pa.StringArray) -> npt.NDArray[np.uint8]:
    """The country number of each call sign: uint8[len(values)], 0 for null, empty and unknown.

    `values` is a string or large_string array. ITU RR Appendix 42 with longer prefixes for territories.
    """
    result = np.zeros(len(values), dtype=np.uint8)
    if len(values) == 0:
        return result
    wide = pa.types.is_large_string(values.type)
    _, offset_buffer, text_buffer = values.buffers()
    offsets = np.frombuffer(offset_buffer, dtype=np.int64 if wide else np.int32)
    offsets = offsets[values.offset : values.offset + len(values) + 1]
    text = np.frombuffer(text_buffer or b"", dtype=np.uint8)
    for start in range(0, len(values), _PIECE):
        piece = offsets[start : start + _PIECE + 1]
        result[start : start + len(piece) - 1] = _of_piece(piece, text)
    if values.null_count:
        result[values.is_null().to_numpy(zero_copy_only=False)] = 0
    return result


def _of_piece(offsets: npt.NDArray[np.integer], text: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    begin = int(offsets[0])
    block = np.zeros(int(offsets[-1]) - begin + 4, dtype=np.uint8)
    block[:-4] = text[begin : int(offsets[-1])]
    # A 16-bit word begins at every byte: one look-up then reads two characters.
    words = block[:-1].astype(np.uint16) | (block[1:].astype(np.uint16) << 8)
    index = np.take(_pairs(), words)
    where = offsets[:-1].astype(np.intp) - begin
    quads = index[where] * (_BASE * _BASE) + index[where + 2]
    short = np.flatnonzero(offsets[1:] - offsets[:-1] < 4)
    if len(short):
        quads[short] = _short(block, where[short], (offsets[1:] - offsets[:-1])[short])
    return np.take(_countries(), quads)


def _short(
    block: npt.NDArray[np.uint8], where: npt.NDArray[np.intp], length: npt.NDArray[np.integer]
) -> npt.NDArray[np.intp]:
    """The table's index for texts of fewer than four bytes, whose neighbours in the buffer must not be read."""
    letters = block[where[:, np.newaxis] + np.arange(4)]
    letters[np.arange(4) >= length[:, np.newaxis]] = 0
    words = letters.view("<u2").astype(np.intp)
    return _pairs()[words[:, 0]] * (_BASE * _BASE) + _pairs()[words[:, 1]]
