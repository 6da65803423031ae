"""One row of cells -> whether it can head a table, is data, or is no row.

Receives cells as texts, hands on yes or no.
"""

from __future__ import annotations

import re
from typing import Final

from pruner.reference.callsign import clean_callsign, is_ordinary
from pruner.table.facts import LENGTHS_OF_IDS
from pruner.table.headings import SYSTEM_WORDS, sense_of
from pruner.table.kinds import Kind
from pruner.table.line_forms import RULE

#: The name of a type as in ISO/IEC 9075 (SQL), in common databases and programming languages, or XML Schema.
_TYPE: Final = re.compile(
    r"(?:xsd?:)?(?:(?:big|small|tiny|medium|unsigned|long)?\s?int(?:eger)?(?:8|16|32|64)?|serial|number|numeric|decimal|dec|real"
    r"|float(?:32|64)?|double(?: precision)?|long|short|byte|(?:n?var)?char(?:acter)?2?(?: varying)?|(?:tiny|medium|long)?text"
    r"|str(?:ing)?|utf8|clob|bool(?:ean)?|bit|date|time|date_?time2?|timestamp|uuid|blob|object|enum|category)"
    r"(?:\s?\(\s?\d+(?:\s?,\s?\d+)?\s?\))?(?:\s(?:unsigned|(?:not )?null|primary key))?",
    re.IGNORECASE,
)
_TIME: Final = re.compile(r"\d{1,2}:\d{2}(?!\w)", re.ASCII)
_NUMBER: Final = re.compile(r"[\s\"'=]*[\d.,]+[\s\"']*")
#: A number with what it is before it, as rows have them; with one digit it may be a numbered heading.
_TAGGED: Final = re.compile(r"\s*(?:tg|dmr|id|#)\s*\d+\s*", re.IGNORECASE)
_BETWEEN: Final = re.compile(r"[\s,;:()\[\]]+")
_SYSTEMS: Final = tuple(map(str.upper, SYSTEM_WORDS))
#: So many cells below, of so many rows, must be tagged numbers as the heading is.
_MOST: Final = 0.6
_LOOKED_AT: Final = 50


def can_head(cells: list[str], width: int) -> bool:
    """Whether a row can be a heading line: as wide as the rows, several cells filled (or the only one), none a number, a
    time, a tagged number or a call sign."""
    filled = [cell for cell in cells if cell.strip()]
    if width > 1 and len(filled) < 2:
        return False
    return abs(len(cells) - width) <= max(1, width // 3) and not any(map(_is_value, filled))


def is_data(cells: list[str]) -> bool:
    """Whether a row holds a number, a time, a tagged number or a call sign."""
    return any(map(_is_value, cells))


def is_no_row(cells: list[str], kind: Kind) -> bool:
    """Whether a row below the headings is a rule, a line of types (as databases write them) or of the numbers of
    the columns, or a second heading line."""
    filled = [cell for cell in cells if cell.strip()]
    is_types = len(filled) > 1 and all(_TYPE.fullmatch(cell.strip()) for cell in filled)
    return is_types or is_numbered(cells) or RULE.fullmatch("|".join(cells)) is not None or _is_second_heading(cells, kind)


def is_numbered(cells: list[str]) -> bool:
    """Whether the cells of a row only number the columns."""
    return len(cells) > 1 and [cell.strip() for cell in cells] == [str(number) for number in range(1, len(cells) + 1)]


def _is_second_heading(cells: list[str], kind: Kind) -> bool:
    """Whether a row below the headings is a heading line too, in another language say."""
    filled = [cell for cell in cells if cell.strip()]
    return len(filled) > 1 and not is_data(cells) and words_for(cells, kind) >= 0.6 * len(filled)


def two_lines(upper: list[str], lower: list[str]) -> list[str]:
    """The headings of two lines, of which the upper one has cells that reach over several columns, with what stands in each in
    the lower one; none where they are not such.

    Below a cell that stands for one column nothing stands. A lower cell may be a part of a word ("Vor", "Nach" below "Name").
    """
    cells = [[cell.strip() for cell in line] for line in (upper, lower)]
    if len(upper) != len(lower) or "" not in cells[0] or "" not in cells[1] or is_data(upper) or is_data(lower):
        return []
    found, above, parts = [], "", 0
    for place, (over, under) in enumerate(zip(*cells, strict=True)):
        reaches = not over or (place + 1 < len(upper) and not cells[0][place + 1] and bool(cells[1][place + 1]))
        above = over or above
        if under and not (reaches and above):
            return []
        parts += bool(under)
        found.append(_below(above, under) if under else over)
    is_filled = sum(map(bool, cells[0])) > 1 and parts > 1
    known = sum(bool(sense_of(heading).classes) for heading, under in zip(found, cells[1], strict=True) if under)
    return found if is_filled and 2 * known >= parts else []


def _below(above: str, under: str) -> str:
    """The heading that a lower cell makes, alone or with the cell above it: the one of which most is known."""
    return max((under, f"{under}{above.lower()}", f"{under} {above}"), key=lambda text: sense_of(text).best)


def words_for(cells: list[str], kind: Kind) -> float:
    """How many cells are words for columns of a kind, each by its weight."""
    return sum(max((sense_of(cell).weight(meaning.words) for meaning in kind.meanings), default=0.0) for cell in cells)


def is_entry(heading: list[str], rows: list[list[str]]) -> bool:
    """Whether a heading line is a row itself: a number with its tag above such."""
    for place, cell in enumerate(heading):
        below = [row[place] for row in rows[:_LOOKED_AT] if place < len(row) and row[place].strip()]
        if _TAGGED.fullmatch(cell) and sum(_TAGGED.fullmatch(one) is not None for one in below) > _MOST * len(below):
            return True
    return False


def _is_value(cell: str) -> bool:
    """Whether a cell is a number or a tagged number, or holds a time, an id or a call sign."""
    has_digits = any(map(str.isdigit, cell))
    if not has_digits:
        return False
    if _NUMBER.fullmatch(cell) or _TIME.search(cell):
        return True
    if _TAGGED.fullmatch(cell):
        return sum(map(str.isdigit, cell)) > 1
    return any(_names_station(word) for word in _BETWEEN.split(cell)) and not sense_of(cell).classes


def _names_station(word: str) -> bool:
    is_id = len(word) in LENGTHS_OF_IDS and word.isdigit()
    return is_id or (is_ordinary(clean_callsign(word)) and not word.upper().startswith(_SYSTEMS))
