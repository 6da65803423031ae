"""The cells of a sample without what fills them up: spaces and zeros, on the left or on the right.

Receives a `Sample`, hands on one `Guess` per column whose texts are bare and whose meaning is still open.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from pruner.layout.sample import Sample

Side = Literal["left", "right"]
Texts = list[str]


@dataclass(slots=True)
class Guess:
    """`value` and `fallback` are templates; `texts` the cells without padding; `doubt` says why it may be wrong;
    `number_from` is set where the column is a running number; `capitals`: all its text stands in capitals, and
    `only_capitals`: nothing else is in doubt; `column` is its position in the sample."""

    title: str
    texts: Texts
    value: str = ""
    fallback: str | None = None
    width: int | None = None
    pad: Side | None = None
    pad_with: str = " "
    doubt: str = ""
    number_from: int | None = None
    capitals: bool = False
    only_capitals: bool = False
    column: int = 0


def unpadded(sample: Sample) -> list[Guess]:
    """The columns of a sample, in order; a column of numbers that stand right may give two."""
    width = len(sample.headings or sample.rows[0])
    guesses: list[Guess] = []
    for place in range(width):
        title = sample.headings[place] if sample.headings is not None else ""
        cells = sample.column(place)
        own = _fixed_guesses(title, cells, sample.widths[place]) if sample.widths else [_delimited_guess(title, cells)]
        for guess in own:
            guess.column = place
        guesses += own
    return guesses


def _delimited_guess(title: str, cells: Texts) -> Guess:
    size = len(cells[0]) if len(set(map(len, cells))) == 1 else 0
    if size and len(cells) > 1:
        zeros = any(cell.startswith("0") for cell in cells) and all(map(str.isdigit, cells))
        if zeros and size > 1:
            return Guess(title, [cell.lstrip("0") or "0" for cell in cells], width=size, pad="left", pad_with="0")
        for side, sign in (("right", " "), ("left", " ")):
            at = -1 if side == "right" else 0
            if any(cell[at] == sign for cell in cells) and any(cell.strip(" ") for cell in cells):
                bare = [cell.rstrip(sign) if side == "right" else cell.lstrip(sign) for cell in cells]
                return Guess(title, bare, width=size, pad="right" if side == "right" else "left")
    return Guess(title, cells)


def _fixed_guesses(title: str, cells: Texts, width: int) -> list[Guess]:
    """A column of a fixed file; one that stands at the right of its places is followed by an empty one."""
    filled = [cell for cell in cells if cell.strip(" ")]
    tails = {len(cell) - len(cell.rstrip(" ")) for cell in filled}
    heads = {len(cell) - len(cell.lstrip(" ")) for cell in filled}
    if len(filled) > 1 and all(map(str.isdigit, (cell.strip(" ") for cell in filled))) and len(tails) == 1:
        tail = tails.pop()
        inner = [cell[: len(cell) - tail] for cell in cells]
        zeros = any(cell.startswith("0") and len(cell) > 1 for cell in inner) and heads == {0}
        if zeros or heads != {0}:
            sign = "0" if zeros else " "
            bare = [(cell.lstrip(sign) or sign.strip()) for cell in inner]
            own, rest = title[: width - tail].rstrip(" "), title[width - tail :].rstrip(" ")
            guess = Guess(own, bare, width=width - tail, pad="left", pad_with=sign)
            return [guess, Guess(rest, [""] * len(cells), width=tail)] if tail else [guess]
    return [Guess(title.rstrip(" "), [cell.rstrip(" ") for cell in cells], width=width)]
