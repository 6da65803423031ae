"""Long columns in pieces: what is made for a piece stays in the processor's cache.

Receives a length, hands on the places of each piece. Results never depend on the size.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

#: Rows of a piece.
PIECE: Final = 1 << 16


def pieces(length: int) -> Iterator[slice]:
    """The pieces of so many rows, one after the other; the last one may be shorter."""
    for start in range(0, length, PIECE):
        yield slice(start, min(start + PIECE, length))
