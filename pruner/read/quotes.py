"""Where quoted cells span lines, and which lines hold a quote that never closes.

Receives a block of lines, hands on line numbers. RFC 4180 quoting. Only lines with an odd number of quotes are
looked at one by one: all others begin and end outside quotes.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

#: A record may span this many lines; a quote that is open for longer is taken for damage.
LONGEST_RECORD: Final = 20
_PIECE: Final = 1 << 16


@dataclass(slots=True)
class QuoteStructure:
    """`starts`: offset of each line; `spans`: (first, last) line of each record over several lines; `broken`: lines whose
    quote is never closed; `open_line`: a line at the end of the block whose record may go on behind it, or -1."""

    starts: npt.NDArray[np.int64]
    spans: list[tuple[int, int]] = field(default_factory=list)
    broken: list[int] = field(default_factory=list)
    open_line: int = -1


def line_starts(block: bytes) -> npt.NDArray[np.int64]:
    """Offsets of the first byte of each line; a last line without line feed counts."""
    ends = np.flatnonzero(np.frombuffer(block, dtype=np.uint8) == 10) + 1
    starts = np.concatenate([np.zeros(1, dtype=np.int64), ends])
    return starts[:-1] if starts[-1] == len(block) else starts


def line_count(block: bytes) -> int:
    """How many line feeds a block holds."""
    text = np.frombuffer(block, dtype=np.uint8)
    # In pieces that stay in the cache; other threads run meanwhile, which `bytes.count` does not let them.
    return sum(int(np.count_nonzero(text[start : start + _PIECE] == 10)) for start in range(0, len(text), _PIECE))


def is_one_record(text: str, delimiter: str) -> bool:
    """Whether a text is exactly one complete record."""
    try:
        return len(list(csv.reader([text], delimiter=delimiter, strict=True))) == 1
    except csv.Error:
        return False


def quote_structure(block: bytes, delimiter: str, *, last: bool) -> QuoteStructure:
    """Looks at the quotes of a block that begins at the start of a record; `last` when nothing follows it."""
    quotes = np.flatnonzero(np.frombuffer(block, dtype=np.uint8) == 34)
    starts = line_starts(block)
    structure = QuoteStructure(starts)
    lines, counts = np.unique(np.searchsorted(starts, quotes, side="right") - 1, return_counts=True)
    odd = lines[counts % 2 == 1].tolist()

    def text(first: int, end: int) -> str:
        stop = int(starts[end]) if end < len(starts) else len(block)
        return block[int(starts[first]) : stop].decode("utf-8", errors="replace").removesuffix("\n")

    position = 0
    while position < len(odd):
        line = odd[position]
        position += 1
        if is_one_record(text(line, line + 1), delimiter):
            continue
        partner = odd[position] if position < len(odd) else None
        if partner is not None and partner - line < LONGEST_RECORD and is_one_record(text(line, partner + 1), delimiter):
            structure.spans.append((line, partner))
            position += 1
        elif partner is None and not last and len(starts) - line < LONGEST_RECORD:
            structure.open_line = line
        else:
            structure.broken.append(line)
    # A record over several lines may have its lines' quotes all even in between; those lie inside its span.
    return structure
