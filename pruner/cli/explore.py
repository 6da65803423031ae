"""The command `explore`: a page on which rules, limit and countries can be tried."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, tell
from pruner.cli.text import safe


def register(app: typer.Typer) -> None:
    """Adds the command to the app."""
    app.command()(explore)


def explore(
    radio: Annotated[str | None, typer.Option(help="Which radio, where the settings name several.")] = None,
    out: Annotated[Path | None, typer.Option(help="The page to write (default: explore.html in this folder).")] = None,
    open_it: Annotated[bool, typer.Option("--open", help="Open the page in the browser.")] = False,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Write a page on which to move rules, limit and countries and see at once what would be kept.

    The page is one file that needs no network. It holds counts, no ids, call signs or names, and copies the settings
    that it stands for. Rules with one_per_callsign and limits in bytes cannot be explored.

    Examples: pruner explore --open · pruner explore --radio loan-handheld --out try.html
    """
    from pruner.library.questions import explore as write_page

    written = write_page(settings, radio, out, tell)
    tell.end()
    if as_json:
        told = {"file": str(written.path), "radio": written.radio, "contacts": written.contacts, "bytes": written.bytes}
        print(json.dumps(told, ensure_ascii=True, indent=2))
    else:
        print(safe(str(written.path)))
    if open_it:
        _open(written.path)
    else:
        hint("next: open the page in a browser")


def _open(path: Path) -> None:
    import webbrowser

    from pruner.words.process import as_it_was

    as_it_was()
    if not webbrowser.open(path.as_uri()):
        print("explore: no browser could be started; open the page yourself", file=sys.stderr)
