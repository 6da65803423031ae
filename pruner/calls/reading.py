"""Who reads a heard store: its files stay as long as anybody does. The folder is locked by readers together, by whoever removes
files alone.

A fold puts new files in the place of old ones while others read; they go once nobody reads any more. So a reader never waits
for a fold, and a fold never for a reader.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from pruner.words.locks import NOTHING, close_folder, open_folder, take

_PAUSE: Final = 0.05


class Reading:
    """While it lives no file of a store is removed. Where the store cannot be locked nothing holds its files."""

    def __init__(self, folder: Path) -> None:
        self._descriptor = NOTHING
        with contextlib.suppress(OSError):
            self._descriptor = open_folder(folder)
            take(self._descriptor, shared=True, wait=True)

    def __del__(self) -> None:
        close_folder(self._descriptor)


@contextlib.contextmanager
def nobody_reads(folder: Path, *, wait_seconds: float = 0.0) -> Iterator[bool]:
    """Whether nobody reads a store now, given `wait_seconds` to end; nobody begins to within the block."""
    descriptor = open_folder(folder)
    try:
        yield _taken(descriptor, time.monotonic() + wait_seconds)
    finally:
        close_folder(descriptor)


def _taken(descriptor: int, ends: float) -> bool:
    while True:
        try:
            take(descriptor)
        except BlockingIOError:
            if time.monotonic() >= ends:
                return False
        else:
            return True
        time.sleep(_PAUSE)
