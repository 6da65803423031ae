"""Times as numbers -> milliseconds since 1970-01-01 UTC.

A number is seconds since 1970-01-01 UTC below 10^11 (year 5138), milliseconds below 10^14, microseconds below 10^17,
and nanoseconds from there on (10^11 ms, 10^14 us and 10^17 ns all lie in 1973, before any log). From 20,000 to 80,000 (1954 to
2119) it is a serial of spreadsheets: days since 1899-12-30 in local time, to the nearest second (ECMA-376, part 1, 18.17.4.1,
1900 date base; from memory).
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.local_times import from_zone
from pruner.words.days import DAY_SECONDS

#: Texts that are numbers, but for dates of digits alone, such as 202603011200 and 20260301120001.
NUMBER: Final = r"^-?\d{1,19}([.,]\d*)?$|^-?\d[.,]\d+[eE]\+?\d{1,2}$"
COMPACT: Final = r"^(19|20)\d\d(0[1-9]|1[0-2])(0[1-9]|[12]\d|3[01])([01]\d|2[0-3])[0-5]\d([0-5]\d([.,]\d+)?)?$"
_SERIAL_FROM, _SERIAL_TO = 20_000, 80_000
_SERIAL_DAYS_TO_1970: Final = 25_569
_MILLISECONDS, _MICROSECONDS, _NANOSECONDS = 10**11, 10**14, 10**17

Integers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]


def numeric_times(values: pa.Array, zone: str) -> tuple[Integers, Marks]:
    """Milliseconds of integers or floats of any width, and which are times."""
    is_time = values.is_valid().to_numpy(zero_copy_only=False)
    if pa.types.is_integer(values.type):
        number = values.cast(pa.int64(), safe=False).fill_null(0).to_numpy()
        return _of_whole(number, zone), is_time
    exact = values.cast(pa.float64()).fill_null(float("nan")).to_numpy()
    is_time = np.isfinite(exact) & (np.abs(exact) < 9e18)
    exact = np.where(is_time, exact, 0)
    scaled = np.where(np.abs(exact) < _MILLISECONDS, np.floor(exact * 1000 + 1e-3), np.floor(exact + 1e-3))
    time = np.where(np.abs(exact) < _MILLISECONDS, scaled.astype(np.int64), _of_whole(scaled.astype(np.int64), "UTC"))
    return _with_serials(time, exact, zone), is_time


def _of_whole(number: Integers, zone: str) -> Integers:
    size = np.abs(number)
    if not len(size):
        return number
    if size.min() >= _SERIAL_TO and size.max() < _MILLISECONDS:
        return number * 1000
    time = np.where(size < _MILLISECONDS, np.where(size < _MILLISECONDS, number, 0) * 1000, number)
    if size.max() >= _MICROSECONDS:
        time = np.where(size >= _NANOSECONDS, number // 10**6, np.where(size >= _MICROSECONDS, number // 1000, time))
    return _with_serials(time, number, zone)


def _with_serials(time: Integers, number: npt.NDArray[np.number], zone: str) -> Integers:
    serials = np.flatnonzero((number >= _SERIAL_FROM) & (number < _SERIAL_TO))
    if len(serials):
        seconds = np.rint((number[serials].astype(np.float64) - _SERIAL_DAYS_TO_1970) * DAY_SECONDS).astype(np.int64)
        time[serials] = from_zone(seconds * 1000, zone)
    return time


def number_times(text: pa.Array, zone: str) -> tuple[Integers, Marks]:
    """As `numeric_times`, of texts that match `NUMBER`; decimals without floating point."""
    text = pc.replace_substring(text, ",", ".")
    powers = pc.match_substring_regex(text, "[eE]").to_numpy(zero_copy_only=False)
    series: pl.Series = pl.Series("text", pl.from_arrow(text))
    parts = series.str.extract_groups(r"^(?P<sign>-?)(?P<whole>\d+)\.?(?P<fraction>\d*)").struct.unnest()
    whole = parts["whole"].cast(pl.Int64, strict=False)
    is_time = whole.is_not_null().to_numpy()
    number = whole.fill_null(0).to_numpy()
    sign = np.where((parts["sign"] == "-").to_numpy(), -1, 1)
    thousandths = parts["fraction"].str.pad_end(3, "0").str.slice(0, 3).cast(pl.Int64).to_numpy()
    time = _of_whole(number.copy(), "UTC") + np.where(number < _MILLISECONDS, thousandths, 0)
    time *= sign
    odd = np.flatnonzero(powers | ((number >= _SERIAL_FROM) & (number < _SERIAL_TO)))
    if len(odd):
        exact: pl.Series = series.gather(odd).cast(pl.Float64, strict=False)
        time[odd], is_time[odd] = numeric_times(exact.to_arrow(), zone)
    return time, is_time
