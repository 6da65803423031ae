"""How one delimited file is written: delimiter, heading line, which column holds what.

Receives the beginning of a file as text and what the settings say of it, hands on a Dialect or refuses the file.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from pruner import schema
from pruner.errors import InputRefusedError
from pruner.read import headings

DELIMITERS: Final = (",", ";", "\t", "|")


@dataclass(frozen=True, slots=True)
class Dialect:
    """`positions` maps meanings to columns counted from 0; `width` is the number of cells of a record;
    `heading_lines` is how many lines stand before the first record. A record has at least `least_cells` cells, and
    those from `most_cells` on are empty. `coded` are the meanings whose columns get one code per distinct text."""

    delimiter: str
    positions: Mapping[str, int]
    width: int
    heading_lines: int
    least_cells: int
    most_cells: int
    coded: Collection[str] = schema.REPEATED_TEXT


def sniff(
    head: str, columns: Mapping[str, str | int], where: str, vocabulary: headings.Vocabulary = headings.STATIONS
) -> Dialect:
    """Finds the dialect from the first lines of a file. Raises InputRefusedError with the way out."""
    lines = head.split("\n")
    blank = next((number for number, line in enumerate(lines) if line.strip()), 0)
    lines = lines[blank:]
    if lines[0].lstrip().startswith("<"):
        raise InputRefusedError(f"{where}: this is a page or markup, not a table; get the table itself")
    hinted = re.fullmatch(r"sep=(.)", lines[0].strip(" "))
    if hinted:
        lines, blank = lines[1:], blank + 1
    text = "\n".join(lines[:400])
    positional = bool(columns) and all(isinstance(value, int) for value in columns.values())
    best: Dialect | None = None
    for delimiter in DELIMITERS:
        candidate = _try(text, delimiter, columns, positional, blank, vocabulary)
        if candidate and (best is None or _score(candidate, positional) > _score(best, positional)):
            best = candidate
    if best is None or schema.ID not in best.positions:
        raise InputRefusedError(_refusal(text, columns, where, vocabulary))
    if len(set(best.positions.values())) < len(best.positions):
        raise InputRefusedError(f"{where}: columns names the same column twice; give each meaning its own")
    unmatched = [meaning for meaning, place in best.positions.items() if place >= best.width]
    if unmatched:
        raise InputRefusedError(f"{where}: columns.{unmatched[0]} points past the last column ({best.width}); correct it")
    return best


def _score(dialect: Dialect, positional: bool) -> tuple[int, int]:
    return (dialect.width, 0) if positional else (len(dialect.positions), dialect.width)


def _try(
    text: str,
    delimiter: str,
    columns: Mapping[str, str | int],
    positional: bool,
    blank: int,
    vocabulary: headings.Vocabulary,
) -> Dialect | None:
    try:
        reader = csv.reader(text.split("\n"), delimiter=delimiter)
        heading = next((row for row in reader if row), [])
        heading_lines = blank + reader.line_num
        rows = [heading, *reader]
    except csv.Error:
        return None
    rows = [row for row in rows if row]
    if not rows:
        return None
    try:
        positions = (
            {meaning: int(place) - 1 for meaning, place in columns.items()}
            if positional
            else headings.assign(rows[0], columns, vocabulary)
        )
    except KeyError:
        return None
    records = rows if positional else rows[1:]
    width = Counter(len(row) for row in records[:200]).most_common(1)[0][0] if records else len(rows[0])
    if not positional and width < len(rows[0]) and any(cell.strip() for cell in rows[0][width:]):
        width = len(rows[0])
    if positional:
        return Dialect(delimiter, positions, width, blank, width, width)
    named = next((end for end in range(len(heading), 0, -1) if heading[end - 1].strip()), 0)
    return Dialect(delimiter, positions, width, heading_lines, named, max(named, min(width, len(heading))))


def _refusal(text: str, columns: Mapping[str, str | int], where: str, vocabulary: headings.Vocabulary) -> str:
    first = text.split("\n", 1)[0]
    cells = [cell.strip(' "') for cell in re.split(r"[,;\t|]", first)]
    shown = ", ".join(re.sub(r"[^\w .#/()-]", "?", cell)[:24] for cell in cells[:8])
    named = [str(value) for value in columns.values() if isinstance(value, str)]
    missing = [name for name in named if headings.fold(name) not in {headings.fold(cell) for cell in cells}]
    if missing:
        return f"{where}: line 1: no column is headed {missing[0]!r} (found: {shown}); correct columns in the settings"
    if any(re.fullmatch(r"\d{1,9}(\.0+)?", cell) for cell in cells):
        return f"{where}: line 1: no heading line; {vocabulary.without_headings}"
    return f"{where}: line 1: no column of {vocabulary.key} among the headings (found: {shown}); {vocabulary.hint}"
