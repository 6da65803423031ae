"""Who reads a heard store: its files stay as long as anybody does. The folder is locked by readers together, by whoever removes
files alone.

A fold puts new files in the place of old ones while others read; they go once nobody reads any more. So a reader never waits
for a fold, and a fold never for a reader.
"""

from __future__ import annotations

import contextlib
import fcntl
import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

_PAUSE: Final = 0.05


class Reading:
    """While it lives no file of a store is removed. Where the store cannot be locked nothing holds its files."""

    def __init__(self, folder: Path) -> None:
        self._descriptor = -1
        with contextlib.suppress(OSError):
            self._descriptor = _opened(folder)
            fcntl.flock(self._descriptor, fcntl.LOCK_SH)

    def __del__(self) -> None:
        if self._descriptor >= 0:
            os.close(self._descriptor)


@contextlib.contextmanager
def nobody_reads(folder: Path, *, wait_seconds: float = 0.0) -> Iterator[bool]:
    """Whether nobody reads a store now, given `wait_seconds` to end; nobody begins to within the block."""
    descriptor = _opened(folder)
    try:
        yield _taken(descriptor, time.monotonic() + wait_seconds)
    finally:
        os.close(descriptor)


def _opened(folder: Path) -> int:
    return os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)


def _taken(descriptor: int, ends: float) -> bool:
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() >= ends:
                return False
        except OSError:  # some network file systems know no locks
            return True
        else:
            return True
        time.sleep(_PAUSE)
