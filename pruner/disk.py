"""What has reached the disk: one call for files and folders.

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
