"""Times of logs as they are written -> whole milliseconds since 1970-01-01 UTC.

Receives Arrow arrays of text, numbers or timestamps, hands on arrays and which entries could be read. ISO 8601 is read by
`read.iso_times`, any other text by `read.written_times`. Numbers: see `read.numeric_times`. A time that names no zone is one
of the stated zone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.date_texts import DAY_FIRST, DateText, order_of
from pruner.read.iso_times import iso_times
from pruner.read.local_times import from_zone
from pruner.read.numeric_times import COMPACT, NUMBER, number_times, numeric_times
from pruner.read.written_times import dates_of, written_times
from pruner.words.days import DAY_MILLISECONDS

#: Before when all times are taken to be where no clock is asked: the year 2100 (milliseconds since 1970).
LATEST: Final = 4_102_444_800_000
_MINUTE: Final = 60_000
#: What stands around a time: brackets, quotes; the name of a zone behind an offset.
_WRAPPED: Final = r"^[\[({<\"'`\s]+([^\[({<]*?)[\])}>\"'`,;:\s]+$"
#: A log of so many distinct times that all are whole minutes tells no seconds; of a log that does so many are one in 60**3.
_MINUTES_AT_LEAST: Final = 3
_ZONE_NAME: Final = r"\[[A-Za-z_/]+\]$"

Integers = npt.NDArray[np.int64]
Marks = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class TimeForm:
    """How a log writes times and durations.

    `order`: in which day, month and year stand in dates of numbers (one of `date_texts.ORDERS`, "" where none is so written);
    `last`: when it was written, in milliseconds since 1970, which tells years that are missing (None: such times are not
    understood); `unit`: milliseconds of a duration of 1 without unit; `zone`: of times that name none, where the log's headings
    say it ("": not); `minutes`: how many distinct times were looked at, where all are whole minutes (None: one
    tells a second).
    """

    order: str = ""
    last: int | None = None
    unit: int = 1000
    zone: str = ""
    minutes: int | None = 0

    @property
    def is_by_minute(self) -> bool:
        """Whether its times tell the minute only, whatever they say of seconds."""
        return self.minutes is not None and self.minutes >= _MINUTES_AT_LEAST


PLAIN: Final = TimeForm()


def parse_times(values: pa.Array, zone: str, form: TimeForm = PLAIN) -> tuple[Integers, Marks]:
    """Milliseconds since 1970-01-01 UTC (int64), and which entries are times; `zone` is an IANA name."""
    if pa.types.is_date(values.type) or pa.types.is_time(values.type) or pa.types.is_null(values.type):
        return np.zeros(len(values), dtype=np.int64), np.zeros(len(values), dtype=bool)
    if pa.types.is_timestamp(values.type):
        is_time = values.is_valid().to_numpy(zero_copy_only=False)
        whole = values.cast(pa.timestamp("ms", values.type.tz), safe=False).view(pa.int64())
        time = whole.fill_null(0).to_numpy() if values.null_count else whole.to_numpy()
        return (time if values.type.tz else from_zone(time, zone)), is_time
    if pa.types.is_integer(values.type) or pa.types.is_floating(values.type):
        return numeric_times(values, zone)
    return _texts(pc.utf8_trim_whitespace(values.cast(pa.string())), zone, form)


def whole_minutes(values: pa.Array, form: TimeForm) -> int | None:
    """How many distinct times a column of text holds where all of them are whole minutes, None where one tells a second."""
    time, is_time = parse_times(values, "UTC", form)
    distinct = np.unique(time[is_time])
    return len(distinct) if not (distinct % _MINUTE).any() else None


def moments(cells: Sequence[str], last: int) -> list[int | None]:
    """Times of UTC in milliseconds, None where a cell is none; in dates that do not say it the day stands first. `last`: when
    they were written, in milliseconds since 1970."""
    column = pa.array(cells, pa.string())
    found, marks = parse_times(column, "UTC", TimeForm(order_in(dates_in(column), last) or DAY_FIRST, last))
    return [moment if is_time else None for moment, is_time in zip(found.tolist(), marks.tolist(), strict=True)]


def _texts(text: pa.Array, zone: str, form: TimeForm) -> tuple[Integers, Marks]:
    if _begins_as_iso(text):
        time, is_time = iso_times(text, zone)
        missed = np.flatnonzero(~is_time)
        if len(missed):
            time[missed], is_time[missed] = _mixed(text.take(pa.array(missed)), zone, form)
        return time, is_time
    return _mixed(text, zone, form)


def _begins_as_iso(text: pa.Array) -> bool:
    """Whether the first text is likely to be an ISO time, so that these are tried before anything else."""
    first = text[0].as_py() if len(text) else None
    return first is not None and first[4:5] == "-"


def _mixed(text: pa.Array, zone: str, form: TimeForm) -> tuple[Integers, Marks]:
    time = np.zeros(len(text), dtype=np.int64)
    is_time = np.zeros(len(text), dtype=bool)
    is_number = pc.match_substring_regex(text, NUMBER).fill_null(False).to_numpy(zero_copy_only=False)
    if is_number.any():
        is_number = is_number & ~pc.match_substring_regex(text, COMPACT).fill_null(False).to_numpy(zero_copy_only=False)
    numbers = np.flatnonzero(is_number)
    if len(numbers):
        time[numbers], is_time[numbers] = number_times(text.take(pa.array(numbers)), zone)
    others = np.flatnonzero(~is_number)
    if len(others):
        rest = text if len(others) == len(text) else text.take(pa.array(others))
        time[others], is_time[others] = iso_times(rest, zone)
        missed = others[~is_time[others] & text.is_valid().to_numpy(zero_copy_only=False)[others]]
        if len(missed):
            time[missed], is_time[missed] = _written(text.take(pa.array(missed)), zone, form)
    return time, is_time


def _written(text: pa.Array, zone: str, form: TimeForm) -> tuple[Integers, Marks]:
    """Texts that are no ISO times as they stand: brackets or quotes stand around them, or they are written otherwise."""
    text = _bare(text)
    time, is_time = iso_times(text, zone)
    missed = np.flatnonzero(~is_time)
    if len(missed):
        time[missed], is_time[missed] = written_times(text.take(pa.array(missed)), zone, form.order, form.last)
    return time, is_time


def _bare(text: pa.Array) -> pa.Array:
    return pc.replace_substring_regex(pc.replace_substring_regex(text, _ZONE_NAME, ""), _WRAPPED, r"\1")


def dates_in(values: pa.Array) -> Iterable[DateText]:
    """The distinct dates in a column of times, those in ISO 8601 and in numbers since 1970 left out."""
    if not (pa.types.is_string(values.type) or pa.types.is_large_string(values.type) or pa.types.is_dictionary(values.type)):
        return ()
    text = pc.utf8_trim_whitespace(values.cast(pa.string())).drop_null()
    text = text.filter(pc.invert(pc.match_substring_regex(text, r"^\d{4}-\d\d-\d\d[Tt ]|" + NUMBER)))
    return dates_of(_bare(text)) if len(text) else ()


def undecided(example: str) -> str:
    """What to say where the dates of a file do not tell their order."""
    has_short_year = re.match(r"\D*\d{1,2}[-/]\d{1,2}[-/]\d{2}(?!\d)", example) is not None
    other, others = ("year first", '"month first" or "year first"') if has_short_year else ("month first", '"month first"')
    return (
        f"dates such as {example!r} may be day first or {other}, and no date of the file decides; "
        f'say which in the settings: [[heard]] dates = "{DAY_FIRST}" (or {others})'
    )


def order_in(dates: Iterable[DateText], last: int) -> str | None:
    """As `date_texts.order_of`; `last` in milliseconds since 1970."""
    return order_of(dates, last // DAY_MILLISECONDS)
