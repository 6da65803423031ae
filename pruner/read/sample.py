"""The beginning of a file and pieces from further down, from which its columns are identified.

Receives a path and the blocks of its text, hands on bytes. Pieces are taken only where the file lies on disk as the text does.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from pruner.read.dialect import FALLBACK_ENCODING
from pruner.table.encoding import is_western, vote
from pruner.words.errors import InputRefusedError

HEAD_BYTES: Final = 1 << 16
_PIECES: Final = 8
_PIECE_BYTES: Final = 6 << 10


def head_of(blocks: Iterator[bytes]) -> tuple[list[bytes], bytes]:
    """The first blocks, and the head: whole lines of them, as far as they reach."""
    taken: list[bytes] = []
    head = b""
    for block in blocks:
        taken.append(block)
        head += block[:HEAD_BYTES]
        if len(head) >= HEAD_BYTES:
            break
    end = head.rfind(b"\n") + 1
    return taken, head[:end] if len(head) >= HEAD_BYTES and end else head


def pieces_of(path: Path, head: bytes) -> list[bytes]:
    """Whole lines from places spread over a file, none where it is short, packed or written in another encoding."""
    try:
        size = path.stat().st_size
        if size < 2 * HEAD_BYTES:
            return []
        with path.open("rb") as file:
            if file.read(256).replace(b"\r\n", b"\n")[:128] != head[:128]:
                return []
            pieces = []
            for place in range(1, _PIECES + 1):
                file.seek(place * (size - _PIECE_BYTES) // _PIECES)
                _, _, piece = file.read(_PIECE_BYTES).replace(b"\r\n", b"\n").partition(b"\n")
                whole = piece if place == _PIECES else piece[: piece.rfind(b"\n") + 1]
                if whole:
                    pieces.append(whole)
    except OSError:
        return []
    return pieces


def encoding_of(head: bytes, pieces: Sequence[bytes], where: str) -> tuple[str, bool]:
    """In which encoding lines that are not UTF-8 are read, and whether there are any.

    The rows' own countries vote. Raises InputRefusedError where they do not agree.
    """
    foreign = [line for text in (head, *pieces) if not text.isascii() for line in text.split(b"\n") if not _is_utf8(line)]
    if not foreign:
        return FALLBACK_ENCODING, False
    found = vote(foreign)
    if found is None and not any(_is_marked(line) for line in foreign) and is_western(foreign):
        return FALLBACK_ENCODING, True
    if found is None:
        raise InputRefusedError(
            f"{where}: {len(foreign):,} of the lines looked at are not UTF-8, and their rows do not agree on another encoding; "
            'say which in the settings: encoding = "cp1250" (Central Europe), "cp1251" (Cyrillic), "cp1252" (Western), ...'
        )
    return found, True


def _is_marked(line: bytes) -> bool:
    """Whether a line says by an id or a call sign where it comes from."""
    return vote([line]) is not None


def _is_utf8(line: bytes) -> bool:
    try:
        line.decode()
    except UnicodeDecodeError:
        return False
    return True
