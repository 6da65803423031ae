"""A folder in memory where the system has one: tests write little, but wait for the disk often."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

_MEMORY = Path("/dev/shm")
_ENOUGH = 1 << 30


@pytest.fixture
def tmp_path(tmp_path: Path) -> Iterator[Path]:
    """Takes the place of pytest's own fixture (`tests/conftest.py`)."""
    if not _MEMORY.is_dir() or shutil.disk_usage(_MEMORY).free < _ENOUGH:
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(prefix="pruner-test-", dir=_MEMORY) as folder:
        yield Path(folder)
