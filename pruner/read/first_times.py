"""A row with several times -> which of them is that of the call.

Receives a board and what was identified, corrects the column of times. What writes, checks or sends a row does so after the
call: of times that lie within the hour the earliest is that of the call. Of clocks of two zones the one whose heading names its
zone is taken. The time of the row before is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pruner.read.heard_times import LATEST, moments
from pruner.read.zone_words import zone_in
from pruner.table.board import Board
from pruner.table.choices import Choice, Identified

#: So many rows have a time that lies before the other, by this at most (milliseconds).
_MOST, _HOUR = 0.95, 3_600_000
#: Zones differ by multiples of this (milliseconds).
_ZONES: Final = 900_000
#: A time that is the same for rows of many times is not that of calls.
_VARIED: Final = 0.8


def settle_first_time(board: Board, found: Identified, name: str) -> None:
    """Takes the earliest of several columns of times for `name`, where nobody said which is meant."""
    choice = found.choices.get(name)
    if choice is None or choice.evidence == "settings":
        return
    chosen = moments(board.columns[choice.position].cells, LATEST)
    for place in found.unused:
        column = board.columns[place]
        if column.filled < _MOST * board.rows or len(column.counts) < _VARIED * len(board.columns[choice.position].counts):
            continue
        other = moments(column.cells, LATEST)
        pairs = zip(other, chosen, strict=True)
        between = [later - earlier for earlier, later in pairs if earlier is not None and later is not None]
        if len(between) < _MOST * board.rows or not any(between):
            continue
        if _are_zones(between):
            is_better = bool(zone_in([board.headings[place]])) and not zone_in([board.headings[choice.position]])
        else:
            is_better = _is_before(between) and not _are_of_others(other, chosen)
        if is_better:
            found.unused = [one for one in found.unused if one != place] + [choice.position]
            found.choices[name] = Choice(place, "cells", choice.score)
            choice, chosen = found.choices[name], other


def _are_zones(between: Sequence[int]) -> bool:
    return len(set(between)) == 1 and between[0] % _ZONES == 0


def _is_before(between: Sequence[int]) -> bool:
    return sum(0 <= gap <= _HOUR for gap in between) >= _MOST * len(between)


def _are_of_others(times: Sequence[int | None], chosen: Sequence[int | None]) -> bool:
    """Whether most times are those of other rows: when the one before was, or when the station called before."""
    elsewhere = set(chosen)
    differing = [time for time, own in zip(times, chosen, strict=True) if time != own]
    return sum(time in elsewhere for time in differing) > len(differing) / 2
