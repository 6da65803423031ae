"""A packed file -> a stream of its bytes: gzip, bzip2, xz and zstd, with limits.

Receives an open file, hands on a readable stream. `faults` turns what the libraries raise into one line.
"""

from __future__ import annotations

import bz2
import gzip
import io
import lzma
import struct
import tarfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, Final

import pyarrow as pa

from pruner.table.zstd_frames import ends_with_a_frame
from pruner.words.errors import InputRefusedError, SourceMissingError

#: More than this out of one archive is taken for an accident or an attack.
LARGEST_UNPACKED: Final = 16 << 30
#: Tables shrink to a tenth, logs to a thirtieth: what unpacks to more than the first and so many times its size is no table.
_SUSPECT_BYTES: Final = 1 << 30
_SUSPECT_RATIO: Final = 200
#: An xz file may ask for this much memory to be unpacked.
_XZ_MEMORY: Final = 256 << 20
_PIECE: Final = 1 << 16


@contextmanager
def faults(path: Path) -> Iterator[None]:
    """Turns faults of files and archives into SourceMissingError and InputRefusedError with one line."""
    try:
        yield
    except InputRefusedError:
        raise
    except tarfile.TarError as error:
        raise damaged(path) from error
    except (RuntimeError, NotImplementedError) as error:
        raise InputRefusedError(f"{path}: the archive needs a password or an unknown method; unpack it first") from error
    except (EOFError, zlib.error, lzma.LZMAError, zipfile.BadZipFile, pa.ArrowInvalid, struct.error, ValueError) as error:
        raise damaged(path) from error
    except MemoryError as error:
        raise InputRefusedError(f"{path}: the archive needs more memory than there is; unpack it first") from error
    except OSError as error:
        if error.errno is None or "zstd" in str(error).lower():
            raise damaged(path) from error
        raise SourceMissingError(
            f"{path}: cannot be read ({error.strerror or 'fault of the disk'}); check the location"
        ) from error


def damaged(path: Path) -> InputRefusedError:
    """The refusal of an archive that cannot be unpacked to its end."""
    return InputRefusedError(f"{path}: the archive is damaged or ends early; get the file again")


class Limited(io.RawIOBase):
    """A stream that counts what is read from it, and ends where an archive unpacks to what no table can be."""

    def __init__(self, stream: IO[bytes], path: Path, packed_bytes: int, reached: Callable[[], None] | None = None) -> None:
        self._stream = stream
        self._path = path
        self._packed = max(packed_bytes, 1)
        self._reached = reached
        self._total = 0

    def readable(self) -> bool:
        """As of any stream that is read from."""
        return True

    def read(self, size: int = -1, /) -> bytes:
        """The next bytes. Raises InputRefusedError beyond the limits."""
        block = self._stream.read(size)
        self._total += len(block)
        if self._total > LARGEST_UNPACKED:
            raise InputRefusedError(f"{self._path}: unpacks to more than {LARGEST_UNPACKED >> 30} GiB; refused")
        if self._total > _SUSPECT_BYTES and self._total > _SUSPECT_RATIO * self._packed:
            raise InputRefusedError(
                f"{self._path}: unpacks to more than {_SUSPECT_RATIO} times its size; refused as an accident or an attack"
            )
        if self._reached is not None:
            self._reached()
        return block


class _Decompressed(io.RawIOBase):
    """The streams of a file, one after the other, through a decompressor that is asked for so many bytes at a time."""

    def __init__(self, raw: IO[bytes], decompressor: Callable[[], Any]) -> None:
        self._raw = raw
        self._make = decompressor
        self._current = decompressor()
        self._input = b""

    def readable(self) -> bool:
        """As of any stream that is read from."""
        return True

    def read(self, size: int = -1, /) -> bytes:
        """Up to `size` bytes, none at the end. Raises EOFError where a stream is cut off."""
        size = size if size > 0 else _PIECE
        while True:
            if self._current.eof:
                self._input = (self._current.unused_data or self._raw.read(_PIECE)).lstrip(b"\0")
                if not self._input:
                    return b""
                self._current = self._make()
            elif self._current.needs_input:
                self._input = self._raw.read(_PIECE)
                if not self._input:
                    raise EOFError("a stream is cut off")
            else:
                self._input = b""
            block: bytes = self._current.decompress(self._input, size)
            if block:
                return block


def decompressed(raw: IO[bytes], packing: str) -> IO[bytes]:
    """The stream in a file packed with gzip, bzip2, xz or zstd; the file itself for any other word."""
    if packing == "gzip":
        return gzip.GzipFile(fileobj=raw)  # type: ignore[return-value]
    if packing == "bzip2":
        return _Decompressed(raw, bz2.BZ2Decompressor)  # type: ignore[return-value]
    if packing == "xz":
        return _Decompressed(raw, lambda: lzma.LZMADecompressor(memlimit=_XZ_MEMORY))  # type: ignore[return-value]
    if packing == "zstd":
        # Arrow's reader ends silently in the middle of a frame, so the frames are followed to the end of the file first.
        if not ends_with_a_frame(raw):
            raise EOFError("the last zstd frame is cut off")
        raw.seek(0)
        stream: IO[bytes] = pa.CompressedInputStream(pa.PythonFile(raw, mode="r"), "zstd")
        return stream
    return raw
