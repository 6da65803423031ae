"""A demo whose logs are folded already, made once per process: folding them takes most of its first fit."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from pruner.demo import write_demo
from pruner.logs.fold import fold_all
from pruner.settings.load import load_settings

STATIONS = 2000


@cache
def _folded() -> Path:
    folder = Path(tempfile.mkdtemp(prefix="pruner-test-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    write_demo(folder / "demo", STATIONS)
    fold_all(load_settings(folder / "demo" / "pruner.toml"))
    return folder / "demo"


def folded_demo(folder: Path) -> Path:
    """A demo of 2,000 rows in a new folder; its settings file."""
    shutil.copytree(_folded(), folder)
    return folder / "pruner.toml"
