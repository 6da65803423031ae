"""Which part of a log was taken before, told by its content: names change when logs are rotated.

Receives the bytes of a log, or a file, and what is remembered of others, hands on the longest remembered beginning.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

from pruner.words.errors import SourceMissingError
from pruner.words.threads import Work, beside

_FILE_BLOCK: Final = 1 << 22
HEAD_BYTES: Final = 4096
#: A text that may go on behind its end, and a file that is taken as a whole or not at all.
TEXT, WHOLE = "text", "whole"


@dataclass(frozen=True, slots=True)
class Beginning:
    """The first `length` bytes of a log (unpacked, as UTF-8 with line feeds, if it is text), which hold `lines` line ends.

    `digest` is the SHA-256 of these bytes, `head` that of the first `head_length` of them.
    """

    kind: str
    length: int = 0
    lines: int = 0
    digest: str = hashlib.sha256().hexdigest()
    head_length: int = 0
    head: str = hashlib.sha256().hexdigest()


class Growing:
    """A beginning that becomes longer with every block that is taken."""

    def __init__(self, kind: str) -> None:
        self._kind = kind
        self._hash = hashlib.sha256()
        self._head = b""
        self._length = 0
        self._lines = 0

    def take(self, block: bytes) -> None:
        """Adds bytes that follow what was taken so far."""
        if len(self._head) < HEAD_BYTES:
            self._head += block[: HEAD_BYTES - len(self._head)]
        self._hash.update(block)
        self._length += len(block)
        if self._kind == TEXT:
            self._lines += block.count(b"\n")

    def copy(self) -> Growing:
        """The same beginning, to be made longer in another way."""
        other = Growing(self._kind)
        other._hash, other._head = self._hash.copy(), self._head
        other._length, other._lines = self._length, self._lines
        return other

    @property
    def beginning(self) -> Beginning:
        """All that was taken so far."""
        head = hashlib.sha256(self._head).hexdigest()
        return Beginning(self._kind, self._length, self._lines, self._hash.hexdigest(), len(self._head), head)


class WholeFile:
    """A file by its bytes; they are counted beside the reading."""

    def __init__(self, path: Path) -> None:
        self._path = path
        (self._counted,) = beside(Work.HASHING, [partial(_beginning_of, path)])

    @property
    def beginning(self) -> Beginning:
        """What the file is told by. Raises SourceMissingError where it cannot be read."""
        return self._counted.result()

    def is_among(self, known: Iterable[Beginning]) -> bool:
        """Whether it is one of the files that are known."""
        size = self._path.stat().st_size
        like = [one for one in known if one.kind == WHOLE and one.length == size]
        return bool(like) and any(one.digest == self.beginning.digest for one in like)


def _beginning_of(path: Path) -> Beginning:
    growing = Growing(WHOLE)
    for block in file_blocks(path):
        growing.take(block)
    return growing.beginning


def file_blocks(path: Path) -> Iterator[bytes]:
    """The bytes of a file. Raises SourceMissingError where it cannot be read."""
    try:
        with path.open("rb") as file:
            while block := file.read(_FILE_BLOCK):
                yield block
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error


def taken_before(blocks: Callable[[], Iterator[bytes]], known: Iterable[Beginning]) -> tuple[Growing, bool]:
    """The longest of the known beginnings that the bytes of a text begin with, an empty one if there is none; and whether
    anything follows it.

    `blocks` gives the bytes from the start, whenever it is called. A log is read through only when its head is known.
    """
    candidates = [one for one in known if one.kind == TEXT and one.length]
    head = _first(blocks(), HEAD_BYTES)
    heads = {length: hashlib.sha256(head[:length]).hexdigest() for length in {one.head_length for one in candidates}}
    digests = {one.length: one.digest for one in candidates if heads[one.head_length] == one.head}
    found, has_more = Growing(TEXT), bool(head)
    growing = Growing(TEXT)
    position = 0
    waiting = sorted(digests)
    for block in blocks() if waiting else ():
        has_more = True
        while waiting and waiting[0] <= position + len(block):
            cut = waiting[0] - position
            growing.take(block[:cut])
            block, position = block[cut:], waiting.pop(0)
            if growing.beginning.digest == digests[position]:
                found, has_more = growing.copy(), bool(block)
        if not waiting and (has_more or block):
            break
        growing.take(block)
        position += len(block)
    return found, has_more


def _first(blocks: Iterator[bytes], count: int) -> bytes:
    head = b""
    for block in blocks:
        head += block[: count - len(head)]
        if len(head) == count:
            break
    return head
