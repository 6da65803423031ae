"""Files that appear whole or not at all, and lines that are added to a file.

Receives bytes, hands on nothing; a disk that cannot be written becomes a SettingsError with one line.
"""

from __future__ import annotations

import contextlib
import os
import secrets
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from pruner.words.disk import keep_mode, set_mode
from pruner.words.disk import sync as _sync
from pruner.words.errors import SettingsError


@contextlib.contextmanager
def _told(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        reason = error.strerror or str(error)
        raise SettingsError(f"{path}: cannot be written ({reason}); make room or choose another place") from error


@contextlib.contextmanager
def whole_file(path: Path, mode: int | None = None) -> Iterator[Path]:
    """A new file to write beside `path`; it takes the name of `path` when the block ends well, else it is removed.

    Without `mode` it has that of the file that stands there, else that of new files."""
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        making = path.with_name(f".making-{secrets.token_hex(4)}")
        try:
            making.touch(exist_ok=False)
            keep_mode(path, making) if mode is None else set_mode(making, mode)
            yield making
            _sync(making)
            making.replace(path)
        finally:
            making.unlink(missing_ok=True)
        _sync(path.parent)


def append_line(path: Path, line: bytes) -> None:
    """Adds one line (without its line feed) in a single write; what a run that was killed left behind is closed first."""
    with _told(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("a+b") as file:
            file.write((b"" if _ends_a_line(file) else b"\n") + line + b"\n")
            file.flush()
            os.fsync(file.fileno())
        _sync(path.parent)


def _ends_a_line(file: BinaryIO) -> bool:
    if not file.seek(0, os.SEEK_END):
        return True
    file.seek(-1, os.SEEK_END)
    return file.read(1) == b"\n"
