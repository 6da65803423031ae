"""One table file -> its records as work to be done, run by run, once it is clear which column holds what.

Receives a path and what the settings say of it, hands on `Opened`: what was understood, and jobs that give Records.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from dataclasses import replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Final

from pruner.read.as_log import AS_IN_A_LOG, has_times, refuse_logs
from pruner.read.changed_headings import Foreign, by_headings, without_foreign
from pruner.read.columnar import as_records, identify_names
from pruner.read.delimited import Block, parse, recode_lines, whole_records
from pruner.read.dialect import common_text, dialect_of, is_common
from pruner.read.forms import formed
from pruner.read.parts import Jobs, Opened, has_all_columns_of, joined, most_of
from pruner.read.records import Records
from pruner.read.sample import encoding_of, head_of, pieces_of
from pruner.read.stream import with_last, without_lines
from pruner.read.totals import mark_totals
from pruner.table.board import Board
from pruner.table.choices import Choice, Identified
from pruner.table.cut import Cut, cut_text
from pruner.table.facts import looks_legal
from pruner.table.forms import empty_words, has_numbers_of_countries
from pruner.table.kinds import Kind
from pruner.table.open_file import open_file
from pruner.table.opened import ColumnTable, Held, Run, Table, TextTable
from pruner.table.refusals import refusal
from pruner.table.understanding import CORRECT, column_name, shown, understanding_of
from pruner.words import schema
from pruner.words.errors import ColumnsError, InputRefusedError, NoRowsError
from pruner.words.number import whole_number

Answers = Mapping[str, str | int]
#: A table that is refused by itself may be a part of another where it has no more rows than this.
_SMALL: Final = 10
#: Stands between the heading of a column and what tells it from others of the same heading; no heading holds it.
BELOW: Final = "\x1f"


def open_table(
    path: Path | Held,
    kind: Kind,
    system: str,
    columns: Answers,
    encoding: str | None = None,
    coded: Collection[str] = schema.REPEATED_TEXT,
    reached: Callable[[int], None] | None = None,
    with_unused: bool = False,
) -> Opened:
    """Opens a file and finds out which column holds what, before any record is read; of several tables in it (sheets, members
    of an archive, lists) the one of which there is most (`most_of`), and its parts (`joined`). Raises as `read_directory`."""
    found: dict[int, Opened] = {}
    refusals: dict[int, InputRefusedError] = {}
    tables = open_file(path, encoding, reached)

    def opened(table: Table, answers: Answers) -> Opened:
        if isinstance(table, ColumnTable):
            return _open_columns(path, table, kind, system, answers, with_unused)
        assert isinstance(path, Path)  # what is in memory has columns
        return _open_text(path, table, kind, system, answers, coded, with_unused)

    for place, table in enumerate(tables):
        try:
            found[place] = opened(table, columns)
        except InputRefusedError as error:
            refusals[place] = error
    if not found:
        raise next(iter(refusals.values()))  # a file is one table at least
    best = most_of(list(found.values()))
    if len(tables) > 1 and schema.ID not in columns:
        refuse_logs(path, kind, best, list(found.values()), list(refusals.values()))
    logs: list[InputRefusedError] = []
    for place in refusals:  # a part may be too short to be known by itself
        with suppress(InputRefusedError):
            small = opened(tables[place], {use.meaning: use.answer for use in best.understanding.columns})
            if kind.refuses_logs and AS_IN_A_LOG in str(refusals[place]):
                logs += [refusals[place]] if has_all_columns_of(small.understanding, best.understanding) else []
            elif small.rows <= _SMALL and (small.understanding.has_headings or _has_ids(small)):
                found[place] = small
    if logs and schema.ID not in columns:
        raise logs[0]  # the best table is a short piece of it
    refused = [
        tables[place].label
        for place, error in refusals.items()
        if place not in found and not isinstance(error, NoRowsError)  # an empty table leaves nothing out
    ]
    return joined([found[place] for place in sorted(found)], best, refused)


def _has_ids(one: Opened) -> bool:
    """Whether half of the ids of a table are as long as ids are."""
    return 2 * sum(looks_legal(whole_number(cell)) for cell in one.ids) >= len(one.ids) > 0


def _open_columns(
    path: Path | Held, table: ColumnTable, kind: Kind, system: str, columns: Answers, with_unused: bool
) -> Opened:
    found, board = identify_names(table.names, table.sample, columns, str(path), kind, system)
    understanding = understanding_of(str(path), board, found, label=table.label, has_names=schema.FIRST_NAME in kind.names)
    if with_unused:
        _take_unused(board, found)
    positions = found.positions
    names = {meaning: table.names[place] for meaning, place in positions.items()}
    words = empty_words(board, positions)
    are_numbers = has_numbers_of_countries(board, positions, words.get(schema.COUNTRY, ()))

    def records(job: Callable[[], Run], is_last: bool) -> Records:
        run = job()
        made = as_records({meaning: run.columns[name] for meaning, name in names.items()}, run.count)
        made.unreadable, made.origin, made.lines, made.recoded = run.unreadable, run.origin, run.lines, run.recoded
        return mark_totals(formed(made, found, words, are_numbers), is_last=is_last)

    runs = table.runs(list(dict.fromkeys(names.values())))
    jobs = ((0, partial(records, job, is_last)) for job, is_last in with_last(runs))
    return Opened(understanding, jobs, found.total, _ids(board, found), board.rows, partial(_has_times, board, found))


def _ids(board: Board, found: Identified) -> frozenset[str]:
    """The cells of ids, else of call signs, that were looked at."""
    place = next((found.positions[name] for name in (schema.ID, schema.CALLSIGN) if name in found.positions), None)
    return frozenset() if place is None else frozenset(board.columns[place].counts)


def _has_times(board: Board, found: Identified) -> bool:
    return schema.ID in found.positions and has_times(board, found.positions[schema.ID])


def unused_name(heading: str, place: int) -> str:
    """What a column (from 0) is called in records of which nothing is made; its heading stands before `BELOW`."""
    return f"{heading}{BELOW}{place}"


def _take_unused(board: Board, found: Identified) -> None:
    for place in found.unused:
        found.choices[unused_name(column_name(board, place), place)] = Choice(place, "cells", 0.0)


def _open_text(
    path: Path, table: TextTable, kind: Kind, system: str, columns: Answers, coded: Collection[str], with_unused: bool
) -> Opened:
    blocks = table.blocks()
    taken, head = head_of(blocks)
    if not head.strip():
        raise NoRowsError(f"{path}: the file is empty; expected {kind.table}")
    stream = chain(taken, blocks)
    pieces = pieces_of(path, head)
    fallback, is_used = encoding_of(head, pieces, str(path))
    texts = [recode_lines(piece, fallback)[0].decode(errors="replace") for piece in (head, *pieces)]
    cut = cut_table(texts[0], texts[1:], kind, system, columns, str(path))
    place = cut.found.positions.get(schema.ID)
    if place is not None and cut.board.headings[place] in table.referred:
        raise InputRefusedError(f"{path}: {table.label}: its rows refer to {kind.table} in another table")
    used = fallback if is_used else ""
    understanding = understanding_of(
        str(path),
        cut.board,
        cut.found,
        label=table.label,
        encoding=used,
        titles=cut.titles,
        has_names=schema.FIRST_NAME in kind.names,
    )
    if with_unused:
        _take_unused(cut.board, cut.found)
    dialect = dialect_of(cut, coded, fallback)
    if kind.may_be_short:
        dialect = replace(dialect, least_cells=1)
    rest = without_lines(stream, dialect.heading_lines)
    if not is_common(cut):
        rest = common_text(rest, cut, fallback)
    words = empty_words(cut.board, cut.found.positions)
    are_numbers = has_numbers_of_countries(cut.board, cut.found.positions, words.get(schema.COUNTRY, ()))
    is_plain = cut.found.is_plain and not words and not are_numbers

    def records(whole: Block, foreign: Foreign, is_last: bool) -> Records:
        parsed = without_foreign(parse(whole, dialect), foreign)
        if not is_plain:
            parsed = formed(parsed, cut.found, words, are_numbers)
        return mark_totals(parsed, is_last=is_last)

    def jobs() -> Jobs:
        parts = by_headings(whole_records(rest, dialect.delimiter), dialect)
        for number, ((whole, foreign), is_last) in enumerate(with_last(parts)):
            yield dialect.heading_lines if number == 0 else 0, partial(records, whole, foreign, is_last)

    board, found = cut.board, cut.found
    return Opened(understanding, jobs(), found.total, _ids(board, found), board.rows, partial(_has_times, board, found))


def cut_table(head: str, pieces: list[str], kind: Kind, system: str, columns: Answers, where: str) -> Cut:
    """The way in which a text is cut. Raises InputRefusedError where it is no table of the kind."""
    try:
        cut = cut_text(head, pieces, kind, system, columns)
    except KeyError as error:
        raise ColumnsError(_unknown_column(head, where, error.args[0]), CORRECT, f"correct {kind.setting}") from error
    if cut is None:
        first = shown(next((line for line in head.split("\n") if line.strip()), ""))
        raise InputRefusedError(f"{where}: no table is found in it (it begins {first!r}); expected {kind.table}")
    if cut.found.trouble:
        raise refusal(where, cut.board, cut.found, kind, cut.before or None)
    return cut


def _unknown_column(head: str, where: str, name: str | int) -> str:
    first = next((line for line in head.split("\n") if line.strip()), "")
    if isinstance(name, int):
        return f"{where}: it has no column {name} (the first line is {shown(first)!r})"
    return f"{where}: line 1: no column is headed {name!r} (found: {shown(first)})"
