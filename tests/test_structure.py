"""The import rule of DEVELOPERS.md: nothing imports upward, stages never import each other, start-up stays light."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import pruner

ROOT = Path(pruner.__file__).parent
FLOOR = {
    **dict.fromkeys(
        ("schema", "errors", "outcomes", "callsign", "number", "counts", "disk", "faults", "process", "words", "__init__"), 0
    ),
    "reference": 1,
    **dict.fromkeys(("settings", "table"), 2),
    **dict.fromkeys(("read", "clean", "place", "rank", "fit", "layout", "report", "heard", "sources", "history"), 3),
    "pipeline": 4,
    **dict.fromkeys(("demo", "refresh", "cli", "__main__"), 5),
}
STAGES = {name for name, floor in FLOOR.items() if floor == 3}
MODULES = sorted(ROOT.rglob("*.py"))


def part_of(path: Path) -> str:
    first = path.relative_to(ROOT).parts[0]
    return first.removesuffix(".py")


def imported_parts(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names] if node.module == "pruner" else [node.module]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        found |= {name.split(".")[1] for name in names if name.startswith("pruner.")}
    return found - {"__version__"}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_imports_upward_and_stages_do_not_import_each_other(path: Path) -> None:
    own = part_of(path)
    for other in imported_parts(path) - {own}:
        assert FLOOR[other] <= FLOOR[own], f"{own} imports {other}, which lies above it"
        if own in STAGES and other in STAGES:
            pytest.fail(f"stage {own} imports stage {other}")


def test_every_part_has_a_floor() -> None:
    assert {part_of(path) for path in MODULES} <= set(FLOOR)


@pytest.mark.parametrize("heavy", ["polars", "pyarrow", "numpy", "pydantic", "pycountry"])
def test_help_answers_without_heavy_imports(heavy: str) -> None:
    code = f"import sys; from pruner.cli.boundary import guarded; guarded(['--help']); sys.exit({heavy!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, check=False).returncode == 0
