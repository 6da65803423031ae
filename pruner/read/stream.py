"""A file on this machine -> its bytes, unpacked, as UTF-8 with one kind of line ending.

Receives a path, hands on an iterator of byte strings. Knows nothing of columns.
"""

from __future__ import annotations

import codecs
import gzip
import io
import zipfile
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Final

import pyarrow as pa

from pruner.errors import InputRefusedError, SourceMissingError
from pruner.read.zstd_frames import ends_with_a_frame

BLOCK_BYTES: Final = 2 << 20
#: Files longer than the first are read in longer blocks: their memory is not noticed there.
_LONG_FILE: Final = 64 << 20
_LONG_BLOCKS: Final = 2
#: More than this out of one archive is taken for an accident or an attack.
LARGEST_UNPACKED: Final = 16 << 30

_MAGIC: Final = {b"\x1f\x8b": "gzip", b"\x28\xb5\x2f\xfd": "zstd", b"PK\x03\x04": "zip"}
_MARKS: Final = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


def unpacked(path: Path, reached: Callable[[int], None] | None = None) -> Iterator[bytes]:
    """The bytes of a file in blocks, with gzip, zstd and zip (one member) taken off; `reached` is told the position in it.

    Raises SourceMissingError when the file cannot be opened, InputRefusedError for an empty or truncated one.
    """
    total = 0
    try:
        with path.open("rb") as raw:
            head = raw.read(4)
            if not head:
                raise InputRefusedError(f"{path}: the file is empty; expected a table")
            raw.seek(0)
            packing = next((kind for magic, kind in _MAGIC.items() if head.startswith(magic)), "")
            with _opened(raw, packing, path) as stream:
                while block := stream.read(BLOCK_BYTES * (_LONG_BLOCKS if total > _LONG_FILE else 1)):
                    total += len(block)
                    if packing and total > LARGEST_UNPACKED:
                        raise InputRefusedError(f"{path}: unpacks to more than {LARGEST_UNPACKED >> 30} GiB; refused")
                    if reached is not None:
                        reached(raw.tell())
                    yield block
    except OSError as error:
        if isinstance(error, gzip.BadGzipFile) or "zstd" in str(error).lower() or "truncat" in str(error).lower():
            raise _truncated(path) from error
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror or error}); check the location") from error
    except (EOFError, zlib.error, zipfile.BadZipFile, pa.ArrowInvalid) as error:
        raise _truncated(path) from error
    if not total:
        raise InputRefusedError(f"{path}: the archive holds nothing; expected a table")


def _truncated(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: the archive is damaged or ends early; get the file again")


def _opened(raw: IO[bytes], packing: str, path: Path) -> IO[bytes]:
    if packing == "gzip":
        return gzip.GzipFile(fileobj=raw)  # type: ignore[return-value]
    if packing == "zstd":
        return _zstd(raw)
    if packing == "zip":
        archive = zipfile.ZipFile(raw)
        members = [member for member in archive.infolist() if not member.is_dir()]
        if len(members) != 1:
            raise InputRefusedError(f"{path}: the archive holds {len(members)} files; expected exactly one")
        try:
            return archive.open(members[0])
        except (RuntimeError, NotImplementedError) as error:
            raise InputRefusedError(f"{path}: the archive needs a password or an unknown method; unpack it first") from error
    return _Borrowed(raw)  # type: ignore[return-value]


class _Borrowed(io.RawIOBase):
    """Reads from a file that somebody else closes."""

    def __init__(self, raw: IO[bytes]) -> None:
        self._raw = raw

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1, /) -> bytes:
        return self._raw.read(size)


def _zstd(raw: IO[bytes]) -> IO[bytes]:
    """A zstd stream that refuses to end in the middle of a frame.

    Arrow's reader ends silently there, so the frames are followed to the end of the file first.
    """
    if not ends_with_a_frame(raw):
        raise EOFError("the last zstd frame is cut off")
    raw.seek(0)
    stream: IO[bytes] = pa.CompressedInputStream(pa.PythonFile(raw, mode="r"), "zstd")
    return stream


def text_blocks(path: Path, encoding: str | None, reached: Callable[[int], None] | None = None) -> Iterator[bytes]:
    """Blocks of a text file as UTF-8 without byte-order mark, every line ending a line feed.

    Without `encoding` (from the settings) a byte-order mark decides, else the bytes are passed on as they are
    and lines that are not UTF-8 are left to the reader.
    """
    blocks = unpacked(path, reached)
    first = next(blocks)
    for mark, marked in _MARKS:
        if first.startswith(mark):
            first, encoding = first[len(mark) :], None if marked == "utf-8" else marked
            break
    else:
        if encoding is None and first[1:2] == b"\0":
            encoding = "utf-16-le"
        elif encoding is None and first[:1] == b"\0":
            encoding = "utf-16-be"
    yield from _line_feeds(_utf8(first, blocks, encoding))


def _utf8(first: bytes, blocks: Iterator[bytes], encoding: str | None) -> Iterator[bytes]:
    if encoding is None or codecs.lookup(encoding).name == "utf-8":
        yield first
        yield from blocks
        return
    decoder = codecs.getincrementaldecoder(encoding)(errors="replace")
    yield decoder.decode(first).encode()
    for block in blocks:
        yield decoder.decode(block).encode()
    yield decoder.decode(b"", final=True).encode()


def _line_feeds(blocks: Iterator[bytes]) -> Iterator[bytes]:
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
