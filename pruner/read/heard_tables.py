"""Heard logs in files of several tables -> what their columns hold, and runs of records: workbooks, databases, archives with
several members, pages, markup and dumps of SQL.

Such a file is taken as a whole. The table with most evidence is read, and those with the same columns; the others are named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

from pruner.read.heard_columns import LogColumns
from pruner.read.heard_json import flat_records_in
from pruner.read.heard_text import TextLog, table_log
from pruner.read.records import Records
from pruner.read.sample import HEAD_BYTES, head_of
from pruner.read.stream import text_blocks, without_colours
from pruner.table.cells import as_csv
from pruner.table.containers import Part, parts_of
from pruner.table.fold import fold
from pruner.table.magic import OLD_OFFICE, SQLITE, looks_like_json
from pruner.table.no_table import no_table, no_table_text, packed_inside, packing
from pruner.table.open_sql import is_dump, open_dump
from pruner.table.open_text import utf8_blocks
from pruner.table.open_workbook import kind_of_zip, open_workbook
from pruner.table.opened import TextTable
from pruner.table.understanding import Understanding
from pruner.table.unpack import faults
from pruner.words.errors import InputRefusedError

Jobs = Iterator[Callable[[], Records | None]]
_MAGIC_BYTES: Final = 512


def tables_in(path: Path, *, is_text_only: bool = False) -> list[TextTable] | None:
    """The tables of a file that is more than one text of lines or JSON; None for such a text. `is_text_only`: what a pattern
    reads is no markup and no dump. Raises InputRefusedError for what is damaged and what is no table."""
    with faults(path), path.open("rb") as file:
        head = file.read(_MAGIC_BYTES)
    if head.startswith(SQLITE):
        from pruner.table.open_database import open_database  # here and below: what most logs do not need is not loaded

        return open_database(path)
    if head.startswith(OLD_OFFICE) or (packing(head) == "zip" and kind_of_zip(path) == "workbook"):
        return open_workbook(path)
    if packing(head) or _may_be_tar(head):
        parts = parts_of(path)
        if len(parts) > 1:
            return [table for part in parts for table in _of_member(path, part)]
    if is_text_only:
        return None
    start = next(text_blocks(path, None), b"")[:HEAD_BYTES].lstrip()
    is_page = start.startswith(b"<") and bool(no_table_text(start))
    if not is_page and not is_dump(start):
        return None
    text = b"".join(text_blocks(path, None)).decode(errors="replace")
    found = _of_text(start, text)
    if not found:
        raise InputRefusedError(f"{path}: {no_table_text(start)}")
    return found


def _may_be_tar(head: bytes) -> bool:
    return head[257:262] == b"ustar"


def _of_text(start: bytes, text: str) -> list[TextTable]:
    if start.startswith(b"<"):
        from pruner.table.open_markup import open_markup, open_page

        return open_page(text) if "(HTML)" in no_table_text(start) or "<table" in text.casefold() else open_markup(text)
    return open_dump(text)


def _of_member(path: Path, part: Part) -> list[TextTable]:
    """The tables of a member of an archive; one that is none refuses when it is read."""
    head = next(part.blocks(), b"")
    refusal = packed_inside(head) or no_table(head)
    if refusal:
        error = InputRefusedError(f"{path}: {part.label}: {refusal}")
        return [TextTable(part.label, partial(_refused, error), is_refused=True)]

    def blocks() -> Iterator[bytes]:
        return without_colours(utf8_blocks(part.blocks(), None))

    start = next(blocks(), b"")[:HEAD_BYTES].lstrip()
    if looks_like_json(start):
        return [TextTable(part.label, partial(_json_table, blocks), is_exact=True)]
    if start.startswith(b"<") or is_dump(start):
        return _of_text(start, b"".join(blocks()).decode(errors="replace"))
    return [TextTable(part.label, blocks)]


def _refused(error: InputRefusedError) -> Iterator[bytes]:
    raise error


def _json_table(blocks: Callable[[], Iterator[bytes]]) -> Iterator[bytes]:
    records = flat_records_in(b"".join(blocks()))
    names = list(dict.fromkeys(name for record in records for name in record))
    return as_csv([names, *([record.get(name) for name in names] for record in records)])


@dataclass(slots=True)
class _Found:
    table: TextTable
    log: TextLog
    rows: int


def tables_log(
    path: Path, tables: Sequence[TextTable], columns: Mapping[str, str | int], system: str, order: str
) -> tuple[LogColumns, Jobs]:
    """Identifies the columns of the tables. Raises InputRefusedError, that of the first table, where none is a log."""
    found, refusals = _identified(path, tables, columns, system, order)
    orders = {one.log.columns.form.order for one in found} - {""}
    if len(orders) == 1 and refusals:  # what one table says of dates holds for all
        again, refusals = _identified(path, [table for table, _ in refusals], columns, system, orders.pop())
        found += again
    if not found:
        raise refusals[0][1]
    best = max(found, key=lambda one: one.rows)
    parts = [one for one in found if one is best or _is_alike(one, best)]
    parts.sort(key=lambda one: tables.index(one.table))
    others = [one.table.label for one in found if one not in parts]
    refused = [table.label for table, _ in refusals if len(tables) > 1]
    named: Understanding = replace(
        best.log.columns.understanding,
        label=best.table.label,
        parts=tuple(one.table.label for one in parts if one is not best),
        others=tuple(others),
        refused=tuple(refused),
    )
    return LogColumns(named, best.log.columns.form), _jobs(parts)


def _identified(
    path: Path, tables: Sequence[TextTable], columns: Mapping[str, str | int], system: str, order: str
) -> tuple[list[_Found], list[tuple[TextTable, InputRefusedError]]]:
    found: list[_Found] = []
    refusals: list[tuple[TextTable, InputRefusedError]] = []
    for table in tables:
        try:
            _, head = head_of(table.blocks())
            if not head.strip():
                continue
            log = table_log(path, head, [], table.blocks, columns, system, order)
        except InputRefusedError as error:
            refusals.append((table, error))
        else:
            found.append(_Found(table, log, head.count(b"\n")))
    return found, refusals


def _is_alike(one: _Found, other: _Found) -> bool:
    """Whether two tables have the same columns under the same headings, and write times and durations alike."""
    used, wanted = (
        {(use.meaning, fold(use.heading)) for use in log.columns.understanding.columns} for log in (one.log, other.log)
    )
    has_headings = one.log.columns.understanding.has_headings and other.log.columns.understanding.has_headings
    forms = [replace(log.columns.form, last=None) for log in (one.log, other.log)]
    are_dated_alike = forms[0].order == forms[1].order or "" in (forms[0].order, forms[1].order)
    return used == wanted and has_headings and are_dated_alike and forms[0].unit == forms[1].unit


def _jobs(parts: Sequence[_Found]) -> Jobs:
    for one in parts:
        yield from one.log.jobs(one.table.blocks(), 0)
    yield lambda: None
