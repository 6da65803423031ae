"""Times in any other form -> milliseconds: a time of day is found, and what stands before and after it is a date.

Receives Arrow text, hands on arrays. Times of day are cut and counted on columns; the text around them is looked at once per
distinct text (`read.date_texts`). Forms: RFC 2822, ctime, log formats with or without a year, month names, 12 hours, compact
digits, ISO weeks, points between hours and minutes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner.read.date_texts import NO_ZONE, DateText, day_of, read_date
from pruner.read.local_times import from_zone
from pruner.words.days import DAY_MILLISECONDS

_BETWEEN: Final = "\x1f"
_HALF: Final = r"[\s\x{a0}\x{202f}]*(?P<half>[AaPp]\.?\s?[Mm]\b\.?|[πΠμΜ]\.?[μΜ]\b\.?)"
_CLOCK: Final = (
    r"(?s)^(?P<before>|.*?[^\d])(?P<hour>\d{1,2}):(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<fraction>\d{1,9}))?)?"
    rf"(?:{_HALF})?(?P<after>[^\d:].*|)$"
)
#: Rarer ways to write a time of day, made into the one that `_CLOCK` reads.
_REWRITTEN: Final = (
    # 20260301T120001, 20260301 1200, 20260301120001
    (r"^(\d{4})(\d\d)(\d\d)[T _-]?(\d\d)(\d\d)(\d\d)([.,]\d+)?((?:[^\d.,].*)?)$", "$1-$2-$3 $4:$5:$6$7$8"),
    (r"^(\d{4})(\d\d)(\d\d)[T _-]?(\d\d)(\d\d)((?:[^\d.,].*)?)$", "$1-$2-$3 $4:$5$6"),
    # 1.3.2026 12.00.01, 12h00, 12時00分01秒
    (
        r"^([^:]*(?:\d{4}|\d\.\d+\.|[ T])[,T ]+(?:\p{L}{1,5}\.? +){0,2})(\d{1,2})\.(\d\d)(?:\.(\d\d))?((?:[^\d.:].*)?)$",
        "$1$2:$3:$4$5",
    ),
    (r"^([^:]*[^\d:])(\d{1,2})[hH時点點시]\s?(\d\d)(?:[m分분]?\s?(\d\d)[s秒초]?|[m分분])?$", "$1$2:$3:$4"),
    (r":(\d\d):$", ":$1"),
    (r":(\d\d):([^\d])", ":$1$2"),
)

Integers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]


def written_times(text: pa.Array, zone: str, order: str, last: int | None) -> tuple[Integers, Marks]:
    """Milliseconds since 1970-01-01 UTC, and which texts are times. `order`, `last` as in `date_texts.day_of`, `last` in
    milliseconds."""
    parts = _parts(text)
    hour, minute, second = (_number(parts[name]) for name in ("hour", "minute", "second"))
    fraction = _number(parts["fraction"].str.pad_end(3, "0").str.slice(0, 3))
    dates, codes = _distinct(parts)
    table = np.array([_of_date(date, order, last) for date in dates], dtype=np.int64).reshape(-1, 4)[codes]
    day, offset, date_half, is_date = table.T
    half = _half(parts["half"])
    hour, is_hour = _in_24_hours(hour, np.where(half > 0, half, date_half))
    is_time = (is_date > 0) & is_hour & (minute <= 59) & (second <= 59)
    local = np.where(is_time, day * DAY_MILLISECONDS + ((hour * 60 + minute) * 60 + second) * 1000, 0)
    time = np.where(offset == NO_ZONE, local, local - offset)
    is_local = is_time & (offset == NO_ZONE)
    if zone != "UTC" and is_local.any():
        time[is_local] = from_zone(local[is_local], zone)
    return np.where(is_time, time + fraction, 0), is_time


def dates_of(text: pa.Array) -> Iterator[DateText]:
    """The distinct dates that stand beside the times of day of some texts."""
    yield from filter(None, _distinct(_parts(text))[0])


def _parts(text: pa.Array) -> pl.DataFrame:
    series: pl.Series = pl.Series("text", pl.from_arrow(text)) if len(text) else pl.Series("text", [], pl.String)
    series = series.str.replace(r"^(\d{4}):(\d\d):(\d\d) ", "$1-$2-$3 ")
    groups = series.str.extract_groups(_CLOCK).struct.unnest()
    misses = np.flatnonzero(groups["before"].is_null().to_numpy())
    if not len(misses):
        return groups
    rest = series.gather(misses)
    for pattern, made in _REWRITTEN:
        rest = rest.str.replace(pattern, made)
    found = rest.str.extract_groups(_CLOCK).struct.unnest()
    if len(misses) == len(groups):
        return found
    return pl.concat([groups, found])[_places(len(groups), misses)]


def _places(count: int, misses: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    places = np.arange(count)
    places[misses] = count + np.arange(len(misses))
    return places


def _number(digits: pl.Series) -> Integers:
    return digits.cast(pl.Int64, strict=False).fill_null(0).to_numpy()


def _distinct(parts: pl.DataFrame) -> tuple[list[DateText | None], Integers]:
    """The date of each distinct text around times of day, and which of them each row has."""
    joined = parts.select(pl.concat_str(["before", "after"], separator=_BETWEEN)).to_series().fill_null("").to_arrow()
    encoded = joined.cast(pa.string()).dictionary_encode()
    dates = [read_date(*text.split(_BETWEEN)) if _BETWEEN in text else None for text in encoded.dictionary.to_pylist()]
    return dates, encoded.indices.to_numpy(zero_copy_only=False).astype(np.int64)


def _half(written: pl.Series) -> Integers:
    """1 before noon, 2 after, 0 where it is not said."""
    letter = written.str.slice(0, 1).str.to_lowercase().fill_null("")
    return letter.is_in(["a", "π"]).cast(pl.Int64).to_numpy() + 2 * letter.is_in(["p", "μ"]).cast(pl.Int64).to_numpy()


def _of_date(date: DateText | None, order: str, last: int | None) -> tuple[int, int, int, int]:
    if date is None:
        return 0, 0, 0, 0
    day = day_of(date, order, None if last is None else last // DAY_MILLISECONDS)
    return (0, 0, 0, 0) if day is None else (day, date.offset, date.half, 1)


def _in_24_hours(hour: Integers, half: Integers) -> tuple[Integers, Marks]:
    """Hours of a day from hours before (1) and after noon (2), and which are any; hours beyond 12 are taken as they stand."""
    is_hour = (hour <= 23) & ~((half == 1) & (hour > 12))
    made = np.where((half == 1) & (hour == 12), 0, hour)
    return np.where((half == 2) & (hour < 12), hour + 12, made), is_hour
