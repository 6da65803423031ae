"""A page or a workbook written as markup -> the tables in it.

Receives the text of HTML, or of a workbook in XML (SpreadsheetML 2003), as blocks, hands on tables. Nothing in it is run or
fetched: only the cells are read.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable
from pruner.words.errors import InputRefusedError

Blocks = Callable[[], Iterator[bytes]]
#: A longer page is no list that somebody saved.
_LARGEST: Final = 256 << 20
_TABLES: Final = frozenset({"table", "worksheet"})
_ROWS: Final = frozenset({"tr", "row", "ss:row"})
_CELLS: Final = frozenset({"td", "th", "cell", "ss:cell"})
#: Elements whose text is not shown, and those that begin a new line.
_HIDDEN: Final = frozenset({"script", "style", "template", "noscript", "head", "select", "svg", "comment"})
_BREAKS: Final = frozenset({"br", "p", "div", "li", "tr", "hr"})
#: What is never closed (HTML Living Standard, void elements; from memory).
_VOID: Final = frozenset({"br", "hr", "img", "input", "link", "meta", "col", "wbr", "area", "base", "embed", "source", "track"})
#: A cell spans no more columns or rows than this (HTML Living Standard; from memory).
_MOST_SPANNED: Final = 1000
_CHARSET: Final = re.compile(rb"(?:charset|encoding)\s*=\s*[\"']?\s*([A-Za-z0-9_:.-]+)", re.IGNORECASE)
#: Pages that say nothing are in this encoding (WHATWG Encoding Standard; from memory).
_UNSAID: Final = "cp1252"


@dataclass(slots=True)
class _Open:
    """A table that is being read: its rows so far, the one that is open, the text of the open cell, and cells of earlier rows
    that reach down into later ones, by column."""

    rows: list[list[str]] = field(default_factory=list)
    row: list[str] | None = None
    text: list[str] | None = None
    spans: tuple[int, int] = (1, 1)
    reaching: dict[int, tuple[int, str]] = field(default_factory=dict)


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[list[list[str]]] = []
        self._open: list[_Open] = []
        self._hidden: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Opens tables, rows and cells."""
        if tag in _HIDDEN:
            self._hidden.append(tag)
        elif self._hidden:
            return
        elif tag in _TABLES and not (tag == "table" and self._open and self._open[-1].row is None and not self._open[-1].rows):
            self._open.append(_Open())
        elif self._open and tag in _ROWS:
            self._end_row()
            self._open[-1].row = []
        elif self._open and tag in _CELLS:
            self._end_cell()
            self._begin_cell({name: value or "" for name, value in attrs})
        elif tag in _BREAKS:
            self.handle_data(" ")

    def handle_endtag(self, tag: str) -> None:
        """Closes them."""
        if self._hidden:
            if tag == self._hidden[-1]:
                self._hidden.pop()
        elif self._open and tag in _CELLS:
            self._end_cell()
        elif self._open and tag in _ROWS:
            self._end_row()
        elif self._open and tag in _TABLES:
            self._end_table()

    def handle_data(self, data: str) -> None:
        """Takes the text of cells."""
        if self._open and not self._hidden and self._open[-1].text is not None:
            self._open[-1].text.append(data)

    def close(self) -> None:
        """Ends what the page left open."""
        super().close()
        while self._open:
            self._end_table()

    def _begin_cell(self, attributes: dict[str, str]) -> None:
        table = self._open[-1]
        if table.row is None:
            table.row = []
        place = _number(attributes.get("ss:index", ""))
        while len(table.row) + 1 < min(place, _MOST_SPANNED):
            table.row.append("")
        across = _number(attributes.get("colspan", "")) or _number(attributes.get("ss:mergeacross", "")) + 1
        table.spans = min(across, _MOST_SPANNED), min(_number(attributes.get("rowspan", "")) or 1, _MOST_SPANNED)
        table.text = []

    def _end_cell(self) -> None:
        table = self._open[-1]
        if table.text is None or table.row is None:
            return
        self._reach(table)
        text = " ".join("".join(table.text).split())
        across, down = table.spans
        for place in range(across):
            if down > 1:
                table.reaching[len(table.row)] = (down - 1, text if place == 0 else "")
            table.row.append(text if place == 0 else "")
        table.text = None

    @staticmethod
    def _reach(table: _Open) -> None:
        """Fills in the cells that reach down from earlier rows before the next one."""
        assert table.row is not None
        while (place := len(table.row)) in table.reaching and table.reaching[place][0] > 0:
            left, text = table.reaching.pop(place)
            if left > 1:
                table.reaching[place] = (left - 1, text)
            table.row.append(text)

    def _end_row(self) -> None:
        self._end_cell()
        table = self._open[-1]
        if table.row is not None:
            self._reach(table)
            if any(table.row):
                table.rows.append(table.row)
        table.row = None

    def _end_table(self) -> None:
        self._end_row()
        rows = self._open.pop().rows
        if len(rows) > 1:
            self.found.append(rows)


def tables_of_page(text: Blocks, label: str, where: str) -> list[TextTable]:
    """The tables of a page that have two rows or more, in its order. Raises InputRefusedError for a page of excessive size."""
    reader = _Reader()
    reader.feed(_decoded(text, where))
    reader.close()
    several = len(reader.found) > 1
    return [
        TextTable(
            ": ".join(part for part in (label, f"table {number}" if several else "") if part), _blocks(rows), is_exact=True
        )
        for number, rows in enumerate(reader.found, 1)
    ]


def _blocks(rows: list[list[str]]) -> Blocks:
    return lambda: as_csv(rows)


def _decoded(text: Blocks, where: str) -> str:
    taken, size = [], 0
    for block in text():
        taken.append(block)
        size += len(block)
        if size > _LARGEST:
            raise InputRefusedError(f"{where}: a page of more than {_LARGEST >> 20} MiB; export the list as CSV")
    data = b"".join(taken)
    try:
        return data.decode()
    except UnicodeDecodeError:
        said = _CHARSET.search(data[:4096])
        try:
            return data.decode(said[1].decode() if said else _UNSAID, errors="replace")
        except LookupError:
            return data.decode(_UNSAID, errors="replace")


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 0
