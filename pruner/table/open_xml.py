"""Markup that is no page -> the records in it: elements of one name that stand beside each other.

Receives a text, hands on tables. Documents with declarations of entities are refused; nothing is fetched.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Final
from xml.etree.ElementTree import Element, ParseError, XMLParser

from pruner.table.cells import as_csv, by_name
from pruner.table.headings import sense_of
from pruner.table.opened import MOST_NAMES, TextTable

_DECLARATION: Final = re.compile(rb"^\s*<\?xml[^>]*>")
_LEAST_RECORDS: Final = 3
#: So many names of a record are words for columns; of fewer a markup may hold anything.
_LEAST_NAMES: Final = 3
_DEEPEST: Final = 4


def tables_of_markup(data: bytes, label: str) -> list[TextTable]:
    """The longest list of records with values in a text in UTF-8; none where there is none, or the text is damaged or declares
    entities."""
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        return []
    root = _parsed(data)
    if root is None:
        root = _parsed(b"<records>" + _DECLARATION.sub(b"", data) + b"</records>")  # elements one after the other
    if root is None:
        return []
    rows = max(map(_rows, root.iter()), key=len, default=[])
    return [TextTable(label, partial(as_csv, rows), is_exact=True)] if rows else []


def _parsed(data: bytes) -> Element | None:
    parser = XMLParser(encoding="utf-8")
    try:
        parser.feed(data)
        root: Element = parser.close()
    except ParseError:
        return None
    return root


def _rows(parent: Element) -> list[list[str]]:
    """Headings and rows of the children that have the commonest name, and of those of another that have mostly the same."""
    if len(parent) < _LEAST_RECORDS:
        return []
    name, count = next(iter(Counter(child.tag for child in parent).most_common(1)), ("", 0))
    if count < _LEAST_RECORDS:
        return []
    alike = dict.fromkeys(key for child in parent if child.tag == name for key, _ in _values(child, "", 0))
    found = ((child.tag, by_name(_values(child, "", 0))) for child in parent)
    records = [record for tag, record in found if tag == name or 1 < len(record) <= 2 * len(record.keys() & alike)]
    names = list(dict.fromkeys(key for record in records for key in record))
    if len(names) > MOST_NAMES or sum(bool(sense_of(key).classes) for key in names) < _LEAST_NAMES:
        return []
    return [names, *([record.get(key, "") for key in names] for record in records)]


def _values(element: Element, before: str, depth: int) -> Iterator[tuple[str, str]]:
    """The attributes of an element, its text, and the same of what stands in it; names are joined by points."""
    for key, value in element.attrib.items():
        yield f"{before}{_bare(key)}", value
    text = (element.text or "").strip()
    if text:
        yield before.removesuffix(".") or _bare(element.tag), text
    if depth < _DEEPEST:
        for child in element:
            yield from _values(child, f"{before}{_bare(child.tag)}.", depth + 1)


def _bare(name: str) -> str:
    """A name without its namespace."""
    return name.rpartition("}")[2]
