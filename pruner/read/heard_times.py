"""Times and seconds on air as logs write them -> whole milliseconds.

Receives Arrow arrays of text, numbers or timestamps, hands on arrays and which entries could be read.

ISO 8601 as RFC 3339 profiles it, and more freely: `T` or a space (or `t`), seconds and their fraction may be missing (cut
after milliseconds), then `Z`, `UTC`, an offset or nothing. A second 60 is the first second after it, and is understood only
where leap seconds are: at the end of a day in UTC. A number is seconds since 1970-01-01 UTC below 10^11 (year 5138), and
milliseconds from there on (10^11 ms is in March 1973, before any log).

A time that names no zone is one of the stated zone. Where clocks were set back and it came twice, the first is meant; where
they were set forward and it never came, the offset before the change holds (as PEP 495 has it for fold=0).
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

MILLISECONDS_FROM: Final = 10**11
MOST_SECONDS: Final = 86_400
_TAIL: Final = re.compile(r"(?:[.,](\d+))? ?(Z|z|UTC|([+-])(\d\d)(?::?(\d\d))?)?", re.ASCII)
#: What stands between the digits, by place.
_BETWEEN: Final = {4: [ord("-")], 7: [ord("-")], 10: [ord("T"), ord("t"), ord(" ")], 13: [ord(":")]}
_SHORT, _LONG, _LONGEST = 16, 19, 80
_DAY: Final = 86_400_000
_NO_ZONE: Final = 1 << 40

Integers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]


def parse_times(values: pa.Array, zone: str) -> tuple[Integers, Marks]:
    """Milliseconds since 1970-01-01 UTC (int64), and which entries are times; `zone` is an IANA name."""
    if pa.types.is_date32(values.type) or pa.types.is_null(values.type):
        return np.zeros(len(values), dtype=np.int64), np.zeros(len(values), dtype=bool)
    is_time = values.is_valid().to_numpy(zero_copy_only=False)
    if pa.types.is_timestamp(values.type):
        whole = values.cast(pa.timestamp("ms", values.type.tz), safe=False).view(pa.int64())
        time = whole.fill_null(0).to_numpy() if values.null_count else whole.to_numpy()
        return (time if values.type.tz else _from_zone(time, zone)), is_time
    if pa.types.is_integer(values.type):
        return _epoch(values.cast(pa.int64(), safe=False).fill_null(0).to_numpy()), is_time
    if pa.types.is_floating(values.type):
        number = values.cast(pa.float64()).fill_null(float("nan")).to_numpy()
        is_time = np.isfinite(number) & (np.abs(number) < 1e15)
        number = np.where(is_time, number, 0)
        scaled = np.where(np.abs(number) < MILLISECONDS_FROM, number * 1000, number)
        return np.floor(scaled + 1e-3).astype(np.int64), is_time
    return _texts(pc.utf8_trim_whitespace(values.cast(pa.string())), zone)


def parse_seconds(values: pa.Array) -> tuple[npt.NDArray[np.uint64], Marks]:
    """Milliseconds on air (uint64, to the nearest) of seconds, and which entries are readable; a missing one is 0."""
    if pa.types.is_integer(values.type) or pa.types.is_floating(values.type) or pa.types.is_null(values.type):
        seconds = values.cast(pa.float64()).fill_null(0).to_numpy()
        if len(seconds) and seconds.min() >= 0 and seconds.max() <= MOST_SECONDS:
            scaled = seconds * 1000
            return np.rint(scaled, out=scaled).astype(np.uint64), np.ones(len(seconds), dtype=bool)
    else:
        text = pc.utf8_trim_whitespace(values.cast(pa.string())).fill_null("")
        text = pc.replace_substring(pc.if_else(pc.equal(text, ""), "0", text), ",", ".")
        number: pl.Series = pl.Series(values=text) if not len(text) else pl.Series(pl.from_arrow(text))
        seconds = number.cast(pl.Float64, strict=False).fill_null(float("nan")).to_numpy()
    is_readable = (seconds >= 0) & (seconds <= MOST_SECONDS)
    return np.rint(np.where(is_readable, seconds, 0) * 1000).astype(np.uint64), is_readable


def _epoch(number: Integers) -> Integers:
    return np.where(np.abs(number) < MILLISECONDS_FROM, number * 1000, number)


def _texts(text: pa.Array, zone: str) -> tuple[Integers, Marks]:
    time = np.zeros(len(text), dtype=np.int64)
    is_time = np.zeros(len(text), dtype=bool)
    is_number = pc.match_substring_regex(text, r"^-?\d{1,15}(\.\d*)?$").fill_null(False).to_numpy(zero_copy_only=False)
    numbers = np.flatnonzero(is_number)
    if len(numbers):
        time[numbers] = _numbers(text.take(pa.array(numbers)))
        is_time[numbers] = True
    others = np.flatnonzero(~is_number)
    if len(others):
        time[others], is_time[others] = _written(text if len(others) == len(text) else text.take(pa.array(others)), zone)
    return time, is_time


def _numbers(text: pa.Array) -> Integers:
    """Milliseconds of whole or decimal numbers, without floating point."""
    padded = pc.replace_substring_regex(text, r"^(-?\d+)$", r"\1.")
    padded = pc.binary_join_element_wise(padded, "000", "")
    scaled = pc.replace_substring_regex(padded, r"^(-?\d+)\.(\d{3})\d*$", r"\1\2").cast(pa.int64()).to_numpy()
    return np.where(np.abs(scaled) < MILLISECONDS_FROM * 1000, scaled, scaled // 1000)


def _written(text: pa.Array, zone: str) -> tuple[Integers, Marks]:
    """Times of the form 2026-11-25T09:41:15 and what may follow it."""
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
    is_local = is_time & (offset == _NO_ZONE)
    time = np.where(is_local, local, local - offset)
    if zone != "UTC" and is_local.any():
        time[is_local] = _from_zone(local[is_local], zone)
    is_time &= (second < 60) | (time % _DAY == 0)
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
    offset = 0 if zone else _NO_ZONE
    if sign:
        if int(hours) > 23 or int(minutes or 0) > 59:
            return 0, 0, 0, 0
        offset = (int(hours) * 60 + int(minutes or 0)) * (-60_000 if sign == "-" else 60_000)
    return int((fraction or "0").ljust(3, "0")[:3]), offset, int(fraction is not None), 1


def _from_zone(local: Integers, zone: str) -> Integers:
    """UTC of local times, both as milliseconds since 1970-01-01T00:00."""
    if zone == "UTC":
        return local
    placed = pl.Series(local).cast(pl.Datetime("ms")).dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    time = placed.to_physical()
    result = time.fill_null(0).to_numpy().astype(np.int64)
    skipped = np.flatnonzero(time.is_null().to_numpy())
    if len(skipped):
        distinct, which = np.unique(local[skipped], return_inverse=True)
        result[skipped] = np.array([_skipped(int(value), zone) for value in distinct], dtype=np.int64)[which]
    return result


def _skipped(local: int, zone: str) -> int:
    """UTC of a local time that clocks jumped over."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=local)
    offset = moment.replace(tzinfo=ZoneInfo(zone)).utcoffset() or timedelta()
    return local - int(offset.total_seconds() * 1000)
