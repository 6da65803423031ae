"""The source of a page with tables between `{|` and `|}` (as MediaWiki documents them) or between lines `|===` (as AsciiDoc
does; both from memory) -> the tables in it.

Receives the text as blocks, hands on tables.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from typing import Final

from pruner.table.cells import as_csv, hold_most_ids
from pruner.table.open_text import whole_text
from pruner.table.opened import Blocks, TextTable, label_in

_LARGEST: Final = 64 << 20
#: A cell goes on over so many characters at most.
_LONGEST_CELL: Final = 1 << 16
_BEGINNING: Final = re.compile(rb"^[ :*]*\{\|", re.MULTILINE)
_FENCE: Final = re.compile(rb"^ *\|===[ \t]*$", re.MULTILINE)
_ROW: Final = re.compile(rb"^ *\|-", re.MULTILINE)
#: What stands before a cell's text and says how it looks.
_ATTRIBUTES: Final = re.compile(r"\s*+(?:[\w-]++\s*+=\s*+(?:\"[^\"]*+\"|'[^']*+'|[^\s|\"']++)\s*+)++\|(?!\|)")
_LINK: Final = re.compile(r"\[\[(?:[^\[\]|]*+\|)?([^\[\]|]*+)\]\]|\[(?:https?:)?//[^\s\[\]]++\s++([^\[\]]*+)\]")
_MARKS: Final = re.compile(r"'{2,5}|<[^<>]{1,200}>|&nbsp;|<!--[^<]*?-->")


def is_wiki(start: bytes) -> bool:
    """Whether a text has such a table in its beginning."""
    return _FENCE.search(start) is not None or (_BEGINNING.search(start) is not None and _ROW.search(start) is not None)


def tables_of_wiki(text: Blocks, label: str) -> list[TextTable]:
    """The tables that have two rows or more, in the order of the text; none in a text of excessive size."""
    whole = whole_text(text(), _LARGEST)
    if whole is None:
        return []
    page = whole.decode(errors="replace")
    lines = page.split("\n")
    tables = [(above, rows) for above, rows in (*_tables(lines), *_fenced(lines)) if len(rows) > 1]
    if not hold_most_ids([rows for _, rows in tables], page):
        return []
    several = len(tables) > 1
    notes = "\n".join(above for above, _ in tables)
    return [
        TextTable(
            label_in(label, f"table {number}" if several else ""),
            partial(as_csv, rows),
            is_exact=True,
            above=above,
            notes=notes,
        )
        for number, (above, rows) in enumerate(tables, 1)
    ]


def _tables(lines: list[str]) -> Iterator[tuple[str, list[list[str]]]]:
    """The text above each table, and its rows; an inner table ends the one around it."""
    rows: list[list[str]] | None = None
    above: list[str] = []
    for line in map(str.strip, lines):
        if line.lstrip(":* ").startswith("{|"):
            if rows:
                yield _text(above), _filled(rows)
                above = []
            rows = [[]]
        elif rows is None:
            above.append(line)
        elif line.startswith("|}"):
            yield _text(above), _filled(rows)
            rows, above = None, []
        elif line.startswith("|+"):
            above.append(line[2:])
        elif line.startswith("|-"):
            rows.append([])
        elif line.startswith(("|", "!")):
            rows[-1] += [_cell(cell) for cell in re.split(r"\|\|" if line[0] == "|" else r"!!|\|\|", line[1:])]
        elif rows[-1] and line:
            _go_on(rows[-1], line)
    if rows:
        yield _text(above), _filled(rows)


def _fenced(lines: list[str]) -> Iterator[tuple[str, list[list[str]]]]:
    """The text above tables between fences, and their rows: the first line of cells, or the cells before the first blank line,
    are as many as each row has."""
    inside: list[str] | None = None
    above: list[str] = []
    for line in map(str.strip, lines):
        if line != "|===":
            (above if inside is None else inside).append(line)
        elif inside is None:
            inside = []
        else:
            yield _text(above), _filled(_rows_of_cells(inside))
            inside, above = None, []


def _text(lines: list[str]) -> str:
    """Lines of text without the marks of headings."""
    return "\n".join(_cell(line.strip("=* ")) for line in lines if line)


def _rows_of_cells(lines: list[str]) -> list[list[str]]:
    cells: list[str] = []
    width = 0
    for line in lines:
        if line.startswith("|"):
            found = [_cell(cell) for cell in re.split(r"(?:^|\s)(?:\d*[.+*<>^]*[a-z]?)?\|", line)[1:]]
            width = width or (len(found) if len(found) > 1 else 0)
            cells += found
        elif line and cells:
            _go_on(cells, line)
        elif cells:
            width = width or len(cells)
    return [cells[place : place + width] for place in range(0, len(cells), width)] if width else []


def _go_on(cells: list[str], line: str) -> None:
    """Adds a line to the last cell."""
    if len(cells[-1]) < _LONGEST_CELL:
        cells[-1] = f"{cells[-1]} {_cell(line)}".strip()


def _filled(rows: list[list[str]]) -> list[list[str]]:
    return [row for row in rows if any(row)]


def _cell(text: str) -> str:
    text = _ATTRIBUTES.sub("", text, count=1) if _ATTRIBUTES.match(text) else text
    return _MARKS.sub(" ", _LINK.sub(lambda link: link[1] or link[2] or "", text)).strip()
