"""Tables that stand side by side in one sheet: blocks of columns under headings that repeat, or that share some.

Receives a board, hands on where the blocks stand and the choice of columns for all of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from pruner.table.board import Board
from pruner.table.choices import Identified, meaning_in_block
from pruner.table.fold import words_of
from pruner.table.kinds import Kind

#: A repeated block has so many columns at least; one repeated column is several values of a row.
_LEAST: Final = 2
#: The keys of further blocks fit so well, or there are none among the rows looked at.
_FITS: Final = 0.5

Blocks = list[range]
Answers = Mapping[str, str | int]


def repeated_blocks(headings: Sequence[str]) -> Blocks:
    """The columns of each block of headings that comes again, but for numbers in them, with nothing or empty headings between;
    [] where none does."""
    stems = [tuple(word for word in words_of(heading) if not word.isdigit()) for heading in headings]
    named = [stem for stem in stems if stem]
    if len(set(named)) == len(named):
        return []
    for start in range(len(stems)):
        for period in range(_LEAST, (len(stems) - start) // _LEAST + 2):
            block = stems[start : start + period]
            while block and not block[-1]:
                block = block[:-1]
            if len(block) < _LEAST or not block[0] or len(set(block)) < _LEAST:
                continue
            places = [start]
            while _comes_again(stems, block, places[-1] + period, places[-1] + len(block)):
                places.append(places[-1] + period)
            if len(places) > 1:
                return [range(place, place + len(block)) for place in places]
    return []


def _comes_again(stems: list[tuple[str, ...]], block: list[tuple[str, ...]], place: int, end: int) -> bool:
    return stems[place : place + len(block)] == block and not any(stems[end:place])


def identify_blocks(
    board: Board,
    blocks: Blocks,
    kind: Kind,
    answers: Mapping[str, int],
    identify: Callable[[Board, Kind, Answers], Identified],
) -> Identified | None:
    """The columns of the first block, and of what stands outside all blocks, identified as one table, and those of the other
    blocks likewise; None where the blocks hold no keys of their own. `answers`: positions from 0."""
    inside = {place for block in blocks[1:] for place in block}
    places = [place for place in range(len(board.columns)) if place not in inside]
    if any(place not in places for place in answers.values()):
        return None
    rows = [[board.columns[place].cells[row] for place in places] for row in range(board.rows)]
    part = Board([board.headings[place] for place in places], rows, board.system)
    found = identify(part, kind, {name: places.index(place) + 1 for name, place in answers.items()})
    found.choices = {name: replace(choice, position=places[choice.position]) for name, choice in found.choices.items()}
    found.unused = [places[place] for place in found.unused]
    found.rivals = {name: [places[place] for place in rivals] for name, rivals in found.rivals.items()}
    own = {name: choice for name, choice in found.choices.items() if name in found.positions and choice.position in blocks[0]}
    keys = [name for name in {name for names in kind.needed for name in names} if name in own]
    if found.trouble or not keys or len({choice.position for choice in own.values()}) < _LEAST:
        return None
    for number, block in enumerate(blocks[1:], start=2):
        ahead = block.start - blocks[0].start
        if not all(_fits(board, kind, name, own[name].position + ahead) for name in keys):
            return None
        for name, choice in own.items():
            position = choice.position + ahead
            found.choices[meaning_in_block(name, number)] = replace(choice, position=position, score=0.0)
    found.blocks = len(blocks)
    return found


def parted_blocks(headings: Sequence[str]) -> Blocks:
    """The columns of tables between which stands a column without a heading, where each shares two headings with the first;
    [] where they do not."""
    stems = [tuple(words_of(heading)) for heading in headings]
    edges = [-1, *(place for place, stem in enumerate(stems) if not stem), len(stems)]
    blocks = [range(start + 1, end) for start, end in pairwise(edges) if end - start > 1]
    shared = (
        [{stems[place] for place in blocks[0]} & {stems[place] for place in block} for block in blocks[1:]] if blocks else []
    )
    return blocks if shared and all(len(stems) >= _LEAST for stems in shared) else []


def identify_parted(
    board: Board, blocks: Blocks, kind: Kind, identify: Callable[[Board, Kind, Answers], Identified]
) -> Identified | None:
    """The columns of each block, identified as a table of its own; None where one of them is none, or text stands outside."""
    inside = {place for block in blocks for place in block}
    if any(column.filled for place, column in enumerate(board.columns) if place not in inside):
        return None
    first: Identified | None = None
    for number, block in enumerate(blocks, start=1):
        rows = [[board.columns[place].cells[row] for place in block] for row in range(board.rows)]
        found = identify(Board([board.headings[place] for place in block], rows, board.system), kind, {})
        keys = [name for names in kind.needed for name in names if name in found.positions]
        if found.trouble or not keys or not found.is_plain:
            return None
        if not all(_fits(board, kind, name, block[found.choices[name].position]) for name in keys):
            return None
        placed = {name: replace(choice, position=block[choice.position]) for name, choice in found.choices.items()}
        unused = [block[place] for place in found.unused]
        if first is None:
            first = replace(found, choices=placed, unused=unused, more_ids=[], blocks=len(blocks), is_parted=True)
            continue
        first.choices |= {meaning_in_block(name, number): replace(choice, score=0.0) for name, choice in placed.items()}
        first.unused += unused
    return first


def _fits(board: Board, kind: Kind, name: str, place: int) -> bool:
    cells = kind.meaning(name).cells
    return cells is None or not board.columns[place].filled or cells(board, place) >= _FITS
