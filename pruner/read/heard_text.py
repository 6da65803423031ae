"""A heard log of delimited text -> what its columns hold, and its runs of records.

Receives the head of a text and its blocks, hands on jobs; the cut is that of directories (`table.cut`).
"""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Final

import pyarrow as pa

from pruner.read.delimited import Block, parse, recode_lines, whole_records
from pruner.read.dialect import Dialect, common_text, dialect_of, is_common
from pruner.read.forms import formed
from pruner.read.heard_columns import (
    NO_WORDS,
    EventWords,
    LogColumns,
    check_half_days,
    is_joined,
    log_columns,
    with_times,
)
from pruner.read.heard_events import take_events
from pruner.read.heard_kind import HEARD
from pruner.read.heard_meanings import TIME
from pruner.read.heard_sections import DELIMITERS, headings_on
from pruner.read.open_table import cut_table
from pruner.read.records import Records
from pruner.read.sample import encoding_of, pieces_of
from pruner.read.stream import text_blocks, without_lines
from pruner.table.choices import Identified
from pruner.table.cut import Cut
from pruner.table.forms import empty_words
from pruner.table.understanding import understanding_of
from pruner.words.errors import InputRefusedError

Blocks = Iterator[bytes]
#: So many lines of a refused file are tried as free text.
_LEARNED: Final = 400
_COMMENTS: Final = ("#", "//", ";", "--", "%")
_LONGEST_NOTE: Final = 500
#: So many lines of a table have a cell for each heading.
_ALIKE: Final = 0.9


@dataclass(frozen=True, slots=True)
class TextLog:
    """A log whose columns are identified; `jobs` reads blocks of whole lines that begin behind so many lines of the file;
    `rows`: how many were looked at."""

    columns: LogColumns
    jobs: Callable[[Blocks, int], Iterator[Callable[[], Records]]]
    rows: int = 0


@dataclass(frozen=True, slots=True)
class _Reader:
    cut: Cut
    dialect: Dialect
    words: Mapping[str, frozenset[str]]
    is_joined: bool
    events: EventWords

    def records(self, block: Block, skipped: int = 0) -> Records:
        records = parse(block, self.dialect)
        if self.words or self.is_joined:
            records = formed(records, Identified({}, is_joined=self.is_joined), self.words)
        if skipped:
            origin = records.origin
            records.origin = lambda indices: [(line + skipped, text) for line, text in origin(indices)]
            records.lines += skipped
        return with_times(records, self.events)

    def blocks(self, lines: Blocks, skipped: int) -> Iterator[Block]:
        rest = without_lines(lines, skipped)
        if not is_common(self.cut):
            rest = common_text(rest, self.cut, self.dialect.encoding)
        return whole_records(rest, self.dialect.delimiter)

    def jobs(self, lines: Blocks, before: int) -> Iterator[Callable[[], Records]]:
        skipped = max(0, self.dialect.heading_lines - before)
        for block in self.blocks(lines, skipped):
            yield partial(self.records, block, skipped)
            skipped = 0

    def times(self, text: Callable[[], Blocks]) -> Iterator[pa.Array]:
        for block in self.blocks(text(), self.dialect.heading_lines):
            yield self.records(block).columns[TIME]


def delimited_log(path: Path, head: bytes, columns: Mapping[str, str | int], system: str, order: str) -> TextLog:
    """Identifies the columns of a log. Raises InputRefusedError where it is no log of calls."""
    pieces, blocks = pieces_of(path, head), partial(text_blocks, path, None)
    return table_log(path, head, pieces, blocks, columns, system, order, may_be_lines=not columns)


def table_log(
    path: Path,
    head: bytes,
    pieces: Sequence[bytes],
    blocks: Callable[[], Blocks],
    columns: Mapping[str, str | int],
    system: str,
    order: str,
    *,
    may_be_lines: bool = False,
    notes: str = "",
) -> TextLog:
    """The same of delimited text in a file. `head`: whole lines that it begins with; `pieces`: lines from everywhere; `blocks`
    begins anew at each call; `may_be_lines`: whether a pattern is advised where it is no table but free lines; `notes`: what
    stands beside the table."""
    encoding, is_used = encoding_of(head, pieces, str(path))
    texts = [recode_lines(piece, encoding)[0].decode(errors="replace") for piece in (head, *pieces)]
    try:
        cut = cut_table(texts[0], texts[1:], HEARD, system, columns, str(path))
        check_half_days(str(path), cut.board, cut.found.positions)
    except InputRefusedError:
        if not may_be_lines or _has_headings(texts[0]) or not _are_lines_of_calls(texts[0], system):
            raise
        raise InputRefusedError(
            f"{path}: is no table but free lines that tell calls; to have a pattern for them: "
            f"pruner heard learn {shlex.quote(str(path))} --write"
        ) from None
    written = path.stat().st_mtime
    events = take_events(str(path), cut.board, cut.found, partial(_cells_of, cut, encoding, head), written)
    positions = cut.found.positions
    words = empty_words(cut.board, positions)
    reader = _Reader(cut, dialect_of(cut, (), encoding), words, is_joined(cut.board, cut.found), events.words)
    understanding = understanding_of(
        str(path), cut.board, cut.found, encoding=encoding if is_used else "", titles=cut.titles, doubt=events.doubt
    )
    around = "\n".join((notes, *_lines_around(texts[0], cut)))
    found = log_columns(understanding, cut.board, positions, written, order, partial(reader.times, blocks), around)
    return TextLog(found, reader.jobs, cut.board.rows)


def _lines_around(text: str, cut: Cut) -> Iterator[str]:
    """The lines of the head that are no rows: titles above the headings, and comments."""
    separator = cut.delimiter if isinstance(cut.delimiter, str) else "\t"
    for number, line in enumerate(text.split("\n")):
        words = line.strip()
        is_title = number < cut.before - cut.board.has_headings
        if is_title or words.startswith(_COMMENTS):
            yield " ".join(words.strip('"#;/%*- ').replace(separator, " ").split()) if len(words) <= _LONGEST_NOTE else ""


def _has_headings(text: str) -> bool:
    """Whether a text begins with a line of headings, and its lines have a cell for each."""
    first, *lines = [line for line in text.split("\n") if line.strip()]
    delimiter = max(DELIMITERS, key=first.count)
    alike = sum(line.count(delimiter) == first.count(delimiter) for line in lines)
    return bool(headings_on(first, delimiter)) and alike >= _ALIKE * len(lines)


def _are_lines_of_calls(text: str, system: str) -> bool:
    from pruner.read.line_pattern import learn  # for files that are no tables

    return learn(text.split("\n")[:_LEARNED], system) is not None


def _cells_of(cut: Cut, encoding: str, head: bytes, positions: Sequence[int]) -> dict[int, list[str]]:
    """The cells of columns in the rows of the head, by position."""
    dialect = replace(dialect_of(cut, (), encoding), positions={str(place): place for place in dict.fromkeys(positions)})
    reader = _Reader(cut, dialect, {}, False, NO_WORDS)
    cells: dict[int, list[str]] = {place: [] for place in positions}
    for block in reader.blocks(iter([head[: head.rfind(b"\n") + 1] or head]), dialect.heading_lines):
        records = parse(block, dialect)
        good = [row for row in range(records.count) if row not in records.unreadable]
        for place, column in cells.items():
            values = records.columns[str(place)].to_pylist()
            column += [values[row] or "" for row in good]
    return cells
