"""Heard logs in files of several tables -> what their columns hold, and runs of records: workbooks, databases, archives with
several members, pages, markup and dumps of SQL.

Such a file is taken as a whole. Of its tables the one is read of which there is most, with those that have the same columns (a
sheet for each month); the others are named.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain
from pathlib import Path

from pruner.read.dated_tables import with_date
from pruner.read.heard_columns import LogColumns
from pruner.read.heard_text import TextLog, table_log
from pruner.read.parts import columns_of
from pruner.read.records import Records
from pruner.read.sample import head_of
from pruner.read.stream import without_colours
from pruner.table.cells import as_csv
from pruner.table.open_file import open_file
from pruner.table.opened import ColumnTable, Table, TextTable
from pruner.words.errors import InputRefusedError

Jobs = Iterator[Callable[[], Records | None]]


@dataclass(slots=True)
class _Found:
    """A table that is a log: as it stands in the file, and as it is read."""

    origin: TextTable
    table: TextTable
    log: TextLog


def tables_log(path: Path, columns: Mapping[str, str | int], system: str, order: str) -> tuple[LogColumns, Jobs]:
    """Identifies the columns of the tables of a file. Raises the InputRefusedError of the first table where none is a log."""
    return log_of_tables(path, [_as_text(table) for table in open_file(path)], columns, system, order)


def log_of_tables(
    path: Path,
    tables: Sequence[TextTable],
    columns: Mapping[str, str | int],
    system: str,
    order: str,
    *,
    are_sections: bool = False,
) -> tuple[LogColumns, Jobs]:
    """The same of tables that are opened; `are_sections`: parts of one log, whatever their columns are."""
    found, refusals = _identified(path, tables, columns, system, order)
    orders = {one.log.columns.form.order for one in found} - {""}
    if len(orders) == 1 and refusals:  # what one table says of dates holds for all
        again, refusals = _identified(path, [table for table, _ in refusals], columns, system, orders.pop())
        found += again
    if not found:
        if not refusals:
            raise InputRefusedError(f"{path}: nothing stands in its {len(tables)} tables; expected a log of calls")
        raise refusals[0][1]
    found.sort(key=lambda one: tables.index(one.origin))
    parts, best = _alike(found, has_any_columns=are_sections)
    taken = set(map(id, parts))
    understanding = replace(
        best.log.columns.understanding,
        label=best.table.label,
        parts=tuple(one.table.label for one in parts if one is not best),
        others=tuple(one.table.label for one in found if id(one) not in taken),
        refused=tuple(table.label for table, _ in refusals if len(tables) > 1),
    )
    counts = [one.log.columns.form.minutes for one in parts]
    minutes = None if None in counts else sum(filter(None, counts))
    doubt = next((one.log.columns.zone_doubt for one in parts if one.log.columns.zone_doubt), "")
    return LogColumns(understanding, replace(best.log.columns.form, minutes=minutes), doubt), _jobs(parts)


def _identified(
    path: Path, tables: Sequence[TextTable], columns: Mapping[str, str | int], system: str, order: str
) -> tuple[list[_Found], list[tuple[TextTable, InputRefusedError]]]:
    found: list[_Found] = []
    refusals: list[tuple[TextTable, InputRefusedError]] = []
    for table in tables:
        try:
            found += _log(path, table, table, columns, system, order)
        except InputRefusedError as error:
            dated = _dated_log(path, table, columns, system, order)
            found += dated
            refusals += [] if dated else [(table, error)]
    return found, refusals


def _log(
    path: Path, origin: TextTable, table: TextTable, columns: Mapping[str, str | int], system: str, order: str
) -> list[_Found]:
    """A table as a log, nothing of an empty one."""
    _, head = head_of(table.blocks())
    if not head.strip():
        return []
    return [_Found(origin, table, table_log(path, head, [], table.blocks, columns, system, order, notes=table.notes))]


def _dated_log(path: Path, table: TextTable, columns: Mapping[str, str | int], system: str, order: str) -> list[_Found]:
    """A table as a log of the day that its title names, nothing where it is none."""
    with suppress(InputRefusedError):
        dated = with_date(table, path.stat().st_mtime)
        return _log(path, table, dated, columns, system, order) if dated else []
    return []


def _alike(found: Sequence[_Found], *, has_any_columns: bool) -> tuple[list[_Found], _Found]:
    """The tables that have the same columns under the same headings, or may have any, and write times and durations alike, of
    which there are most rows; and the first of them in which dates say most."""
    keys = [
        (None if has_any_columns else columns_of(one.log.columns.understanding), form.unit, form.zone)
        for one in found
        for form in (one.log.columns.form,)
    ]
    rows: Counter[object] = Counter()
    for key, one in zip(keys, found, strict=True):
        rows[key, one.log.columns.form.order] += one.log.rows
        rows[key, None] += one.log.rows

    def rows_with(place: int) -> int:
        """How many rows the tables have that go with one: those that tell no order of dates go with any."""
        order = found[place].log.columns.form.order
        return rows[keys[place], order] + rows[keys[place], ""] if order else rows[keys[place], None]

    at = max(range(len(found)), key=rows_with)
    best, order = found[at], found[at].log.columns.form.order
    parts = [
        one
        for key, one in zip(keys, found, strict=True)
        if key == keys[at] and (not order or one.log.columns.form.order in ("", order))
    ]
    return parts, best


def _jobs(parts: Sequence[_Found]) -> Jobs:
    for one in parts:
        yield from one.log.jobs(one.table.blocks(), 0)
    yield lambda: None


def _as_text(table: Table) -> TextTable:
    if isinstance(table, ColumnTable):
        return TextTable(table.label, partial(_cells, table), is_exact=True)
    return table if table.is_exact else replace(table, blocks=partial(_plain, table.blocks))


def _plain(blocks: Callable[[], Iterator[bytes]]) -> Iterator[bytes]:
    return without_colours(blocks())


def _cells(table: ColumnTable) -> Iterator[bytes]:
    def rows() -> Iterator[tuple[object, ...]]:
        for job in table.runs(table.names):
            columns = job().columns
            yield from zip(*(columns[name].to_pylist() for name in table.names), strict=True)

    return as_csv(chain([tuple(table.names)], rows()))
