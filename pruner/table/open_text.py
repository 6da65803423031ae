"""Bytes in any encoding -> UTF-8 with one kind of line ending.

Receives blocks, hands on blocks. Knows nothing of columns.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from itertools import chain
from typing import Final

from pruner.words.errors import InputRefusedError

#: A longer line is no row of a table.
LONGEST_LINE: Final = 32 << 20
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_LOOKED_AT: Final = 1 << 12
#: Zero bytes of a text in UTF-16 or UTF-32 stand at the places of the high bytes: in that share of letters at least there,
#: hardly elsewhere.
_OFTEN: Final = 0.2
_SELDOM: Final = 0.01


def utf8_blocks(blocks: Iterator[bytes], encoding: str | None) -> Iterator[bytes]:
    """The text as UTF-8 without byte-order mark, every line ending a line feed.

    A byte-order mark decides, then `encoding` (from the settings), then zero bytes; else the bytes are passed on as they are
    and lines that are not UTF-8 are left to the reader.
    """
    first = next(blocks, b"")
    found = next(((mark, name) for mark, name in _MARKS if first.startswith(mark)), None)
    if found is not None:
        first, encoding = first[len(found[0]) :], found[1]
    elif encoding is None or codecs.lookup(encoding).name in ("utf-16", "utf-32"):
        guessed = without_mark(first)
        # Without a mark the standard has the high byte first; files have the low byte first (common practice, no source).
        encoding = guessed or (None if encoding is None else f"{codecs.lookup(encoding).name}-le")
    return line_feeds(_utf8(chain((first,), blocks), encoding))


def without_mark(head: bytes) -> str | None:
    """UTF-16 or UTF-32 by its zero bytes, None for anything else."""
    head = head[:_LOOKED_AT]
    head = head[: len(head) - len(head) % 4]
    if b"\0" not in head:
        return None
    zeros = [head[place::4].count(0) / max(len(head) // 4, 1) for place in range(4)]
    shapes = (
        ("utf-32-le", (2, 3), (0,)),
        ("utf-32-be", (0, 1), (3,)),
        ("utf-16-le", (1, 3), (0, 2)),
        ("utf-16-be", (0, 2), (1, 3)),
    )
    for name, high, low in shapes:
        least = 0.95 if "32" in name else _OFTEN
        if all(zeros[place] >= least for place in high) and all(zeros[place] <= _SELDOM for place in low):
            return name
    return None


def _utf8(blocks: Iterator[bytes], encoding: str | None) -> Iterator[bytes]:
    if encoding is None or codecs.lookup(encoding).name == "utf-8":
        yield from blocks
        return
    decoder = codecs.getincrementaldecoder(encoding)(errors="replace")
    for block in blocks:
        yield decoder.decode(block).encode()
    yield decoder.decode(b"", final=True).encode()


def line_feeds(blocks: Iterator[bytes]) -> Iterator[bytes]:
    """The same text with line feeds in place of CR and CRLF."""
    held = b""
    for block in blocks:
        if held or b"\r" in block:
            whole = held + block
            held = b"\r" if whole.endswith(b"\r") else b""
            block = whole[: len(whole) - len(held)].replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        if block:
            yield block
    if held:
        yield b"\n"


def whole_text(blocks: Iterator[bytes], most: int) -> bytes | None:
    """The blocks as one text, None where it has more than `most` bytes."""
    taken, size = [], 0
    for block in blocks:
        taken.append(block)
        size += len(block)
        if size > most:
            return None
    return b"".join(taken)


def with_lines(blocks: Iterator[bytes], where: str) -> Iterator[bytes]:
    """The same blocks. Raises InputRefusedError where a line is longer than any row."""
    length = 0
    for block in blocks:
        end = block.rfind(b"\n")
        length = len(block) - end - 1 if end >= 0 else length + len(block)
        if length > LONGEST_LINE or (end < 0 and len(block) > LONGEST_LINE):
            raise InputRefusedError(
                f"{where}: a line of more than {LONGEST_LINE >> 20} MiB is no row; expected a table with lines"
            )
        yield block
