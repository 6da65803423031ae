"""Cells that name the system of a call, such as `P25 Phase 2` or `analogue FM`.

Receives texts, hands on names of systems. The words are those of the standards and the trade, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from pruner.read.event_words import event_of, is_whole_call
from pruner.table.board import Board
from pruner.table.fold import fold, plain
from pruner.words.schema import SYSTEM_NAMES

#: What calls of systems that have no store are of.
OTHER_SYSTEM: Final = "other"
_SYSTEMS: Final = {
    "dmr": "dmr",
    "p25": "p25",
    "apco": "p25",
    "apco25": "p25",
    "nxdn": "nxdn",
    "nxdn48": "nxdn",
    "nxdn96": "nxdn",
    **dict.fromkeys(
        map(fold, "dpmr tetra m17 fm nfm wfm analog analogue analogique analogico analógico analogica analoog".split()),
        OTHER_SYSTEM,
    ),
}
#: Words that name all systems, of some languages.
_ANY: Final = frozenset(map(fold, "all any both multi mixed alle beide tous toutes todos tutti ambos oba wszystkie".split()))
#: A column of systems has so few different cells, and so many of them name one.
_MOST_CELLS, _HALF = 20, 0.5
#: Words that stand beside the name of a system.
_QUALIFIERS: Final = frozenset(
    "digital voice call tdma fdma tier phase mode system slot ts time timeslot conventional trunked i ii iii 1 2"
    " 3 ts1 ts2 25".split()
)


@lru_cache(maxsize=4096)
def systems_in(cell: str) -> tuple[frozenset[str], bool]:
    """The systems that a cell names, and whether it has words that neither name one nor stand beside such."""
    words = re.findall(r"[^\W_]+", plain(re.sub(r"(?i)\bproject 25\b", "P25", cell)))
    named = [_SYSTEMS.get(word) or next((one for one in SYSTEM_NAMES if word.startswith(one)), "") for word in words]
    rest = [word for name, word in zip(named, words, strict=True) if not name and not word.isdigit()]
    return frozenset(named) - {""}, any(word not in _QUALIFIERS | _ANY for word in rest)


def is_of_another(cell: str, system: str) -> bool:
    """Whether a cell of a column of systems names others than this one alone: a word that nobody knows is another system."""
    named, has_unknown = systems_in(cell)
    return system not in named and (bool(named) or has_unknown)


def systems_column(board: Board, free: Sequence[int], system: str) -> int | None:
    """Which of these columns says of each row of which system it is, None where none does or several do.

    It has few different cells; half of those that are filled name systems and nothing else, or its heading says so and some
    name this one.
    """
    found = [place for place in free if _holds_systems(board, place, system)]
    return found[0] if len(found) == 1 else None


def _holds_systems(board: Board, place: int, system: str) -> bool:
    column = board.columns[place]
    if not 0 < len(column.counts) <= _MOST_CELLS:
        return False

    def names_systems(cell: str) -> bool:
        named, has_unknown = systems_in(cell)
        return bool(named) and not has_unknown

    if column.share_of_texts(names_systems) >= _HALF:
        return True
    is_headed = board.senses[place].weight((("system", 1.0),)) > 0
    return is_headed and any(system in systems_in(cell)[0] for cell in column.counts)


def system_of(cell: str) -> str | None:
    """The system that a cell names and nothing else, `OTHER_SYSTEM` for one without a store; None where it names none."""
    named, has_unknown = systems_in(cell)
    return next(iter(named)) if len(named) == 1 and not has_unknown else None


def system_told_by(cell: str) -> str | None:
    """The system that a cell of a column of systems tells: the one that it names, whatever stands beside it; `OTHER_SYSTEM`
    where words stand there of which none is known. None where it names several, is empty, or says that there was a call."""
    named, has_unknown = systems_in(cell)
    if named:
        return next(iter(named)) if len(named) == 1 else None
    return OTHER_SYSTEM if has_unknown and not is_whole_call(cell) and event_of(cell) is None else None
