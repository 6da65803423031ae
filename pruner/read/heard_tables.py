"""A heard log in a workbook, a database or a page -> what its columns hold, and its runs of records.

Such a file is taken as a whole. Of its tables the one is read of which there is most, with those that have the same columns (a
sheet for each month); the others are named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import chain
from pathlib import Path

from pruner.read.heard_columns import LogColumns
from pruner.read.heard_text import TextLog, delimited_log
from pruner.read.parts import has_columns_of
from pruner.read.records import Records
from pruner.read.sample import head_of
from pruner.table.open_file import open_file
from pruner.table.opened import TextTable
from pruner.words.errors import InputRefusedError, NoRowsError


def tables_log(
    path: Path, columns: Mapping[str, str | int], system: str, order: str
) -> tuple[LogColumns, Iterator[Callable[[], Records | None]]]:
    """What was understood of a file, and its runs. Raises InputRefusedError where no table of it is a log of calls."""
    found: dict[int, tuple[TextTable, TextLog]] = {}
    refusals: dict[int, InputRefusedError] = {}
    tables = open_file(path)
    for place, table in enumerate(tables):
        assert isinstance(table, TextTable)  # only files with rows of named columns have others
        try:
            _, head = head_of(table.blocks())
            if not head.strip():
                raise NoRowsError(f"{path}: {table.label or 'the page'} is empty; expected a log of calls")
            found[place] = table, delimited_log(path, head, columns, system, order, table.blocks)
        except InputRefusedError as error:
            refusals[place] = error
    if not found:
        raise next(iter(refusals.values()))
    logs = {place: log for place, (_, log) in found.items()}
    best = max(logs, key=lambda place: (sum(log.rows for log in logs.values() if _is_part(log, logs[place])), -place))
    parts = [place for place in found if place == best or _is_part(logs[place], logs[best])]
    label = tables[best].label
    understanding = replace(
        logs[best].columns.understanding,
        label=label,
        parts=tuple(tables[place].label for place in parts if place != best),
        others=tuple(tables[place].label for place in found if place not in parts),
        refused=tuple(tables[place].label for place, error in refusals.items() if not isinstance(error, NoRowsError)),
    )
    jobs = chain.from_iterable(log.jobs(table.blocks(), 0) for table, log in (found[place] for place in parts))
    return replace(logs[best].columns, understanding=understanding), jobs


def _is_part(one: TextLog, best: TextLog) -> bool:
    """Whether a table has the same columns as another, with times and durations written alike."""
    return one.columns.form == best.columns.form and has_columns_of(one.columns.understanding, best.columns.understanding)
