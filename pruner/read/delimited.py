"""A delimited text file -> runs of records.

Receives UTF-8 blocks with line feeds and a dialect, hands on Records. Blocks are cut where a record ends, so
that each can be parsed on its own, in any thread.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as arrow_csv

from pruner.read.dialect import FALLBACK_ENCODING, Dialect
from pruner.read.quotes import QuoteStructure, is_one_record, line_count, line_starts, quote_structure
from pruner.read.records import Indices, Records
from pruner.read.stream import with_last
from pruner.table.dialects import COMMENT
from pruner.table.line_forms import RULE
from pruner.words import schema

_REPEATED = pa.dictionary(pa.int32(), pa.string())
#: What ends the rows in a dump of a database.
END_OF_COPY: Final = "\\."
COMMENTS, HEADINGS, END_MARKS, BLANK, DRAWN = "comments", "repeated headings", "end marks", "blank lines", "drawn lines"


@dataclass(frozen=True, slots=True)
class Block:
    """Whole records as text, with the look at their quotes already taken (None: the text holds no quote)."""

    text: bytes
    quotes: QuoteStructure | None


def whole_records(chunks: Iterator[bytes], delimiter: str) -> Iterator[Block]:
    """Cuts a byte stream into blocks that begin and end where a record does."""
    rest = b""
    for chunk in _ended(chunks):
        end = chunk.rfind(b"\n") + 1
        if not end:
            rest += chunk
            continue
        text, rest = b"".join((rest, memoryview(chunk)[:end])), chunk[end:]
        if b'"' not in text:
            yield Block(text, None)
            continue
        quotes = quote_structure(text, delimiter, last=False)
        if quotes.open_line >= 0:
            cut = int(quotes.starts[quotes.open_line])
            text, rest = text[:cut], text[cut:] + rest
            quotes.starts = quotes.starts[: quotes.open_line]
        if text:
            yield Block(text, quotes)
    if rest:
        yield Block(rest, quote_structure(rest, delimiter, last=True) if b'"' in rest else None)


def _ended(chunks: Iterator[bytes]) -> Iterator[bytes]:
    """The chunks, the last of them with a line feed at its end, so that its last line is no block of its own."""
    for chunk, is_last in with_last(filter(None, chunks)):
        yield chunk + b"\n" if is_last and not chunk.endswith(b"\n") else chunk


def recode_lines(text: bytes, encoding: str = FALLBACK_ENCODING) -> tuple[bytes, int]:
    """Reads each line that is not UTF-8 in the fallback encoding; returns UTF-8 and how many lines it read so."""
    if not text.isascii() and not _is_utf8(text):
        lines = text.split(b"\n")
        recoded = 0
        for index, line in enumerate(lines):
            try:
                line.decode()
            except UnicodeDecodeError:
                lines[index] = line.decode(encoding, errors="replace").encode()
                recoded += 1
        return b"\n".join(lines), recoded
    return text, 0


def _is_utf8(text: bytes) -> bool:
    """Whether a text is UTF-8. Unlike `bytes.decode` this lets other threads run."""
    offsets = np.array([0, len(text)], dtype=np.int64)
    cell = pa.Array.from_buffers(pa.large_string(), 1, [None, pa.py_buffer(offsets), pa.py_buffer(text)])
    try:
        cell.validate(full=True)
    except pa.ArrowInvalid:
        return False
    return True


def parse(block: Block, dialect: Dialect) -> Records:
    """Parses a block. Safe to call from several threads at once."""
    text, recoded = recode_lines(block.text, dialect.encoding)
    lines = line_count(text)
    quotes = block.quotes
    if quotes and recoded:
        quotes.starts = line_starts(text)
    broken = quotes.broken if quotes else []
    if lines == len(text):
        table, faults = _no_records(dialect)
    else:
        table, faults = _table(_without(text, broken) if broken else text, dialect, quoted=quotes is not None)
    if quotes and table.num_rows + len(faults) != len(_record_lines(text, quotes.starts, quotes)):
        broken = _malformed(text, quotes, dialect.delimiter)
        table, faults = _table(_without(text, broken), dialect, quoted=True)
    aside = _no_record(table, faults, dialect)
    blank = _without_aside(text, quotes, aside, recoded, dialect) if aside else None
    if blank is not None:
        return blank
    records = _mended(table, faults, dialect)
    records.recoded = recoded
    records.lines = lines
    if quotes and broken:
        starts = _record_lines(text, quotes.starts, quotes)
        for line in broken:
            index = int(np.searchsorted(starts, line))
            records.unreadable[index] = "a quote is opened and never closed"
    records.origin = partial(_origin, text, quotes)
    return records


def _no_record(table: pa.Table, faults: dict[int, str], dialect: Dialect) -> dict[int, str]:
    """Which lines among the records are none: comments, repeated headings, end marks, drawn or blank lines, by index."""
    key = next((name for name in (schema.ID, schema.CALLSIGN) if name in dialect.positions), None)
    heading = "" if key is None or dialect.headings is None else dialect.headings[dialect.positions[key]]
    aside = {}
    for index, text in faults.items():
        line = text.strip()
        if not text.strip(f'{dialect.delimiter}" \t\r\n'):
            aside[index] = BLANK
        elif not line.strip("\x1a") or line == END_OF_COPY:
            aside[index] = END_MARKS
        elif dialect.delimiter == "|" and RULE.fullmatch(line):
            aside[index] = DRAWN
        elif COMMENT.match(line) and not line.startswith(dialect.delimiter):
            aside[index] = COMMENTS
        elif key is not None and heading and heading in text:
            cells = cells_of(text, dialect)
            if _fits(cells, dialect) and heading in cells[dialect.positions[key] :][:1]:
                aside[index] = HEADINGS
    if key is None or not table.num_rows:
        return aside
    keys = table[key]
    found = []
    if heading:
        found.append((pc.equal(keys, heading), HEADINGS))
    if dialect.positions[key] == 0:
        found.append((pc.match_substring_regex(keys, r"^(?:#|//)\s*[^\s\d]"), COMMENTS))
    good: Indices | None = None
    for places, word in [
        *((np.flatnonzero(marks.fill_null(False).to_numpy()), word) for marks, word in found),
        (_blank(table, keys), BLANK),
    ]:
        if len(places):
            good = _good(table.num_rows, faults) if good is None else good
            aside.update(dict.fromkeys(good[places].tolist(), word))
    return aside


def _blank(table: pa.Table, keys: pa.ChunkedArray) -> Indices:
    """The rows in which no column holds more than blanks; `keys`: the column that hardly any row leaves empty."""
    places = np.flatnonzero(pc.starts_with(keys, " ").fill_null(True).to_numpy())
    for name in table.column_names:
        if not len(places):
            break
        cells = table[name].take(pa.array(places)).cast(pa.string()).fill_null("")
        places = places[pc.equal(pc.utf8_trim(cells, " \t"), "").to_numpy()]
    return places


def _good(rows: int, faults: dict[int, str]) -> Indices:
    """The index among all records of each well-formed one."""
    good = np.ones(rows + len(faults), dtype=bool)
    good[np.fromiter(faults, dtype=np.int64, count=len(faults))] = False
    return np.flatnonzero(good)


def _without_aside(
    text: bytes, quotes: QuoteStructure | None, aside: dict[int, str], recoded: int, dialect: Dialect
) -> Records | None:
    """The records of a text whose other lines were made blank, so that every record stays on its line; None where none was."""
    starts = _record_lines(text, quotes.starts if quotes else line_starts(text), quotes)
    lines = text.split(b"\n")
    last_line = dict(quotes.spans) if quotes else {}
    for index, word in list(aside.items()):
        first = int(starts[index])
        if word == BLANK and lines[first].translate(None, b' \t"' + dialect.delimiter.encode()):
            del aside[index]  # its other cells hold text
            continue
        for line in range(first, last_line.get(first, first) + 1):
            lines[line] = b""
    if not aside:
        return None
    text = b"\n".join(lines)
    structure = quote_structure(text, dialect.delimiter, last=True) if b'"' in text else None
    records = parse(Block(text, structure), dialect)
    records.recoded = recoded
    records.aside.update(aside.values())
    return records


def _malformed(text: bytes, quotes: QuoteStructure, delimiter: str) -> list[int]:
    """Every line with quotes that is neither a record of its own nor part of one over several lines."""
    inside = {line for first, last in quotes.spans for line in range(first, last + 1)}
    return [
        number
        for number, line in enumerate(text.split(b"\n"))
        if b'"' in line and number not in inside and not is_one_record(line.decode(errors="replace"), delimiter)
    ]


def _without(text: bytes, broken: list[int]) -> bytes:
    """Replaces broken lines by a word that cannot be a record, so that they keep their place."""
    lines = text.split(b"\n")
    for line in broken:
        lines[line] = b"?"
    return b"\n".join(lines)


def _names(dialect: Dialect) -> list[str]:
    meaning_at = {position: meaning for meaning, position in dialect.positions.items()}
    return [meaning_at.get(position, f"#{position}") for position in range(dialect.width)]


def _types(dialect: Dialect) -> dict[str, pa.DataType]:
    """The wanted columns: those with a meaning, and those that should be empty."""
    names = [*dialect.positions, *_surplus_names(dialect)]
    return {name: _REPEATED if name in dialect.coded else pa.string() for name in names}


def _no_records(dialect: Dialect) -> tuple[pa.Table, dict[int, str]]:
    return pa.schema(_types(dialect)).empty_table(), {}


def _table(text: bytes, dialect: Dialect, *, quoted: bool) -> tuple[pa.Table, dict[int, str]]:
    """The well-formed records of a text in UTF-8, and by index (among all records) the text of the others.

    With `quoted` False the text holds no quote.
    """
    faults: dict[int, str] = {}

    def fault(row: arrow_csv.InvalidRow) -> str:
        faults[row.number - 1] = row.text
        return "skip"

    types = _types(dialect)
    table = arrow_csv.read_csv(
        pa.BufferReader(text),
        read_options=arrow_csv.ReadOptions(
            use_threads=False, block_size=max(2 * len(text), 1 << 16), column_names=_names(dialect)
        ),
        parse_options=arrow_csv.ParseOptions(
            delimiter=dialect.delimiter,
            quote_char='"' if quoted else False,
            newlines_in_values=quoted,
            invalid_row_handler=fault,
        ),
        convert_options=arrow_csv.ConvertOptions(
            include_columns=list(types),
            column_types=types,
            strings_can_be_null=True,
            null_values=[""],
            check_utf8=False,
        ),
    )
    return table, faults


def _mended(table: pa.Table, faults: dict[int, str], dialect: Dialect) -> Records:
    """Puts faulty records back in their places: surplus empty cells come off, the rest stays without cells."""
    count = table.num_rows + len(faults)
    surplus = _surplus(table, dialect)
    table = table.select(list(dialect.positions))
    if not faults and not len(surplus):
        return Records(count, {name: table[name].combine_chunks() for name in table.column_names})
    unreadable: dict[int, str] = {}
    mended: dict[int, list[str]] = {}
    for index, text in faults.items():
        cells = cells_of(text, dialect)
        if _fits(cells, dialect):
            mended[index] = (cells + [""] * dialect.width)[: dialect.width]
        else:
            unreadable[index] = _misfit(len(cells), dialect) if cells else "a cell is too long"
    extra = pa.table(
        {
            name: pa.array([cells[dialect.positions[name]] or None for cells in mended.values()], pa.string()).cast(
                table.schema.field(name).type
            )
            for name in table.column_names
        },
        schema=table.schema,
    )
    whole = pa.concat_tables([table, extra]).unify_dictionaries().combine_chunks()
    places = np.zeros(count, dtype=np.int64)
    fault_indices = np.fromiter(faults, dtype=np.int64, count=len(faults))
    good = np.ones(count, dtype=bool)
    good[fault_indices] = False
    places[good] = np.arange(table.num_rows)
    for index in np.flatnonzero(good)[surplus].tolist():
        unreadable[index] = _misfit(dialect.width, dialect)
    for offset, index in enumerate(mended):
        places[index] = table.num_rows + offset
    missing = np.zeros(count, dtype=bool)
    missing[list(unreadable)] = True
    taken = whole.take(pa.array(places, mask=missing))
    return Records(count, {name: taken[name].combine_chunks() for name in taken.column_names}, unreadable)


def cells_of(text: str, dialect: Dialect) -> list[str]:
    """The cells of one line; none where it is no record."""
    try:
        return next(csv.reader([text], delimiter=dialect.delimiter), [])
    except csv.Error:
        return []


def _fits(cells: list[str], dialect: Dialect) -> bool:
    surplus = cells[dialect.most_cells :]
    return len(cells) >= dialect.least_cells and not any(cell.strip() for cell in surplus)


def _misfit(cells: int, dialect: Dialect) -> str:
    return f"{cells} cells where {dialect.least_cells} are expected"


def _surplus_names(dialect: Dialect) -> list[str]:
    return [f"#{position}" for position in range(dialect.most_cells, dialect.width)]


def _surplus(table: pa.Table, dialect: Dialect) -> Indices:
    """Rows of a table that have text in cells no heading names."""
    filled = np.zeros(table.num_rows, dtype=bool)
    for name in _surplus_names(dialect):
        texts = pc.utf8_trim_whitespace(table[name])
        filled |= pc.greater(pc.utf8_length(texts), 0).fill_null(False).to_numpy()
    return np.flatnonzero(filled)


def _record_lines(text: bytes, starts: Indices, quotes: QuoteStructure | None) -> Indices:
    """The line (from 0) on which each record of a text begins, without blank and inner lines."""
    ends = np.append(starts[1:], len(text) + (0 if text.endswith(b"\n") else 1))
    begins = ends - starts > 1
    for first, last in quotes.spans if quotes else ():
        begins[first + 1 : last + 1] = False
    return np.flatnonzero(begins)


def _origin(text: bytes, quotes: QuoteStructure | None, indices: Indices) -> list[tuple[int, str]]:
    starts = quotes.starts if quotes else line_starts(text)
    record_lines = _record_lines(text, starts, quotes)
    found = []
    last_line = dict(quotes.spans) if quotes else {}
    for index in indices.tolist():
        line = int(record_lines[index])
        end = last_line.get(line, line) + 1
        stop = int(starts[end]) if end < len(starts) else len(text)
        found.append((line + 1, text[int(starts[line]) : stop].decode("utf-8", errors="replace").rstrip("\n")))
    return found
