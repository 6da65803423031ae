"""Heard logs as a kind of table: what their columns mean, and which words and cells speak for it.

Receives boards of cells, hands on shares from 0 to 1. Apart from the other kinds, so that a directory does not load what reads
times.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Final

import pyarrow as pa

from pruner.read.date_texts import ORDERS
from pruner.read.durations import duration
from pruner.read.event_words import event_of, is_whole_call
from pruner.read.first_times import settle_first_time
from pruner.read.group_cells import MARKED_GROUP, group_number
from pruner.read.heard_times import LATEST, TimeForm, moments, parse_times
from pruner.read.kinds import callsign_cells, id_cells, shown_column
from pruner.read.system_words import system_of
from pruner.read.zone_words import names_zone
from pruner.reference.numbering import country_of_talkgroup
from pruner.table.board import Board
from pruner.table.choices import Choice, Identified, heading_weight
from pruner.table.facts import LENGTHS_OF_IDS, Facts, call_and_name, looks_legal, names_id_and_callsign
from pruner.table.kinds import Kind, Meaning
from pruner.words import schema
from pruner.words.days import DAY_MILLISECONDS

TALKGROUP, TIME, SECONDS = schema.HEARD_MEANINGS[1:4]
DATE, CLOCK, END, EVENT, PRIVATE = schema.HEARD_MEANINGS[5:]
#: What a column is called that tells the zone of each time.
ZONE: Final = "zone"
#: What a column is called that names the system of each call.
SYSTEM: Final = "system"

#: Why a line of a log is no record, where its pattern does not explain it.
OTHER_LINE: Final = "line is no call by the pattern"

_EPOCH_FROM, _EPOCH_TO = 946_684_800, LATEST // 1000  # the years 2000 to 2100 in seconds since 1970
_SERIAL: Final = re.compile(r"[3-6]\d{4}[.,]\d+", re.ASCII)
#: Computed numbers have any number of decimals, or an exponent: 12.300000000000001, 5.7E-04.
_PLAIN: Final = re.compile(r"\d{1,6}(?:[.,]\d+)?(?:[Ee]-\d{1,2})?", re.ASCII)
_DECIMALS: Final = re.compile(r"\d{1,4}[.,]\d{1,6}\s*(?:s|sec)?|(?:\d{1,2}:)?\d{1,2}:\d{2}[.,]\d+|PT.*|\d+\s*m?s", re.ASCII)
#: So many distinct whole numbers, none of them larger, can be seconds without a heading that says so.
_MANY, _LONG_CALL = 8, 600
_SHORTEST_TIME: Final = 8
#: So many rows have a talkgroup of a caller's country; of numbers of three digits few are by chance.
_OF_CALLERS: Final = 0.2
_MARKED: Final = 0.5
#: Of ids fewer are longer than ids are.
_BEYOND: Final = 0.1
_SURE: Final = 0.9
#: So many cells hold an id and a call sign.
_JOINED: Final = 0.6
#: A call lasts so many milliseconds at most.
_HOUR: Final = 3_600_000
_HAS_CLOCK: Final = re.compile(r"\d:\d\d|\d{8}[T_ -]?\d{4}|\d\s?[hH時點点시]\s?\d\d|\s\d{1,2}\.\d\d(?!\d)")


def called_cells(board: Board, place: int) -> float:
    """How well a column of a log fits talkgroups: numbers that come again."""
    column = board.columns[place]
    fits = column.share_of_texts(lambda cell: 0 < group_number(cell) <= schema.SYSTEMS["dmr"].highest)
    if column.legal_share > 0.6:
        fits *= 0.6
    if column.share_of_texts(lambda cell: re.fullmatch(r"\d+[.,]\d+", cell) is not None) > 0.3:
        fits *= 0.3
    if column.filled >= 10 and column.distinct_share == 1 and column.is_counter:
        fits *= 0.3
    return fits * (0.6 + 0.4 * (1 - column.distinct_share)) if column.filled >= 10 else fits


def caller_cells(board: Board, place: int) -> float:
    """How well a column of a log fits ids of callers."""
    column = board.columns[place]
    fits = id_cells(board, place)
    return fits * 0.7 if column.filled >= 10 and column.distinct_share == 1 and column.is_counter else fits


def sign_cells(board: Board, place: int) -> float:
    """How well a column of a log fits call signs, alone or with a name behind them."""
    column = board.columns[place]
    with_names = column.share_of_texts(lambda cell: bool(call_and_name(cell)[0]))
    return max(callsign_cells(board, place), 0.9 * with_names)


def settle_log(board: Board, found: Identified) -> None:
    """Takes the time of the call of several times, a column of clocks beside whole times for durations, those of zones and of
    systems, and an id out of cells that hold it with a call sign and more, where no column holds ids alone."""
    settle_first_time(board, found, TIME)
    _settle_clock(board, found)
    _settle_end(board, found)
    _take_only(board, found, ZONE, names_zone, 1.0)
    _take_systems(board, found)
    callsign = found.choices.get(schema.CALLSIGN)
    if schema.ID in found.choices or (callsign is not None and callsign.evidence == "settings"):
        return
    for place in found.unused if callsign is None else [callsign.position]:
        if board.columns[place].share_of_texts(names_id_and_callsign) >= _JOINED:
            found.choices.pop(schema.CALLSIGN, None)
            found.choices[schema.ID] = Choice(place, "cells", _JOINED)
            found.unused = [one for one in found.unused if one != place]
            found.is_joined = True
            return


def _take_only(board: Board, found: Identified, name: str, test: Callable[[str], bool], rows: float) -> None:
    """Takes the only unused column whose cells pass, where it is filled in such a share of the rows."""
    places = [place for place in found.unused if board.columns[place].share_of_texts(test) >= _SURE]
    if len(places) == 1 and board.columns[places[0]].filled >= rows * board.rows:
        found.choices[name] = Choice(places[0], "cells", 0.0)
        found.unused.remove(places[0])


def _take_systems(board: Board, found: Identified) -> None:
    """Takes the column of systems: the one so headed in which one is named, of several that with most; else the only one whose
    cells are names of systems."""
    known = {place: board.columns[place].share_of_texts(_names_system) for place in found.unused}
    headed = [place for place in found.unused if known[place] > 0 and board.senses[place].weight(((SYSTEM, 1.0),)) > 0]
    if not headed:
        _take_only(board, found, SYSTEM, _names_system, 0.5)
        return
    best = max(headed, key=lambda place: (known[place], -place))
    found.choices[SYSTEM] = Choice(best, "heading and cells", 0.0)
    found.unused.remove(best)


def _names_system(cell: str) -> bool:
    return system_of(cell) is not None


def _settle_clock(board: Board, found: Identified) -> None:
    """Beside whole times no column holds dates or clocks; what looks like clocks are durations then, where no column was known
    for these, and only one may be."""
    if TIME not in found.choices:
        return
    free = [name for name in (DATE, CLOCK) if name in found.choices and found.choices[name].evidence != "settings"]
    found.unused += [found.choices.pop(name).position for name in free]
    if {SECONDS, END} & found.choices.keys():
        return
    headed = [place for place in found.unused if board.senses[place].weight((("seconds", 1.0),)) > 0]
    short = [place for place in found.unused if board.columns[place].share_of_texts(_is_short_clock) >= _SURE]
    likely = [place for place in headed if place in short] or (short if len(short) == 1 else [])
    if len(likely) == 1 and free:
        found.choices[SECONDS] = Choice(likely[0], "cells", 0.0)
        found.unused.remove(likely[0])


def _settle_end(board: Board, found: Identified) -> None:
    """Takes a column of times beside that of the call for its end, where no column is known for durations: the only one under a
    word such as "to", which heads talkgroups too, that lies behind the time of its row, within the hour."""
    begun = found.choices.get(CLOCK) or found.choices.get(TIME)
    if begun is None or {SECONDS, END} & found.choices.keys():
        return
    starts = _moments(board.columns[begun.position])
    headed = [place for place in found.unused if board.senses[place].weight((("end", 1.0), ("talkgroup", 1.0))) > 0.5]
    ends = [place for place in headed if _is_behind(starts, _moments(board.columns[place]))]
    if len(ends) == 1:
        found.choices[END] = Choice(ends[0], "heading and cells", 0.0)
        found.unused.remove(ends[0])


def _moments(column: Facts) -> list[int | None]:
    """The times of a column in milliseconds; times of day alone are of one day."""
    is_clock = column.is_clock >= _SURE
    return moments([f"2000-01-01 {cell}" if is_clock and cell else cell for cell in column.cells], LATEST)


def _is_behind(starts: Sequence[int | None], ends: Sequence[int | None]) -> bool:
    gaps = [end - start for start, end in zip(starts, ends, strict=True) if start is not None and end is not None]
    close = sum(0 <= gap % DAY_MILLISECONDS <= _HOUR and gap <= _HOUR for gap in gaps)
    return any(gaps) and close >= _SURE * max(len(gaps), sum(start is not None for start in starts))


def _is_short_clock(cell: str) -> bool:
    return ":" in cell and 0 <= duration(cell) <= _LONG_CALL * 1000


def time_cells(board: Board, place: int) -> float:
    """The share of cells that are a date with a time, or seconds (or smaller units) since 1970, or a serial day of
    spreadsheets."""

    def is_time(cell: str) -> bool:
        number = re.fullmatch(r"(\d{9,19})(?:[.,]\d*)?", cell, re.ASCII)
        if not number:
            return _SERIAL.fullmatch(cell) is not None
        value = int(number[1])
        return any(_EPOCH_FROM <= value // unit <= _EPOCH_TO for unit in (1, 10**3, 10**6, 10**9))

    column = board.columns[place]
    return max(column.share_of_texts(is_time), _written_share(column))


def _written_share(column: Facts) -> float:
    """The share of cells that are times in any written form, in any order of day, month and year, with a year or without."""
    cells = [cell for cell in column.counts if len(cell) >= _SHORTEST_TIME and _HAS_CLOCK.search(cell)]
    if len(cells) < len(column.counts) / 2:
        return 0.0
    read = [parse_times(pa.array(cells), "UTC", TimeForm(order, LATEST))[1] for order in ORDERS]
    times = {cell for cell, *marks in zip(cells, *read, strict=True) if any(marks)}
    return column.share_of_texts(lambda cell: cell in times)


def end_cells(board: Board, place: int) -> float:
    """As `time_cells`, of columns whose heading names an end; or times of day alone."""
    if board.senses[place].weight((("end", 1.0),)) <= 0.5:
        return 0.0
    return max(time_cells(board, place), board.columns[place].is_clock)


def seconds_cells(board: Board, place: int) -> float:
    """How well a column fits durations; whole numbers alone need a heading, or that they are small, many and in no order."""
    column = board.columns[place]
    fits = column.share_of_texts(lambda cell: _PLAIN.fullmatch(cell) is not None or duration(cell) > 0)
    decimals = column.share_of_texts(lambda cell: _DECIMALS.fullmatch(cell) is not None or _has_unit(cell))
    is_headed = board.senses[place].weight((("seconds", 1.0),)) > 0.5
    if is_headed or decimals > 0.5:
        return fits if is_headed else fits * 0.9
    is_scattered = len(column.counts) >= _MANY and not column.is_counter and max(column.numbers, default=0) <= _LONG_CALL
    return fits * (0.75 if is_scattered and len(column.numbers) == column.filled else 0.3)


def _has_unit(cell: str) -> bool:
    return any(map(str.isalpha, cell)) and duration(cell) > 0


def event_cells(board: Board, place: int) -> float:
    """The share of words that say whether a call begins or ends."""

    def is_event(cell: str) -> bool:
        return event_of(cell) is not None or is_whole_call(cell)

    return board.columns[place].share_of_texts(is_event)


def judge_log(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no heard log, "" where it may be one: something must say that stations call groups. That is a heading of
    talkgroups or what stands before their numbers, a column of call signs beside ids, or that talkgroups begin with codes of
    the callers' countries: of several of them, where no heading says who calls. Numbers of telephones are no ids."""
    place = chosen[TALKGROUP]
    column = board.columns[place]
    is_marked = column.share_of_texts(lambda cell: MARKED_GROUP.match(cell) is not None) > _MARKED
    if any(one.is_callsign > _MARKED for one in board.columns):
        return "" if is_marked or schema.ID in chosen else judge_line(board, chosen)
    if schema.ID in chosen and board.columns[chosen[schema.ID]].share_of_texts(partial(_is_beyond, board.system)) > _BEYOND:
        return f"{shown_column(board, chosen[schema.ID])} has numbers that are too large for ids"
    if is_marked or heading_weight(board, HEARD.meaning(TALKGROUP), place) > 0:
        return ""
    if schema.ID not in chosen or not board.has_headings:
        return judge_line(board, chosen)
    is_headed = heading_weight(board, HEARD.meaning(schema.ID), chosen[schema.ID]) > 0
    if goes_with_countries(board, chosen) and (is_headed or len(_shared_countries(board, chosen)) > 1):
        return ""
    return f"no call signs, and {shown_column(board, place)} is not headed as a column of talkgroups"


def _is_beyond(system: str, cell: str) -> bool:
    """Whether a cell is a number with more digits than any id has, leading zeros counted, or one with a plus before it."""
    digits = cell.replace(" ", "")
    if digits.startswith("+"):
        return digits[1:].isdigit()
    longest = max(LENGTHS_OF_IDS) if system == "dmr" else len(str(schema.SYSTEMS[system].highest))
    return (
        digits.isdigit()
        and (len(digits) > longest or int(digits) > schema.SYSTEMS[system].highest)
        and not (system == "dmr" and looks_legal(int(digits)))
    )


def judge_line(board: Board, chosen: dict[str, int]) -> str:
    """The same of a form of lines, where ids are enough; with call signs alone something must speak for the talkgroups."""
    place = chosen[TALKGROUP]
    is_headed = heading_weight(board, HEARD.meaning(TALKGROUP), place) > 0
    if schema.ID in chosen or is_headed or goes_with_countries(board, chosen):
        return ""
    return f"no column of ids, and {shown_column(board, place)} is not headed as one of talkgroups"


def goes_with_countries(board: Board, chosen: Mapping[str, int]) -> bool:
    """Whether enough of the talkgroups begin with the code of a country from which somebody calls."""
    shared = _shared_countries(board, chosen)
    column = board.columns[chosen[TALKGROUP]]
    return column.share_of_texts(lambda cell: country_of_talkgroup(group_number(cell)) in shared) >= _OF_CALLERS


def _shared_countries(board: Board, chosen: Mapping[str, int]) -> set[int]:
    """The countries from which somebody calls, and with whose code a talkgroup begins."""
    callers = {
        country for name in (schema.ID, schema.CALLSIGN) if name in chosen for country in _countries(board, chosen[name])
    }
    groups = {country_of_talkgroup(group_number(cell)) for cell in board.columns[chosen[TALKGROUP]].counts}
    return (callers & groups) - {0}


def _countries(board: Board, place: int) -> list[int]:
    column = board.columns[place]
    return column.countries_of_calls if column.is_callsign > 0.5 else column.countries_of_ids


HEARD: Final = Kind(
    "heard log",
    (
        Meaning(schema.ID, (("caller", 1.0), ("id", 0.8), ("station", 0.6), ("number", 0.6)), caller_cells),
        Meaning(TIME, (("time", 1.0), ("date", 0.7), ("clock", 0.5)), time_cells),
        Meaning(TALKGROUP, (("talkgroup", 1.0), ("number", 0.3)), called_cells),
        Meaning(SECONDS, (("seconds", 1.0),), seconds_cells),
        Meaning(DATE, (("date", 1.0), ("time", 0.5)), lambda board, place: board.columns[place].is_date),
        Meaning(CLOCK, (("clock", 1.0), ("time", 0.9)), lambda board, place: board.columns[place].is_clock),
        Meaning(schema.CALLSIGN, (("callsign", 1.0), ("caller", 0.8), ("station", 0.8)), sign_cells),
        Meaning(END, (("end", 1.0),), end_cells),
        Meaning(EVENT, (("event", 1.0),), event_cells),
    ),
    ((schema.ID, schema.CALLSIGN), (TALKGROUP,), (TIME, DATE)),
    (schema.ID, TALKGROUP),
    "a heard log",
    "who called, talkgroup and time",
    (schema.ID, TALKGROUP, TIME),
    {schema.ID: "ids", schema.CALLSIGN: "call signs", TALKGROUP: "talkgroups", TIME: "times", DATE: "dates"},
    judge_log,
    settle=settle_log,
)
