"""What speaks for a column, in numbers, and which columns were chosen.

Receives boards and meanings, hands on scores; `Identified` is what `identify` makes of them. Weights were measured on invented
files of many kinds (DEVELOPERS.md, "Columns").
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.headings import WHOLE
from pruner.table.kinds import Meaning

Evidence = Literal["heading", "cells", "heading and cells", "settings", "left over", "rows", "pattern"]
#: Cells that fit less than this contradict any heading.
_CONTRADICTION: Final = 0.25
_TEXT_CONTRADICTION: Final = 0.3
#: The least that a heading must say of a column of text.
_TEXT_HEADING: Final = 0.3
#: The least that it must say of an empty column for a meaning with a check, and what an empty column is worth at least.
_CHECKED_HEADING: Final = 0.61
_LEAST: Final = 0.01
#: Further columns of ids in one row have this before their number, as meanings of their own.
MORE_IDS: Final = "id_"
#: Columns of a further table beside the first one have this before its number and their meaning there.
_BLOCK: Final = "block "
_OTHER_HEADING: Final = -0.2
#: What is left of the heading "number" where another heading is that of ids.
_BARE_NUMBER: Final = 0.3
_FOREIGN_HEADING: Final = -0.5
#: The parts of a place that may stand in one cell.
PLACE: Final = ("town", "state", "country")


@dataclass(frozen=True, slots=True)
class Choice:
    """One column: its position from 0, what spoke for it, and its score."""

    position: int
    evidence: Evidence
    score: float


@dataclass(slots=True)
class Identified:
    """Which column holds what.

    `choices` by meaning; `unused`: positions of the other columns that hold text; `trouble`: why the table is refused, a
    sentence without the name of the file, "" where it is not; `rivals`: positions between which nothing decides;
    `is_joined`: the column of ids holds call signs too; `parts`: of `PLACE` those that stand in one cell, by the first of
    which it goes; `named`: the meaning whose cells begin with the call sign, "" where none do; `blocks`: how many tables
    stand side by side, the columns of the further ones by `meaning_in_block`; `is_parted`: these have columns of their own,
    and none stands for all; `is_turned`: whole names begin with the surname; `has_marked_surnames`: those that begin with
    words in capitals do; `more_ids`: positions of unused columns that hold ids of the rows too; `doubt`: what may be meant
    otherwise, in words.
    """

    choices: dict[str, Choice]
    unused: list[int] = field(default_factory=list)
    trouble: str = ""
    rivals: dict[str, list[int]] = field(default_factory=dict)
    is_joined: bool = False
    parts: tuple[str, ...] = ()
    named: str = ""
    blocks: int = 1
    is_parted: bool = False
    is_turned: bool = False
    has_marked_surnames: bool = False
    more_ids: list[int] = field(default_factory=list)
    doubt: str = ""

    @property
    def is_plain(self) -> bool:
        """Whether each cell holds one thing, and each row one record."""
        is_apart = self.is_joined or self.parts or self.named or self.is_turned or self.has_marked_surnames or self.blocks > 1
        return not is_apart and not any(name.startswith(MORE_IDS) for name in self.choices)

    @property
    def total(self) -> float:
        """All evidence together: what two ways of cutting are compared by."""
        return sum(choice.score for choice in self.choices.values())

    @property
    def positions(self) -> dict[str, int]:
        """Position of each meaning that has a column of its own."""
        within = {*self.parts[1:], *(("callsign",) if self.named else ())}
        return {meaning: choice.position for meaning, choice in self.choices.items() if meaning not in within}


def meaning_in_block(name: str, number: int) -> str:
    """What a column with a meaning is called in a further table (from 2) beside the first."""
    return f"{_BLOCK}{number} {name}"


def is_in_block(name: str) -> bool:
    """Whether a meaning is that of a column in a further table."""
    return name.startswith(_BLOCK)


def base_meaning(name: str) -> str:
    """What a column in a further table holds, without the number of its table."""
    return name.removeprefix(_BLOCK).partition(" ")[2] if is_in_block(name) else name


def score(board: Board, meaning: Meaning, place: int) -> float:
    """How much speaks for a column; 0 or less: nothing, or its cells contradict."""
    heading = heading_weight(board, meaning, place)
    column = board.columns[place]
    if not column.filled:
        is_text = meaning.cells is None  # of a word for both, such as "Land", the state is the rarer
        least = _TEXT_HEADING if is_text else _CHECKED_HEADING
        return max(0.5 * heading - 0.25 - _LEAST * is_text, _LEAST) if heading >= least else 0.0
    if meaning.cells is None:
        if heading < _TEXT_HEADING:
            return 0.0
        fits = column.may_be_text
        if column.filled >= ENOUGH_ROWS and fits < _TEXT_CONTRADICTION:
            return 0.0
        return 0.75 * heading + 0.3 * fits - 0.35
    fits = meaning.cells(board, place)
    if fits < _CONTRADICTION and (column.filled >= ENOUGH_ROWS or fits == 0):
        return 0.0
    return 0.5 * heading + 0.6 * fits - 0.25


def heading_weight(board: Board, meaning: Meaning, place: int) -> float:
    """What the heading says for a meaning, from -0.5 (it names a column that is none of ours) to 1."""
    sense = board.senses[place]
    if not sense.classes:
        return 0.0
    weight = sense.weight(meaning.words)
    if weight <= 0:
        return _FOREIGN_HEADING if sense.is_other else _OTHER_HEADING
    if meaning.name == "id":
        if sense.systems and board.system not in sense.systems:
            return _FOREIGN_HEADING
        if sense.classes == {"number": WHOLE} and not sense.systems and board.has_other_ids(place):
            weight *= _BARE_NUMBER
    return min(1.0, weight + 0.1 * bool(sense.systems & {board.system}))


def evidence_of(board: Board, meaning: Meaning, place: int) -> Evidence:
    """What speaks for a column that was taken: its heading, its cells or both."""
    if heading_weight(board, meaning, place) <= 0:
        return "cells"
    return "heading and cells" if meaning.cells is not None and board.columns[place].filled else "heading"
