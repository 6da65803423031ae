"""The hour that a zone's clocks tell twice when they are set back: which of the two a row means.

Receives calls as they would be in the first of the two hours, in the order of their log, hands on how many seconds later they
were. A log that is sorted by time jumps once, where the second hour begins: that decides. Without that jump, or with more,
the first is meant (as PEP 495 has it for fold=0).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.calls import DAY_SECONDS
from pruner.read.local_times import is_fixed

#: Seconds by which the lines of a sorted log may be out of order.
_JITTER: Final = 60
#: A clock time and what names a zone behind it.
_ZONED: Final = r"\d:\d\d(?:[.,]\d+)? ?(?:[+-]\d\d|[B-OQ-Zb-oq-z][A-Za-z]*|A[B-LN-Z]|P[A-LN-Z])"

Integers = npt.NDArray[np.int64]


@cache
def _set_back(zone: str, day: int) -> tuple[int, int] | None:
    """When on a UTC day (from 1970-01-01) the clocks of a zone are set back, and by how many seconds."""
    place = ZoneInfo(zone)

    def offset(second: int) -> int:
        return round((datetime.fromtimestamp(second, UTC).astimezone(place).utcoffset() or timedelta()).total_seconds())

    low, high = day * DAY_SECONDS - 1, (day + 1) * DAY_SECONDS - 1
    before, after = offset(low), offset(high)
    if after >= before:
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if offset(middle) == before else (low, middle)
    return high, before - after


def double_hours(zone: str, first: int, last: int) -> list[tuple[int, int]]:
    """The doubled hours between two moments (seconds since 1970): end of the first of the two, and its length."""
    if is_fixed(zone):
        return []
    days = range(first // DAY_SECONDS, last // DAY_SECONDS + 2)
    return [found for found in (_set_back(zone, day) for day in days) if found is not None]


def in_double_hour(written: pa.Array | None, start: Integers, zone: str) -> npt.NDArray[np.bool_] | None:
    """Which rows (`start` as in the first hour) lie in a doubled hour and name no zone; None where none does."""
    if written is None or not len(start) or is_fixed(zone):
        return None
    kind = written.type.value_type if pa.types.is_dictionary(written.type) else written.type
    if not pa.types.is_string(kind) and not (pa.types.is_timestamp(kind) and kind.tz is None):
        return None
    is_double = np.zeros(len(start), dtype=bool)
    for end, length in double_hours(zone, int(start.min()), int(start.max())):
        is_double |= (start >= end - length) & (start < end)
    which = np.flatnonzero(is_double)
    if len(which) and pa.types.is_string(kind):
        text = written.take(pa.array(which)).cast(pa.string())
        has_clock = pc.match_substring(text, ":").fill_null(False)
        is_local = pc.and_not(has_clock, pc.match_substring_regex(text, _ZONED).fill_null(False))
        is_double[which] = is_local.to_numpy(zero_copy_only=False)
    return is_double if is_double.any() else None


def seconds_later(start: Integers, zone: str, *, is_ascending: bool) -> Integers:
    """For rows of one log in doubled hours, in its order: how many seconds after `start` each was (0 or an hour).
    `is_ascending`: the log has its oldest rows first."""
    later = np.zeros(len(start), dtype=np.int64)
    for end, length in double_hours(zone, int(start.min()), int(start.max())) if len(start) else ():
        inside = np.flatnonzero((start >= end - length) & (start < end))
        if not is_ascending:
            inside = inside[::-1]
        (jumps,) = np.nonzero(np.diff(start[inside]) < -_JITTER)
        if len(jumps) == 1:
            later[inside[jumps[0] + 1 :]] = length
    return later
