"""A file of any kind -> the tables that it may be.

Receives a path, hands on one table (most files) or several: sheets of a workbook, tables of a database, members of an archive,
lists in a JSON text, tables of a page, lists of markup, tables of a wiki or a dump. The caller takes the one with the best
evidence and names it by its label.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Final

from pruner.table import no_table
from pruner.table.containers import Part, parts_of
from pruner.table.magic import OLD_OFFICE, SQLITE, is_columnar, looks_like_json, may_be_keyed
from pruner.table.open_text import utf8_blocks, whole_text, with_lines
from pruner.table.opened import Blocks, Held, Table, TextTable, shown
from pruner.words.errors import InputRefusedError, NoRowsError, SourceMissingError

_HEAD: Final = 1 << 16
_BEGINNING: Final = 1 << 12
#: Code gives a list or an object to something.
_GIVEN: Final = re.compile(rb"(?:[=(]|\bdefault|\breturn)\s*+[\[{]")
_STATEMENT: Final = re.compile(rb"^[ \t]*(?:INSERT|REPLACE|COPY|CREATE)\s", re.IGNORECASE | re.MULTILINE)


def open_file(path: Path | Held, encoding: str | None = None, reached: Callable[[int], None] | None = None) -> list[Table]:
    """The tables that a file may be, at least one, in the order of the file.

    `encoding` is that of text without a byte-order mark, from the settings; `reached` is told the position in the file while
    text is read. Raises SourceMissingError where the file cannot be opened, and InputRefusedError with one line that says what
    the file is and what to do, for what is no table.
    """
    if isinstance(path, Held):
        return [path.table]
    try:
        with path.open("rb") as file:
            head = file.read(_HEAD)
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    if is_columnar(head) and no_table.packing(head) == "":
        from pruner.table.open_columnar import open_columnar  # here and below: what most files do not need is not loaded

        return [open_columnar(path)]
    if head.startswith(SQLITE):
        from pruner.table.open_database import open_database

        return list(open_database(path))
    if head.startswith(OLD_OFFICE):
        return _old_office(path)
    refusal = no_table.no_table(head)
    if refusal:
        raise InputRefusedError(f"{path}: {refusal}")
    if no_table.packing(head) == "zip":
        from pruner.table.open_workbook import kind_of_zip, open_workbook

        kind = kind_of_zip(path)
        if kind == "workbook":
            return list(open_workbook(path))
        if kind:
            raise InputRefusedError(f"{path}: this is {kind}; export the list as CSV")
    return _members(path, parts_of(path, reached), encoding)


def _old_office(path: Path) -> list[Table]:
    from pruner.table.open_workbook import open_workbook

    try:
        return list(open_workbook(path))
    except InputRefusedError as error:
        if "password" in str(error):
            raise
        raise InputRefusedError(f"{path}: this is an old binary document, not a workbook; export the list as CSV") from error


def _members(path: Path, parts: list[Part], encoding: str | None) -> list[Table]:
    """The tables of the parts of a file. Parts of an archive that are none refuse when they are read, as long as one is."""
    tables: list[Table] = []
    refusals: list[InputRefusedError] = []
    for part in parts:
        try:
            tables += _tables(path, part, encoding)
        except InputRefusedError as error:
            refusals.append(error)
            tables.append(TextTable(part.label, partial(_refused, error), is_refused=True))
    passed_over = parts[0].passed_over if parts else ()
    if len(refusals) == len(tables):
        if len(refusals) == 1:
            raise refusals[0]
        raise InputRefusedError(
            f"{path}: none of the {len(parts)} files in the archive is a table; the first: {_reason(refusals[0])}"
        )
    for name in passed_over:
        said = InputRefusedError(f"{path}: {shown(name)} is not looked at beside tables; unpack the archive and name the file")
        tables.append(TextTable(f"{name} (not looked at)", partial(_refused, said), is_refused=True))
    return tables


def _refused(error: InputRefusedError) -> Iterator[bytes]:
    raise error


def _reason(error: InputRefusedError) -> str:
    return str(error).split(": ", 1)[-1]


def _tables(path: Path, part: Part, encoding: str | None) -> list[Table]:
    where = f"{path}: {shown(part.label)}" if part.label else str(path)
    blocks = part.blocks()
    head = next(blocks, b"")[:_HEAD]
    _close(blocks)
    refusal = part.is_packed and (no_table.packed_inside(head) or no_table.no_table(head))
    if refusal:
        raise InputRefusedError(f"{where}: {refusal}")
    text = partial(_text_of, part, encoding)
    beginning = text()
    start = b""
    for block in beginning:
        start += block
        if len(start.lstrip()) >= _BEGINNING:
            break
    _close(beginning)
    if not start.strip():
        raise NoRowsError(f"{where}: the file is empty; expected a table")
    refusal = no_table.no_table_text(start.lstrip())
    if refusal and no_table.is_settings(start.lstrip()) and (tables := _keyed(text, part.label)):
        return [*tables]
    if refusal:
        raise InputRefusedError(f"{where}: {refusal}")
    if no_table.is_markup(start.lstrip()):
        return _markup(part, encoding, start, where)
    if _is_wiki(start):
        from pruner.table.open_wiki import tables_of_wiki

        if tables := tables_of_wiki(text, part.label):
            return [*tables]
    if _GIVEN.search(start[:_HEAD]):
        from pruner.table.open_code import is_code, value_in

        if is_code(start[:_HEAD]):
            from pruner.table.open_json import open_json

            value = value_in(text, where)
            return open_json(value, next(value())[:_HEAD], part.label, where)
    if _is_dump(start):
        from pruner.table.open_sql import tables_of_dump

        if tables := tables_of_dump(text, part.label, where):
            return [*tables]
    if _may_be_records(start) and (tables := _keyed(text, part.label)):
        return [*tables]
    if looks_like_json(start):
        from pruner.table.open_json import open_json

        return open_json(text, start, part.label, where)
    return [TextTable(part.label, partial(_lines, text, where))]


def _keyed(text: Blocks, label: str) -> list[TextTable]:
    """Records of names and values in lines; none in another text."""
    from pruner.table.open_keyed import tables_of_keyed

    return tables_of_keyed(text, label)


def is_made_of_tables(start: bytes) -> bool:
    """Whether a text in UTF-8 that begins so is a page, other markup, a wiki or a dump: not one table of lines."""
    return no_table.is_markup(start) or _is_wiki(start) or _is_dump(start)


def is_made_of_records(start: bytes) -> bool:
    """Whether a text in UTF-8 that begins so is records of names and values in lines."""
    return _may_be_records(start) and bool(_keyed(lambda: iter((start,)), ""))


def _may_be_records(start: bytes) -> bool:
    is_other = looks_like_json(start) and b"{'" not in start[:_HEAD]
    return not is_other and may_be_keyed(start[:_BEGINNING].decode(errors="replace"))


def _is_wiki(start: bytes) -> bool:
    head = start[:_HEAD]
    if b"{|" not in head and b"|===" not in head:
        return False
    from pruner.table.open_wiki import is_wiki

    return is_wiki(head)


def _is_dump(start: bytes) -> bool:
    if not _STATEMENT.search(start[:_HEAD]):
        return False
    from pruner.table.open_sql import is_dump

    return is_dump(start[:_HEAD])


def _markup(part: Part, encoding: str | None, start: bytes, where: str) -> list[Table]:
    from pruner.table.open_page import LONGEST_PAGE, charset_of, open_page

    is_page = no_table.is_page(start.lstrip())
    text = whole_text(_text_of(part, encoding or charset_of(start)), LONGEST_PAGE)
    if text is None:
        kind = "a page (HTML)" if is_page else "markup"
        raise InputRefusedError(f"{where}: this is {kind} of more than {LONGEST_PAGE >> 20} MiB; get the table itself")
    if is_page:
        return open_page(text, part.label, where)
    from pruner.table.open_xml import tables_of_markup

    tables = tables_of_markup(text, part.label)
    if not tables:
        raise InputRefusedError(f"{where}: this is markup without a list of records; get the table itself")
    return [*tables]


def _text_of(part: Part, encoding: str | None) -> Iterator[bytes]:
    return utf8_blocks(part.blocks(), encoding)


def _lines(text: Blocks, where: str) -> Iterator[bytes]:
    return with_lines(text(), where)


def _close(blocks: Iterator[bytes]) -> None:
    close = getattr(blocks, "close", None)
    if close is not None:
        close()
