"""The commands. Each turns options into settings, makes one call into the library and prints the result."""

from __future__ import annotations

import importlib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Final

import typer

from pruner import __version__
from pruner.cli.numbers import count_option
from pruner.cli.shared import hint, tell

#: Module -> its commands or group of commands, in the order of the help.
HOMES: Final[Mapping[str, tuple[str, ...]]] = {
    "init": ("init",),
    "check": ("check",),
    "fit": ("fit",),
    "bench": ("bench",),
    "why": ("why",),
    "limits": ("limits",),
    "talkgroups": ("talkgroups",),
    "history": ("compare", "forecast"),
    "refresh": ("refresh", "rollback"),
    "heard": ("heard",),
    "schedule": ("schedule",),
    "layout": ("layout",),
    "convert": ("convert",),
    "coverage": ("coverage",),
    "explore": ("explore",),
    "report": ("report",),
}


def _version(asked: bool) -> None:
    if asked:
        print(f"pruner {__version__}")
        raise typer.Exit


def main(
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")] = False,
) -> None:
    """Fits a world directory of digital-voice stations exactly into the contact memory of a radio."""


def demo(
    folder: Annotated[Path, typer.Argument(help="A new or empty folder.")],
    stations: Annotated[int, count_option(least=1000, most=500_000, help="Rows of the world directory.")] = 330_000,
) -> None:
    """Write an invented world directory with settings to try every command on.

    Example: pruner demo tour && cd tour && pruner fit
    """
    from pruner.cli.text import safe
    from pruner.demo.write import write_demo

    tell("inventing stations")
    for path in write_demo(folder, stations):
        print(safe(str(path)))
    hint(f"next: pruner fit --settings {safe(str(folder / 'pruner.toml'))}")


def homes_of(arguments: Sequence[str]) -> tuple[str, ...]:
    """The modules whose commands must be made for a command line: one where it begins with the name of a command, else all,
    since help, completion and a hint for a misspelt name speak of all."""
    first = arguments[0] if arguments else ""
    return tuple(home for home, names in HOMES.items() if first in names) or tuple(HOMES)


def commands(homes: Sequence[str] = tuple(HOMES)) -> typer.Typer:
    """The command line with the commands of some modules: making all of them takes longer than a short command."""
    app = typer.Typer(
        name="pruner",
        help="Fits a world directory of digital-voice stations exactly into the contact memory of a radio.",
        no_args_is_help=True,
        add_completion=True,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )
    app.callback()(main)
    app.command()(demo)
    for home in homes:
        importlib.import_module(f"pruner.cli.{home}").register(app)
    return app
