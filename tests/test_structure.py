"""The import rule of DEVELOPERS.md: rooms import only from lines above them, and start-up stays light."""

from __future__ import annotations

import ast
import importlib
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import pruner

ROOT = Path(pruner.__file__).parent
#: Every line imports only from lines above it; the rooms of one line never import each other.
LINES = (
    ("__init__",),
    ("words",),
    ("reference",),
    ("account",),
    ("table",),
    ("settings",),
    ("read",),
    ("clean", "place", "calls", "rules", "choose", "layout", "history", "sources"),
    ("publish",),
    ("pages",),
    ("logs",),
    ("groups",),
    ("job",),
    ("convert",),
    ("ask",),
    ("library",),
    ("demo", "refresh"),
    ("cli",),
    ("__main__",),
)
FLOOR = {room: number for number, rooms in enumerate(LINES) for room in rooms}
MODULES = sorted(ROOT.rglob("*.py"))


def room_of(path: Path) -> str:
    first = path.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


def statements(tree: ast.AST) -> Iterator[ast.AST]:
    """A tree and all statements in it: expressions hold none."""
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        yield node
        for field in ("body", "orelse", "finalbody", "handlers", "cases"):
            inner = getattr(node, field, None)
            waiting += inner if isinstance(inner, list) else []


@cache
def imported(path: Path) -> frozenset[str]:
    """All that a module imports, with dots: what stands behind `from pruner import` too."""
    found: set[str] = set()
    for node in statements(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {f"{node.module}.{alias.name}" for alias in node.names} if node.module == "pruner" else {node.module}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return frozenset(found)


def imported_rooms(path: Path) -> set[str]:
    return {name.split(".")[1] for name in imported(path) if name.startswith("pruner.")} - {"__version__"}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_rooms_import_only_from_lines_above(path: Path) -> None:
    own = room_of(path)
    if own == "__init__":
        return  # it names the library for type checkers only (tests/test_library.py)
    for other in imported_rooms(path) - {own}:
        assert FLOOR[other] < FLOOR[own], f"{own} imports {other}, which does not lie above it"


@pytest.mark.parametrize("path", sorted((ROOT / "cli").glob("*.py")), ids=lambda path: path.name)
def test_the_command_stands_on_the_library(path: Path) -> None:
    assert imported_rooms(path) <= {"cli", "library", "refresh", "demo", "words", "__version__"}


@pytest.mark.parametrize("path", sorted((ROOT / "library").glob("*.py")), ids=lambda path: path.stem)
def test_the_library_offers_what_it_says(path: Path) -> None:
    module = importlib.import_module(f"pruner.library.{path.stem}" if path.stem != "__init__" else "pruner.library")
    for name in getattr(module, "__all__", ()):
        assert getattr(module, name) is not None
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = module.nothing


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_threads_have_one_owner(path: Path) -> None:
    """Sizes, nesting and ends of pools are decided in words/threads.py."""
    if path == ROOT / "words" / "threads.py":
        return
    packages = {name.partition(".")[0] for name in imported(path)}
    assert not packages & {"_thread", "asyncio", "concurrent", "multiprocessing", "threading"}


def test_every_room_has_a_line() -> None:
    assert {room_of(path) for path in MODULES} <= set(FLOOR)


@pytest.mark.parametrize("heavy", ["polars", "pyarrow", "numpy", "pydantic", "pycountry"])
def test_help_answers_without_heavy_imports(heavy: str) -> None:
    code = f"import sys; from pruner.cli.boundary import guarded; guarded(['--help']); sys.exit({heavy!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0
