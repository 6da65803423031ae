"""How the cells of identified columns are written: an id and a call sign in one cell, words for empty cells.

Receives a board of sampled cells, hands on what was found; `read.forms` takes the cells apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from typing import Final

from pruner.reference import countries
from pruner.table.board import Board
from pruner.table.facts import OFTEN, OFTEN_SHARE, id_beside_callsign, is_empty_word

_MOST: Final = 0.6
#: A word stands for an empty cell where it stands in so many columns.
_COLUMNS: Final = 2


def joined_column(board: Board, ids: int | None) -> int | None:
    """The column whose cells hold an id and a call sign, None where there is none. `ids`: what was taken for the column of
    ids; where its cells hold ids alone, it is no other."""

    def share(place: int) -> float:
        return board.columns[place].share_of_texts(lambda cell: id_beside_callsign(cell) >= 0)

    if ids is not None:
        return ids if share(ids) >= _MOST else None
    shares = [(-share(place), place) for place in range(len(board.columns))]
    best = min(shares, default=(0.0, 0))
    return best[1] if -best[0] >= _MOST else None


def empty_words(board: Board, positions: Mapping[str, int]) -> dict[str, frozenset[str]]:
    """Per meaning the texts that stand for an empty cell: signs, and words that a column, or several, use for it.

    A surname may be one of these words: a single cell, in one column, stays.
    """
    places = {place: meaning for meaning, place in positions.items()}
    counts = {
        place: Counter({cell: count for cell, count in board.columns[place].counts.items() if is_empty_word(cell)})
        for place in places
    }
    columns = Counter(cell for found in counts.values() for cell in found)
    result: dict[str, frozenset[str]] = {}
    for place, found in counts.items():
        column = board.columns[place]
        marks = {
            cell
            for cell, count in found.items()
            if not any(map(str.isalpha, cell))
            or columns[cell] >= _COLUMNS
            or (count >= OFTEN and count >= OFTEN_SHARE * column.filled)
        }
        if places[place].endswith("country"):
            marks = {mark for mark in marks if column.country_of_text(mark) == 0}
        if marks:
            result[places[place]] = frozenset(marks)
    return result


def has_numbers_of_countries(board: Board, positions: Mapping[str, int], empty: Collection[str] = ()) -> bool:
    """Whether the column of countries holds their numbers of three digits (ISO 3166-1 numeric), but for texts that stand for an
    empty cell (`empty`)."""
    if "country" not in positions:
        return False
    filled = board.columns[positions["country"]].counts.keys() - set(empty)
    return bool(filled) and all(countries.of_numeric(cell) > 0 for cell in filled)
