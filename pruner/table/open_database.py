"""SQLite files -> one delimited text per table or view. The file is opened for reading only.

A column of keys of another table has beside it what that table says of them. Views that lack no rows stand before tables: a
person made them to be read.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import Final
from urllib.parse import quote

from pruner.table.cells import as_csv
from pruner.table.keys import Described, Reference, references
from pruner.table.opened import TextTable
from pruner.words.errors import InputRefusedError

MOST_TABLES: Final = 64
_AT_ONCE: Final = 4096
#: A column of as many different numbers is no key of a table that is looked up.
_MOST_KEYS: Final = 1 << 20
#: A view that computes for so many steps of the database's machine without a row is given up.
_STEP: Final = 1_000_000
_MOST_STEPS: Final = 500


class _Patience:
    """Ends a query that gives no rows for too long."""

    def __init__(self) -> None:
        self.left = _MOST_STEPS

    def __call__(self) -> int:
        self.left -= 1
        return int(self.left < 0)


@contextmanager
def _connected(path: Path, patience: _Patience) -> Iterator[sqlite3.Connection]:
    try:
        with closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro&immutable=1", uri=True)) as connection:
            connection.text_factory = lambda text: text.decode(errors="replace")
            connection.execute("PRAGMA trusted_schema = OFF")
            connection.execute("PRAGMA cell_size_check = ON")
            connection.set_progress_handler(patience, _STEP)
            yield connection
    except (sqlite3.Error, OverflowError, UnicodeError) as error:
        if patience.left < 0:
            raise InputRefusedError(f"{path}: a view of the database gives no rows; export the table as CSV") from error
        raise InputRefusedError(f"{path}: the database is damaged or needs a key; get it again or export it as CSV") from error


def open_database(path: Path) -> list[TextTable]:
    """The tables and views of a database. Raises InputRefusedError for damage and where there is none."""
    log = path.with_name(f"{path.name}-wal")
    if log.exists() and log.stat().st_size:
        raise InputRefusedError(
            f"{path}: the database has changes that are not in the file yet ({log.name}); close the program that has it open"
        )
    patience = _Patience()
    with _connected(path, patience) as connection:
        found = connection.execute(
            "SELECT name, type FROM sqlite_master WHERE type IN ('table', 'view')"
            " AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY type, rowid"
        )
        kinds = {str(name): str(kind) for name, kind in found}
        if not kinds:
            raise InputRefusedError(f"{path}: the database holds no table; expected a table of records")
        if len(kinds) > MOST_TABLES:
            raise InputRefusedError(f"{path}: the database holds {len(kinds)} tables; export the one that is meant as CSV")
        tables = [name for name, kind in kinds.items() if kind == "table"]
        found_keys = references([_described(connection, name, patience) for name in tables]) if len(tables) > 1 else {}
    views = [name for name, kind in kinds.items() if kind == "view" and _lacks_nothing(path, name, tables, found_keys)]
    names = [*views, *(name for name in kinds if name not in views)]
    return [_opened(path, name, found_keys.get(name, [])) for name in names]


def _opened(path: Path, name: str, keys: Sequence[Reference]) -> TextTable:
    referred = frozenset(heading for one in keys for heading in one.columns)
    return TextTable(name, partial(_table, path, name, keys), is_exact=True, referred=referred)


def _described(connection: sqlite3.Connection, name: str, patience: _Patience) -> Described:
    """A table with its keys; its values are looked at while the database is open, each column with the same patience."""
    columns = list(connection.execute(f"PRAGMA table_info({_quoted(name)})"))
    keys = [str(column[1]) for column in columns if column[5]]
    declared = {
        str(row[3]): (str(row[2]), row[4] or "") for row in connection.execute(f"PRAGMA foreign_key_list({_quoted(name)})")
    }

    def values(column: str) -> frozenset[int] | None:
        quoted = _quoted(column)
        patience.left = _MOST_STEPS
        with suppress(sqlite3.OperationalError):  # a column that takes longer is no key
            filled = f"FROM {_quoted(name)} WHERE {quoted} IS NOT NULL"
            first = connection.execute(f"SELECT {quoted} {filled} LIMIT 1").fetchone()
            if first and type(first[0]) is not int:
                return None
            found = {row[0] for row in connection.execute(f"SELECT DISTINCT {quoted} {filled} LIMIT {_MOST_KEYS}")}
            return frozenset(found) if len(found) < _MOST_KEYS and all(type(one) is int for one in found) else None
        return None

    return Described(name, [str(column[1]) for column in columns], keys[0] if len(keys) == 1 else "", declared, values)


def _lacks_nothing(path: Path, view: str, tables: Sequence[str], keys: Mapping[str, Sequence[Reference]]) -> bool:
    """Whether a view has as many rows as each table that it is made of, but for those that are only referred to."""
    try:
        with _connected(path, _Patience()) as connection:
            text = connection.execute("SELECT lower(sql) FROM sqlite_master WHERE name = ?", (view,)).fetchone()[0]
            used = [name for name in tables if re.search(rf"(?<!\w){re.escape(name.lower())}(?!\w)", text)]
            referred = {one.table for name in used for one in keys.get(name, ())}
            counts = [
                connection.execute(f"SELECT count(*) FROM {_quoted(name)}").fetchone()[0]
                for name in (view, *(name for name in used if name not in referred))
            ]
    except InputRefusedError:
        return False
    return counts[0] >= max(counts[1:], default=0)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _table(path: Path, name: str, keys: Sequence[Reference]) -> Iterator[bytes]:
    patience = _Patience()
    with _connected(path, patience) as connection:
        cursor = connection.execute(_selection(name, keys))
        meant = {one.column: one.heading for one in keys}
        headings = [meant.get(column[0], column[0]) for column in cursor.description]

        def rows() -> Iterator[tuple[object, ...]]:
            yield tuple(headings)
            while batch := cursor.fetchmany(_AT_ONCE):
                patience.left = _MOST_STEPS
                yield from batch

        yield from as_csv(rows())


def _selection(name: str, keys: Sequence[Reference]) -> str:
    """The rows of a table, with what the rows that they refer to say."""
    selected, joins = [f"{_quoted(name)}.*"], []
    for number, one in enumerate(keys):
        other = f"pruner_{number}"
        selected += [f"{other}.{_quoted(column)} AS {_quoted(heading)}" for heading, column in one.columns.items()]
        if one.columns:
            keyed = f"{_quoted(name)}.{_quoted(one.column)} = {other}.{_quoted(one.key)}"
            joins.append(f"LEFT JOIN {_quoted(one.table)} AS {other} ON {keyed}")
    return " ".join([f"SELECT {', '.join(selected)} FROM {_quoted(name)}", *joins])
