"""A dump of a database as SQL -> the tables in it: rows of INSERT statements (ISO/IEC 9075-2) and of COPY blocks, and what
later statements make of them.

Receives the text as blocks, hands on tables; no statement is run.
"""

from __future__ import annotations

import re
from functools import partial
from typing import Final, NoReturn

from pruner.table.cells import as_csv, hold_most_ids
from pruner.table.open_text import whole_text
from pruner.table.opened import Blocks, TextTable, label_in, shown
from pruner.table.sql_changes import change, conflict
from pruner.table.sql_keys import with_references
from pruner.table.sql_passed import PASSED, PassedOver
from pruner.table.sql_tables import GIVES_WAY, PLAIN, REPLACES, NotUnderstood, Row, SqlTables
from pruner.table.sql_words import GAP, NAME, NAMES, VALUE, bare, names_in, statement_at, value_of
from pruner.words.errors import InputRefusedError, NoRowsError

_LARGEST: Final = 256 << 20
_INSERT: Final = (
    r"(?P<verb>INSERT|REPLACE)\s++(?:(?:LOW_PRIORITY|DELAYED|HIGH_PRIORITY)\s++)?+(?P<manner>(?:IGNORE|OR\s++\w++)\s++)?+(?:INTO\s++)?+"
    rf"(?P<into>{NAMES})\s*+(?P<columns>\((?:\s*+{NAME}\s*+,?+)++\))?+\s*+(?:OVERRIDING\s++\w++\s++VALUE\s++)?+VALUES?\s*+(?=\()"
)
_COPY: Final = rf"COPY\s++(?P<copied>{NAMES})\s*+(?:\((?P<names>[^()]*+)\)\s*+)?+FROM\s++stdin[^;\n]*+;\n"
#: What may change the tables, where a statement begins; also in a comment that some databases run.
_CHANGE: Final = (
    r"(?:^|(?<=;)|(?<=\*/))[^\S\n]*+(?:/\*!\d*+\s*+)?+"
    r"(?P<change>(?:DELETE|UPDATE|TRUNCATE|INSERT|REPLACE|MERGE|WITH|ROLLBACK|LOAD\s++DATA|(?:DROP|ALTER|RENAME)\s++TABLE)\b)"
)
#: What does so behind other words of its statement, as in a block or under a condition.
_WITHIN: Final = rf"\b(?:DELETE\s++FROM|TRUNCATE\s++TABLE|UPDATE(?=\s++{NAMES}\s++SET\b))\s++(?:ONLY\s++)?+(?P<target>{NAMES})"
_CHANGES: Final = re.compile(_WITHIN, re.IGNORECASE)
#: A text between dollars behind this is a block that runs at once (PostgreSQL).
_RUN: Final = re.compile(r"\bDO\s+(?:LANGUAGE\s+\w+\s+)?\Z", re.IGNORECASE)
_STEP: Final = re.compile(
    rf"{PASSED}|\b{_INSERT}|^{_COPY}"
    rf"|\bCREATE\s++(?:\w++\s++){{0,2}}?TABLE\s++(?:IF\s++NOT\s++EXISTS\s++)?+(?P<created>{NAMES})\s*+\(|{_CHANGE}|{_WITHIN}",
    re.IGNORECASE | re.MULTILINE | re.DOTALL,
)
_HEAD: Final = re.compile(rf"^[ \t]*+(?:{_INSERT}\(|COPY\s++{NAMES}\s*+(?:\(|FROM\b))", re.IGNORECASE | re.MULTILINE)
_TAIL: Final = re.compile(rf"{GAP}(?:AS\s++{NAME}\s++)?+ON\s++(?:DUPLICATE|CONFLICT)\b", re.IGNORECASE | re.DOTALL)
_LONGEST_DO: Final = 60
#: So much of the description of a table is looked at.
_LONGEST_DESCRIPTION: Final = 1 << 14
_TUPLE: Final = re.compile(rf"{GAP},?+{GAP}\(", re.DOTALL)
#: Where a row ends whose values are not understood, and how far on that is looked for.
_END_OF_ROW: Final = re.compile(r"\)(?=\s*+(?:,\s*+\(|;))")
_LONGEST_ROW: Final = 1 << 12
#: Texts and numbers in a statement.
_VALUES: Final = re.compile(r"(['\"])(?:\\.|(?!\1)[^\\])*+(?:\1|\Z)|\b\d++\b", re.DOTALL)
_REST_OF_LINE: Final = re.compile(r"[^\n]*+")
#: So many rows tell whether the text is a dump: more than its beginning has.
_MOST_TOLD: Final = 20_000
#: So many rows are looked at for all statements that change some.
_MOST_LOOKED_AT: Final = 50_000_000
#: What says that a column, or some of them, are a key.
_KEY: Final = re.compile(r"\b(?:PRIMARY\s++KEY|UNIQUE)\b", re.IGNORECASE)
_KEY_OF: Final = re.compile(r"\b(?:PRIMARY\s++KEY|UNIQUE)\b[^(]*+\(([^()]*+)\)", re.IGNORECASE)
#: What begins the description of something else than a column.
_NO_COLUMN: Final = frozenset("primary key unique constraint index foreign check fulltext spatial exclude".split())


def is_dump(start: bytes) -> bool:
    """Whether a text has a statement with rows in its beginning."""
    return _HEAD.search(start.decode(errors="replace")) is not None


def tables_of_dump(text: Blocks, label: str, where: str) -> list[TextTable]:
    """The tables that have rows at the end, in the order of the dump; none where the text is no dump.

    Raises InputRefusedError for a dump of excessive size and for a statement that changes a table with rows and is not
    understood, NoRowsError where no row is left.
    """
    whole = whole_text(text(), _LARGEST)
    if whole is None:
        raise InputRefusedError(f"{where}: a dump of more than {_LARGEST >> 20} MiB; export the table as CSV")
    dump = whole.decode(errors="replace")
    dumped = _Dump(dump, where)
    if not dumped.is_dump:
        return []
    filled = [table for table in dumped.tables if table.count]
    read = iter(with_references(filled))
    found = [
        (table.name, rows, referred)
        for table in dumped.tables
        for rows, referred in ([next(read)] if table.count else []) + [(table.unnamed, frozenset[str]())]
        if rows
    ]
    if not found:
        raise NoRowsError(f"{where}: its statements leave no rows; expected a table")
    several = len(found) > 1
    return [
        TextTable(label_in(label, name if several else ""), partial(as_csv, rows), is_exact=True, referred=referred)
        for name, rows, referred in found
    ]


class _Dump:
    """Goes through the statements of a dump once. `tables`: what they make; `is_dump`: their rows hold most ids of the text."""

    def __init__(self, dump: str, where: str) -> None:
        self.tables = SqlTables()
        self._dump, self._where, self._looked_at = dump, where, 0
        taken: list[tuple[str, ...]] = []
        place, passed = 0, PassedOver(dump)
        while found := _STEP.search(dump, place):
            start, place = found.start(), found.end()
            try:
                if found["into"] or found["copied"]:
                    rows, place = (_inserted if found["into"] else _copied)(dump, place)
                    taken += map(tuple, rows[: _MOST_TOLD - len(taken)])
                    place = self._add(found, rows, place)
                elif found["created"]:
                    self._create(names_in(found["created"]), place)
                elif found["change"]:
                    place = self._change(found.start("change"))
                elif found["target"]:
                    if any(table.has_rows for table in self.tables.like({bare(found["target"]).casefold()})):
                        raise NotUnderstood
                else:
                    place = passed.end(found)
                    self._check_block(found, place)
            except (NotUnderstood, RecursionError):  # brackets in brackets
                self._refuse(start, statement_at(dump, start))
        self.is_dump = hold_most_ids([taken], dump)

    def _check_block(self, found: re.Match[str], end: int) -> None:
        """Raises NotUnderstood for a block that runs at once and changes rows."""
        is_block = found["tag"] and _RUN.search(self._dump[max(found.start() - _LONGEST_DO, 0) : found.start()])
        if is_block and any(table.has_rows for table in self.tables) and _CHANGES.search(self._dump, found.end(), end):
            raise NotUnderstood

    def _create(self, name: tuple[str, ...], place: int) -> None:
        table = self.tables.named(name)
        if not table.has_rows and not table.columns:
            table.columns, table.keys = _created(self._dump, place)

    def _add(self, found: re.Match[str], rows: list[Row], place: int) -> int:
        """Takes in the rows of a statement; where it ends."""
        table = self.tables.named(names_in(found["into"] or found["copied"]))
        names = [bare(name) for name in re.findall(NAME, found["columns"] or found["names"] or "")]
        manner, key, only = PLAIN, tuple[str, ...](), list[str]()
        if found["into"]:
            words = f"{found['verb']} {found['manner'] or ''}".casefold().split()
            manner = REPLACES if "replace" in words else GIVES_WAY if "ignore" in words else PLAIN
            if _TAIL.match(self._dump, place):
                tail = statement_at(self._dump, place)
                place += len(tail)
                manner, key, only = conflict(tail, table, names)
        table.add(names, rows, manner, key, only)
        return place

    def _change(self, start: int) -> int:
        """Does what a statement says; where it ends."""
        statement = statement_at(self._dump, start)
        self._looked_at += sum(table.count for table in self.tables)
        if self._looked_at > _MOST_LOOKED_AT:
            self._refuse(start, statement, "too many statements change rows, from this one on they are not followed")
        change(statement, self.tables)
        return start + len(statement)

    def _refuse(self, start: int, statement: str, why: str = "it is not understood what this statement changes") -> NoReturn:
        line = self._dump.count("\n", 0, start) + 1
        statement = _VALUES.sub("...", statement[:_LONGEST_ROW])  # it may name who is to be forgotten
        raise InputRefusedError(
            f"{self._where}: line {line}: {why} ({shown(statement)}); load the dump into a database and export the table as CSV"
        )


def _created(dump: str, place: int) -> tuple[list[str], list[tuple[str, ...]]]:
    """The names of the columns behind the opening bracket of CREATE TABLE, and the keys."""
    depth, start, parts = 1, place, []
    for found in re.finditer(r"[(),]|'(?:[^']++|'')*+'|--[^\n]*+", dump[place : place + _LONGEST_DESCRIPTION]):
        sign, at = found[0], place + found.start()
        depth += (sign == "(") - (sign == ")")
        if depth == 0 or (depth == 1 and sign == ","):
            parts.append(dump[start:at])
            start = at + 1
        if depth == 0:
            break
    columns: list[str] = []
    keys: list[tuple[str, ...]] = []
    for part in parts:
        if (one := re.match(rf"{GAP}({NAME})", part, re.DOTALL)) is None:
            continue
        if one[1].casefold() not in _NO_COLUMN:
            columns.append(bare(one[1]))
            if _KEY.search(part):
                keys.append((columns[-1],))
        elif (listed := _KEY_OF.search(part)) is not None:
            keys.append(tuple(bare(name) for name in re.findall(NAME, listed[1])))
    return columns, keys


def _inserted(dump: str, place: int) -> tuple[list[Row], int]:
    """The rows from a position on, up to what is none, and where they end. Of a row that is not understood the text is the only
    cell, so that it counts as unreadable."""
    rows: list[Row] = []
    while begin := _TUPLE.match(dump, place):
        row, place = [], begin.end()
        while found := VALUE.match(dump, place):
            row.append(value_of(found))
            place = found.end()
            if found[4] == ")":
                break
        else:
            end = _END_OF_ROW.search(dump, place, place + _LONGEST_ROW) or _REST_OF_LINE.match(dump, place)
            place = end.end() if end else len(dump)
            row = [dump[begin.end() : place][:_LONGEST_ROW]]
        rows.append(row)
    return rows, place


def _copied(dump: str, place: int) -> tuple[list[Row], int]:
    end = dump.find("\n\\.", place - 1)
    end = end if end >= 0 else len(dump)
    lines = dump[place:end].split("\n")
    return [["" if cell == "\\N" else cell.replace("\\\\", "\\") for cell in line.split("\t")] for line in lines if line], end
