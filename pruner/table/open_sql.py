"""A dump of SQL statements -> the rows that it inserts, a table for each of its tables.

Receives text, hands on delimited text. Only `CREATE TABLE` and `INSERT INTO ... VALUES` are looked at; nothing is executed.
"""

from __future__ import annotations

import re
from functools import partial
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable

_NAME: Final = r"(?:[`\"\[]?[\w$]+[`\"\]]?\.)?[`\"\[]?([\w$ ]+?)[`\"\]]?"
_INSERT: Final = re.compile(
    rf"\b(?:INSERT|REPLACE)\s+(?:(?:OR\s+)?(?:IGNORE|REPLACE)\s+)?INTO\s+{_NAME}\s*(\([^()]*\))?\s*VALUES\s*", re.IGNORECASE
)
_CREATE: Final = re.compile(rf"\bCREATE\s+TABLE\s+(?:IF\s+NOT\s+EXISTS\s+)?{_NAME}\s*\(", re.IGNORECASE)
#: A value: text in quotes, which are doubled or behind a backslash inside, or anything up to a comma or the end of the row.
_VALUE: Final = re.compile(
    r"\s*(?:[NnBbEeXx]?'((?:[^'\\]|''|\\.)*)'|\"((?:[^\"\\]|\"\"|\\.)*)\"|([^,()']*(?:\([^()]*\))?))\s*([,)])", re.DOTALL
)
_ESCAPES: Final = re.compile(r"''|\"\"|\\(.)", re.DOTALL)
_MADE: Final = {"n": "\n", "r": "\r", "t": "\t", "0": ""}
#: Words that begin a line of CREATE TABLE which is no column.
_NO_COLUMNS: Final = frozenset("primary unique key index constraint foreign check fulltext".split())


def is_dump(head: bytes) -> bool:
    """Whether a text begins like statements of which some insert rows."""
    return _INSERT.search(head.decode(errors="replace")) is not None


def open_dump(text: str) -> list[TextTable]:
    """The tables into which a dump inserts rows."""
    columns = {found[1].casefold(): _columns(text, found.end()) for found in _CREATE.finditer(text)}
    rows: dict[str, list[list[str]]] = {}
    for found in _INSERT.finditer(text):
        name = found[1].casefold()
        named = [_bare(cell) for cell in found[2][1:-1].split(",")] if found[2] else columns.get(name, [])
        into = rows.setdefault(name, [named] if named else [])
        into += _values(text, found.end())
    return [TextTable(name, partial(as_csv, some), is_exact=True) for name, some in rows.items()]


def _columns(text: str, place: int) -> list[str]:
    """The names of the columns behind `CREATE TABLE name (`."""
    parts, depth, begin = [], 1, place
    while depth and place < len(text):
        sign = text[place]
        depth += (sign == "(") - (sign == ")")
        if (sign == "," and depth == 1) or not depth:
            parts.append(text[begin:place])
            begin = place + 1
        place += 1
    words = [part.split() for part in parts if part.strip()]
    return [_bare(word[0]) for word in words if word[0].casefold() not in _NO_COLUMNS]


def _bare(name: str) -> str:
    return name.strip().strip('`"[]')


def _values(text: str, place: int) -> list[list[str]]:
    """The rows in brackets from a place on, up to the end of the statement."""
    rows: list[list[str]] = []
    while text[place : place + 1] == "(":
        row, place, end = [], place + 1, ","
        while end == ",":
            found = _VALUE.match(text, place)
            if found is None:
                return rows
            quoted = found[1] if found[1] is not None else found[2]
            plain = (found[3] or "").strip()
            row.append(_ESCAPES.sub(_escaped, quoted) if quoted is not None else "" if plain.upper() == "NULL" else plain)
            place, end = found.end(), found[4]
        rows.append(row)
        behind = re.compile(r"\s*,?\s*").match(text, place)
        place = behind.end() if behind else place
    return rows


def _escaped(found: re.Match[str]) -> str:
    return found[0][0] if found[1] is None else _MADE.get(found[1], found[1])
