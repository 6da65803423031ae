"""How the files of a run appear: all together or not at all.

Files are made in a new folder beside the old one and the two are exchanged in one step.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import hashlib
import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from pruner.account.parts import ANEW, FILE, FileMark, Written
from pruner.words.disk import keep_mode
from pruner.words.disk import sync as _sync
from pruner.words.errors import SettingsError

#: In a published folder: what versions lie in.
VERSIONS: Final = ".versions"
#: In a published folder: the link to the version that is published.
CURRENT: Final = "current"
_MAKING: Final = ".making-"
_AT_FDCWD: Final = -100
_RENAME_EXCHANGE: Final = 2
_NO_ROOM: Final = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EFBIG)
#: Errors of a place that cannot be written: no room, read-only, not allowed.
UNWRITABLE: Final = (*_NO_ROOM, errno.EACCES, errno.EPERM, errno.ENOTDIR)


@contextlib.contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A folder to write into: takes the place of `folder` when the block ends well, is gone when it does not.

    A folder that holds anything but an earlier result is never replaced: SettingsError.
    """
    try:
        folder = folder if folder.name and folder.name != ".." else folder.resolve()
        if VERSIONS in folder.resolve().parts:
            raise SettingsError(
                f"{folder}: is part of a published version, which nothing is written into; choose another folder"
            )
        if not folder.name:
            raise SettingsError(f"{folder}: cannot be replaced by a result; choose a new folder")
        if folder.is_symlink() and folder.readlink() == Path(CURRENT) / folder.name:  # what it led to is gone
            folder.unlink()
        if folder.is_symlink():
            folder = folder.resolve()
        making = folder.with_name(_MAKING + folder.name)
        _put_back(folder)
        _refuse_foreign(folder)
        folder.parent.mkdir(parents=True, exist_ok=True)
        _remove(making)
        making.mkdir()
        keep_mode(folder, making)
    except OSError as error:
        raise SettingsError(f"{folder}: cannot be written ({error.strerror}); choose another output folder") from error
    try:
        yield making
        for file in sorted(making.iterdir()):
            _sync(file)
        _sync(making)
        _switch(making, folder)
        _sync(folder.parent)
    except OSError as error:
        number = number_of(error)
        if number not in _NO_ROOM:
            raise
        raise SettingsError(f"{folder}: cannot be written ({os.strerror(number)}); make room or choose another") from error
    finally:
        _remove(making)


def check_result_place(folder: Path) -> None:
    """Raises SettingsError where `new_folder` would refuse to replace what stands at a place; changes nothing."""
    if VERSIONS in folder.resolve().parts:
        raise SettingsError(f"{folder}: is part of a published version, which nothing is written into; choose another folder")
    try:
        _refuse_foreign(folder.resolve())
    except OSError as error:
        raise SettingsError(f"{folder}: cannot be looked into ({error.strerror}); choose another output folder") from error


def number_of(error: OSError) -> int:
    """The number of a system's error, 0 if it has none. Writers that are no part of Python give it in their text only."""
    found = re.search(r"\(os error (\d+)\)", str(error)) if error.errno is None else None
    return int(found[1]) if found else error.errno or 0


def _refuse_foreign(folder: Path) -> None:
    """Raises SettingsError when a folder holds anything that its own summary does not name."""
    if not folder.exists():
        return
    present = {path.name for path in folder.iterdir()} if folder.is_dir() else {folder.name}
    if not present:
        return
    try:
        ours = {FILE, *(file.name for file in Written.read(folder).files)}
    except (OSError, ValueError):
        if FILE in present and folder.is_dir():
            raise SettingsError(f"{folder}: {FILE} there is damaged, or no run wrote it; {ANEW}") from None
        raise SettingsError(f"{folder}: exists and is not the result of a run; choose another output folder") from None
    foreign = sorted(present - ours)
    if foreign:
        raise SettingsError(f"{folder}: holds {foreign[0]!r}, which no run wrote and a new result would remove; move it away")


def _put_back(folder: Path) -> None:
    """Brings back the old folder when a run was killed between the two renames of `_switch`."""
    aside = _aside(folder)
    if aside.is_dir():
        if folder.exists():
            _remove(aside)
        else:
            aside.rename(folder)


def _aside(folder: Path) -> Path:
    return folder.with_name(_MAKING + "old-" + folder.name)


def _remove(path: Path) -> None:
    if path.is_symlink() or path.is_file():
        path.unlink()
    else:
        shutil.rmtree(path, ignore_errors=True)


def _switch(new: Path, old: Path) -> None:
    if not old.exists():
        new.rename(old)
    elif not _exchange(new, old):
        aside = _aside(old)
        old.rename(aside)
        new.rename(old)
        _remove(aside)


def _exchange(one: Path, other: Path) -> bool:
    """Exchanges two folders in one step where the system can (Linux renameat2, RENAME_EXCHANGE)."""
    try:
        renameat2 = ctypes.CDLL(None).renameat2
    except (OSError, AttributeError):
        return False
    names = os.fsencode(one), os.fsencode(other)
    return bool(renameat2(_AT_FDCWD, names[0], _AT_FDCWD, names[1], _RENAME_EXCHANGE) == 0)


def fingerprint(path: Path) -> FileMark:
    """Name, SHA-256 and size of a file."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return FileMark(name=path.name, sha256=digest, bytes=path.stat().st_size)
