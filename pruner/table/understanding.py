"""What was understood of one file: which column gave what and why, in data and in one line.

Receives what was identified, hands on an `Understanding` that the summary, the report and the terminal show.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from pruner.table.board import Board
from pruner.table.identify import Evidence, Identified

_SHOWN_ROWS: Final = 3
_LONGEST: Final = 40
_WORDS: Final = {"callsign": "call sign", "first_name": "first name", "last_name": "last name"}


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """One column: `meaning`, its number from 1, its heading ("" without one) and what spoke for it."""

    meaning: str
    number: int
    heading: str
    evidence: Evidence


@dataclass(frozen=True, slots=True)
class Understanding:
    """One file (or one table in it, `label`): `columns` in the order of the file; `unused`: headings, or numbers, of columns
    that hold text and were not used; `encoding`: of lines that are not UTF-8, "" where there are none; `rows`: the first rows,
    meaning -> cell; `titles`: lines above the headings."""

    file: str
    label: str
    columns: tuple[ColumnUse, ...]
    unused: tuple[str, ...]
    has_headings: bool
    encoding: str = ""
    titles: int = 0
    rows: tuple[dict[str, str], ...] = ()

    def sentence(self) -> str:
        """Which column gave what, in one line."""
        parts = [f"{_WORDS.get(use.meaning, use.meaning)} from {_named(use)}" for use in self.columns]
        said = ", ".join(parts)
        if not self.has_headings:
            said = f"no heading line; {said}"
        if self.unused:
            more = f" and {len(self.unused) - 8} more" if len(self.unused) > 8 else ""
            said += f"; not used: {', '.join(self.unused[:8])}{more}"
        if self.encoding:
            said += f"; lines that are not UTF-8 read as {self.encoding}"
        return said


def _named(use: ColumnUse) -> str:
    where = repr(use.heading) if use.heading else f"column {use.number}"
    by = {"heading": "by its heading", "cells": "by its cells", "settings": "as set", "left over": "as the only text left"}
    return where if use.evidence == "heading and cells" else f"{where} ({by[use.evidence]})"


def understanding_of(
    file: str, board: Board, found: Identified, *, label: str = "", encoding: str = "", titles: int = 0
) -> Understanding:
    """What was understood of a file whose columns were identified."""
    uses = [
        ColumnUse(meaning, choice.position + 1, shown(board.headings[choice.position]), choice.evidence)
        for meaning, choice in found.choices.items()
    ]
    rows = [
        {use.meaning: shown(board.columns[use.number - 1].cells[row]) for use in uses}
        for row in range(min(_SHOWN_ROWS, board.rows))
    ]
    return Understanding(
        file,
        label,
        tuple(sorted(uses, key=lambda use: (use.number, use.meaning))),
        tuple(column_name(board, place) for place in found.unused),
        board.has_headings,
        encoding,
        titles,
        tuple(rows),
    )


def column_name(board: Board, place: int) -> str:
    """A column's heading, or `column 3` where it has none."""
    return shown(board.headings[place]) or f"column {place + 1}"


def shown(text: str) -> str:
    """A text of a file for one line of a message: printable, not long."""
    text = " ".join(text.split())
    text = "".join(character if character.isprintable() else "?" for character in text)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."


def refusal(where: str, board: Board, found: Identified, keys: str, hint: str, line: int | None = None) -> str:
    """One line: why a file is refused, what stands in its columns, and what to write to have it read."""
    place = f"{where}: line {line}" if line else where
    rivals = next(iter(found.rivals.items()), None)
    if rivals and "may hold" in found.trouble:
        meaning, places = rivals
        columns = " or ".join(f"{column_name(board, place)!r} ({_example(board, place)})" for place in places)
        answer = board.headings[places[0]].strip() or str(places[0] + 1)
        return f"{place}: {columns} may hold the {keys}; say which, in the settings or as --column: {meaning}={shown(answer)}"
    seen = ", ".join(f"{column_name(board, place)} ({_example(board, place)})" for place in range(min(8, len(board.columns))))
    return f"{place}: {found.trouble} (found: {seen}); {hint}"


def _example(board: Board, place: int) -> str:
    cell = next((cell for cell in board.columns[place].cells if cell), "")
    return shown(cell)[:24] or "empty"


Rows = Sequence[Sequence[str]]
