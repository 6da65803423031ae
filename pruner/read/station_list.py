"""A list of stations in a rule: a table with ids or call signs, or plain text with one or several stations a line.

Receives the path of a file, hands on `Listed`: ids and call signs in the form that contacts have after cleaning (DEVELOPERS.md,
"Id" and "Call sign").
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from pruner.read.list_entries import NUMBERING, QUOTES, Found, take, take_ids, take_line, take_range
from pruner.read.list_kind import LAST_ID, LIST
from pruner.read.open_table import open_table
from pruner.read.sample import encoding_of, head_of
from pruner.read.totals import is_totals_line
from pruner.table.board import ENOUGH_ROWS
from pruner.table.cut import Cut, cut_text
from pruner.table.dialects import DELIMITERS, rows_of
from pruner.table.facts import country_of_id
from pruner.table.listed import Listed
from pruner.table.open_file import open_file
from pruner.table.opened import ColumnTable
from pruner.table.understanding import NOT_READ, names_of, shown
from pruner.words import schema
from pruner.words.errors import InputRefusedError, NoRowsError

_COMMENT: Final = re.compile(
    r"(?:^|\s)(?:#(?!\s*[\t;,|])|//).*|^\s*(?:;|--|%|'(?!\s*\d{5})(?!\S+$)|rem\b|\*\*?\s).*", re.IGNORECASE
)
#: Before an entry it says whom a list does not mean.
_NOT: Final = "!"
_BULLET: Final = re.compile(r"^\s*\*\s")
#: Longer numbers begin with the code of a country where they are ids of dmr, and so many of a list (common practice, no
#: source).
_SIX_DIGITS: Final = 100_000
_MOST_KNOWN: Final = 0.6
_LONGEST_LINE: Final = 100_000
#: Rows of a table that name nobody refuse the list when they are more than this, and more than half.
_SLACK: Final = 10


def read_list(path: Path, columns: Mapping[str, str | int] | None = None) -> Listed:
    """The stations that a list names; a row of a table may name one by id and by call sign.

    Raises InputRefusedError, one line, for a line that names nobody (of a table: where most do), SourceMissingError if there is
    no such file.
    """
    try:
        found = open_file(path)
    except NoRowsError:
        return Listed(np.zeros(0, dtype=np.uint32), frozenset())
    tables = [table for table in found if isinstance(table, ColumnTable) or not table.is_refused]
    if columns or len(tables) > 1 or isinstance(tables[0], ColumnTable) or tables[0].is_exact:
        return _table(path, columns or {})
    taken, head = head_of(blocks := tables[0].blocks())
    text = b"".join((*taken, *blocks))
    if b"\0" in text:
        line = text.count(b"\n", 0, text.index(b"\0")) + 1
        raise InputRefusedError(f"{path}:{line}: this is not a text file; expected ids or call signs, one a line")
    if _is_table(head, path):
        return _table(path, {})
    encoding, _ = encoding_of(text, (), str(path))
    listed = _plain(path, _decoded(text, encoding))
    if len(found) == 1:
        return listed
    left_out = f"{NOT_READ}: {names_of([table.label for table in found if table is not tables[0]])}"
    return replace(listed, doubt="; ".join(filter(None, (listed.doubt, left_out))))


def _is_table(head: bytes, path: Path) -> bool:
    """Whether a text has columns of which not more than one holds ids, and one call signs."""
    encoding, _ = encoding_of(head, (), str(path))
    text = "\n".join(_COMMENT.sub("", line).rstrip(" \ufeff\x1a") for line in _decoded(head, encoding).split("\n"))
    lines = [line for line in text.split("\n") if line.strip()]
    if not any(mark in line for line in lines[:50] for mark in DELIMITERS) and len(lines) < 2:
        return False
    cut = cut_text(text, [], LIST, "dmr", {})
    if cut is None:
        return False
    if cut.found.trouble:  # below headings of columns no cell is taken for an id where its column is not
        return (cut.headings is not None and bool(cut.found.choices)) or _has_headings(lines, cut)
    if cut.width < 2 or cut.delimiter == " " or (cut.headings is None and cut.board.rows < 2):
        return False
    used = set(cut.found.positions.values())
    more = [column for place, column in enumerate(cut.board.columns) if place not in used]
    if cut.headings is None and any(column.share(lambda looks: looks.is_callsign) > 0.5 for column in more):
        return False
    best = max(choice.score for choice in cut.found.choices.values())
    return best >= (0.1 if cut.headings is not None else 0.3)


def _has_headings(lines: list[str], cut: Cut) -> bool:
    """Whether the first line names nobody and has words for each of the columns that most lines below have."""
    if cut.width < 2 or cut.delimiter == " ":
        return False
    first, *others = [row.cells for row in rows_of(lines[:50], (cut.delimiter, cut.quote, cut.has_spaces))]
    regular = sum(len(cells) == cut.width for cells in others)
    return len(first) == cut.width and all(cell and _is_title(cell) for cell in first) and 2 * regular > len(others)


def _decoded(data: bytes, encoding: str) -> str:
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode(encoding, errors="replace")


def _table(path: Path, columns: Mapping[str, str | int]) -> Listed:
    opened = open_table(path, LIST, "dmr", columns, coded=())
    found, unusable, first, line, rows = Found(), 0, "", 0, 0
    for skipped, job in opened.jobs:
        records = job()
        named = np.zeros(records.count, dtype=bool)
        if schema.ID in records.columns:
            cells = records.columns[schema.ID].to_pylist()
            ends = records.columns[LAST_ID].to_pylist() if LAST_ID in records.columns else [None] * len(cells)
            taken = [
                take_range(cell, end, found) if end else take_ids(cell or "", found)
                for cell, end in zip(cells, ends, strict=True)
            ]
            named |= np.array(taken, dtype=bool)
        if schema.CALLSIGN in records.columns:
            calls = records.columns[schema.CALLSIGN].to_pylist()
            named |= np.array([take(call.strip(), False, found) if call else False for call in calls], dtype=bool)
        bad = np.flatnonzero(~named)
        rows += records.count
        unusable += len(bad)
        if len(bad) and not first:
            own, raw = records.origin(bad[:1])[0]
            first = f"line {line + skipped + own:,}: {shown(raw)!r}"
        line += skipped + records.lines
    if (unusable > _SLACK and 2 * unusable > rows) or (rows and unusable == rows):
        raise InputRefusedError(
            f"{path}: {unusable:,} of {rows:,} rows have neither an id nor a call sign ({first}); correct them"
        )
    return _listed(found, rows - unusable, opened.understanding, unusable, first)


def _listed(found: Found, entries: int, understanding: object = None, unusable: int = 0, first: str = "") -> Listed:
    return Listed(
        np.array(sorted(found.ids), dtype=np.uint32),
        frozenset(found.callsigns),
        tuple(sorted(found.patterns)),
        tuple(sorted(found.ranges)),
        understanding,  # type: ignore[arg-type]
        unusable,
        first,
        entries,
    )


def _uncommented(line: str) -> str:
    return _COMMENT.sub("", line).strip(" \t\ufeff\x1a")


def _without_bullets(lines: list[str]) -> list[str]:
    """Asterisks begin comments; where no other line names anybody, or others have bullets or numbers before them, they are the
    bullets of the list."""
    others = [line for line in lines if not _BULLET.match(line)]
    if any(NUMBERING.match(line) for line in others):
        return [_BULLET.sub("", line) for line in lines]
    is_list = len(others) < len(lines) and not any(map(str.isdigit, "".join(map(_uncommented, others))))
    return [_BULLET.sub("", line) for line in lines] if is_list else lines


def _plain(path: Path, text: str) -> Listed:
    found = Found()
    is_first, totals = True, ""
    lines = _without_bullets(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"))
    last = max((number for number, line in enumerate(lines, 1) if any(map(str.isalnum, _uncommented(line)))), default=0)
    for number, line in enumerate(lines, 1):
        rest = _uncommented(line)
        if not any(map(str.isalnum, rest)):  # blank, a comment, or a line that is drawn
            continue
        if number == last and not is_first and is_totals_line(rest):
            totals = f"line {number:,}: {shown(rest)!r}"
            continue
        if len(rest) > _LONGEST_LINE:
            raise InputRefusedError(f"{path}:{number}: the line is far too long for a list")
        is_taken = not rest.startswith(_NOT) and take_line(path, number, rest, found)
        if not is_taken and not (is_first and _is_title(rest)):
            raise InputRefusedError(
                f"{path}:{number}: expected an id or a call sign, got {shown(rest)!r}; correct or delete the line"
            )
        is_first = False
    return replace(_listed(found, found.entries, unusable=bool(totals), first=totals), doubt=_doubt(found))


def _doubt(found: Found) -> str:
    """What speaks against a plain list of numbers alone: most of them begin with the code of no country, as amounts and
    telephone numbers do."""
    numbers = [number for number in found.ids if number >= _SIX_DIGITS]
    known = sum(country_of_id(number) > 0 for number in numbers)
    if found.callsigns or found.patterns or found.ranges or len(numbers) < ENOUGH_ROWS or known >= _MOST_KNOWN * len(numbers):
        return ""
    return f"only {known:,} of {len(numbers):,} numbers begin with the code of a country, as ids do: see whether they are ids"


def _is_title(line: str) -> bool:
    """Whether a first line that names nobody is a title: words, and short numbers such as a year between them."""
    words = [word.strip(QUOTES + ".,!?") for word in line.split()]
    return line.isprintable() and all(not any(map(str.isdigit, word)) or (word.isdigit() and len(word) <= 4) for word in words)
