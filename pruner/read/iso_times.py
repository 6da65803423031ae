"""Times of the form 2026-11-25T09:41:15 -> milliseconds, on arrays of bytes.

ISO 8601 as RFC 3339 profiles it, and more freely: `T` or a space (or `t`), seconds and their fraction may be missing (cut
after milliseconds), then `Z`, `UTC`, an offset or nothing. A second 60 is the first second after it, and is understood only
where leap seconds are: at the end of a day in UTC.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.date_texts import NO_ZONE
from pruner.read.local_times import from_zone
from pruner.words.days import DAY_MILLISECONDS

_TAIL: Final = re.compile(r"(?:[.,](\d+))? ?(Z|z|UTC|([+-])(\d\d)(?::?(\d\d))?)?", re.ASCII)
#: What stands between the digits, by place.
_BETWEEN: Final = {4: [ord("-")], 7: [ord("-")], 10: [ord("T"), ord("t"), ord(" ")], 13: [ord(":")]}
_SHORT, _LONG, _LONGEST = 16, 19, 80

Integers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]


def iso_times(text: pa.Array, zone: str) -> tuple[Integers, Marks]:
    """Milliseconds since 1970-01-01 UTC, and which texts (without white space around them) are times; those that name no zone
    are of `zone`."""
    text = text.cast(pa.binary()).fill_null(b"")
    starts = np.frombuffer(text.buffers()[1], dtype=np.int32)[text.offset : text.offset + len(text) + 1]
    length = np.diff(starts)
    data = np.frombuffer(text.buffers()[2] or b"", dtype=np.uint8)
    data = np.concatenate([data, np.zeros(_LONG, dtype=np.uint8)])
    letters = [data[starts[:-1] + place] for place in range(_LONG)]
    has_seconds = (length >= _LONG) & (letters[16] == ord(":"))
    # Without a stop, binary_slice of pyarrow 26 fails on some inputs ("Negative buffer resize").
    tails = pc.if_else(pa.array(has_seconds), pc.binary_slice(text, _LONG, _LONGEST), pc.binary_slice(text, _SHORT, _LONGEST))
    fraction, offset, has_fraction, is_time = _tails(tails)
    is_time &= (length >= _SHORT) & (length <= _LONGEST) & (has_seconds | ~has_fraction)
    for place, allowed in _BETWEEN.items():
        is_time &= np.isin(letters[place], allowed)

    def number(first: int, used: Marks) -> Integers:
        """Two digits as a number; marks what holds no digits."""
        nonlocal is_time
        tens, ones = letters[first] - np.uint8(48), letters[first + 1] - np.uint8(48)
        is_time &= ~used | ((tens <= 9) & (ones <= 9))
        return np.where(used, tens.astype(np.int64) * 10 + ones, 0)

    always = np.ones(len(text), dtype=bool)
    month, day, hour, minute = (number(first, always) for first in (5, 8, 11, 14))
    months = (number(0, always) * 100 + number(2, always)) * 12 + month - 1
    second = number(17, has_seconds)
    is_time &= (month >= 1) & (month <= 12) & (hour <= 23) & (minute <= 59) & (second <= 60)
    months = np.where(is_time, months, 0)
    first_day = _first_days()[months]
    is_time &= (day >= 1) & (day <= _first_days()[months + 1] - first_day)
    local = np.where(is_time, (((first_day + day - 1) * 24 + hour) * 60 + minute) * 60_000 + second * 1000, 0)
    is_local = is_time & (offset == NO_ZONE)
    time = np.where(is_local, local, local - offset)
    if zone != "UTC" and is_local.any():
        time[is_local] = from_zone(local[is_local], zone)
    is_time &= (second < 60) | (time % DAY_MILLISECONDS == 0)
    return np.where(is_time, time + fraction, 0), is_time


@cache
def _first_days() -> Integers:
    """The first day of each month from January of the year 0 on, counted from 1970-01-01."""
    months = np.arange(-1970 * 12, (10_000 - 1970) * 12 + 1).astype("datetime64[M]")
    return months.astype("datetime64[D]").astype(np.int64)


def _tails(tails: pa.Array) -> tuple[Integers, Integers, Marks, Marks]:
    """What follows the seconds: milliseconds, offset from UTC in milliseconds, whether there is a fraction, whether it is
    understood. Looked at once per distinct text."""
    cut = pc.replace_substring_regex(tails, rb"^([.,][0-9]{3})[0-9]+", rb"\1")
    encoded = cut.dictionary_encode()
    read = [_tail(value.decode("latin-1")) for value in encoded.dictionary.to_pylist()]
    table = np.array(read, dtype=np.int64).reshape(-1, 4)[encoded.indices.to_numpy(zero_copy_only=False)]
    return table[:, 0], table[:, 1], table[:, 2] > 0, table[:, 3] > 0


def _tail(value: str) -> tuple[int, int, int, int]:
    match = _TAIL.fullmatch(value)
    if not match:
        return 0, 0, 0, 0
    fraction, zone, sign, hours, minutes = match.groups()
    offset = 0 if zone else NO_ZONE
    if sign:
        if int(hours) > 23 or int(minutes or 0) > 59:
            return 0, 0, 0, 0
        offset = (int(hours) * 60 + int(minutes or 0)) * (-60_000 if sign == "-" else 60_000)
    return int((fraction or "0").ljust(3, "0")[:3]), offset, int(fraction is not None), 1
