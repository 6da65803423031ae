"""Locks of files and folders, as far as the system has them.

Receives files and folders, hands on whether they are held. Where there are no locks (Windows, some network file systems) the
work goes on without them: a missing one must not keep a lone run from working.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import IO

#: Stands for a folder that cannot be opened, because the system opens files only.
NOTHING = -1


def take(file: int | IO[bytes], *, shared: bool = False, wait: bool = False) -> bool:
    """Locks an open file or folder, alone or together with others that share it; it is released when it is closed.

    False where the system knows no locks. Raises BlockingIOError where somebody else holds it, unless it waits."""
    try:
        import fcntl
    except ImportError:
        return False
    if file == NOTHING:
        return False
    try:
        fcntl.flock(file, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        raise
    except OSError:
        return False
    return True


def open_folder(folder: Path) -> int:
    """A descriptor of a folder, to be locked and given back by `close_folder`; `NOTHING` where folders cannot be opened."""
    if not hasattr(os, "O_DIRECTORY"):
        return NOTHING
    return os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)


def close_folder(descriptor: int) -> None:
    """Gives a descriptor of `open_folder` back."""
    if descriptor != NOTHING:
        os.close(descriptor)
