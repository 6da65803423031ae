"""A dump of a database as SQL -> the tables in it: rows of INSERT statements (ISO/IEC 9075-2) and of COPY blocks.

Receives the text as blocks, hands on tables; no statement is run.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import partial
from itertools import islice
from typing import Final

from pruner.table.cells import as_csv, hold_most_ids
from pruner.table.open_text import whole_text
from pruner.table.opened import Blocks, TextTable, label_in
from pruner.words.errors import InputRefusedError

_LARGEST: Final = 256 << 20
_NAME: Final = r"(?:`[^`]{1,128}+`|\"[^\"]{1,128}+\"|\[[^\]]{1,128}+\]|[\w$]++)"
_NAMES: Final = rf"{_NAME}(?:\s*+\.\s*+{_NAME})*+"
_INSERT: Final = (
    rf"(?:INSERT|REPLACE)\s++(?:(?:IGNORE|OR\s++\w++)\s++)?+INTO\s++(?P<into>{_NAMES})\s*+"
    rf"(?P<columns>\((?:\s*+{_NAME}\s*+,?+)++\))?+\s*+VALUES\s*+"
)
_COPY: Final = rf"COPY\s++(?P<copied>{_NAMES})\s*+\((?P<names>[^()]*+)\)\s*+FROM\s++stdin[^;\n]*+;\n"
_ROWS: Final = re.compile(rf"\b{_INSERT}|^{_COPY}", re.IGNORECASE | re.MULTILINE)
_HEAD: Final = re.compile(rf"^[ \t]*+(?:{_INSERT}\(|COPY\s++{_NAMES}\s*+\()", re.IGNORECASE | re.MULTILINE)
_CREATE: Final = re.compile(rf"\bCREATE\s++TABLE\s++(?:IF\s++NOT\s++EXISTS\s++)?+({_NAMES})\s*+\(", re.IGNORECASE)
#: So many tables, and so much of the description of each, are looked at.
_MOST_TABLES, _LONGEST_DESCRIPTION = 1000, 1 << 14
#: One value and the sign behind it.
_VALUE: Final = re.compile(
    r"\s*+(?:(?:[NEBX]|_\w++\s*+)?+'((?:[^'\\]++|''|\\.)*+)'|\"((?:[^\"\\]++|\"\"|\\.)*+)\"|([^,()'\"]*+(?:\([^()]*+\))?+))\s*+([,)])",
    re.DOTALL | re.IGNORECASE,
)
_GAP: Final = r"(?:\s++|--[^\n]*+|/\*.{0,2000}?\*/)*+"
_TUPLE: Final = re.compile(rf"{_GAP},?+{_GAP}\(", re.DOTALL)
#: Where a row ends whose values are not understood, and how far on that is looked for.
_END_OF_ROW: Final = re.compile(r"\)(?=\s*+(?:,\s*+\(|;))")
_LONGEST_ROW: Final = 1 << 12
_REST_OF_LINE: Final = re.compile(r"[^\n]*+")
_ESCAPES: Final = {"n": " ", "r": " ", "t": " ", "0": "", "Z": ""}
#: What begins the description of something else than a column.
_NO_COLUMN: Final = frozenset("primary key unique constraint index foreign check fulltext spatial exclude".split())


def is_dump(start: bytes) -> bool:
    """Whether a text has a statement with rows in its beginning."""
    return _HEAD.search(start.decode(errors="replace")) is not None


def tables_of_dump(text: Blocks, label: str, where: str) -> list[TextTable]:
    """The tables that have rows, in the order of the dump. Raises InputRefusedError for a dump of excessive size."""
    whole = whole_text(text(), _LARGEST)
    if whole is None:
        raise InputRefusedError(f"{where}: a dump of more than {_LARGEST >> 20} MiB; export the table as CSV")
    dump = whole.decode(errors="replace")
    described = islice(_CREATE.finditer(dump), _MOST_TABLES)
    columns = {_bare(found[1]): _created(dump, found.end()) for found in described}
    tables: dict[tuple[str, tuple[str, ...]], list[list[str]]] = {}
    for name, names, rows in _statements(dump):
        known = names or columns.get(name, [])
        tables.setdefault((name, tuple(known)), []).extend(rows)
    if not hold_most_ids(tables.values(), dump):
        return []
    several = len(tables) > 1
    return [
        TextTable(label_in(label, name if several else ""), partial(as_csv, [names, *rows] if names else rows), is_exact=True)
        for (name, names), rows in tables.items()
        if rows
    ]


def _bare(names: str) -> str:
    """The last part of a name, without quotes."""
    return re.findall(_NAME, names)[-1].strip('`"[]')


def _created(dump: str, place: int) -> list[str]:
    """The names of the columns behind the opening bracket of CREATE TABLE."""
    depth, start, parts = 1, place, []
    for found in re.finditer(r"[(),]|'(?:[^']++|'')*+'", dump[place : place + _LONGEST_DESCRIPTION]):
        sign, at = found[0], place + found.start()
        depth += (sign == "(") - (sign == ")")
        if depth == 0 or (depth == 1 and sign == ","):
            parts.append(dump[start:at])
            start = at + 1
        if depth == 0:
            break
    found_names = [re.match(rf"\s*({_NAME})", part) for part in parts]
    return [_bare(one[1]) for one in found_names if one and one[1].lower() not in _NO_COLUMN]


def _statements(dump: str) -> Iterator[tuple[str, list[str], list[list[str]]]]:
    """The table, the columns and the rows of each statement. What stands inside of a row is no statement."""
    place = 0
    while found := _ROWS.search(dump, place):
        rows, place = (_inserted if found["into"] else _copied)(dump, found.end())
        names = found["columns"] or found["names"] or ""
        yield _bare(found["into"] or found["copied"]), [_bare(name) for name in re.findall(_NAME, names)], rows


def _inserted(dump: str, place: int) -> tuple[list[list[str]], int]:
    """The rows from a position on, up to what is none, and where they end. Of a row that is not understood the text is the only
    cell, so that it counts as unreadable."""
    rows: list[list[str]] = []
    while begin := _TUPLE.match(dump, place):
        row, place = [], begin.end()
        while found := _VALUE.match(dump, place):
            row.append(_value(found))
            place = found.end()
            if found[4] == ")":
                break
        else:
            end = _END_OF_ROW.search(dump, place, place + _LONGEST_ROW) or _REST_OF_LINE.match(dump, place)
            place = end.end() if end else len(dump)
            row = [dump[begin.end() : place][:_LONGEST_ROW]]
        rows.append(row)
    return rows, place


def _value(found: re.Match[str]) -> str:
    if found[1] is None and found[2] is None:
        return "" if found[3].strip().upper() in ("NULL", "DEFAULT") else found[3].strip()
    text = found[1].replace("''", "'") if found[1] is not None else found[2].replace('""', '"')
    return re.sub(r"\\(.)", lambda one: _ESCAPES.get(one[1], one[1]), text, flags=re.DOTALL)


def _copied(dump: str, place: int) -> tuple[list[list[str]], int]:
    end = dump.find("\n\\.", place - 1)
    end = end if end >= 0 else len(dump)
    lines = dump[place:end].split("\n")
    return [["" if cell == "\\N" else cell.replace("\\\\", "\\") for cell in line.split("\t")] for line in lines if line], end
