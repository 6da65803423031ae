"""A page (HTML) or markup (XML) -> its tables, each as delimited text.

Receives text, hands on tables in the order of the text. Of a page the `table` elements count, of other markup the elements that
repeat and hold several values, as attributes or as elements of their own. Nothing is fetched, and no entity is defined.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from html.parser import HTMLParser
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable

#: Elements whose text nobody sees, and those behind which another word begins.
_HIDDEN: Final = frozenset(("script", "style", "noscript", "template"))
_BREAKING: Final = frozenset(("br", "p", "div", "li", "span", "td", "th"))
#: A record of markup holds so many values at least.
_LEAST_VALUES: Final = 3
#: A cell of a page that reaches over more columns than this is a title.
_WIDEST: Final = 32
Attributes = list[tuple[str, str | None]]


def open_page(text: str) -> list[TextTable]:
    """The tables of a page."""
    parser = _Page()
    parser.feed(text)
    parser.close()
    tables = [rows for rows in parser.tables if any(len(row) > 1 for row in rows)]
    return [_as_table(f"table {number}", rows) for number, rows in enumerate(tables, start=1)]


def open_markup(text: str) -> list[TextTable]:
    """The lists of records in markup, by the name of their elements."""
    parser = _Markup()
    parser.feed(text)
    parser.close()
    return [
        _as_table(name, _rows(records)) for name, records in sorted(parser.records.items(), key=lambda entry: -len(entry[1]))
    ]


def _as_table(label: str, rows: Sequence[Sequence[str]]) -> TextTable:
    return TextTable(label, partial(as_csv, rows), is_exact=True)


def _rows(records: Sequence[dict[str, str]]) -> list[list[str]]:
    names = list(dict.fromkeys(name for record in records for name in record))
    return [names, *([record.get(name, "") for name in names] for record in records)]


class _Page(HTMLParser):
    """Tables may stand in cells of others; ends of cells and rows may be missing."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[list[list[str]]] = []
        self._open: list[list[list[str]]] = []
        self._places: list[int] = []
        self._hidden = 0

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        if tag in _HIDDEN:
            self._hidden += 1
        elif tag == "table":
            self.tables.append([])
            self._open.append(self.tables[-1])
            self._places.append(0)
        elif self._open and tag == "tr":
            self._open[-1].append([])
        elif self._open and tag in ("td", "th"):
            rows = self._open[-1]
            if not rows:
                rows.append([])
            self._places[-1] = len(rows[-1])
            rows[-1] += [""] * _span(attrs)
        elif tag in _BREAKING:
            self.handle_data(" ")

    def handle_endtag(self, tag: str) -> None:
        if tag in _HIDDEN:
            self._hidden = max(0, self._hidden - 1)
        elif tag == "table" and self._open:
            self._open.pop()
            self._places.pop()

    def handle_data(self, data: str) -> None:
        if self._hidden or not self._open or not self._open[-1] or not self._open[-1][-1]:
            return
        cells, place = self._open[-1][-1], self._places[-1]
        cells[place] = " ".join(f"{cells[place]}{data}".split()) + (" " if data[-1:].isspace() else "")


def _span(attributes: Attributes) -> int:
    text = dict(attributes).get("colspan") or ""
    return int(text) if text.isdigit() and text.isascii() and 1 <= int(text[:3]) <= _WIDEST else 1


@dataclass(slots=True)
class _Element:
    tag: str
    values: dict[str, str]
    text: list[str] = field(default_factory=list)
    has_elements: bool = False


class _Markup(HTMLParser):
    """Elements with several values are records; an element in a record that holds text is one of its values."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.records: dict[str, list[dict[str, str]]] = {}
        self._open: list[_Element] = []

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        self._open.append(_Element(tag, {name: value or "" for name, value in attrs}))

    def handle_startendtag(self, tag: str, attrs: Attributes) -> None:
        self.handle_starttag(tag, attrs)
        self._end()

    def handle_endtag(self, tag: str) -> None:
        if any(element.tag == tag for element in self._open):
            while self._open[-1].tag != tag:
                self._end()
            self._end()

    def handle_data(self, data: str) -> None:
        if self._open:
            self._open[-1].text.append(data)

    def close(self) -> None:
        super().close()
        while self._open:
            self._end()

    def _end(self) -> None:
        element = self._open.pop()
        parent = self._open[-1] if self._open else None
        text = " ".join("".join(element.text).split())
        if len(element.values) >= _LEAST_VALUES:
            own = {"text": text} if text and not element.has_elements else {}
            self.records.setdefault(element.tag, []).append(element.values | own)
        elif parent is not None:
            parent.values |= dict(_handed_up(element, text))
        if parent is not None:
            parent.has_elements = True


def _handed_up(element: _Element, text: str) -> Iterator[tuple[str, str]]:
    if text and not element.has_elements:
        yield element.tag, text
    for name, value in element.values.items():
        yield f"{element.tag}.{name}", value
