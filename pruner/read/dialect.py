"""How the records of one delimited file are read: delimiter, which column holds what, what is no record.

Receives what `table.cut` found, hands on a `Dialect`; texts in rarer dialects are written anew in the common one.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Final

from pruner.table.cells import as_csv
from pruner.table.choices import is_in_block
from pruner.table.cut import Cut
from pruner.table.dialects import DELIMITERS
from pruner.words import schema

FALLBACK_ENCODING: Final = "cp1252"
_LINES: Final = 4096


@dataclass(frozen=True, slots=True)
class Dialect:
    """`positions` maps meanings to columns counted from 0; `width` is the number of cells of a record;
    `heading_lines` is how many lines stand before the first record. A record has at least `least_cells` cells, and
    those from `most_cells` on are empty. `coded` are the meanings whose columns get one code per distinct text. Lines that are
    not UTF-8 are read in `encoding`. `headings`: the cells of the heading line, None where there is none."""

    delimiter: str
    positions: Mapping[str, int]
    width: int
    heading_lines: int
    least_cells: int
    most_cells: int
    coded: Collection[str] = schema.REPEATED_TEXT
    encoding: str = FALLBACK_ENCODING
    headings: tuple[str, ...] | None = None


def dialect_of(cut: Cut, coded: Collection[str], encoding: str) -> Dialect:
    """The dialect in which the records behind the heading lines are read, once `common_text` was applied."""
    headings = cut.headings
    if headings is None:
        least = most = cut.width
    else:
        named = next((end for end in range(len(headings), 0, -1) if headings[end - 1].strip()), 0)
        further = [place for name, place in cut.found.positions.items() if is_in_block(name)]
        if further:  # a row may end before the further tables
            named = max((place for place in cut.found.positions.values() if place < min(further)), default=0) + 1
        least, most = named, max(named, min(cut.width, len(headings)))
    return Dialect(
        cut.delimiter if isinstance(cut.delimiter, str) and is_common(cut) else ",",
        cut.found.positions,
        cut.width,
        cut.before,
        least,
        most,
        coded,
        encoding,
        None if headings is None else tuple(headings),
    )


def is_common(cut: Cut) -> bool:
    """Whether the reader of records takes a text as it is."""
    return cut.delimiter in DELIMITERS and cut.quote == '"' and not cut.has_spaces


def common_text(stream: Iterator[bytes], cut: Cut, encoding: str) -> Iterator[bytes]:
    """A text in a rarer dialect (blanks before quotes, single quotes, blanks between cells) with commas and double quotes;
    every record stays on its lines."""
    lines = _lines(stream, encoding)
    if not isinstance(cut.delimiter, str):
        while batch := list(islice(lines, _LINES)):
            yield b"".join(b"".join(as_csv([cut.delimiter.cells(line)])) or b"\n" for line in batch)
        return
    reader = csv.reader(lines, delimiter=cut.delimiter, quotechar=cut.quote, skipinitialspace=True)
    made = io.StringIO()
    writer = csv.writer(made, lineterminator="\n")
    done = 0
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            break
        except csv.Error:
            cells = ["?"]
        if cells:
            writer.writerow(cells)
        else:
            made.write("\n")
        if reader.line_num - done >= _LINES:
            yield made.getvalue().encode()
            made.seek(0)
            made.truncate()
            done = reader.line_num
    if made.getvalue():
        yield made.getvalue().encode()


def _lines(stream: Iterator[bytes], encoding: str) -> Iterator[str]:
    held = b""
    for block in stream:
        *whole, held = (held + block).split(b"\n")
        for line in whole:
            yield _text(line, encoding) + "\n"
    if held:
        yield _text(held, encoding)


def _text(line: bytes, encoding: str) -> str:
    try:
        return line.decode()
    except UnicodeDecodeError:
        return line.decode(encoding, errors="replace")
