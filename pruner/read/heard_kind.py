"""Heard logs as a kind of table: what their columns mean, and which words and cells speak for it.

Receives boards of cells, hands on shares from 0 to 1. Apart from the other kinds, so that a directory does not load what reads
times.
"""

from __future__ import annotations

import re
from typing import Final

import pyarrow as pa

from pruner.read.date_texts import ORDERS
from pruner.read.durations import duration
from pruner.read.event_words import event_of, is_whole_call
from pruner.read.group_cells import group_number
from pruner.read.heard_gate import judge_log
from pruner.read.heard_meanings import CALLER_WORDS, CLOCK, DATE, END, EVENT, GROUP_WORDS, SECONDS, TALKGROUP, TIME
from pruner.read.heard_settle import settle_log
from pruner.read.heard_times import LATEST, TimeForm, parse_times
from pruner.read.kinds import callsign_cells, id_cells
from pruner.table.board import Board
from pruner.table.facts import Facts, call_and_name
from pruner.table.kinds import Kind, Meaning
from pruner.words import schema

_EPOCH_FROM, _EPOCH_TO = 946_684_800, LATEST // 1000  # the years 2000 to 2100 in seconds since 1970
_SERIAL: Final = re.compile(r"[3-6]\d{4}[.,]\d+", re.ASCII)
#: Computed numbers have any number of decimals, or an exponent: 12.300000000000001, 5.7E-04.
_PLAIN: Final = re.compile(r"\d{1,6}(?:[.,]\d+)?(?:[Ee]-\d{1,2})?", re.ASCII)
_DECIMALS: Final = re.compile(r"\d{1,4}[.,]\d{1,6}\s*(?:s|sec)?|(?:\d{1,2}:)?\d{1,2}:\d{2}[.,]\d+|PT.*|\d+\s*m?s", re.ASCII)
#: So many distinct whole numbers, none of them larger, can be seconds without a heading that says so.
_MANY, _LONG_CALL = 8, 600
_SHORTEST_TIME: Final = 8
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


HEARD: Final = Kind(
    "heard log",
    (
        Meaning(schema.ID, CALLER_WORDS, caller_cells),
        Meaning(TIME, (("time", 1.0), ("date", 0.7), ("clock", 0.5)), time_cells),
        Meaning(TALKGROUP, GROUP_WORDS, called_cells),
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
