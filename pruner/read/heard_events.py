"""A heard log whose columns are identified -> those of its other columns that tell events.

Receives a board, what was identified and the cells of rows that follow each other; adds the columns of events to what was
identified, and hands on what their words tell.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import pyarrow as pa

from pruner.read.durations import parse_seconds
from pruner.read.event_columns import EventColumn, Row, find_event_column, find_private_column, words_of_private_calls
from pruner.read.event_words import END_EVENT, PRIVATE_EVENT, START_EVENT, event_of
from pruner.read.group_cells import is_of_station
from pruner.read.heard_columns import EventWords, unit_of
from pruner.read.heard_meanings import CLOCK, DATE, END, EVENT, PRIVATE, SECONDS, TALKGROUP, TIME
from pruner.read.heard_times import moments
from pruner.table.board import Board
from pruner.table.choices import Choice, Identified
from pruner.table.understanding import answer_for, column_name, shown
from pruner.words import schema
from pruner.words.errors import InputRefusedError

#: A column of more different cells tells no events.
_MOST_CELLS: Final = 40
_ROWS: Final = 1000
_SHOWN: Final = 3
#: The cells of columns by position.
CellsOf = Callable[[Sequence[int]], Mapping[int, list[str]]]


@dataclass(frozen=True, slots=True)
class Events:
    """What the cells of columns of events tell; `doubt`: that a column may tell starts and ends, in words, "" where none
    does."""

    words: EventWords = field(default_factory=dict)
    doubt: str = ""


def take_events(file: str, board: Board, found: Identified, cells_of: CellsOf, written: float) -> Events:
    """Adds the columns that tell starts and ends, and private calls, to `found`; what their words tell.

    `written`: when the file was written, in seconds since 1970. Raises InputRefusedError where a column was named for private
    calls and nothing tells which of its words say so.
    """
    _leave_status(board, found)
    positions = found.positions
    named = positions.get(EVENT)
    # Rows looked at from all over the file may be every second one, which starts a call: how many words there are is counted
    # in rows that follow each other.
    others = [place for place in found.unused if 1 <= len(board.columns[place].counts) <= _MOST_CELLS]
    candidates = others if named is None else [named, *others]
    if not (candidates or PRIVATE in positions) or (TIME not in positions and CLOCK not in positions):
        return Events()
    cells = {place: column[:_ROWS] for place, column in cells_of([*positions.values(), *candidates]).items()}
    rows = _rows(board, positions, cells, int(written * 1000))
    columns = {place: cells[place] for place in candidates}
    words: dict[str, Mapping[str, str]] = {}
    doubt = ""
    events = find_event_column(rows, columns, named)
    if events is not None and (events.is_sure or _is_stated(found)):
        words[EVENT] = events.words
        _take(found, EVENT, events)
    elif events is not None:
        doubt = _doubt(board, events)
    elif named is not None:
        words[EVENT] = {}
    tells_events = {START_EVENT, END_EVENT} & set(words.get(EVENT, {}).values())
    if tells_events or EVENT not in words:
        columns.pop(found.positions.get(EVENT, -1), None)
    if PRIVATE in positions:
        words[PRIVATE] = _stated_private(file, board, positions[PRIVATE], rows, cells[positions[PRIVATE]])
        return Events(words, doubt)
    private = find_private_column(rows, columns)
    if private is not None and private.position == found.positions.get(EVENT):
        words[EVENT] = {**words[EVENT], **private.words}
    elif private is not None:
        words[PRIVATE] = private.words
        _take(found, PRIVATE, private)
    return Events(words, doubt)


def _leave_status(board: Board, found: Identified) -> None:
    """Takes no column for events whose heading says nothing of them, where all its words are ends: every call is over."""
    choice = found.choices.get(EVENT)
    if choice is None or choice.evidence != "cells":
        return
    events = {event_of(cell) for cell in board.columns[choice.position].counts}
    if END_EVENT in events and START_EVENT not in events:
        del found.choices[EVENT]
        found.unused.append(choice.position)


def _stated_private(file: str, board: Board, place: int, rows: Sequence[Row], cells: Sequence[str]) -> Mapping[str, str]:
    found = words_of_private_calls(rows, cells)
    if found is None:
        some = ", ".join(map(shown, sorted(set(cells))[:_SHOWN]))
        raise InputRefusedError(
            f"{file}: every row has text in {column_name(board, place)!r} ({some}), and nothing tells which of it means a "
            "private call; leave private out of columns"
        )
    return dict.fromkeys(found, PRIVATE_EVENT)


def _doubt(board: Board, events: EventColumn) -> str:
    start, end = (next(word for word, event in events.words.items() if event == kind) for kind in (START_EVENT, END_EVENT))
    name = json.dumps(answer_for(board, events.position), ensure_ascii=False)
    return (
        f"rows with {shown(start)!r} in {column_name(board, events.position)!r} are often followed by one of the same caller "
        f"with {shown(end)!r}; each counts as a call; where they are starts and ends of calls: columns = {{ event = {name} }}"
    )


def _is_stated(found: Identified) -> bool:
    return EVENT in found.choices and found.choices[EVENT].evidence == "settings"


def _take(found: Identified, meaning: str, column: EventColumn) -> None:
    chosen = found.choices.get(meaning)
    if chosen is None or chosen.position != column.position:
        found.choices[meaning] = Choice(column.position, "cells", 0.0)
    found.unused = [place for place in found.unused if place != column.position]


def _rows(board: Board, positions: Mapping[str, int], cells: Mapping[int, list[str]], last: int) -> list[Row]:
    who = [positions[name] for name in (schema.ID, schema.CALLSIGN, TALKGROUP) if name in positions]
    groups = cells[positions[TALKGROUP]]
    stations = [is_of_station(cell, board.system) for cell in groups]
    when = [cells[positions[name]] for name in ((TIME,) if TIME in positions else (DATE, CLOCK))]
    times = moments(list(map(" ".join, zip(*when, strict=True))), last)
    lasting = [0] * len(times)
    if SECONDS in positions:
        place = positions[SECONDS]
        lasting = parse_seconds(pa.array(cells[place], pa.string()), unit_of(board, place))[0].tolist()
    elif END in positions:
        ends = moments(cells[positions[END]], last)
        lasting = [max(0, (end or 0) - time) if time is not None else 0 for time, end in zip(times, ends, strict=True)]
    callers = zip(*(cells[place] for place in who), strict=True)
    return [Row(*row) for row in zip(callers, times, lasting, stations, strict=True)]
