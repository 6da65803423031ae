"""The first lines of a text -> the ways in which they may be cut into cells, and their cells.

Receives lines, hands on dialects (delimiter or form of line, quote, whether quoted cells may follow a blank) and rows.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from pruner.table.line_forms import (
    RULE,
    LineForm,
    forms_of,
    is_grid_line,
    numbered,
    rare_delimiters,
    typographic,
    wikis,
    wrapped,
)

#: Delimiter, quote, whether quotes follow blanks.
Dialect = tuple[str | LineForm, str, bool]
DELIMITERS: Final = (",", ";", "\t", "|")
#: A comment; `#232` is a number.
COMMENT: Final = re.compile(r"\s*(?:#(?!\s*\d)|//|;|--|%)")
#: A delimiter that stands equally often in so many lines needs no rival.
_EVEN: Final = 0.9
#: Bars that stand in so many lines divide cells.
_OFTEN: Final = 0.5
_SEPARATOR: Final = re.compile(r"sep=(.)")


@dataclass(frozen=True, slots=True)
class Row:
    """One record of the head: its cells, and the line of the text behind it, from 0."""

    cells: list[str]
    end: int


def hinted_delimiter(lines: list[str]) -> str:
    """The delimiter that the first line names, as spreadsheets write it (`sep=;`), "" where it names none."""
    found = next((_SEPARATOR.fullmatch(line.strip()) for line in lines if line.strip()), None)
    return found[1] if found else ""


def dialects_of(lines: list[str], hinted: str, *, may_be_lines: bool) -> Iterator[Dialect]:
    """Those that the text shows, the likeliest first; `may_be_lines`: a line may be a number and a text."""
    text = "\n".join(lines[:100])
    if hinted:
        yield hinted, '"', False
        return
    lined = _numbered(lines) if may_be_lines else None
    if lined is not None:
        yield lined, '"', False
    counts = {delimiter: text.count(delimiter) for delimiter in DELIMITERS}
    # A delimiter that stands in every line, and equally often, goes before one that is merely frequent.
    filled = [line for line in lines[:100] if line.strip()]
    even = {delimiter: _evenness(filled, delimiter) for delimiter in DELIMITERS}
    present = sorted((mark for mark in DELIMITERS if counts[mark]), key=lambda mark: (-even[mark], -counts[mark]))
    if present[:1] == ["|"]:
        yield from ((form, '"', False) for form in wikis(filled))
    if not text.isascii():
        yield from ((form, '"', False) for form in typographic(filled, present))
    if filled and filled[0].lstrip().startswith('"'):
        yield from ((form, '"', False) for form in wrapped(filled, present))
    for delimiter in present:
        spaces = delimiter != "\t" and _has_spaces(text, delimiter, '"')
        mark = re.escape(delimiter)
        single = re.findall(rf"(?:^|{mark}) ?'[^'\n]*'(?={mark}|$)", text, re.MULTILINE)
        quotes = ("'", '"') if len(single) >= len(filled) else ('"', "'") if single else ('"',)
        for quote in quotes:
            yield delimiter, quote, spaces if quote == '"' else f"{delimiter} '" in text
    if not present or even[present[0]] < _EVEN:
        yield from ((delimiter, '"', False) for delimiter in rare_delimiters(filled))
    if even["|"] < _OFTEN:  # other signs may stand in a cell of every line
        rows = [line for line in filled if RULE.fullmatch(line) or not COMMENT.match(line)]
        yield from ((form, '"', False) for form in forms_of(rows))
    if " " in text and (not present or not even[present[0]]):
        yield " ", '"', False
    if not present:
        yield ",", '"', False


def _has_spaces(text: str, delimiter: str, quote: str) -> bool:
    """Whether a cell begins with blanks and then a quote; what stands in quoted cells does not count."""
    if f"{delimiter} {quote}" not in text:
        return False
    end = rf"[{re.escape(delimiter)}\n]"
    field = re.compile(rf"{quote}(?:[^{quote}]|{quote}{quote})*{quote}(?={end}|$)|(?P<spaced> +{quote})|[^{end[1:]}*")
    place = 0
    while place <= len(text):
        found = field.match(text, place)
        if found is None or found["spaced"]:
            return found is not None
        place = found.end() + 1
    return False


def _evenness(lines: list[str], delimiter: str) -> float:
    counts = Counter(line.count(delimiter) for line in lines)
    common, times = counts.most_common(1)[0] if counts else (0, 0)
    return round(times / len(lines), 1) if common else 0.0


def rows_of(lines: list[str], dialect: Dialect) -> Iterator[Row]:
    """The records of some lines, blank lines left out. A line that no reader takes is one cell."""
    delimiter, quote, has_spaces = dialect
    if not isinstance(delimiter, str):
        for place, line in enumerate(lines, 1):
            cells = delimiter.cells(line)
            if any(cells):
                yield Row(cells, place)
        return
    if delimiter == "|":
        lines = ["" if is_grid_line(line) else line for line in lines]
    reader = csv.reader(
        (f"{line}\n" for line in lines), delimiter=delimiter, quotechar=quote, skipinitialspace=has_spaces or delimiter == " "
    )
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error:
            cells = ["?"]
        if any(cell.strip() for cell in cells):
            yield Row(cells, reader.line_num)


def _numbered(lines: list[str]) -> LineForm | None:
    """The form of lines that are a number and a text, where no delimiter stands in most of them."""
    filled = [line for line in lines if line.strip() and not COMMENT.match(line)]
    is_divided = any(2 * sum(mark in line for line in filled) >= len(filled) for mark in DELIMITERS)
    return None if is_divided else numbered(filled)
