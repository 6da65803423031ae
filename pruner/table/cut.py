"""The beginning of a delimited text -> how it is cut into cells, and which column holds what.

Receives text (the head of a file and pieces from further down) and the kind of table, hands on a `Cut`. Every plausible
delimiter, quote and heading line is tried; the way with the most evidence, times its regularity, is taken. Where the first
line is a heading line that the cells below agree with, nothing else is tried.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.headings import sense_of
from pruner.table.identify import identify
from pruner.table.kinds import Kind

DELIMITERS: Final = (",", ";", "\t", "|")
#: Stands for a delimiter where a line is a number and, behind blanks or a sign, a text with blanks in it.
NUMBER_AND_TEXT: Final = "number and text"
_COMMENTS: Final = ("#", "//", ";", "--", "%")
_NUMBER_AND_TEXT: Final = re.compile(r"\s*(\d+)\s*(?:[=:–—-]\s*|\s)\s*(\S.*?)\s*")
#: The heading line is one of the first so many lines that are not blank.
_FIRST_LINES: Final = 12
#: So many lines of the head, and rows in all, are looked at.
_HEAD_LINES: Final = 400
SAMPLE_ROWS: Final = 200
#: Fewer rows of one width than this share are no table.
_REGULAR: Final = 0.5
_AT_ONCE: Final = 0.95
_RULE: Final = re.compile(r"[\s|:+=-]*[-=]{2,}[\s|:+=-]*")
#: The name of a type as in ISO/IEC 9075 (SQL), in common databases and programming languages, or XML Schema.
_TYPE: Final = re.compile(
    r"(?:xsd?:)?(?:(?:big|small|tiny|medium|unsigned|long)?\s?int(?:eger)?(?:8|16|32|64)?|serial|number|numeric|decimal|dec|real"
    r"|float(?:32|64)?|double(?: precision)?|long|short|byte|(?:n?var)?char(?:acter)?2?(?: varying)?|(?:tiny|medium|long)?text"
    r"|str(?:ing)?|utf8|clob|bool(?:ean)?|bit|date|time|date_?time2?|timestamp|uuid|blob|object|enum|category)"
    r"(?:\s?\(\s?\d+(?:\s?,\s?\d+)?\s?\))?(?:\s(?:unsigned|(?:not )?null|primary key))?",
    re.IGNORECASE,
)
_MOST_SECOND_HEADINGS: Final = 2
_SEPARATOR: Final = re.compile(r"sep=(.)")
_TIME: Final = re.compile(r"\d{1,2}:\d{2}(?!\w)", re.ASCII)
_NUMBER: Final = re.compile(r"[\s\"'=]*[\d.,]+[\s\"']*")


@dataclass(frozen=True, slots=True)
class Row:
    """One record of the head: its cells, and the line of the text behind it, from 0."""

    cells: list[str]
    end: int


@dataclass(slots=True)
class Cut:
    """One way of cutting a text.

    `before`: how many lines stand before the first record; `headings`: cells of the heading line, None where there is none;
    `width`: cells of most records; `has_spaces`: quoted cells may follow a blank; `regularity`: share of records of the
    commonest width; `is_headed`: the heading line holds words for columns of the kind.
    """

    delimiter: str
    quote: str
    has_spaces: bool
    before: int
    headings: list[str] | None
    width: int
    board: Board
    found: Identified
    regularity: float
    titles: int = 0
    is_headed: bool = False

    @property
    def score(self) -> tuple[float, bool, float, int]:
        """What two ways are compared by; where all columns are said by position, only words tell a heading line from a
        record."""
        total = round(self.found.total * min(1.0, round(self.regularity, 1)), 6)
        return (total, self.is_headed, self.regularity, self.width)


def cut_text(head: str, pieces: Sequence[str], kind: Kind, system: str, answers: Mapping[str, str | int]) -> Cut | None:
    """The best way of cutting a text; None where there is none. `pieces` are whole lines from further down.

    Raises KeyError with a heading or position of `answers` that no way has.
    """
    lines = head.split("\n")[:_HEAD_LINES]
    hinted = next((_SEPARATOR.fullmatch(line.strip()) for line in lines if line.strip()), None)
    best: Cut | None = None
    missing: KeyError | None = None
    dialects = list(_dialects(lines, hinted[1] if hinted else ""))
    if kind.may_be_lines and not hinted and _are_numbers_and_texts(lines):
        dialects.insert(0, (NUMBER_AND_TEXT, '"', False))
    for delimiter, quote, has_spaces in dialects:
        rows = list(_rows(lines, delimiter, quote, has_spaces))
        if hinted:
            rows = rows[1:]
        more = [
            row.cells for piece in pieces for row in _rows(piece.split("\n"), delimiter, quote, has_spaces) if any(row.cells)
        ]
        for start in _starts(rows, more, kind, system):
            try:
                cut = _cut_at(rows, more, start, (delimiter, quote, has_spaces), kind, system, answers)
            except KeyError as error:
                missing = error
                continue
            if cut is None:
                continue
            if best is None or cut.score > best.score:
                best = cut
            if _is_clear(cut, kind):
                return cut
    if best is None and missing is not None:
        raise missing
    return best


def _are_numbers_and_texts(lines: list[str]) -> bool:
    """Whether nearly all lines are a number and a text, and no delimiter stands in most of them."""
    filled = [line for line in lines if line.strip() and not line.lstrip().startswith(_COMMENTS)]
    led = sum(_NUMBER_AND_TEXT.fullmatch(line) is not None for line in filled)
    return led >= _AT_ONCE * len(filled) > 0 and all(
        2 * sum(mark in line for line in filled) < len(filled) for mark in DELIMITERS
    )


def number_and_text(line: str) -> list[str]:
    """The two cells of a line that is a number and a text; another line is one cell."""
    found = _NUMBER_AND_TEXT.fullmatch(line)
    return [found[1], found[2]] if found else [line.strip()]


def _is_clear(cut: Cut, kind: Kind) -> bool:
    """Whether headings and cells of the first way agree, so that no other way is tried."""
    return (
        cut.headings is not None
        and not cut.found.trouble
        and cut.regularity >= _AT_ONCE
        and all(any(_is_agreed(cut, name) for name in names) for names in kind.needed)
    )


def _is_agreed(cut: Cut, name: str) -> bool:
    choice = cut.found.choices.get(name)
    return choice is not None and (choice.evidence == "settings" or (choice.evidence != "cells" and choice.score >= 0.6))


def _dialects(lines: list[str], hinted: str) -> Iterator[tuple[str, str, bool]]:
    """Delimiter, quote, whether quotes follow blanks: those that the text shows, the likeliest first."""
    text = "\n".join(lines[:100])
    if hinted:
        yield hinted, '"', False
        return
    counts = {delimiter: text.count(delimiter) for delimiter in DELIMITERS}
    # A delimiter that stands in every line, and equally often, goes before one that is merely frequent.
    filled = [line for line in lines[:100] if line.strip()]
    even = {delimiter: _evenness(filled, delimiter) for delimiter in DELIMITERS}
    present = sorted((mark for mark in DELIMITERS if counts[mark]), key=lambda mark: (-even[mark], -counts[mark]))
    for delimiter in present:
        spaces = delimiter != "\t" and _has_spaces(text, delimiter, '"')
        mark = re.escape(delimiter)
        single = re.findall(rf"(?:^|{mark}) ?'[^'\n]*'(?={mark}|$)", text, re.MULTILINE)
        quotes = ("'", '"') if len(single) >= len(filled) else ('"', "'") if single else ('"',)
        for quote in quotes:
            yield delimiter, quote, spaces if quote == '"' else f"{delimiter} '" in text
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


def _rows(lines: list[str], delimiter: str, quote: str, has_spaces: bool) -> Iterator[Row]:
    """The records of some lines, blank lines left out. A line that no reader takes is one cell."""
    if delimiter == NUMBER_AND_TEXT:
        yield from (Row(number_and_text(line), place) for place, line in enumerate(lines, 1) if line.strip())
        return
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


def _width(rows: Sequence[Sequence[str]]) -> int:
    counts = Counter(len(row) for row in rows)
    return max(counts, key=lambda width: (counts[width], width)) if counts else 0


def _starts(rows: list[Row], more: list[list[str]], kind: Kind, system: str) -> list[int]:
    """Which row may be the heading line, -1 for none; the likeliest first."""
    if not rows:
        return []
    first = rows[:_FIRST_LINES]
    width = _width([row.cells for row in rows] + more)
    words = [_words(row.cells, kind) if _can_head(row.cells, width) else 0.0 for row in first]
    found = []
    if width > 1 and [cell.strip() for cell in first[0].cells] == [str(number) for number in range(1, width + 1)]:
        found.append(0)  # columns that are only numbered
    likeliest = max(range(len(first)), key=lambda place: (words[place], -place))
    if words[likeliest] > 0:
        found.append(likeliest)
    first_data = next((place for place, row in enumerate(first) if len(row.cells) == width and _is_data(row.cells)), 0)
    if first_data and _can_head(first[first_data - 1].cells, width):
        above = _filled(first[first_data - 1].cells)
        if all(above != _filled(first[place].cells) for place in found):  # nor the headings once more
            found.append(first_data - 1)
    return [*found, -1]


def _filled(cells: list[str]) -> list[str]:
    return [cell.strip() for cell in cells if cell.strip()]


def _can_head(cells: list[str], width: int) -> bool:
    """Whether a row can be a heading line: as wide as the rows, several cells filled (or the only one), none a number or a
    time."""
    filled = [cell for cell in cells if cell.strip()]
    if width > 1 and len(filled) < 2:
        return False
    return abs(len(cells) - width) <= max(1, width // 3) and not any(
        _NUMBER.fullmatch(cell) or _TIME.search(cell) for cell in filled
    )


def _is_data(cells: list[str]) -> bool:
    return any((_NUMBER.fullmatch(cell) and any(map(str.isdigit, cell))) or _TIME.search(cell) for cell in cells)


def _is_no_row(cells: list[str], kind: Kind) -> bool:
    """Whether a row below the headings is a rule, a line of types (as databases write them), or a second heading line."""
    filled = [cell for cell in cells if cell.strip()]
    is_types = len(filled) > 1 and all(_TYPE.fullmatch(cell.strip()) for cell in filled)
    return is_types or _RULE.fullmatch("|".join(cells)) is not None or _is_second_heading(cells, kind)


def _is_second_heading(cells: list[str], kind: Kind) -> bool:
    """Whether a row below the headings is a heading line too, in another language say."""
    filled = [cell for cell in cells if cell.strip()]
    return len(filled) > 1 and not _is_data(cells) and _words(cells, kind) >= 0.6 * len(filled)


def _words(cells: list[str], kind: Kind) -> float:
    return sum(max((sense_of(cell).weight(meaning.words) for meaning in kind.meanings), default=0.0) for cell in cells)


def _cut_at(
    rows: list[Row],
    more: list[list[str]],
    start: int,
    dialect: tuple[str, str, bool],
    kind: Kind,
    system: str,
    answers: Mapping[str, str | int],
) -> Cut | None:
    """The text with its heading line at a row, or with none (-1)."""
    heading = rows[start].cells if start >= 0 else None
    last = start
    body = rows[start + 1 :]
    while heading is not None and body and last < start + _MOST_SECOND_HEADINGS and _is_no_row(body[0].cells, kind):
        body, last = body[1:], last + 1
    width = _width([row.cells for row in body[: _HEAD_LINES // 2]] + more) if body or more else len(heading or ())
    if heading is None:
        skipped = next((place for place, row in enumerate(body) if len(row.cells) == width), 0)
        skipped = skipped if skipped < _FIRST_LINES else 0
        body, last = body[skipped:], skipped - 1
    elif _is_narrower(heading, body, more, width):
        width = len(heading)
    if heading is not None and len(heading) < width:
        heading = [*heading, *[""] * (width - len(heading))]
    cells = [row.cells for row in body] + more
    if not cells and any(len(row.cells) == width for row in rows[: max(start, 0)]):
        return None  # the last row of a table is not its heading line
    regular = [
        row for row in cells if len(row) == width or (len(row) > width and not any(cell.strip() for cell in row[width:]))
    ]
    regularity = len(regular) / len(cells) if cells else 1.0
    if regularity < _REGULAR or (width < 2 and len(kind.needed) > 1):
        return None
    board = Board(heading, _spread(regular), system)
    found = identify(board, kind, answers)
    delimiter, quote, has_spaces = dialect
    before = rows[last].end if last >= 0 else 0
    titles = max(start, 0) if heading is not None else last + 1
    is_headed = heading is not None and _words(heading, kind) > 0
    return Cut(delimiter, quote, has_spaces, before, heading, width, board, found, regularity, titles, is_headed)


def _is_narrower(heading: list[str], body: list[Row], more: list[list[str]], width: int) -> bool:
    """Whether records end where the headings do: rows are shorter than named columns, or have no text behind the last one."""
    if width < len(heading):
        return any(cell.strip() for cell in heading[width:])
    cells = [row.cells for row in body] + more
    return 2 * sum(any(cell.strip() for cell in row[len(heading) :]) for row in cells) <= len(cells)


def _spread(rows: list[list[str]]) -> list[list[str]]:
    """So many rows as are looked at, from everywhere."""
    if len(rows) <= SAMPLE_ROWS:
        return rows
    return [rows[place * len(rows) // SAMPLE_ROWS] for place in range(SAMPLE_ROWS)]
