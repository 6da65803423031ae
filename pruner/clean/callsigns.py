"""Call signs as written in a directory -> call signs as assigned.

Receives an Arrow string array, hands on another. Only values that do not have the ordinary form are touched; those that
have it not even in capitals, once per distinct value.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.reference.callsign import clean_callsign, is_ordinary
from pruner.words.short_texts import KEPT, WIDTH, words_of

Indices = npt.NDArray[np.int64]
#: What a character is, in two bits: nothing behind the end of the text, a letter, a digit, another character.
_END, _LETTER, _DIGIT, _OTHER = range(4)
#: No length of a text, nor what stands for that of a missing one.
_NO_ORDER: Final = np.iinfo(np.int32).min
_LETTERS: Final = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def clean_callsigns(text: pa.Array) -> tuple[pa.Array, npt.NDArray[np.bool_], Indices]:
    """The cleaned call signs ("" becomes null), which of them have an odd form, and the places of those that were changed."""
    odd = ~have_ordinary_form(text)
    others = np.flatnonzero(odd)
    if not len(others):
        return text, odd, others
    read = text.take(pa.array(others))
    cleaned = pc.ascii_upper(pc.ascii_trim_whitespace(read))
    rest = ~have_ordinary_form(cleaned)
    odd[others] = rest
    if rest.any():
        one_by_one, odd[others[rest]] = _cleaned_one_by_one(read.filter(pa.array(rest)).fill_null(""))
        cleaned = pc.replace_with_mask(cleaned, pa.array(rest), one_by_one)
    differs = pc.not_equal(cleaned.fill_null(""), read).fill_null(False)
    changed = others[differs.to_numpy(zero_copy_only=False)]
    if cleaned.equals(read):
        return text, odd, changed
    places = np.arange(len(text))
    places[others] = len(text) + np.arange(len(others))
    return pa.concat_arrays([text, cleaned]).take(pa.array(places)), odd, changed


def _cleaned_one_by_one(text: pa.StringArray) -> tuple[pa.StringArray, npt.NDArray[np.bool_]]:
    """What `clean_callsign` makes of each distinct text, and which of them have an odd form."""
    encoded = text.dictionary_encode()
    cleaned = [clean_callsign(value) for value in encoded.dictionary.to_pylist()]
    odd = np.array([not is_ordinary(value) for value in cleaned])
    assigned = pa.array([value or None for value in cleaned], pa.string())
    return assigned.take(encoded.indices), odd[encoded.indices.to_numpy()]


def have_ordinary_form(text: pa.StringArray) -> npt.NDArray[np.bool_]:
    """Which texts match `callsign.ORDINARY_FORM`: two look-ups in tables instead of a pattern. Missing ones do not."""
    ordinary = np.zeros(len(text), dtype=bool)
    for part, words, lengths in words_of(text):
        words &= KEPT.take(lengths, mode="clip")
        pairs = _pairs().take(words.view("<u2")).view("<u4")
        pairs |= pairs >> np.uint32(4)
        forms = (pairs & np.uint32(0xFF)) | ((pairs >> np.uint32(8)) & np.uint32(0xFF00))
        ordinary[part] = _lengths_of_forms().take(forms) == lengths
    return ordinary


@cache
def _pairs() -> npt.NDArray[np.uint8]:
    """What two characters are, four bits by their little-endian word."""
    kind = np.full(256, _OTHER, dtype=np.uint8)
    kind[0] = _END
    kind[list(_LETTERS)] = _LETTER
    kind[list(b"0123456789")] = _DIGIT
    return np.add.outer(4 * kind, kind, dtype=np.uint8).reshape(-1)


@cache
def _lengths_of_forms() -> npt.NDArray[np.int32]:
    """How long an ordinary call sign with letters and digits in an order is, `_NO_ORDER` where that is none.

    The index holds two bits for each of eight characters, the first character lowest.
    """
    table = np.full(1 << 2 * WIDTH, _NO_ORDER, dtype=np.int32)
    prefixes = ((_LETTER,), (_LETTER, _LETTER), (_LETTER, _DIGIT), (_DIGIT, _LETTER))
    for prefix, middle in product(prefixes, range(4)):
        for between in product((_LETTER, _DIGIT), repeat=middle):
            form = (*prefix, _DIGIT, *between, _LETTER)
            table[sum(kind << 2 * place for place, kind in enumerate(form))] = len(form)
    return table
