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
_LOGS = '[[heard]]\nlocation = "heard/calls-*.csv"\n'


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


def demo_without_logs(folder: Path) -> Path:
    """The same without heard logs, where calls are not the point: most of a fit of this size is what they foretell."""
    settings = folded_demo(folder)
    shutil.rmtree(folder / ".pruner" / "heard")
    text = settings.read_text(encoding="utf-8")
    assert _LOGS in text
    settings.write_text(text.replace(_LOGS, ""), encoding="utf-8")
    return settings
