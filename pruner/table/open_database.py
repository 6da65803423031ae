"""SQLite files -> one delimited text per table or view. The file is opened for reading only."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from functools import partial
from pathlib import Path
from typing import Final
from urllib.parse import quote

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable
from pruner.words.errors import InputRefusedError

MOST_TABLES: Final = 64
_AT_ONCE: Final = 4096
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
    with _connected(path, _Patience()) as connection:
        found = connection.execute(
            "SELECT name FROM sqlite_master WHERE type IN ('table', 'view')"
            " AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY type, rowid"
        )
        names = [str(row[0]) for row in found]
    if not names:
        raise InputRefusedError(f"{path}: the database holds no table; expected a table of records")
    if len(names) > MOST_TABLES:
        raise InputRefusedError(f"{path}: the database holds {len(names)} tables; export the one that is meant as CSV")
    return [TextTable(name, partial(_table, path, name), is_exact=True) for name in names]


def _table(path: Path, name: str) -> Iterator[bytes]:
    patience = _Patience()
    with _connected(path, patience) as connection:
        quoted = name.replace('"', '""')
        cursor = connection.execute(f'SELECT * FROM "{quoted}"')
        headings = [column[0] for column in cursor.description]

        def rows() -> Iterator[tuple[object, ...]]:
            yield tuple(headings)
            while batch := cursor.fetchmany(_AT_ONCE):
                patience.left = _MOST_STEPS
                yield from batch

        yield from as_csv(rows())
