"""What is done alike with the columns of every kind of heard log.

Receives what was identified and Records with the columns of `kinds.HEARD`, hands on Records with `time`, and how times and
durations are written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from itertools import accumulate
from statistics import median
from typing import Final

import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.clocks import seconds_in
from pruner.read.date_texts import HALVES, DateText
from pruner.read.durations import UNITS
from pruner.read.event_ends import with_whole_ends
from pruner.read.event_words import PRIVATE_EVENT, event_of
from pruner.read.heard_meanings import CLOCK, DATE, END, EVENT, PRIVATE, SECONDS, SYSTEM, TIME, ZONE
from pruner.read.heard_times import TimeForm, dates_in, order_in, parse_times, undecided, whole_minutes
from pruner.read.records import Records, by_text
from pruner.read.system_words import system_in_cell
from pruner.read.zone_words import shared_zone_in, zone_in, zone_said_in
from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.fold import fold, words_of
from pruner.table.forms import joined_column
from pruner.table.understanding import Understanding, column_name
from pruner.words import schema
from pruner.words.days import DAY_MILLISECONDS, DAY_SECONDS
from pruner.words.errors import InputRefusedError
from pruner.words.number import whole_number

#: Whole numbers without a unit are milliseconds where half of them are more: nobody talks for five minutes again and again.
_LONGEST_USUAL: Final = 300
_SECOND_WORDS: Final = frozenset(fold(word) for word, unit in UNITS.items() if unit == 1000)
#: A column that holds these in most cells tells half days of hours up to 12.
_HALVES: Final = frozenset(("am", "pm", "a.m.", "p.m.", *HALVES))
_MOST: Final = 0.9
#: Less than 0.1 of a day with five decimals or more, or an exponent.
_PART_OF_DAY: Final = re.compile(r"0?[.,]0\d{4,}|\d(?:[.,]\d+)?[Ee]-0?[2-5]", re.ASCII)
#: A word for a private call, or one for a station before a number as long as those of persons (seven digits, common practice,
#: no source).
_PRIVATE_CELL: Final = r"(?i)^\s*(?:(?:pc|priv\w*|individu\w*|einzel\w*)\b|(?:unit|station|user|subscriber)\W*[1-9]\d{6}\b)"
_NO_ZONE: Final = (
    "its times name no zone and are taken as UTC; if they are of another, say so in the settings, such as: "
    'zone = "Europe/Vienna"; or on the command line: --zone Europe/Vienna'
)
#: What the cells of columns of events tell, by the meaning of the column and the cell.
EventWords = Mapping[str, Mapping[str, str]]
NO_WORDS: Final[EventWords] = {}


@dataclass(frozen=True, slots=True)
class LogColumns:
    """What was understood of a log: its columns in words, how its times and durations are written, and what is to be said
    of the zone of its times where nobody names it ("": the log does)."""

    understanding: Understanding
    form: TimeForm
    zone_doubt: str = ""

    def understood(self, zone: str) -> Understanding:
        """What was understood of the log, with what its times are taken to be where it names no zone; `zone`: what was said of
        them ("": nothing)."""
        return self.understanding if zone or not self.zone_doubt else self.understanding.doubting(self.zone_doubt)


def log_columns(
    understanding: Understanding,
    board: Board,
    positions: Mapping[str, int],
    written: float,
    order: str,
    all_times: Callable[[], Iterator[pa.Array]],
    notes: str = "",
) -> LogColumns:
    """What a log writes times and durations like. `written`: when the file was written, in seconds since 1970; `order` of
    dates, as the settings say ("": not said); `all_times`: the times of the whole file, asked for only where its sample does
    not decide; `notes`: text beside the calls, which may say the zone of their times.

    Raises InputRefusedError where there are dates and no times of day, and where nothing decides between day and month first.
    """
    last = int(written * 1000)
    if TIME not in positions and CLOCK not in positions:
        raise InputRefusedError(
            f"{understanding.file}: {column_name(board, positions[DATE])!r} holds dates without times of day; "
            "expected the time of each call"
        )
    check_half_days(understanding.file, board, positions)
    cells = pa.array(_sampled_times(board, positions), pa.string())
    found = order or order_in(dates_in(cells), last)
    if found is None:
        found = order_in(_dates_of(all_times()), last)
    if found is None:
        raise InputRefusedError(f"{understanding.file}: {undecided(_example(cells))}")
    headings = [board.headings[positions[name]] for name in (TIME, CLOCK, DATE) if name in positions]
    form = TimeForm(found, last, unit_of(board, positions.get(SECONDS)), zone_in(headings))
    shared = shared_zone_in(headings)
    if shared:
        doubt = f"{shared} in a heading may be one of several zones; {_NO_ZONE}"
    elif form.zone or ZONE in positions or _tell_zones(cells, form):
        doubt = ""
    else:
        said = zone_said_in(notes)
        form = replace(form, zone=said.zone)
        doubt = "" if said.zone else "; ".join(filter(None, (said.doubt, _NO_ZONE)))
        if said.zone:
            understanding = understanding.doubting(f"times are those of {said.zone}, as the file says: {said.sentence!r}")
    return LogColumns(understanding, replace(form, minutes=whole_minutes(cells, form)), doubt)


def _tell_zones(cells: pa.Array, form: TimeForm) -> bool:
    """Whether times tell their own zone: they are the same in any other."""
    (here, is_here), (there, is_there) = (parse_times(cells, zone, form) for zone in ("UTC", "UTC+05:00"))
    return bool(is_here.any() and (here[is_here & is_there] == there[is_here & is_there]).all())


def check_half_days(file: str, board: Board, positions: Mapping[str, int]) -> None:
    """Raises InputRefusedError where a column that is not used tells half days, which the times lack then."""
    for place, column in enumerate(board.columns):
        if place not in positions.values() and column.share_of_texts(lambda cell: cell.casefold() in _HALVES) > _MOST:
            raise InputRefusedError(
                f"{file}: {column_name(board, place)!r} tells apart from the time which half of the day is meant; "
                "expected both in one column"
            )


def _dates_of(times: Iterable[pa.Array]) -> set[DateText]:
    return {date for array in times for date in dates_in(array)}


def _sampled_times(board: Board, positions: Mapping[str, int]) -> list[str]:
    if TIME in positions:
        return board.columns[positions[TIME]].cells
    days, clocks = accumulate(board.columns[positions[DATE]].cells, _last_filled), board.columns[positions[CLOCK]].cells
    return [f"{day} {clock}" for day, clock in zip(days, clocks, strict=True)]


def _last_filled(before: str, cell: str) -> str:
    """A spreadsheet has each date once, at its first row."""
    return cell if cell.strip() else before


def _example(cells: pa.Array) -> str:
    return next((str(cell) for cell in cells.to_pylist() if re.search(r"\d\D+\d", str(cell))), "")[:40]


def unit_of(board: Board, place: int | None) -> int:
    """Milliseconds of a duration of 1: what the heading says, else seconds, or milliseconds where seconds would be absurd.
    `duration` says no unit, `seconds` does."""
    if place is None:
        return 1000
    stated = board.senses[place].milliseconds
    if stated and (stated != 1000 or any(word in _SECOND_WORDS for word in words_of(board.headings[place]))):
        return stated
    if _are_parts_of_days(board.columns[place].counts):
        return DAY_MILLISECONDS
    numbers = [whole_number(cell) for cell in board.columns[place].counts]
    return 1 if numbers and min(numbers) >= 0 and median(numbers) > _LONGEST_USUAL else 1000


def _are_parts_of_days(cells: Iterable[str]) -> bool:
    """Whether all durations are shorter than any call in seconds and have many decimals, as spreadsheets write them."""
    filled = [cell for cell in cells if cell.strip("0., ")]
    return bool(filled) and all(_PART_OF_DAY.fullmatch(cell) for cell in filled)


def is_joined(board: Board, found: Identified) -> bool:
    """Whether the column of ids holds call signs too."""
    return found.is_joined or (schema.ID in found.choices and joined_column(board, found.positions[schema.ID]) is not None)


def with_times(records: Records, words: EventWords = NO_WORDS) -> Records:
    """Records whose date and time of day are one column, and whose events are words of ours; `words`: what the cells of the
    columns of events tell, where it was found out."""
    columns = records.columns
    if END in columns and SECONDS not in columns and (TIME in columns or CLOCK in columns):
        _take_end_clock(columns)
    if TIME not in columns and DATE in columns:
        # A spreadsheet has each date once, at its first row.
        dates = columns[DATE].cast(pa.string())
        columns[DATE] = pc.fill_null_forward(pc.if_else(pc.equal(pc.utf8_trim_whitespace(dates), ""), None, dates))
        texts = [columns[name].cast(pa.string()) for name in (DATE, CLOCK)]
        columns[TIME] = pc.binary_join_element_wise(*texts, " ")
    for name in (DATE, CLOCK):
        columns.pop(name, None)
    if ZONE in columns and TIME in columns:
        columns[TIME] = pc.binary_join_element_wise(*(columns[name].cast(pa.string()) for name in (TIME, ZONE)), " ")
    columns.pop(ZONE, None)
    if SYSTEM in columns:
        columns[SYSTEM] = by_text(columns[SYSTEM], system_in_cell)
    if EVENT in columns:
        columns[EVENT] = by_text(columns[EVENT], partial(_event, words[EVENT]) if EVENT in words else event_of)
        with_whole_ends(columns)
    if PRIVATE in columns:
        cells = columns.pop(PRIVATE)
        is_private = cells.is_valid()
        if PRIVATE in words:
            is_private = pc.is_in(pc.utf8_trim_whitespace(cells.cast(pa.string())), pa.array(words[PRIVATE], pa.string()))
        columns[EVENT] = pc.if_else(is_private, PRIVATE_EVENT, columns.get(EVENT, pa.nulls(records.count, pa.string())))
    return records


def _take_end_clock(columns: dict[str, pa.Array]) -> None:
    """Durations in place of ends that are times of day alone; one before its start is of the next day."""
    begun = columns[CLOCK] if CLOCK in columns else columns[TIME]
    if not all(pa.types.is_string(one.type) or pa.types.is_dictionary(one.type) for one in (begun, columns[END])):
        return
    ends = columns[END].cast(pa.string())
    has_date = pc.match_substring_regex(ends, r"\d[-/.]\d|\d{5}|[^\W\d]{3}").fill_null(False)
    if pc.any(has_date).as_py():
        return
    start, end = (seconds_in(one) for one in (begun.cast(pa.string()), ends))
    columns[SECONDS] = ((end - start) % DAY_SECONDS).cast(pl.String).to_arrow().cast(pa.string())
    del columns[END]


def _event(words: Mapping[str, str], cell: str) -> str | None:
    return words.get(cell.strip())


def private_calls(values: pa.Array) -> pa.Array:
    """Which cells of talkgroups say that they hold the id of a station: `PC 2321234`, `private 2321234`."""
    return pc.match_substring_regex(values.cast(pa.string()), _PRIVATE_CELL).fill_null(False)
