"""The commands. Each turns options into settings, makes one call into the library and prints the result."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pruner import __version__
from pruner.cli.numbers import count_option
from pruner.cli.shared import hint, tell

app = typer.Typer(
    name="pruner",
    help="Fits a world directory of digital-voice stations exactly into the contact memory of a radio.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(asked: bool) -> None:
    if asked:
        print(f"pruner {__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")] = False,
) -> None:
    """Fits a world directory of digital-voice stations exactly into the contact memory of a radio."""


@app.command()
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


# Commands that live in modules of their own; each adds itself to the app and imports nothing heavy.
from pruner.cli import fit as _fit  # noqa: E402
from pruner.cli import init as _init  # noqa: E402

_init.register(app)

from pruner.cli import check as _check  # noqa: E402

_check.register(app)
_fit.register(app)

from pruner.cli import bench as _bench  # noqa: E402
from pruner.cli import why as _why  # noqa: E402

_bench.register(app)

_why.register(app)

from pruner.cli import limits as _limits  # noqa: E402

_limits.register(app)

from pruner.cli import talkgroups as talkgroup_command  # noqa: E402

talkgroup_command.register(app)

from pruner.cli import history as _history  # noqa: E402

_history.register(app)

from pruner.cli import refresh as _refresh  # noqa: E402

_refresh.register(app)

from pruner.cli import heard as _heard  # noqa: E402

_heard.register(app)

from pruner.cli import schedule as _schedule  # noqa: E402

_schedule.register(app)

from pruner.cli import layout as _layout  # noqa: E402

_layout.register(app)

from pruner.cli import convert as _convert  # noqa: E402

_convert.register(app)

from pruner.cli import coverage as _coverage  # noqa: E402

_coverage.register(app)

from pruner.cli import explore as _explore  # noqa: E402

_explore.register(app)

from pruner.cli import report as _report  # noqa: E402

_report.register(app)
