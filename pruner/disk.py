"""What has reached the disk: files that appear whole, and one call that waits for files and folders.

Receives a path, hands on nothing.
"""

from __future__ import annotations

import os
from pathlib import Path


def sync(path: Path) -> None:
    """Waits until one file, or the names in one folder, are on the disk."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def write_whole(path: Path, text: str) -> None:
    """Writes a small file so that it is there as a whole or as it was before, also when the process is killed."""
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8")
        sync(part)
        part.replace(path)
        sync(path.parent)
    finally:
        part.unlink(missing_ok=True)
