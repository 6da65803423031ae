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
def tmp_path(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Takes the place of pytest's own fixture (`tests/conftest.py`), which looks through the folders of all tests for each."""
    if not _MEMORY.is_dir() or shutil.disk_usage(_MEMORY).free < _ENOUGH:
        yield tmp_path_factory.mktemp("test")
        return
    with tempfile.TemporaryDirectory(prefix="pruner-test-", dir=_MEMORY) as folder:
        yield Path(folder)
