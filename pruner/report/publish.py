"""How the files of a run appear: all together or not at all.

Files are made in a new folder beside the old one and the two are exchanged in one step.
"""

from __future__ import annotations

import contextlib
import ctypes
import hashlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from pruner.errors import SettingsError

_MAKING: Final = ".making-"
_AT_FDCWD: Final = -100
_RENAME_EXCHANGE: Final = 2


@contextlib.contextmanager
def new_folder(folder: Path) -> Iterator[Path]:
    """A folder to write into that takes the place of `folder` when the block ends well, and is gone when it does not.

    A folder that holds anything but an earlier result is never replaced: SettingsError.
    """
    if folder.exists() and not _is_result(folder):
        raise SettingsError(f"{folder}: exists and is not the result of a run; choose another output folder")
    making = folder.with_name(_MAKING + folder.name)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(making, ignore_errors=True)
        making.mkdir()
    except OSError as error:
        raise SettingsError(f"{folder}: cannot be written ({error.strerror}); choose another output folder") from error
    try:
        yield making
        for file in sorted(making.iterdir()):
            _sync(file)
        _sync(making)
        _switch(making, folder)
        _sync(folder.parent)
    finally:
        shutil.rmtree(making, ignore_errors=True)


def _is_result(folder: Path) -> bool:
    return folder.is_dir() and ((folder / "summary.json").is_file() or not any(folder.iterdir()))


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _switch(new: Path, old: Path) -> None:
    if not old.exists():
        new.rename(old)
    elif not _exchange(new, old):
        aside = old.with_name(_MAKING + "old-" + old.name)
        shutil.rmtree(aside, ignore_errors=True)
        old.rename(aside)
        new.rename(old)
        shutil.rmtree(aside, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Exchanges two folders in one step where the system can (Linux renameat2, RENAME_EXCHANGE)."""
    try:
        renameat2 = ctypes.CDLL(None).renameat2
    except (OSError, AttributeError):
        return False
    return renameat2(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE) == 0


def fingerprint(path: Path) -> dict[str, str | int]:
    """Name, SHA-256 and size of a file."""
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    return {"name": path.name, "sha256": digest, "bytes": path.stat().st_size}
