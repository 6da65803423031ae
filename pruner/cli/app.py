"""The commands. Each turns options into settings, makes one call into the library and prints the result."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from pruner import __version__
from pruner.cli.columns import ColumnOption, answered
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, tell
from pruner.words.nouns import counted

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


@app.command()
def check(column: ColumnOption = None, settings: SettingsOption = DEFAULT_SETTINGS, as_json: JsonOption = False) -> None:
    """Check a settings file and the layouts it names and show every mistake at once; writes nothing.

    Every file that the settings name is opened: which column gives what, with three rows as understood. The rules are
    tried on the directories that are at hand; a rule that matches nobody is said, and is no mistake. Of each file
    to import three rows are shown (more: pruner layout preview).

    Example: pruner check --settings pruner.toml
    """
    from pruner.cli.preview_text import preview_lines
    from pruner.cli.text import number, safe
    from pruner.cli.understood_text import looks_text
    from pruner.library.fits import doubts_of, load_layouts
    from pruner.library.questions import looks, trial
    from pruner.library.settings import load_settings

    loaded = answered(load_settings(settings), column)
    doubts = doubts_of(loaded, load_layouts(loaded))
    found = list(looks(loaded))
    tried = trial(loaded, tell)
    tell.end()
    for sentence in [*doubts, *tried.sentences]:
        print(f"pruner: {safe(sentence)}", file=sys.stderr)
    if as_json:
        shown = {name: [row.model_dump(mode="json") for row in rows] for name, rows in tried.previews.items()}
        plain = {**json.loads(loaded.model_dump_json()), "files": [look.plain() for look in found], "preview": shown}
        print(json.dumps(plain, ensure_ascii=True, indent=2))
        return
    print(f"{safe(str(settings))}: no mistakes")
    print(looks_text(found))
    for rule in (*loaded.drop, *loaded.keep):
        print(f"  {'drop' if rule in loaded.drop else 'keep'} {safe(rule.name)}")
    for radio in loaded.radios:
        holds = counted(radio.contacts, "contact") if radio.contacts is not None else ""
        room = f"{number(radio.memory.bytes)} bytes" if radio.memory else ""
        print(f"  radio {safe(radio.name)}: {', '.join(text for text in (holds, room) if text)}")
        print(f"    -> {safe(str(loaded.output.folder / radio.name))}")
        for line in preview_lines(tried.previews.get(radio.name, ()), "    "):
            print(line)


# Commands that live in modules of their own; each adds itself to the app and imports nothing heavy.
from pruner.cli import fit as _fit  # noqa: E402
from pruner.cli import init as _init  # noqa: E402

_init.register(app)
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
