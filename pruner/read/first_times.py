"""A row with several times -> which of them is that of the call.

Receives a board and what was identified, corrects the column of times. What writes, checks or sends a row does so after the
call: of times that lie within the hour the earliest is that of the call. Of clocks of two zones the one whose heading names its
zone is taken. The time of the row before is none. Where a row tells of a station when it was first and last heard, the last
time is that of one call at least.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pruner.read.heard_meanings import SECONDS
from pruner.read.heard_times import LATEST, moments
from pruner.read.zone_words import zone_in
from pruner.table.board import Board
from pruner.table.choices import Choice, Identified
from pruner.table.fold import fold, words_of
from pruner.table.understanding import column_name

#: So many rows have a time that lies before the other, by this at most (milliseconds).
_MOST, _HOUR = 0.95, 3_600_000
#: Zones differ by multiples of this (milliseconds).
_ZONES: Final = 900_000
#: A time that is the same for rows of many times is not that of calls.
_VARIED: Final = 0.8
#: Words of headings for the first and the last time that a station was heard (from memory).
_FIRST: Final = frozenset(
    map(
        fold,
        "first since earliest begin erst erste erstes erstmals zuerst seit premier première depuis primero primera desde "
        "primo prima dal primeiro primeira eerste eerst sinds pierwszy pierwsza od první poprvé prvý prvi första först "
        "første ensin ensimmäinen első először первый первая впервые с πρώτη ilk".split(),
    )
)
_LAST: Final = frozenset(
    map(
        fold,
        "last latest recent letzte letzter letztes letztmals zuletzt dernier dernière último última ultimo ultima laatste "
        "laatst ostatni ostatnia ostatnio poslední naposledy posledný zadnji sista senast siste sidste viimeksi viimeinen "
        "utolsó utoljára последний последняя τελευταία son".split(),
    )
)


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
        if _is_span(board, choice.position, place, between):
            _take_last(board, found, name, *sorted((choice.position, place), key=lambda one: _is_last(board, one)))
            return
        if _are_zones(between):
            is_better = bool(zone_in([board.headings[place]])) and not zone_in([board.headings[choice.position]])
        else:
            is_better = _is_before(between) and not _are_of_others(other, chosen)
        if is_better:
            found.unused = [one for one in found.unused if one != place] + [choice.position]
            found.choices[name] = Choice(place, "cells", choice.score)
            choice, chosen = found.choices[name], other


def _is_last(board: Board, place: int) -> bool:
    return bool(_LAST & set(words_of(board.headings[place])))


def _is_span(board: Board, one: int, other: int, between: Sequence[int]) -> bool:
    """Whether two columns of times tell when a station was first and last heard; `between`: from `other` to `one`."""
    first, last = sorted((one, other), key=lambda place: _is_last(board, place))
    if _is_last(board, first) or not _is_last(board, last) or not _FIRST & set(words_of(board.headings[first])):
        return False
    forth = between if last == one else [-gap for gap in between]
    return sum(gap >= 0 for gap in forth) >= _MOST * len(forth) and any(gap > _HOUR for gap in forth)


def _take_last(board: Board, found: Identified, name: str, first: int, last: int) -> None:
    """Takes the last time of a station; how long it called is not told by a duration, which is that of all its calls."""
    others = [found.choices.pop(one) for one in (name, SECONDS) if one in found.choices]
    found.choices[name] = Choice(last, "heading and cells", others[0].score)
    left = {first, *(choice.position for choice in others)} - {last}
    found.unused = sorted({*found.unused, *left} - {last})
    found.doubt = (
        f"a row tells when a station was first and last heard, in {column_name(board, first)!r} and "
        f"{column_name(board, last)!r}: it counts as one call, at the last time"
    )


def _are_zones(between: Sequence[int]) -> bool:
    return len(set(between)) == 1 and between[0] % _ZONES == 0


def _is_before(between: Sequence[int]) -> bool:
    return sum(0 <= gap <= _HOUR for gap in between) >= _MOST * len(between)


def _are_of_others(times: Sequence[int | None], chosen: Sequence[int | None]) -> bool:
    """Whether most times are those of other rows: when the one before was, or when the station called before."""
    elsewhere = set(chosen)
    differing = [time for time, own in zip(times, chosen, strict=True) if time != own]
    return sum(time in elsewhere for time in differing) > len(differing) / 2
