"""A dump of a database as SQL -> the tables in it: rows of INSERT statements (ISO/IEC 9075-2) and of COPY blocks.

Receives the text as blocks, hands on tables; no statement is run.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable
from pruner.words.errors import InputRefusedError

Blocks = Callable[[], Iterator[bytes]]
_LARGEST: Final = 256 << 20
_NAME: Final = r"(?:`[^`]+`|\"[^\"]+\"|\[[^\]]+\]|[\w$]+)"
_NAMES: Final = rf"{_NAME}(?:\s*\.\s*{_NAME})*"
_INSERT: Final = re.compile(
    rf"\b(?:INSERT|REPLACE)\s+(?:(?:IGNORE|OR\s+\w+)\s+)?INTO\s+({_NAMES})\s*(\((?:\s*{_NAME}\s*,?)+\))?\s*VALUES\s*",
    re.IGNORECASE,
)
_COPY: Final = re.compile(rf"^COPY\s+({_NAMES})\s*\(([^()]*)\)\s*FROM\s+stdin[^;\n]*;\n", re.IGNORECASE | re.MULTILINE)
_CREATE: Final = re.compile(rf"\bCREATE\s+TABLE\s+(?:IF\s+NOT\s+EXISTS\s+)?({_NAMES})\s*\(", re.IGNORECASE)
_HEAD: Final = re.compile(
    rf"^\s*(?:(?:INSERT|REPLACE)\s+(?:(?:IGNORE|OR\s+\w+)\s+)?INTO\s+{_NAMES}\s*(?:\([^()]*\))?\s*VALUES\s*\(|COPY\s+{_NAMES}\s*\()",
    re.IGNORECASE | re.MULTILINE,
)
#: One value and the sign behind it.
_VALUE: Final = re.compile(
    r"\s*(?:[NEnex]?'((?:[^'\\]|''|\\.)*)'|\"((?:[^\"\\]|\"\"|\\.)*)\"|([^,()'\"]*(?:\([^()]*\))?))\s*([,)])", re.DOTALL
)
_TUPLE: Final = re.compile(r"\s*,?\s*\(")
_ESCAPES: Final = {"n": " ", "r": " ", "t": " ", "0": "", "Z": ""}
#: What begins the description of something else than a column.
_NO_COLUMN: Final = frozenset("primary key unique constraint index foreign check fulltext spatial exclude".split())


def is_dump(start: bytes) -> bool:
    """Whether a text has a statement with rows in its beginning."""
    return _HEAD.search(start.decode(errors="replace")) is not None


def tables_of_dump(text: Blocks, label: str, where: str) -> list[TextTable]:
    """The tables that have rows, in the order of the dump. Raises InputRefusedError for a dump of excessive size."""
    taken, size = [], 0
    for block in text():
        taken.append(block)
        size += len(block)
        if size > _LARGEST:
            raise InputRefusedError(f"{where}: a dump of more than {_LARGEST >> 20} MiB; export the table as CSV")
    dump = b"".join(taken).decode(errors="replace")
    columns = {_bare(found[1]): _created(dump, found.end()) for found in _CREATE.finditer(dump)}
    tables: dict[tuple[str, tuple[str, ...]], list[list[str]]] = {}
    for name, names, rows in (*_inserted(dump), *_copied(dump)):
        known = names or columns.get(name, [])
        tables.setdefault((name, tuple(known)), []).extend(rows)
    several = len(tables) > 1
    return [
        TextTable(": ".join(part for part in (label, name if several else "") if part), _blocks(names, rows), is_exact=True)
        for (name, names), rows in tables.items()
        if rows
    ]


def _blocks(names: tuple[str, ...], rows: list[list[str]]) -> Blocks:
    return lambda: as_csv([names, *rows] if names else rows)


def _bare(names: str) -> str:
    """The last part of a name, without quotes."""
    return re.findall(_NAME, names)[-1].strip('`"[]')


def _created(dump: str, place: int) -> list[str]:
    """The names of the columns behind the opening bracket of CREATE TABLE."""
    depth, start, parts = 1, place, []
    for found in re.finditer(r"[(),]|'(?:[^']|'')*'", dump[place : place + (1 << 20)]):
        sign, at = found[0], place + found.start()
        depth += (sign == "(") - (sign == ")")
        if depth == 0 or (depth == 1 and sign == ","):
            parts.append(dump[start:at])
            start = at + 1
        if depth == 0:
            break
    found_names = [re.match(rf"\s*({_NAME})", part) for part in parts]
    return [_bare(one[1]) for one in found_names if one and one[1].lower() not in _NO_COLUMN]


def _inserted(dump: str) -> Iterator[tuple[str, list[str], list[list[str]]]]:
    for found in _INSERT.finditer(dump):
        names = [_bare(name) for name in re.findall(_NAME, found[2])] if found[2] else []
        yield _bare(found[1]), names, list(_rows(dump, found.end()))


def _rows(dump: str, place: int) -> Iterator[list[str]]:
    """The rows from a position on, up to what is none."""
    while begin := _TUPLE.match(dump, place):
        row, place = [], begin.end()
        while found := _VALUE.match(dump, place):
            row.append(_value(found))
            place = found.end()
            if found[4] == ")":
                break
        else:
            return
        yield row


def _value(found: re.Match[str]) -> str:
    if found[1] is None and found[2] is None:
        return "" if found[3].strip().upper() in ("NULL", "DEFAULT") else found[3].strip()
    text = found[1].replace("''", "'") if found[1] is not None else found[2].replace('""', '"')
    return re.sub(r"\\(.)", lambda one: _ESCAPES.get(one[1], one[1]), text, flags=re.DOTALL)


def _copied(dump: str) -> Iterator[tuple[str, list[str], list[list[str]]]]:
    for found in _COPY.finditer(dump):
        end = dump.find("\n\\.", found.end() - 1)
        lines = dump[found.end() : end if end >= 0 else None].split("\n")
        rows = [["" if cell == "\\N" else cell.replace("\\\\", "\\") for cell in line.split("\t")] for line in lines if line]
        yield _bare(found[1]), [_bare(name) for name in re.findall(_NAME, found[2])], rows
