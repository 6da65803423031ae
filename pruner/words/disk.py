"""Files on the disk: who may read what is made, what appears whole, what has been written for good.

Receives paths and modes. Here alone it is decided what mode a new file or folder has: the process's mask is set for the length
of a block, so that it holds for every library that writes. A mode is that of files; folders may be entered by whoever may
read the files in them.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from typing import Final

#: Files for their owner only: they hold names and towns of people.
PRIVATE: Final = 0o600
_found: list[int] = []


@contextlib.contextmanager
def creating(mode: int) -> Iterator[None]:
    """What the process makes within the block has this mode, such as 0o600 (folders then 0o700); what exists keeps its own."""
    before = os.umask(0o777 & ~folder_mode(mode))
    _found.append(before)
    try:
        yield
    finally:
        _found.pop()
        os.umask(before)


def found_umask() -> int:
    """The mask that the process was started with, for programs of the user; -1 where it was left alone."""
    return _found[0] if _found else -1


def folder_mode(mode: int) -> int:
    """The mode of folders that hold files of a mode."""
    return mode | (mode & 0o444) >> 2


def give_mode(path: Path, mode: int) -> None:
    """Gives a file, or a folder and all in it, a mode; links are not followed."""
    if path.is_symlink():
        return
    is_folder = path.is_dir()
    wanted = folder_mode(mode) if is_folder else mode
    if stat.S_IMODE(path.stat().st_mode) != wanted:
        set_mode(path, wanted)
    for inner in path.iterdir() if is_folder else ():
        give_mode(inner, mode)


def keep_mode(path: Path, following: Path) -> None:
    """Gives what is about to take the place of a path the mode of what stands there."""
    if path.exists():
        set_mode(following, stat.S_IMODE(path.stat().st_mode))


def set_mode(path: Path, mode: int) -> None:
    """Gives one file or folder a mode; nothing where the file system has no modes of this kind."""
    with contextlib.suppress(PermissionError, NotImplementedError):
        path.chmod(mode)


def sync(path: Path) -> None:
    """Waits until one file, or the names in one folder, are on the disk."""
    if hasattr(os, "O_DIRECTORY"):
        descriptor = os.open(path, os.O_RDONLY)
    elif path.is_dir():
        return  # a system that opens files only writes names by itself
    else:
        descriptor = os.open(path, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def write_whole(path: Path, text: str, *, of_user: bool = False) -> None:
    """Writes a small file so that it is there as a whole or as it was before, also when the process is killed.

    `of_user`: the user said where it lies, so one that stands there keeps its mode."""
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8")
        if of_user:
            keep_mode(path, part)
        sync(part)
        part.replace(path)
        sync(path.parent)
    finally:
        part.unlink(missing_ok=True)
