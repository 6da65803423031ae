"""A file -> its parts: the file itself, unpacked, or the members of an archive that may be tables.

Receives a path, hands on parts, each of which can be read from its beginning as often as needed.
"""

from __future__ import annotations

import re
import tarfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import IO, Final

from pruner.table.no_table import packing
from pruner.table.opened import shown
from pruner.table.unpack import Limited, decompressed, faults
from pruner.words.errors import InputRefusedError, NoRowsError

BLOCK_BYTES: Final = 2 << 20
#: Files longer than the first are read in longer blocks: their memory is not noticed there.
_LONG_FILE: Final = 64 << 20
_LONG_BLOCKS: Final = 2
#: An archive with more members that may be tables is no directory or list.
MOST_MEMBERS: Final = 64
_TAR_HEADER: Final = 512
_ABOUT: Final = re.compile(
    r"(?:^|/)(?:__MACOSX/|\.(?!/)|Thumbs\.db$|desktop\.ini$)|(?:^|/)(?:read[ _-]?me|licen[cs]e|copying|notice|changelog|credits"
    r"|terms|about|sha256sums?|md5sums?|checksums?)[^/]*$",
    re.IGNORECASE,
)
_ASIDE: Final = re.compile(
    rf"{_ABOUT.pattern}|\.(?:md|pdf|html?|png|jpe?g|gif|svg|ico|docx?|sha256|md5|asc|sig)$",
    re.IGNORECASE,
)
_TABLES: Final = re.compile(r"\.(?:csv|tsv|tab|psv|txt|dat|json|jsonl|ndjson|geojson|log)$", re.IGNORECASE)
#: Pages, which explain the tables of most archives and are the tables of others.
_PAGE: Final = re.compile(r"(?<![^/])[^./][^/]*\.html?$", re.IGNORECASE)
#: Members that are archives or packed files themselves; they are not read, but named.
_PACKED: Final = re.compile(r"\.(?:zip|gz|tgz|bz2|tbz2?|xz|txz|zst|tar|7z|rar)$", re.IGNORECASE)

Reached = Callable[[int], None] | None


@dataclass(frozen=True, slots=True)
class Part:
    """`label`: the member's name, "" for the file itself; `blocks`: its bytes, from the beginning at each call; `is_packed`:
    whether it comes out of an archive; `passed_over`: names of members that may hold something and are not looked at."""

    label: str
    blocks: Callable[[], Iterator[bytes]]
    is_packed: bool
    passed_over: tuple[str, ...] = ()


def parts_of(path: Path, reached: Reached = None) -> list[Part]:
    """What a file holds: itself, unpacked, or those members of an archive that may be tables.

    `reached` is told the position in the file while a part is read. Raises SourceMissingError when the file cannot be opened,
    InputRefusedError for an empty one and for an archive that is damaged or without a member of use.
    """
    with faults(path), path.open("rb") as raw:
        head = raw.read(_TAR_HEADER)
        if not head:
            raise NoRowsError(f"{path}: the file is empty; expected a table")
        kind = packing(head)
        if kind == "zip":
            names = _zip_names(raw)
            useful = _useful(path, names)
            others = _others(names, useful)
            return [Part(name, partial(_zip_blocks, path, name, reached), True, others) for name in useful]
        raw.seek(0)
        inside = _filled(decompressed(raw, kind), _TAR_HEADER) if kind else head
    if is_tar(inside):
        with faults(path), path.open("rb") as raw:
            stream = Limited(decompressed(raw, kind), path, path.stat().st_size)
            with tarfile.open(fileobj=stream, mode="r|") as archive:
                names = [member.name for member in archive if member.isfile() and member.size]
        useful = _useful(path, names)
        others = _others(names, useful)
        return [Part(name, partial(_tar_blocks, path, kind, name, reached), True, others) for name in useful]
    return [Part("", partial(_file_blocks, path, kind, reached), bool(kind))]


def _filled(stream: IO[bytes], size: int) -> bytes:
    """The first bytes of a stream that may give fewer at a time."""
    head = b""
    while len(head) < size and (piece := stream.read(size - len(head))):
        head += piece
    return head


def is_tar(head: bytes) -> bool:
    """Whether a header of a tar file stands here, by its checksum (POSIX.1-1988, ustar, from memory)."""
    if len(head) < _TAR_HEADER or not head[0]:
        return False
    try:
        stated = int(head[148:156].strip(b" \0") or b"-1", 8)
    except ValueError:
        return False
    return stated == sum(head[:148]) + sum(head[156:512]) + 8 * 32


def _zip_names(raw: IO[bytes]) -> list[str]:
    archive = zipfile.ZipFile(raw)
    return [member.filename for member in archive.infolist() if not member.is_dir() and member.file_size]


def _useful(path: Path, names: list[str]) -> list[str]:
    """The members that may be tables: those with the name of one, else those that nothing speaks against, else pages; and
    archives among them."""
    if not names:
        raise InputRefusedError(f"{path}: the archive holds nothing; expected a table")
    if len(names) == 1:
        return names
    left = [name for name in dict.fromkeys(names) if not _ASIDE.search(name)]
    tables = [name for name in left if _TABLES.search(name)]
    found = [name for name in left if name in tables or _PACKED.search(name)] if tables else left
    found = found or [name for name in dict.fromkeys(names) if _PAGE.search(name)]
    if not found:
        raise InputRefusedError(f"{path}: the archive holds {len(names)} files and none is a table ({shown(names[0])}, ...)")
    if len(found) > MOST_MEMBERS:
        raise InputRefusedError(f"{path}: the archive holds {len(found)} files; unpack it and name the one that is meant")
    return found


def _stream_blocks(stream: IO[bytes] | Limited) -> Iterator[bytes]:
    total = 0
    while block := stream.read(BLOCK_BYTES * (_LONG_BLOCKS if total > _LONG_FILE else 1)):
        total += len(block)
        yield block


def _others(names: list[str], useful: list[str]) -> tuple[str, ...]:
    """The members beside the useful ones that may be tables too: those that nothing speaks against, and pages."""
    others = [name for name in dict.fromkeys(names) if name not in useful and not _ABOUT.search(name)]
    return tuple(name for name in others if not _ASIDE.search(name) or _PAGE.search(name))


def _counted(stream: IO[bytes], raw: IO[bytes], path: Path, reached: Reached) -> Limited:
    return Limited(stream, path, path.stat().st_size, None if reached is None else lambda: reached(raw.tell()))


def _file_blocks(path: Path, kind: str, reached: Reached) -> Iterator[bytes]:
    is_empty = True
    with faults(path), path.open("rb") as raw:
        if kind:
            stream: IO[bytes] | Limited = _counted(decompressed(raw, kind), raw, path, reached)
        else:
            stream = raw
        for block in _stream_blocks(stream):
            is_empty = False
            if reached is not None and not kind:
                reached(raw.tell())
            yield block
    if is_empty:
        raise InputRefusedError(f"{path}: the archive holds nothing; expected a table")


def _zip_blocks(path: Path, name: str, reached: Reached) -> Iterator[bytes]:
    with faults(path), path.open("rb") as raw, zipfile.ZipFile(raw) as archive, archive.open(name) as member:
        yield from _stream_blocks(_counted(member, raw, path, reached))


def _tar_blocks(path: Path, kind: str, name: str, reached: Reached) -> Iterator[bytes]:
    with faults(path), path.open("rb") as raw:
        stream = _counted(decompressed(raw, kind), raw, path, reached)
        with tarfile.open(fileobj=stream, mode="r|") as archive:
            for member in archive:
                file = archive.extractfile(member) if member.name == name and member.isfile() else None
                if file is not None:
                    yield from _stream_blocks(file)
                    return
