"""What the shell can complete: names of radios and rules, read from the settings file as it stands."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import typer

from pruner.cli.shared import DEFAULT_SETTINGS


def radios(context: typer.Context, incomplete: str) -> list[str]:
    """Names of the radios."""
    return _names(context, incomplete, "radio")


def rules(context: typer.Context, incomplete: str) -> list[str]:
    """Names of the keep rules."""
    return _names(context, incomplete, "keep")


Completion = Callable[[typer.Context, str], list[str]]


def _names(context: typer.Context, incomplete: str, key: str) -> list[str]:
    """Nothing at all where the file cannot be read: completion never complains."""
    try:
        with Path(context.params.get("settings") or DEFAULT_SETTINGS).open("rb") as file:
            tables: Any = tomllib.load(file).get(key, [])
        names = [table["name"] for table in tables if isinstance(table.get("name"), str)]
    except (OSError, ValueError, AttributeError, TypeError, KeyError):
        return []
    return [name for name in names if name.startswith(incomplete) and name.isprintable()]
