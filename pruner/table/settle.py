"""Columns that one another explain: swapped headings, towns and states, places in one cell, parts of names, what is left.

Receives a board and what was chosen by score, changes the choice.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.choices import PLACE, Choice, Identified, evidence_of, heading_weight, score
from pruner.table.facts import call_and_name
from pruner.table.headings import PARTLY
from pruner.table.kinds import Kind

#: So many cells must end in a country; classes of headings that may have such cells.
_MOST_PLACES: Final = 0.6
_PLACES: Final = frozenset({"locator", "street", "person_other", "latitude", "longitude"})
_NAMES: Final = frozenset({"name", "first_name", "last_name"})
#: Classes of headings that say whose entry a row is: over words, they are names.
_PERSONS: Final = frozenset({"member_number", "station", "caller", "number", "id"})
#: Cells of names are words, and hardly any two are alike.
_ALL_TEXT, _DISTINCT = 0.9, 0.7


def settle_swapped(board: Board, kind: Kind, found: Identified) -> None:
    """Where a column headed as a text holds countries, and the one headed as the country holds texts, the headings are
    swapped."""
    if "country" not in kind.names or "country" in found.choices:
        return
    country = kind.meaning("country")
    headed = [
        place
        for place, column in enumerate(board.columns)
        if heading_weight(board, country, place) >= PARTLY and column.is_text >= 0.5
    ]
    texts = [
        meaning
        for meaning, choice in found.choices.items()
        if choice.evidence != "settings" and board.columns[choice.position].names_countries >= 0.8
    ]
    if len(headed) == 1 and len(texts) == 1 and headed[0] not in found.positions.values():
        swapped = found.choices[texts[0]]
        found.choices["country"] = Choice(swapped.position, "cells", swapped.score)
        found.choices[texts[0]] = Choice(headed[0], "left over", swapped.score)


def settle_places(board: Board, kind: Kind, found: Identified) -> None:
    """A heading that means a town or a state ("il") is the state where another column is headed as the town."""
    if not {"town", "state"} <= set(kind.names) or "state" in found.choices or "town" not in found.choices:
        return
    either = found.choices["town"]
    is_state = heading_weight(board, kind.meaning("state"), either.position) >= PARTLY
    if either.evidence == "settings" or not is_state:
        return
    used = found.positions.values()
    others = [(-score(board, kind.meaning("town"), place), place) for place in range(len(board.columns)) if place not in used]
    value, place = min(others, default=(0.0, 0))
    if value < 0:
        found.choices["town"] = Choice(place, evidence_of(board, kind.meaning("town"), place), -value)
        found.choices["state"] = either


def take_place_in_one(board: Board, kind: Kind, found: Identified) -> None:
    """Where no column holds countries, and the cells of one end in them behind a comma ("Graz, Austria")."""
    if not kind.has_places or "country" in found.choices:
        return
    holders = {choice.position: (meaning, choice.evidence) for meaning, choice in found.choices.items()}
    for place, column in enumerate(board.columns):
        holder, evidence = holders.get(place, ("", ""))
        sense = board.senses[place]
        if holder not in ("", "town", "state") or evidence == "settings" or column.filled < ENOUGH_ROWS:
            continue
        is_foreign = sense.is_other and not sense.classes.keys() <= _PLACES
        if is_foreign or column.share_of_texts(column.ends_in_country) < _MOST_PLACES:
            continue
        if holder:
            del found.choices[holder]
        new = [meaning for meaning in PLACE if meaning not in found.choices]
        found.choices |= {meaning: Choice(place, "cells", 0.0) for meaning in new}
        found.parts = tuple(new)
        return


def take_call_in_name(board: Board, kind: Kind, found: Identified) -> None:
    """Where no column holds call signs, and the cells of one begin with them, a name behind ("OE1ABC Ada")."""
    if not kind.takes_names_apart or found.is_joined or "callsign" in found.choices:
        return
    holders = {choice.position: meaning for meaning, choice in found.choices.items()}
    for place, column in enumerate(board.columns):
        holder = holders.get(place, "name")
        if holder not in ("name", "first_name", "last_name") or (place not in holders and holder in found.choices):
            continue
        if column.filled >= ENOUGH_ROWS and column.share_of_texts(lambda cell: bool(call_and_name(cell)[0])) >= _MOST_PLACES:
            found.choices.setdefault(holder, Choice(place, "cells", 0.0))
            found.choices["callsign"] = Choice(place, "cells", 0.0)
            found.named = holder
            return


def settle_names(board: Board, found: Identified, answers: Mapping[str, str | int]) -> None:
    """One column of whole names, or first and last names: beside a first name, a column headed "name" holds last names,
    unless its cells hold the first names too."""
    choices = found.choices
    if "name" not in choices or "name" in answers:
        return
    first, last = choices.get("first_name"), choices.get("last_name")
    if first and last:
        whole = board.columns[choices["name"].position].filled
        if whole > 2 * max(board.columns[first.position].filled, board.columns[last.position].filled):
            del choices["first_name"], choices["last_name"]
        else:
            del choices["name"]
        return
    other = first or last
    if other is None:
        return
    if _holds(board, choices["name"].position, other.position):
        del choices["first_name" if first else "last_name"]
        return
    choices["last_name" if first else "first_name"] = choices.pop("name")


def _holds(board: Board, whole: int, part: int) -> bool:
    """Whether most cells of a column hold the cell of another as a word."""
    pairs = [
        (text.casefold().replace(",", " ").split(), word.casefold().split())
        for text, word in zip(board.columns[whole].cells, board.columns[part].cells, strict=True)
        if text and word
    ]
    return bool(pairs) and sum(set(words) <= set(text) and len(text) > len(words) for text, words in pairs) > len(pairs) / 2


def take_persons(board: Board, kind: Kind, found: Identified) -> None:
    """Where no column holds names: the only unused one of words whose heading says a person, or, under a heading of which
    nothing is known, of two words or more in most cells, hardly any twice."""
    if not kind.has_places or not _NAMES.isdisjoint(found.choices) or found.is_joined:
        return
    used = set(found.positions.values())
    free = [
        place
        for place, column in enumerate(board.columns)
        if place not in used and 2 * column.filled > board.rows >= ENOUGH_ROWS and column.is_text >= _ALL_TEXT
    ]
    persons = [place for place in free if _may_be_persons(board, place)]
    if len(persons) == 1:
        found.choices["name"] = Choice(persons[0], "cells", 0.0)


def _may_be_persons(board: Board, place: int) -> bool:
    classes, column = board.senses[place].classes.keys(), board.columns[place]
    if classes:
        return classes <= _PERSONS
    several = column.share_of_texts(lambda cell: len(cell.split()) > 1)
    return several >= _MOST_PLACES and column.distinct_share >= _DISTINCT and column.names_countries == 0


def take_left_over(board: Board, kind: Kind, found: Identified) -> None:
    """The only column of text that nothing else is, for a meaning that may be it."""
    for meaning in kind.meanings:
        instead = {name for names in kind.needed if meaning.name in names for name in names}
        if not meaning.is_left_over or instead & set(found.choices):
            continue
        used = set(found.positions.values())
        texts = [
            place for place, column in enumerate(board.columns) if place not in used and column.filled and column.is_text >= 0.5
        ]
        if not texts and "country" in found.choices and found.choices["country"].evidence == "cells":
            texts = [found.choices.pop("country").position]
        if len(texts) == 1:
            found.choices[meaning.name] = Choice(texts[0], "left over", 0.1)
