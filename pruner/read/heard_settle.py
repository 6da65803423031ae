"""Columns of heard logs that one another explain: times and ends, zones, systems, ids among other text.

Receives a board and what was identified, corrects it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from pruner.read.durations import duration
from pruner.read.first_times import settle_first_time
from pruner.read.heard_meanings import CLOCK, DATE, END, SECONDS, SYSTEM, TIME, ZONE
from pruner.read.heard_times import LATEST, moments
from pruner.read.system_words import system_of
from pruner.read.zone_words import names_zone
from pruner.table.board import Board
from pruner.table.choices import Choice, Identified
from pruner.table.facts import Facts, names_id_and_callsign
from pruner.words import schema
from pruner.words.days import DAY_MILLISECONDS

_SURE: Final = 0.9
#: So many cells hold an id and a call sign.
_JOINED: Final = 0.6
#: A call lasts so many milliseconds at most, and so many seconds where nothing says that it is one.
_HOUR: Final = 3_600_000
_LONG_CALL: Final = 600


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
