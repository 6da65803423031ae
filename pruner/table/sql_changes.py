"""Statements of a dump that change what its tables hold: rows that go or become others, tables that go or get another name.

Receives one statement as text and the tables, changes these. What is simple is done (columns compared with values, values put
into columns); of all else that concerns a table with rows `NotUnderstood` is raised, because a row that somebody had erased
would come back.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from pruner.table.sql_parser import NUMBER, WHOLE, Words
from pruner.table.sql_tables import GIVES_WAY, REPLACES, NotUnderstood, Row, SqlTable, SqlTables
from pruner.table.sql_words import parts_of

Test = Callable[[Row], bool]
#: Words behind the first one that change nothing of what is meant.
_PASSED: Final = frozenset("only ignore low_priority quick table if exists into or replace rollback abort fail".split())
#: What changes of a table nothing that its rows hold, when it is added, dropped or set by ALTER TABLE.
_HARMLESS: Final = frozenset(
    (
        "constraint primary unique key index foreign check fulltext spatial partition trigger enable disable owner engine"
        " charset character default collate auto_increment cluster replica row_format comment order validate modify"
        " alter set nocheck convert"
    ).split()
)


def change(statement: str, tables: SqlTables) -> None:
    """Does what a statement says. Raises NotUnderstood where it is not clear what, and it concerns a table that has rows."""
    words = Words(statement)
    verb = words.take()[1].casefold()
    if verb in _BY_NAME:
        _BY_NAME[verb](words, tables)
    elif not _concerns_rows(statement, verb, tables):
        return
    elif verb in _BY_ROW:
        _BY_ROW[verb](words, tables)
    else:
        raise NotUnderstood


def _concerns_rows(statement: str, verb: str, tables: SqlTables) -> bool:
    """Whether a table that has rows is named in a statement; whether there is one, where it may concern any."""
    if verb == "rollback":
        return any(table.has_rows for table in tables)
    names = {text.casefold() for kind, text in parts_of(statement) if kind in ("either", "name", "word")}
    return any(table.has_rows for table in tables.like(names))


def conflict(tail: str, table: SqlTable, names: Sequence[str]) -> tuple[str, tuple[str, ...], list[str]]:
    """What is said behind the rows of an INSERT of columns with these names: what becomes of a row whose key is there, the
    columns that are compared (none: any key) and those that are overwritten. Raises NotUnderstood."""
    words = Words(tail)
    alias = words.name()[-1] if words.has("as") else ""
    key: list[str] = []
    words.must("on")
    if words.has("conflict"):
        if words.has("("):
            key = _columns(words)
        elif words.has("on", "constraint"):
            words.take()
        words.must("do")
        if words.has("nothing"):
            return GIVES_WAY, tuple(key), []
        words.must("update", "set")
    else:
        words.must("duplicate", "key", "update")
    only = []
    while True:
        column = words.name()[-1]
        words.must("=")
        if column.casefold() not in {name.casefold() for name in (*table.columns, *names)}:
            raise NotUnderstood
        words.take_name_of(column, alias)
        only.append(column)
        if not words.has(","):
            break
    if not words.is_done:
        raise NotUnderstood
    return REPLACES, tuple(key), only


def _columns(words: Words) -> list[str]:
    names = [words.name()[-1]]
    while words.has(","):
        names.append(words.name()[-1])
    words.must(")")
    return names


def _named(words: Words, tables: SqlTables) -> SqlTable:
    while words.next in _PASSED:
        words.take()
    table = tables.find(words.name())
    if table is None:
        raise NotUnderstood
    return table


def _delete(words: Words, tables: SqlTables) -> None:
    while words.next in _PASSED:
        words.take()
    words.has("from")
    table = _named(words, tables)
    if words.is_done:
        table.clear()
        return
    words.must("where")
    test = _any(words, table)
    table.remove(table.chosen(test, _most(words)))


def _update(words: Words, tables: SqlTables) -> None:
    table = _named(words, tables)
    words.must("set")
    values = _assigned(words, table)
    test: Test = _any(words, table) if words.has("where") else (lambda row: True)
    table.put(table.chosen(test, _most(words)), values)


def _assigned(words: Words, table: SqlTable) -> dict[int, str]:
    """What is put into which column (its position). Raises NotUnderstood for what would have to be reckoned."""
    values = {}
    while True:
        place = table.place(words.name()[-1])
        words.must("=")
        values[place] = words.value()
        if not words.has(","):
            return values


def _most(words: Words) -> int | None:
    if not words.has("limit"):
        most = None
    elif WHOLE.fullmatch(count := words.value()):
        most = int(count)
    else:
        raise NotUnderstood
    if not words.is_done:
        raise NotUnderstood
    return most


def _any(words: Words, table: SqlTable) -> Test:
    """A condition: comparisons joined by AND and OR, some in brackets."""
    tests = [_all(words, table)]
    while words.has("or"):
        tests.append(_all(words, table))
    return lambda row: any(test(row) for test in tests)


def _all(words: Words, table: SqlTable) -> Test:
    tests = [_one(words, table)]
    while words.has("and"):
        tests.append(_one(words, table))
    return lambda row: all(test(row) for test in tests)


def _one(words: Words, table: SqlTable) -> Test:
    if words.has("("):
        test = _any(words, table)
        words.must(")")
        return test
    place = table.place(words.name()[-1])
    if words.has("="):
        return _compared(place, [words.value()])
    words.must("in", "(")
    values = [words.value()]
    while words.has(","):
        values.append(words.value())
    words.must(")")
    return _compared(place, values)


def _compared(place: int, values: list[str]) -> Test:
    """Whether a cell is one of some values: the same text or the same whole number. Raises NotUnderstood for what is missing,
    and of a cell that differs in capitals alone: what that means is another thing in each database."""
    if not all(values):
        raise NotUnderstood
    wanted, folded = set(map(_plain, values)), {_plain(value).casefold() for value in values}

    def test(row: Row) -> bool:
        cell = _plain(row[place])
        if cell in wanted:
            return True
        if cell.casefold() in folded:
            raise NotUnderstood
        return False

    return test


def _plain(cell: str) -> str:
    """A cell as it is compared: a whole number, of any length, without zeros before it and as decimals; a text without blanks
    at its end."""
    number, _, decimals = cell.partition(".")
    if not NUMBER.fullmatch(cell) or decimals.strip("0"):
        return cell.rstrip()
    whole = number.lstrip("+-").lstrip("0") or "0"
    return f"-{whole}" if cell.startswith("-") and whole != "0" else whole


def _truncate(words: Words, tables: SqlTables) -> None:
    while True:
        _named(words, tables).clear()
        words.has("*")
        if not words.has(","):
            break
    while words.next in ("restart", "continue", "identity", "cascade", "restrict"):
        words.take()
    if not words.is_done:
        raise NotUnderstood


def _drop(words: Words, tables: SqlTables) -> None:
    if not words.has("table"):
        return
    while words.next in _PASSED:
        words.take()
    tables.drop(words.name())
    while words.has(","):
        tables.drop(words.name())


def _rename(words: Words, tables: SqlTables) -> None:
    if not words.has("table"):
        return
    while True:
        name = words.name()
        words.must("to")
        tables.rename(name, words.name())
        if not words.has(","):
            return


def _alter(words: Words, tables: SqlTables) -> None:
    if not words.has("table"):
        return
    while words.next in _PASSED:
        words.take()
    name = words.name()
    while True:
        table = tables.find(name)
        if table is None:
            return
        name = _altered(words, tables, table, name)
        depth = 0
        while not words.is_done and (depth or words.next != ","):
            depth += {"(": 1, ")": -1}.get(words.take()[1], 0)
        if not words.has(","):
            return


def _altered(words: Words, tables: SqlTables, table: SqlTable, name: tuple[str, ...]) -> tuple[str, ...]:
    """One action of ALTER TABLE; the name of the table behind it."""
    verb = words.take()[1].casefold()
    if verb in _HARMLESS or (verb in ("add", "drop", "rename") and words.next in _HARMLESS) or words.is_done:
        return name
    if verb == "rename" and words.next in ("to", "as"):
        words.take()
        new = words.name()
        tables.rename(name, new)
        return new
    words.has("column")
    while words.next in (*_PASSED, "not"):
        words.take()
    if verb in ("rename", "change"):
        old = words.name()[-1]
        words.has("to")
        table.rename_column(old, words.name()[-1])
    elif verb == "drop":
        table.drop_column(words.name()[-1])
    elif verb == "add" and words.next != "(":
        _add_column(words, table)
    elif table.has_rows:
        raise NotUnderstood
    return name


def _add_column(words: Words, table: SqlTable) -> None:
    """A column at the end, without values."""
    if not table.columns and not table.has_rows:
        return
    if table.unnamed or not table.columns:
        raise NotUnderstood
    name = words.name()[-1]
    while not words.is_done and words.next != ",":
        if words.next in ("first", "after"):
            raise NotUnderstood
        if words.has("default") and words.next != "null" and table.has_rows:
            raise NotUnderstood
        words.take()
    table.widen([name])


_BY_NAME: Final = {"drop": _drop, "rename": _rename, "alter": _alter}
_BY_ROW: Final = {"delete": _delete, "update": _update, "truncate": _truncate}
