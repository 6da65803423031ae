"""What was understood of one file: which column gave what and why, in data and in one line.

Receives what was identified, hands on an `Understanding` that the summary, the report and the terminal show.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

from pruner.account.parts import ColumnUsed, Understood
from pruner.table import opened
from pruner.table.board import Board
from pruner.table.choices import MORE_IDS, Choice, Evidence, Identified, base_meaning
from pruner.table.facts import holds_several
from pruner.table.fold import fold
from pruner.words import schema

#: What is advised where a column that was named does not exist.
CORRECT: Final = "correct columns or --column"
NOT_READ: Final = "not read, because no table of this kind is found there"
_SHOWN_ROWS: Final = 3
_LONGEST: Final = 40
_LISTED: Final = 8
#: So many cells of a column that may hold names are words.
_TEXTS: Final = 0.5
_NAMES: Final = {"name", "first_name", "last_name"}
_WORDS: Final = {
    **{
        "entry_kind": "kind of entry",
        "entry_system": "system",
        "callsign": "call sign",
        "first_name": "first name",
        "last_name": "last name",
    },
    "last_id": "last id of a range",
    **{name: name.replace("_", " ") for name in schema.FURTHER_IDS},
}


@dataclass(frozen=True, slots=True)
class ColumnUse:
    """One column: `meaning`, its number from 1, its heading ("" without one), what spoke for it, and what names it beyond
    doubt in settings and options."""

    meaning: str
    number: int
    heading: str
    evidence: Evidence
    answer: str | int


@dataclass(frozen=True, slots=True)
class Understanding:
    """One file (or one table in it, `label`): `columns` in the order of the file; `unused`: headings, or numbers, of columns
    that hold text and were not used; `encoding`: of lines that are not UTF-8, "" where there are none; `rows`: the first rows,
    meaning -> cell; `titles`: lines above the headings; `nothing`: why it has no rows, "" where it has;
    `hint`: the option where nobody has a name but a column may hold them; `has_several`: some rows have several ids;
    `more_ids`: the option that reads further columns of ids too; `side_by_side`: so many tables stand beside each other;
    `parts`: labels of further tables of the file that were read with this one; `copies`: of those with the same columns that
    were not, because nothing in them is new; `others`: of those with other columns, `refused`: of those of another kind, which
    were not read either; `doubt`: what may be meant otherwise, in words."""

    file: str
    label: str
    columns: tuple[ColumnUse, ...]
    unused: tuple[str, ...]
    has_headings: bool
    encoding: str = ""
    titles: int = 0
    rows: tuple[dict[str, str], ...] = ()
    nothing: str = ""
    hint: str = ""
    has_several: bool = False
    side_by_side: int = 1
    more_ids: str = ""
    parts: tuple[str, ...] = ()
    copies: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()
    doubt: str = ""

    @property
    def is_doubtful(self) -> bool:
        """Whether a person should look: no heading line, a column that its cells alone speak for, nobody has a name."""
        meanings = {use.meaning for use in self.columns}
        is_guessed = any(use.evidence in ("cells", "left over") for use in self.columns)
        return not self.has_headings or is_guessed or "callsign" not in meanings or not meanings & _NAMES

    def doubting(self, said: str) -> Understanding:
        """The same with one more thing that may be meant otherwise."""
        return replace(self, doubt="; ".join(filter(None, (self.doubt, said))))

    def sentence(self) -> str:
        """Which column gave what, in one line."""
        if self.nothing:
            return f"no rows: {self.nothing}"
        words = [_WORDS.get(use.meaning, use.meaning) for use in self.columns]
        if all(use.evidence == "pattern" for use in self.columns):
            said = f"read by the pattern of the settings: {', '.join(words)}"
        else:
            parts = [(use.number, word, _named(use)) for use, word in zip(self.columns, words, strict=True)]
            columns = [(list(same), named) for (_, named), same in groupby(parts, key=lambda part: (part[0], part[2]))]
            said = ", ".join(f"{' and '.join(word for _, word, _ in same)} from {named}" for same, named in columns)
        if not self.has_headings:
            said = f"no heading line; {said}"
        if self.unused:
            said += f"; not used: {names_of(self.unused)}"
        if self.side_by_side > 1:
            said += f"; {self.side_by_side} tables side by side: a row holds up to {self.side_by_side} entries"
        if self.parts:
            said += f"; read with it, of the same columns: {names_of(self.parts)}"
        if self.copies:
            said += f"; not read, because nothing new stands there: {names_of(self.copies)}"
        if self.others:
            said += f"; not read, because the columns are others (put them into files of their own): {names_of(self.others)}"
        if self.refused:
            said += f"; {NOT_READ}: {names_of(self.refused)}"
        if self.has_several:
            said += "; several ids in a row are a contact each, with the same call sign and name"
        if self.more_ids:
            said += f"; further columns hold ids; if each is one more id of the same station, say so: {self.more_ids}"
        if self.hint:
            said += f"; nobody has a name: where a column holds them, say which, such as {self.hint}"
        if self.doubt:
            said += f"; {self.doubt}"
        if self.encoding:
            said += f"; lines that are not UTF-8 read as {self.encoding}"
        return said

    def told(self, file: str) -> Understood:
        """For the summary, without any cell of the file; `file` is its name there."""
        return Understood(
            file=file,
            sentence=self.sentence(),
            columns=tuple(
                ColumnUsed(meaning=use.meaning, number=use.number, heading=use.heading, evidence=use.evidence)
                for use in self.columns
            ),
            unused=self.unused,
            headings=self.has_headings,
            encoding=self.encoding,
            titles=self.titles,
        )


def names_of(labels: Sequence[str]) -> str:
    """The names of some tables, not more than a person reads."""
    more = f" and {len(labels) - _LISTED} more" if len(labels) > _LISTED else ""
    return ", ".join(shown(label) or "one without a name" for label in labels[:_LISTED]) + more


def _named(use: ColumnUse) -> str:
    """A heading in quotes speaks for its column; whatever else does is said."""
    where = repr(use.heading) if use.heading else f"column {use.number}"
    by = {"cells": "by its cells", "settings": "as set", "left over": "as the only text left", "rows": "by its layout"}
    return f"{where} ({by[use.evidence]})" if use.evidence in by else where


def understanding_of(
    file: str,
    board: Board,
    found: Identified,
    *,
    label: str = "",
    encoding: str = "",
    titles: int = 0,
    has_names: bool = False,
    doubt: str = "",
) -> Understanding:
    """What was understood of a file whose columns were identified; `has_names`: its kind has names of stations."""
    uses = sorted(
        (
            ColumnUse(
                meaning,
                choice.position + 1,
                shown(board.headings[choice.position]),
                choice.evidence,
                answer_for(board, choice.position),
            )
            for meaning, choice in _told(found)
        ),
        key=lambda use: (use.number, use.meaning),
    )
    rows = [
        {use.meaning: shown(board.columns[use.number - 1].cells[row]) for use in uses}
        for row in range(min(_SHOWN_ROWS, board.rows))
    ]
    return Understanding(
        file,
        label,
        tuple(uses),
        tuple(column_name(board, place) for place in found.unused),
        board.has_headings,
        encoding,
        titles,
        tuple(rows),
        hint=_hint(board, found) if has_names else "",
        more_ids=_more_ids(board, found),
        has_several=has_names and _has_several(board, found),
        side_by_side=found.blocks,
        doubt="; ".join(filter(None, (found.doubt, doubt))),
    )


def _told(found: Identified) -> list[tuple[str, Choice]]:
    """The columns of the first table, and of further ones those whose meaning no earlier one has."""
    first: dict[str, Choice] = {}
    for name, choice in found.choices.items():
        first.setdefault(base_meaning(name), choice)
    return list(first.items())


def _has_several(board: Board, found: Identified) -> bool:
    """Whether rows looked at have several ids, in one cell or in columns."""
    place = found.choices["id"].position if "id" in found.choices else None
    cells = board.columns[place].counts if place is not None and board.system == "dmr" else ()
    return any(name.startswith(MORE_IDS) for name in found.choices) or any(map(holds_several, cells))


def _hint(board: Board, found: Identified) -> str:
    """The option that says which column holds names, where none was taken and one may; else ""."""
    texts = [place for place in found.unused if board.columns[place].is_text >= _TEXTS]
    return "" if _NAMES & set(found.choices) or not texts else f"--column {shlex.quote(f'name={answer_for(board, texts[0])}')}"


def _more_ids(board: Board, found: Identified) -> str:
    """The options that read unused columns of ids as further ids of their rows, "" where there are none."""
    taken = sum(name.startswith(MORE_IDS) for name in found.choices)
    names = [f"{MORE_IDS}{number}={answer_for(board, place)}" for number, place in enumerate(found.more_ids, taken + 2)]
    return " ".join(f"--column {shlex.quote(name)}" for name in names if name.partition("=")[0] in schema.FURTHER_IDS)


def column_name(board: Board, place: int) -> str:
    """A column's heading, or `column 3` where it has none."""
    return shown(board.headings[place]) or f"column {place + 1}"


def shown(text: str) -> str:
    """A text of a file for one line of a message: printable, not long."""
    return opened.shown(text, _LONGEST)


def answer_for(board: Board, place: int) -> str | int:
    """What names a column beyond doubt: its heading; or its position where the heading is no plain text of its own."""
    heading = board.headings[place].strip()
    same = [other for other in board.headings if fold(other) == fold(heading)]
    is_plain = heading and not heading.isdigit() and len(same) == 1 and fold(heading) and shown(heading) == heading
    return heading if is_plain else place + 1
