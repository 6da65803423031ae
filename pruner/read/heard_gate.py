"""Whether a table is a heard log: what must say that stations call groups.

Receives a board and which columns were chosen, hands on why it is none.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Final

from pruner.read.group_cells import MARKED_GROUP, group_number, is_of_station
from pruner.read.heard_meanings import CALLER_WORDS, GROUP_WORDS, TALKGROUP
from pruner.read.kinds import shown_column
from pruner.reference.numbering import country_of_talkgroup
from pruner.table.board import Board
from pruner.table.choices import heading_weight
from pruner.table.facts import LENGTHS_OF_IDS, looks_legal
from pruner.table.kinds import Meaning
from pruner.words import schema

_CALLER: Final = Meaning(schema.ID, CALLER_WORDS)
_GROUP: Final = Meaning(TALKGROUP, GROUP_WORDS)
#: So many rows have a talkgroup of a caller's country; of numbers of three digits few are by chance.
_OF_CALLERS: Final = 0.2
_MARKED: Final = 0.5
#: Of a table of groups fewer are numbers as persons have: those of others are telephones, or stations that call stations.
_PERSONS: Final = 0.9
#: Of ids fewer are longer than ids are.
_BEYOND: Final = 0.1


def judge_log(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no heard log, "" where it may be one: something must say that stations call groups. That is a heading of
    talkgroups or what stands before their numbers, a column of call signs beside ids, or that talkgroups begin with codes of
    the callers' countries: of several of them, where no heading says who calls. Numbers of telephones are no ids,
    and where nearly all that is called is a person there are no groups."""
    place = chosen[TALKGROUP]
    column = board.columns[place]
    is_marked = column.share_of_texts(lambda cell: MARKED_GROUP.match(cell) is not None) > _MARKED
    if any(one.is_callsign > _MARKED for one in board.columns):
        return "" if is_marked or schema.ID in chosen else judge_line(board, chosen)
    if schema.ID in chosen and board.columns[chosen[schema.ID]].share_of_texts(partial(_is_beyond, board.system)) > _BEYOND:
        return f"{shown_column(board, chosen[schema.ID])} has numbers that are too large for ids"
    if not is_marked and column.share_of_texts(partial(is_of_station, system=board.system)) > _PERSONS:
        return f"no call signs, and {shown_column(board, place)} holds numbers of seven digits as stations have, not talkgroups"
    if is_marked or heading_weight(board, _GROUP, place) > 0:
        return ""
    if schema.ID not in chosen or not board.has_headings:
        return judge_line(board, chosen)
    is_headed = heading_weight(board, _CALLER, chosen[schema.ID]) > 0
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
    is_headed = heading_weight(board, _GROUP, place) > 0
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
