"""Rows that tell ends of calls, and not who called or on which talkgroup -> the same with what their starts tell.

Receives the columns of consecutive records, hands on columns. One transmission at a time goes on a channel: an end belongs to
the start before it in the order of the log, among the rows of its caller or talkgroup where it names one of them. Where another
start stands between, nobody can say to which of them it belongs, and the end stays as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.event_words import END_EVENT, START_EVENT
from pruner.read.heard_meanings import EVENT, TALKGROUP, TIME
from pruner.read.heard_times import LATEST, moments
from pruner.words import schema

Marks = npt.NDArray[np.bool_]
Integers = npt.NDArray[np.int64]
_NOBODY: Final = -1


def with_whole_ends(columns: dict[str, pa.Array]) -> None:
    """Puts the callers and talkgroups of starts into the ends that lack them."""
    callers = [columns[name] for name in (schema.ID, schema.CALLSIGN) if name in columns]
    if EVENT not in columns or TALKGROUP not in columns or not callers:
        return
    is_end, is_start = (_marks(pc.equal(columns[EVENT], event)) for event in (END_EVENT, START_EVENT))
    has_caller = np.logical_or.reduce([_is_filled(one) for one in callers])
    has_group = _is_filled(columns[TALKGROUP])
    is_whole = is_start & has_caller & has_group
    lacking = is_end & ~(has_caller & has_group)
    if not lacking.any() or not is_whole.any():
        return
    order = np.flatnonzero(is_end | is_start)
    if _is_newest_first(columns.get(TIME), order):
        order = order[::-1]
    start = np.full(len(is_end), _NOBODY, dtype=np.int64)
    caller, group = _codes(callers), _codes([columns[TALKGROUP]])
    everybody = np.zeros(len(is_end), dtype=np.int64)
    for named, codes in (
        (has_caller & ~has_group, caller),
        (has_group & ~has_caller, group),
        (~has_group & ~has_caller, everybody),
    ):
        wanted = lacking & named
        if wanted.any():
            found = _starts_before(order, codes, is_whole, is_end)
            start[wanted] = found[wanted]
    rows = np.where(start >= 0, start, np.arange(len(start)))
    for name in (schema.ID, schema.CALLSIGN, TALKGROUP):
        if name in columns:
            values = columns[name].dictionary_decode() if pa.types.is_dictionary(columns[name].type) else columns[name]
            columns[name] = values.take(pa.array(rows))


def _starts_before(order: Integers, codes: Integers, is_start: Marks, is_end: Marks) -> Integers:
    """For each row the start right before it among the events of its code, where no other call is open then; else -1."""
    found = np.full(len(codes), _NOBODY, dtype=np.int64)
    sorted_ = order[np.argsort(codes[order], kind="stable")]
    before, second = (np.concatenate([np.full(step, _NOBODY), sorted_[:-step]]) for step in (1, 2))
    same, again = (codes[one] == codes[sorted_] for one in (before, second))
    same[:1], again[:2] = False, False
    is_alone = same & is_start[before] & (~again | is_end[second])
    found[sorted_[is_alone]] = before[is_alone]
    return found


def _codes(columns: Sequence[pa.Array]) -> Integers:
    """A number for each different text of a row, of several columns the first that is filled."""
    texts = [pc.if_else(pa.array(_is_filled(one)), _trimmed(one), None) for one in columns]
    encoded = pc.coalesce(*texts).dictionary_encode()
    return np.asarray(encoded.indices.fill_null(_NOBODY).to_numpy(zero_copy_only=False), dtype=np.int64)


def _trimmed(column: pa.Array) -> pa.Array:
    return pc.utf8_trim_whitespace(column.cast(pa.string()))


def _is_filled(column: pa.Array) -> Marks:
    return _marks(pc.not_equal(_trimmed(column), ""))


def _marks(values: pa.Array) -> Marks:
    return np.asarray(values.fill_null(False).to_numpy(zero_copy_only=False), dtype=bool)


def _is_newest_first(times: pa.Array | None, order: Integers) -> bool:
    if times is None:
        return False
    first, last = moments([str(times[int(place)].as_py()) for place in (order[0], order[-1])], LATEST)
    return first is not None and last is not None and first > last
