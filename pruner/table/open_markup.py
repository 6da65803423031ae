"""Markup (XML) -> its lists of records, each as delimited text.

Receives text, hands on tables, the longest first. Elements that hold several values, as attributes or as elements of their own,
are records. Nothing is fetched, and no entity is defined.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from html.parser import HTMLParser
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable

#: A record of markup holds so many values at least.
_LEAST_VALUES: Final = 3
Attributes = list[tuple[str, str | None]]


def open_markup(text: str, label: str) -> list[TextTable]:
    """The lists of two records and more in markup, by the name of their elements. `label`: of the member of an archive."""
    parser = _Markup()
    parser.feed(text)
    parser.close()
    lists = sorted(
        ((name, records) for name, records in parser.records.items() if len(records) > 1), key=lambda one: -len(one[1])
    )
    names = [label] if len(lists) == 1 else [f"{label}: {name}" if label else name for name, _ in lists]
    return [
        TextTable(name, partial(as_csv, _rows(records)), is_exact=True) for name, (_, records) in zip(names, lists, strict=True)
    ]


def _rows(records: Sequence[dict[str, str]]) -> list[list[str]]:
    names = list(dict.fromkeys(name for record in records for name in record))
    return [names, *([record.get(name, "") for name in names] for record in records)]


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
