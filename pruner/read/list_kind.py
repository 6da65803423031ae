"""The kind of table that a list of ids or call signs in a rule is, and which columns of numbers it believes.

Receives boards of cells, hands on shares from 0 to 1 and sentences. Limits were set on invented tables of stations, accounts,
invoices and goods.
"""

from __future__ import annotations

from typing import Final

from pruner.read.kinds import ID_WORDS, NEARLY_ALL, STATIONS, id_cells, judge_stations
from pruner.table.board import HARDLY, Board
from pruner.table.facts import Facts
from pruner.table.fold import fold
from pruner.table.headings import sense_of
from pruner.table.identify import identify
from pruner.table.kinds import Kind, Meaning
from pruner.words import schema
from pruner.words.number import whole_number

#: The column of the last ids of ranges, whose first ids stand in that of ids.
LAST_ID: Final = "last_id"
#: Headings of the first and the last of a range, of several languages; from memory.
_RANGE_STARTS: Final = frozenset(
    fold(word)
    for word in (
        *"from first start begin von ab erste erster anfang de du début desde del da dal inicio início van eerste od".split(),
        *"från fra со от з first_id from_id id_from start_id erste_id von_id id_von".split(),
    )
)
_RANGE_ENDS: Final = frozenset(
    fold(word)
    for word in (
        *"to last end till until bis letzte letzter ende à au fin hasta al a fino fine até tot t/m laatste do po".split(),
        *"till til до по last_id to_id id_to end_id letzte_id bis_id id_bis".split(),
    )
)
#: So many cells of a column of words, such as names, may be text.
_WORDS: Final = 0.5
#: So many cells of a column of call signs are such.
_CALLS: Final = 0.6


def list_id_cells(board: Board, place: int) -> float:
    """As `id_cells`; ids of other countries than the texts beside them are none, nor are ids beside call signs that no
    directory would have: the list goes by its call signs."""
    agreement, rows = board.agreement(place)
    if (rows and agreement <= HARDLY) or _range_start(board, place) is not None:
        return 0.0
    fits = id_cells(board, place)
    calls = next((other for other, column in enumerate(board.columns) if other != place and _are_calls(column)), None)
    is_none = fits and calls is not None and judge_stations(board, {schema.ID: place, schema.CALLSIGN: calls})
    return 0.0 if is_none else fits


def range_end_cells(board: Board, place: int) -> float:
    """1 for a column of last ids beside one of first ids, as their headings and cells say, else 0."""
    first = _range_start(board, place)
    return 0.0 if first is None else min(id_cells(board, first), id_cells(board, place))


def _range_start(board: Board, end: int) -> int | None:
    """The column of first ids whose last ids stand in the column at `end`, None where these are none."""
    if fold(board.headings[end]) not in _RANGE_ENDS or not board.columns[end].filled:
        return None
    for place, column in enumerate(board.columns):
        pairs = zip(column.cells, board.columns[end].cells, strict=True)
        numbers = [(whole_number(one), whole_number(other)) for one, other in pairs if one and other]
        if fold(board.headings[place]) in _RANGE_STARTS and numbers and all(0 < one <= other for one, other in numbers):
            return place
    return None


def _are_calls(column: Facts) -> bool:
    return column.filled > 0 and column.is_callsign >= _CALLS


def judge_list(board: Board, chosen: dict[str, int]) -> str:
    """As `judge_stations` of a table of several columns without call signs; but numbers that begin with the code of a country
    are believed under a heading of ids or beside a column of words, unless they count the rows or their heading says that they
    are something else."""
    place = chosen.get(schema.ID, -1)
    if LAST_ID in chosen and board.columns[place].known_share >= NEARLY_ALL:
        return ""
    if place < 0 or schema.CALLSIGN in chosen or sum(column.filled > 0 for column in board.columns) < 2:
        return ""
    column = board.columns[place]
    heading = board.senses[place] if board.has_headings else sense_of(column.cells[0])
    has_words = bool(heading.classes) or any(
        other.filled and other.may_be_text >= _WORDS for at, other in enumerate(board.columns) if at != place
    )
    is_other = heading.is_other or board.has_foreign_ids(place) or column.is_counter
    if column.known_share >= NEARLY_ALL and has_words and not is_other:
        return ""
    others = identify(board, STATIONS, {schema.ID: place + 1}).positions
    return judge_stations(board, others | chosen)


LIST: Final = Kind(
    "list",
    (Meaning(schema.ID, ID_WORDS, list_id_cells), STATIONS.meaning(schema.CALLSIGN), Meaning(LAST_ID, (), range_end_cells)),
    ((schema.ID, schema.CALLSIGN),),
    (schema.ID,),
    "a list of ids or call signs",
    "ids or call signs",
    (schema.ID,),
    {schema.ID: "ids", schema.CALLSIGN: "call signs"},
    judge_list,
    setting="list_columns",
    may_be_short=True,
    may_be_side_by_side=True,
    may_have_several_ids=True,
)
