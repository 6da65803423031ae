"""Calls of one day as 64-bit words that sort as the store does: id, talkgroup, second, sort, duration.

26 bits tell id and talkgroup: the lower bits of the id and the place of the talkgroup in a sorted table. Below them lie 17 bits
of the second, 2 of the sort and 19 of the duration, so that of equal calls the longest comes last.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.calls import EXACT_MILLISECONDS, Sort

_DURATION_BITS: Final = 19
_SORT_BITS: Final = 2
_SECOND_BITS: Final = 17
_REST_BITS: Final = _DURATION_BITS + _SORT_BITS + _SECOND_BITS
PAIR_BITS: Final = 64 - _REST_BITS
#: Ids that differ only in these lower bits lie in one slice; a table of talkgroups leaves room for them.
SLICE_BITS: Final = 12
MOST_TALKGROUPS: Final = 1 << PAIR_BITS - SLICE_BITS
#: Durations above the exact ones are told in half seconds, which go on where milliseconds end.
_HALF: Final = 500
_AHEAD: Final = EXACT_MILLISECONDS - EXACT_MILLISECONDS // _HALF

Words = npt.NDArray[np.uint64]
Numbers = npt.NDArray[np.uint32]


def _mask(bits: int) -> np.uint64:
    return np.uint64((1 << bits) - 1)


def bits_for(talkgroups: int) -> int:
    """Bits of a place in a table of so many talkgroups."""
    return max(talkgroups - 1, 1).bit_length()


def rest_of(second: npt.NDArray[np.integer], sort: npt.NDArray[np.uint8] | None, milliseconds: Numbers) -> Words:
    """The lower bits of words: second of the day, sort, milliseconds (as `kept_milliseconds` gives them)."""
    rest = second.astype(np.uint64)
    rest <<= np.uint64(_SORT_BITS)
    if sort is not None:
        rest |= sort
    rest <<= np.uint64(_DURATION_BITS)
    rest |= np.minimum(milliseconds, milliseconds // np.uint32(_HALF) + np.uint32(_AHEAD))
    return rest


def with_pairs(rest: Words, pair: Words) -> Words:
    """Words of lower bits and what tells id and talkgroup; `pair` is used up."""
    pair <<= np.uint64(_REST_BITS)
    pair |= rest
    return pair


def pairs(words: Words) -> Words:
    """What tells id and talkgroup."""
    return words >> np.uint64(_REST_BITS)


def rests(words: Words) -> Words:
    """The lower bits."""
    return words & _mask(_REST_BITS)


def unpacked_rest(words: Words) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.uint8], Numbers]:
    """Second of the day (int64), sort and milliseconds of each word."""
    duration = (words & _mask(_DURATION_BITS)).astype(np.uint32)
    halves = np.maximum(duration, np.uint32(_AHEAD)) - np.uint32(_AHEAD)
    duration = np.maximum(duration, halves * np.uint32(_HALF))
    sort = (words >> np.uint64(_DURATION_BITS) & _mask(_SORT_BITS)).astype(np.uint8)
    second = (words >> np.uint64(_DURATION_BITS + _SORT_BITS) & _mask(_SECOND_BITS)).astype(np.int64)
    return second, sort, duration


def distinct(words: Words) -> Words:
    """Of sorted words, one for each call: the longest of equal ones, or each duration where that tells calls apart."""
    if len(words) < 2:
        return words
    is_last = np.ones(len(words), dtype=bool)
    key = words >> np.uint64(_DURATION_BITS)
    np.not_equal(key[1:], key[:-1], out=is_last[:-1])
    twice = np.flatnonzero(~is_last)
    if not len(twice):
        return words
    second, sort, _ = unpacked_rest(words[twice])
    own = twice[(sort == Sort.MINUTE) | ((sort == Sort.CALL) & (second % 60 == 0))]
    is_last[own] = words[own] != words[own + 1]
    return words[is_last]
