"""A file on this machine -> its bytes, unpacked, as UTF-8 with one kind of line ending.

Receives a path, hands on an iterator of byte strings. Knows nothing of columns.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final, TypeVar

from pruner.table.containers import parts_of
from pruner.table.no_table import no_table, no_table_text
from pruner.table.open_text import utf8_blocks
from pruner.words.errors import InputRefusedError

Part = TypeVar("Part")
_ESCAPE: Final = b"\x1b"
#: Control sequences (ECMA-48, 5.4, from memory): colours, places of the cursor; and titles of a window.
_CONTROL: Final = re.compile(rb"\x1b(?:\[[0-?]*[ -/]*[@-~]|\][^\x07\x1b\n]*(?:\x07|\x1b\\)|[()][0-9A-B])")
_LONGEST_CONTROL: Final = 64


def unpacked(path: Path, reached: Callable[[int], None] | None = None) -> Iterator[bytes]:
    """The bytes of a file in blocks, with packing and archive (one member of use) taken off.

    `reached` is told the position in the file.

    Raises SourceMissingError when the file cannot be opened, InputRefusedError for an empty, damaged or truncated one.
    """
    parts = parts_of(path, reached)
    if len(parts) != 1:
        raise InputRefusedError(f"{path}: the archive holds {len(parts)} files; expected exactly one")
    yield from parts[0].blocks()


def text_blocks(path: Path, encoding: str | None, reached: Callable[[int], None] | None = None) -> Iterator[bytes]:
    """Blocks of a text file as UTF-8 without byte-order mark, every line ending a line feed.

    A byte-order mark decides, then `encoding` (from the settings), then zero bytes; else the bytes are passed on as they are
    and lines that are not UTF-8 are left to the reader.
    """
    yield from without_colours(utf8_blocks(unpacked(path, reached), encoding))


def beginning(path: Path, most: int) -> bytes:
    """The text as `text_blocks` gives it, up to so many bytes."""
    head = b""
    for block in text_blocks(path, None):
        head += block[: most - len(head)]
        if len(head) >= most:
            break
    return head


def without_colours(blocks: Iterable[bytes]) -> Iterator[bytes]:
    """Blocks of a text without what tells a terminal colours and places."""
    held = b""
    for block in blocks:
        if held or _ESCAPE in block:
            block = _CONTROL.sub(b"", held + block)
            last = block.rfind(_ESCAPE)
            # A sequence may go on in the next block.
            cut = last if last >= 0 and len(block) - last < _LONGEST_CONTROL else len(block)
            block, held = block[:cut], block[cut:]
        if block:
            yield block
    if held:
        yield held


def without_lines(blocks: Iterator[bytes], count: int) -> Iterator[bytes]:
    """Blocks of a text without its first lines."""
    for block in blocks:
        while count and block:
            _, found, block = block.partition(b"\n")
            count -= 1 if found else 0
        if block:
            yield block


def with_last(parts: Iterable[Part]) -> Iterator[tuple[Part, bool]]:
    """Each part, and whether it is the last."""
    parts = iter(parts)
    for before in parts:
        for part in parts:
            yield before, False
            before = part
        yield before, True


def refuse_no_table(path: Path, head: bytes) -> None:
    """Raises InputRefusedError, one line, for the head of what is neither a table nor lines: an image, settings."""
    said = no_table(head) or no_table_text(head.lstrip())
    if said:
        raise InputRefusedError(f"{path}: {said}")
