"""What several commands share: options, progress, hints. Imports nothing heavy."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Final

import typer

SettingsOption = Annotated[Path, typer.Option("--settings", help="The settings file.", show_default=True)]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
DEFAULT_SETTINGS: Final = Path("pruner.toml")


def tell(message: str) -> None:
    """Progress: on a terminal only."""
    if sys.stderr.isatty():
        print(f"  {message} ...", file=sys.stderr, flush=True)


def hint(message: str) -> None:
    """What could be done next: on a terminal only."""
    if sys.stderr.isatty():
        print(message, file=sys.stderr)
