"""A JSON text -> where its brackets stand, and the elements of one list in it.

Receives blocks of UTF-8, hands on positions. The text is cut by counting brackets outside strings, on arrays of bytes, so that
neither the whole tree nor a Python loop per record is needed, and memory does not grow with the file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.table.opened import Indices
from pruner.words.errors import InputRefusedError

OPEN_OBJECT, CLOSE_OBJECT, OPEN_LIST, CLOSE_LIST = b"{}[]"
#: One record, or one text without a bracket, is not longer than this.
LONGEST: Final = 64 << 20
_PIECE: Final = 1 << 18
_LONGEST_GAP: Final = 24
#: The key that stands before a value, at the end of a text.
KEY: Final = re.compile(rb'"((?:[^"\\]|\\.)*)"\s*:\s*\Z')

Bytes = npt.NDArray[np.uint8]


def _places(data: Bytes, byte: int) -> Indices:
    """Where a byte stands, in pieces that stay in the cache."""
    found = [np.flatnonzero(data[start : start + _PIECE] == byte) + start for start in range(0, len(data), _PIECE)]
    return np.concatenate(found) if found else np.zeros(0, dtype=np.int64)


def marks(text: bytes) -> tuple[Indices, Bytes]:
    """Positions and bytes of the brackets outside strings, of a text that begins outside a string.

    A string cannot hold a line feed (RFC 8259, section 7): where one seems to, the last quote of its line is taken for none, so
    that one broken record does not turn the rest of the file inside out.
    """
    plain = text.replace(b"\\\\", b"__").replace(b'\\"', b"__") if b"\\" in text else text
    data: Bytes = np.frombuffer(plain, dtype=np.uint8)
    quotes = _places(data, 34)
    if b"\n" in text:
        before = np.searchsorted(quotes, _places(data, 10))
        odd = np.flatnonzero(np.diff(before, prepend=0) & 1)
        if len(odd):
            quotes = np.delete(quotes, before[odd] - 1)
    # Of the bytes that this keeps, only the four brackets have exactly one of the bits 2 and 4.
    found = [np.flatnonzero((data[start : start + _PIECE] | 0x26) == 0x7F) + start for start in range(0, len(data), _PIECE)]
    places = np.concatenate(found) if found else np.zeros(0, dtype=np.int64)
    codes = data[places]
    places = places[(((codes >> 1) ^ (codes >> 2)) & 1 == 1) & (codes >= OPEN_LIST)]
    places = places[np.searchsorted(quotes, places) & 1 == 0]
    return places, data[places]


def steps(codes: Bytes) -> Indices:
    """How each bracket changes the depth: 1 or -1."""
    return np.where((codes == OPEN_OBJECT) | (codes == OPEN_LIST), 1, -1).astype(np.int64)


@dataclass(slots=True)
class Piece:
    """Consecutive elements of a list: text[begins[i]:ends[i]].

    `gap` is the longest text between two of them; `is_clean`: nothing but blanks and commas stands there; `keys` are those of
    the elements of an object; `lines`: line feeds in the text; `before`: those before it in the file, in no other piece.
    """

    text: bytes
    begins: Indices
    ends: Indices
    gap: int
    is_clean: bool
    keys: list[str] | None
    lines: int
    before: int = 0

    def elements(self) -> list[bytes]:
        """The texts of the elements."""
        return [self.text[begin:end] for begin, end in zip(self.begins.tolist(), self.ends.tolist(), strict=True)]


def line_pieces(blocks: Iterator[bytes], where: str) -> Iterator[Piece]:
    """The lines of a text that are not blank. Raises InputRefusedError for an endless line."""
    rest = b""
    for block in blocks:
        text = rest + block
        cut = text.rfind(b"\n") + 1
        _not_too_long(len(text) - cut, where)
        rest = text[cut:]
        if cut:
            yield _lines(text[:cut])
    if rest.strip():
        yield _lines(rest)


def _lines(text: bytes) -> Piece:
    data: Bytes = np.frombuffer(text, dtype=np.uint8)
    feeds = _places(data, 10)
    ends = feeds if text.endswith(b"\n") else np.append(feeds, len(text))
    begins = np.concatenate([np.zeros(1, dtype=np.int64), ends[:-1] + 1])
    filled = ends > begins
    if len(begins) and bool((data[begins[filled]] <= 32).any()):
        filled = np.fromiter((bool(text[b:e].strip()) for b, e in zip(begins.tolist(), ends.tolist(), strict=True)), bool)
    return Piece(text, begins[filled], ends[filled], 0, False, None, len(feeds))


def _not_too_long(length: int, where: str) -> None:
    if length > LONGEST:
        raise InputRefusedError(f"{where}: one record is longer than {LONGEST >> 20} MiB; expected a list of records")


def list_pieces(blocks: Iterator[bytes], offset: int, container: int, where: str) -> Iterator[Piece]:
    """The elements of the list or object that opens at `offset` (its byte is `container`), or of the whole text (offset -1).

    Raises InputRefusedError where the text ends before it.
    """
    rest, before = _from(blocks, offset + 1)
    blocks = chain((b"",), blocks) if rest else blocks
    depth = 0 if offset < 0 else 1
    closing = {OPEN_OBJECT: CLOSE_OBJECT, OPEN_LIST: CLOSE_LIST}.get(container, 0)
    signature: bytes | None = None
    is_over = False
    for block in blocks:
        text = rest + block if rest else block
        places, codes = marks(text)
        depths = depth + np.cumsum(steps(codes))
        if signature is None and len(places):
            signature = _signature(text, int(places[0]))
        if signature and text.count(signature) != int(np.count_nonzero((depths == depth + 1) & (steps(codes) > 0))):
            depths = _mended(text, signature, places, depths, depth)
        over = np.flatnonzero((depths < depth) & (codes == closing)) if closing else np.zeros(0, dtype=np.int64)
        if len(over):
            is_over = True
            places, codes, depths = places[: over[0]], codes[: over[0]], depths[: over[0]]
        piece = _piece(text, places, codes, depths, depth, is_keyed=container == OPEN_OBJECT)
        if piece is not None:
            piece.before, before = before, 0
            rest = text[int(piece.ends[-1]) :]
            yield piece
        else:
            rest = text
        if is_over:
            return
        _not_too_long(len(rest), where)
    if closing or marks(rest)[0].size:
        raise InputRefusedError(f"{where}: the JSON text is damaged or ends early; get the file again")


def _from(blocks: Iterator[bytes], start: int) -> tuple[bytes, int]:
    """The blocks from a position on: what is left of the block in which it lies, and the line feeds before."""
    feeds = 0
    if start <= 0:
        return b"", 0
    for block in blocks:
        feeds += block[:start].count(b"\n")
        if start <= len(block):
            return block[start:] or b" ", feeds
        start -= len(block)
    return b"", feeds


def _signature(text: bytes, first: int) -> bytes:
    """Line feed, blanks and bracket, where the first element begins on a line of its own; else nothing."""
    begin = text.rfind(b"\n", 0, first)
    return text[begin : first + 1] if begin >= 0 and not text[begin:first].strip() else b""


def _mended(text: bytes, signature: bytes, places: Indices, depths: Indices, depth: int) -> Indices:
    """Depths that begin anew wherever a line begins as the first element does: after a bracket too many or too few."""
    starts = np.array([found.end() - 1 for found in re.finditer(re.escape(signature), text)], dtype=np.int64)
    index = np.searchsorted(places, starts)
    index = index[(index < len(places))]
    index = index[np.isin(places[index], starts)]
    if not len(index):
        return depths
    wrong = np.concatenate([np.zeros(1, dtype=np.int64), depths[index] - (depth + 1)])
    return depths - wrong[np.searchsorted(index, np.arange(len(places)), side="right")]


def _piece(text: bytes, places: Indices, codes: Bytes, depths: Indices, depth: int, *, is_keyed: bool) -> Piece | None:
    """The whole elements in a text; those that are no list and no object stand between them."""
    ups = steps(codes) > 0
    begins = places[ups & (depths == depth + 1)]
    ends = places[~ups & (depths == depth)] + 1
    if not len(begins) or not len(ends):
        return None
    # The end of an element lies before the beginning of the next; where there is none, its text is broken.
    following = np.append(begins[1:], np.iinfo(np.int64).max)
    index = np.searchsorted(ends, begins, side="right")
    found = np.where(index < len(ends), ends[np.minimum(index, len(ends) - 1)], np.iinfo(np.int64).max)
    ends = np.minimum(found, following)
    if ends[-1] > len(text):
        begins, ends = begins[:-1], ends[:-1]
    if not len(begins):
        return None
    gaps = begins - np.concatenate([np.zeros(1, dtype=np.int64), ends[:-1]])
    data: Bytes = np.frombuffer(text, dtype=np.uint8)
    longest = int(gaps.max())
    is_clean = not is_keyed and int(gaps[1:].min(initial=1)) > 0 and longest <= _LONGEST_GAP and _is_blank(data, begins, gaps)
    keys = None
    if is_keyed:
        keys = [_key(text[begin - gap : begin]) for begin, gap in zip(begins.tolist(), gaps.tolist(), strict=True)]
    elif not is_clean:
        begins, ends = _with_odd_ones(text, begins, ends, gaps)
    return Piece(text[: int(ends[-1])], begins, ends, longest, is_clean, keys, text.count(b"\n", 0, int(ends[-1])))


def _is_blank(data: Bytes, begins: Indices, gaps: Indices) -> bool:
    """Whether nothing but blanks and commas stands before the elements."""
    for back in range(1, int(gaps.max()) + 1):
        found = data[begins[gaps >= back] - back]
        if not bool(((found <= 32) | (found == 44)).all()):
            return False
    return True


def _key(gap: bytes) -> str:
    found = KEY.search(gap)
    return found[1].decode(errors="replace") if found else ""


def _with_odd_ones(text: bytes, begins: Indices, ends: Indices, gaps: Indices) -> tuple[Indices, Indices]:
    """Elements and, as elements, whatever else stands between them."""
    spans = []
    for begin, end, gap in zip(begins.tolist(), ends.tolist(), gaps.tolist(), strict=True):
        odd = text[begin - gap : begin].strip(b" \t\n,")
        if odd:
            first = text.index(odd, begin - gap)
            spans.append((first, first + len(odd)))
        spans.append((begin, end))
    table = np.array(spans, dtype=np.int64).reshape(-1, 2)
    return table[:, 0], table[:, 1]
