"""The beginning of a delimited text -> how it is cut into cells, and which column holds what.

Receives text (the head of a file and pieces from further down) and the kind of table, hands on a `Cut`. Every plausible
delimiter, quote and heading line is tried; the way with the most evidence, times its regularity, is taken. Where the first
line is a heading line that the cells below agree with, nothing else is tried.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.dialects import Dialect, Row, dialects_of, hinted_delimiter, rows_of
from pruner.table.identify import identify
from pruner.table.kinds import Kind
from pruner.table.line_forms import LineForm, Numbered
from pruner.table.row_shapes import can_head, is_data, is_entry, is_no_row, is_numbered, two_lines, words_for

#: The heading line is one of the first so many lines that are not blank.
_FIRST_LINES: Final = 12
#: So many lines of the head, and rows in all, are looked at.
_HEAD_LINES: Final = 400
SAMPLE_ROWS: Final = 200
#: Fewer rows of one width than this share are no table.
_REGULAR: Final = 0.5
_AT_ONCE: Final = 0.95
_MOST_SECOND_HEADINGS: Final = 2


@dataclass(slots=True)
class Cut:
    """One way of cutting a text.

    `before`: how many lines stand before the first record; `headings`: cells of the heading line, None where there is none;
    `width`: cells of most records; `has_spaces`: quoted cells may follow a blank; `regularity`: share of records of the
    commonest width; `is_headed`: the heading line holds words for columns of the kind.
    """

    delimiter: str | LineForm
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
        width = 0 if self.delimiter == " " else self.width  # blanks stand in cells too
        return (total, self.is_headed, self.regularity, width)


def cut_text(head: str, pieces: Sequence[str], kind: Kind, system: str, answers: Mapping[str, str | int]) -> Cut | None:
    """The best way of cutting a text; None where there is none. `pieces` are whole lines from further down.

    Raises KeyError with a heading or position of `answers` that no way has.
    """
    lines = head.split("\n")[:_HEAD_LINES]
    best: Cut | None = None
    missing: KeyError | None = None
    hinted = hinted_delimiter(lines)
    for dialect in dialects_of(lines, hinted, may_be_lines=kind.may_be_lines):
        rows = list(rows_of(lines, dialect))[1 if hinted else 0 :]
        more = [row.cells for piece in pieces for row in rows_of(piece.split("\n"), dialect) if any(row.cells)]
        for start in _starts(rows, more, kind, system):
            try:
                cut = _cut_at(rows, more, start, dialect, kind, system, answers)
            except KeyError as error:
                missing = error
                continue
            if cut is None:
                continue
            cut = _with_row_names(cut, rows, more, start, kind, system, answers)
            if best is None or cut.score > best.score:
                best = cut
            if _is_clear(cut, kind):
                return cut
    if best is None and missing is not None:
        raise missing
    return best


def _is_clear(cut: Cut, kind: Kind) -> bool:
    """Whether headings and cells of a way agree, or nearly all lines are a number and a text, so that no other way is tried."""
    if isinstance(cut.delimiter, Numbered) and not cut.found.trouble:
        return True
    return (
        cut.headings is not None
        and not cut.found.trouble
        and cut.regularity >= _AT_ONCE
        and all(any(_is_agreed(cut, name) for name in names) for names in kind.needed)
    )


def _is_agreed(cut: Cut, name: str) -> bool:
    choice = cut.found.choices.get(name)
    return choice is not None and (choice.evidence == "settings" or (choice.evidence != "cells" and choice.score >= 0.6))


def _width(rows: Sequence[Sequence[str]]) -> int:
    counts = Counter(len(row) for row in rows)
    return max(counts, key=lambda width: (counts[width], width)) if counts else 0


def _starts(rows: list[Row], more: list[list[str]], kind: Kind, system: str) -> list[int]:
    """Which row may be the heading line, -1 for none; the likeliest first."""
    if not rows:
        return []
    first = rows[:_FIRST_LINES]
    width = _width([row.cells for row in rows] + more)
    words = [words_for(row.cells, kind) if can_head(row.cells, width) else 0.0 for row in first]
    found = []
    if len(first[0].cells) == width and is_numbered(first[0].cells):
        found.append(0)  # columns that are only numbered
    likeliest = max(range(len(first)), key=lambda place: (words[place], -place))
    if likeliest and two_lines(first[likeliest - 1].cells, first[likeliest].cells):
        likeliest -= 1
    if words[likeliest] > 0:
        found.append(likeliest)
    first_data = next((place for place, row in enumerate(first) if len(row.cells) == width and is_data(row.cells)), 0)
    if first_data and can_head(first[first_data - 1].cells, width):
        above = _filled(first[first_data - 1].cells)
        if all(above != _filled(first[place].cells) for place in found):  # nor the headings once more
            found.append(first_data - 1)
    return [*found, -1]


def _filled(cells: list[str]) -> list[str]:
    return [cell.strip() for cell in cells if cell.strip()]


def _cut_at(
    rows: list[Row],
    more: list[list[str]],
    start: int,
    dialect: Dialect,
    kind: Kind,
    system: str,
    answers: Mapping[str, str | int],
) -> Cut | None:
    """The text with its heading line at a row, or with none (-1)."""
    heading = rows[start].cells if start >= 0 else None
    last = start
    body = rows[start + 1 :]
    if heading is not None and body and (whole := two_lines(heading, body[0].cells)):
        heading, last, body = whole, start + 1, body[1:]
    while heading is not None and body and last < start + _MOST_SECOND_HEADINGS and is_no_row(body[0].cells, kind):
        body, last = body[1:], last + 1
    width = _width([row.cells for row in body[: _HEAD_LINES // 2]] + more) if body or more else len(heading or ())
    if heading is None:
        skipped = next((place for place, row in enumerate(body) if len(row.cells) == width), 0)
        skipped = skipped if skipped < _FIRST_LINES else 0
        body, last = body[skipped:], skipped - 1
    elif _is_narrower(heading, body, more, width):
        width = len(heading)
    if heading is not None and is_entry(heading, [row.cells for row in body]):
        return None
    if heading is not None and len(heading) < width:
        heading = [*heading, *[""] * (width - len(heading))]
    cells = [row.cells for row in body] + more
    if not cells and any(sum(map(bool, row.cells)) > 1 for row in rows[: max(start, 0)]):
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
    is_headed = heading is not None and words_for(heading, kind) > 0
    return Cut(delimiter, quote, has_spaces, before, heading, width, board, found, regularity, titles, is_headed)


def _with_row_names(
    cut: Cut, rows: list[Row], more: list[list[str]], start: int, kind: Kind, system: str, answers: Mapping[str, str | int]
) -> Cut:
    """The same, or with an empty heading before the others, where every row has one cell more than there are headings and more
    speaks for it: the first cells are names of the rows then."""
    if cut.headings is None or len(rows[start].cells) + 1 != cut.width or cut.headings[-1].strip():
        return cut
    shifted = [*rows[:start], Row(["", *rows[start].cells], rows[start].end), *rows[start + 1 :]]
    named = _cut_at(shifted, more, start, (cut.delimiter, cut.quote, cut.has_spaces), kind, system, answers)
    return named if named is not None and named.found.total > cut.found.total and not named.found.trouble else cut


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
