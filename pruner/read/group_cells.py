"""Numbers of talkgroups in cells, and whether a table is a list of them.

Receives cells and boards, hands on numbers, shares from 0 to 1, and why a table is none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from pruner.reference import numbering
from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.headings import Sense, sense_of
from pruner.words import schema
from pruner.words.number import whole_number

#: A cell that says that it holds a group, and a number with decimals, as prices, measures and shares have them.
_TAGGED: Final = re.compile(r"(?:\bTG|#|\()\s*[:#-]?\s*\d|(?:TS|slot)?\s*[12]\s*/", re.IGNORECASE | re.ASCII)
#: A mark of a group, or its slot, before the number.
MARKED_GROUP: Final = re.compile(r"\s*(?:\bTG|#|(?:TS|slot)?\s*[12]\s*[/:])\s*[:#-]?\s*(?:TG)?\s*\d", re.IGNORECASE | re.ASCII)
#: A name beside the number, which stands in brackets or behind a sign.
_NAMED: Final = re.compile(
    r"[^\d\s][^\d]*\d{0,2}[^\d]*?(?:[\[({<]\s*|\s[-–—|:/]\s*|:\s?)(?:TG\s?)?#?(\d{1,8})\s*[\])}>]?", re.ASCII | re.IGNORECASE
)
_DECIMALS: Final = re.compile(r"[^\w\s]?\s?-?\d{1,6}[.,]\d{1,4}\s?(?:%|[^\w\s]|[A-Z]{3})?")
#: Classes of words that head columns of a list of talkgroups and of hardly anything else.
_OF_GROUPS: Final = (("talkgroup_name", 1.0), ("slot", 1.0))
#: Classes of words that head columns of other tables: of people, addresses, goods and records.
_OF_OTHERS: Final = frozenset(
    "first_name last_name callsign previous_callsign town phone email street postal_code member_number licence latitude "
    "longitude locator".split()
)
#: Columns that a list of talkgroups may have, whatever numbers stand in them.
_WITH_NUMBERS: Final = frozenset({"slot", "frequency", "id", "number", "talkgroup", "row_number", "database_key"})
#: So many rows must have the country of their number for it to speak, and so many lengths of numbers.
_LEAST_AGREEING: Final = 0.3
_LENGTHS: Final = 3
_MOST: Final = 0.6


def group_number(text: str) -> int:
    """The number of a talkgroup in a cell such as `232`, `TG 232`, `#232`, `232 Austria`, `Alps (232)`, `Alps [232]` or
    `2/232`; -1 without one."""
    text = text.strip()
    plain = whole_number(text)
    if plain >= 0:
        return plain
    numbers = re.findall(r"\d+", text)
    if not numbers or len(text) > 80:
        return -1
    slotted = re.fullmatch(r"(?:TS|slot)?\s*[12]\s*[/:-]\s*(?:TG)?\s*(\d{1,8})", text, re.IGNORECASE | re.ASCII)
    if slotted:
        return int(slotted[1])
    named = _NAMED.fullmatch(text)
    if named:
        return int(named[1])
    tagged = re.search(r"(?:\bTG|#|\()\s*[:#-]?\s*(\d{1,8})\b", text, re.IGNORECASE | re.ASCII)
    if tagged:
        return int(tagged[1])
    led = re.match(r"[\[({<]?(\d{1,8})\b(?![.,:/-]\d)", text, re.ASCII)
    if led:
        return int(led[1])
    return int(numbers[0]) if len(numbers) == 1 and len(numbers[0]) <= 8 and re.fullmatch(r"\D+[\s(]\d+\)?", text) else -1


def is_of_station(cell: str, system: str) -> bool:
    """Whether the number in a cell of talkgroups is as long as those of persons (`dmr`: seven digits, common practice, no
    source)."""
    return system == "dmr" and 1_000_000 <= group_number(cell) <= 9_999_999


def group_cells(board: Board, place: int) -> float:
    """How well a column fits numbers of talkgroups in a list: each its own, and no counter beside a better column."""
    column = board.columns[place]
    fits = column.share_of_texts(lambda cell: 0 < group_number(cell) <= schema.SYSTEMS["dmr"].highest)
    fits *= 0.5 + 0.5 * column.distinct_share
    return fits * (0.6 if column.is_counter else 1.0)


def judge_talkgroups(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no list of talkgroups, "" where it may be one.

    A heading that says group or slot, or a tag in the cells, accepts; so do numbers that begin with the code of the country
    that their row names. Else a table is refused where its numbers are those of stations, or where something in it belongs to
    another kind of table: headings of people, addresses or goods, and columns of decimals, dates, clocks or further numbers.
    """
    place = chosen[schema.ID]
    agreement, rows = board.agreement(place)
    if rows >= ENOUGH_ROWS and agreement >= _MOST and any(column.is_callsign > _MOST for column in board.columns):
        return "the numbers are ids of stations, with their call signs: this is a directory"
    senses = _senses(board, place)
    column = board.columns[place]
    is_headed = senses[place].weight((("talkgroup", 1.0),)) > 0 or any(sense.weight(_OF_GROUPS) for sense in senses)
    if is_headed or column.share_of_texts(_is_tagged) >= 0.5:
        return ""
    if column.filled >= ENOUGH_ROWS and column.known_share > 0.9:
        return "the numbers look like ids of stations, not of talkgroups"
    other = next(_other(board, chosen, senses), "")
    return "" if not other or _names_countries(board, place) else f"{other}, as a list of talkgroups has not"


def _senses(board: Board, place: int) -> list[Sense]:
    """What the headings say; of a table without heading line the first row, where its number is none."""
    first = [column.cells[0] if column.cells else "" for column in board.columns]
    return [sense_of(cell) for cell in first] if not board.has_headings and group_number(first[place]) < 0 else board.senses


def _is_tagged(cell: str) -> bool:
    return _TAGGED.search(cell) is not None


def _names_countries(board: Board, place: int) -> bool:
    """Whether numbers begin with the code of the country that a text of their row names (common practice, no source)."""
    numbers = [group_number(cell) if cell else -1 for cell in board.columns[place].cells]
    codes = [numbering.country_of_talkgroup(number) if number > 0 else 0 for number in numbers]
    agreeing = [
        any(_names(board, other, row, code) for other in range(len(board.columns)) if other != place)
        for row, code in enumerate(codes)
        if code
    ]
    return sum(agreeing) >= max(2, _LEAST_AGREEING * len(agreeing))


def _names(board: Board, place: int, row: int, country: int) -> bool:
    column = board.columns[place]
    text = column.cells[row]
    words = {text, text.partition(" ")[0]} - {""}
    return any(column.country_of_text(word) == country for word in words)


def _other(board: Board, chosen: dict[str, int], senses: list[Sense]) -> Iterator[str]:
    """What belongs to another kind of table, in words."""
    numbers = board.columns[chosen[schema.ID]]
    lengths = len({len(str(number)) for number in numbers.numbers})
    for place, column in enumerate(board.columns):
        name = f"{column.heading.strip()[:40]!r}" if column.heading.strip() else f"column {place + 1}"
        if senses[place].classes and senses[place].classes.keys() <= _OF_OTHERS:
            yield f"{name} is a column of people or addresses"
        if place in chosen.values() or column.filled < ENOUGH_ROWS:
            continue
        if column.share_of_texts(lambda cell: _DECIMALS.fullmatch(cell) is not None) >= _MOST and not _is_free(senses[place]):
            yield f"{name} holds numbers with decimals"
        elif column.is_clock >= _MOST or (lengths < _LENGTHS and column.is_date >= _MOST):
            yield f"{name} holds dates or times"
        elif lengths < _LENGTHS and column.share_of_texts(_is_number) >= _MOST and not _is_free(senses[place]):
            yield f"{name} holds numbers too"
    if senses[chosen[schema.ID]].is_other and not senses[chosen[schema.ID]].classes.keys() <= _WITH_NUMBERS:
        yield "the column of the numbers is headed as something else"


def _is_free(sense: Sense) -> bool:
    return bool(sense.classes) and sense.classes.keys() <= _WITH_NUMBERS


def _is_number(cell: str) -> bool:
    return whole_number(cell) >= 0
