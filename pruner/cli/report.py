"""The command `report`: the page of a finished run, or of several side by side."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Annotated, Final

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, tell
from pruner.words.disk import PRIVATE, creating

_DEFAULT_OUT: Final = Path("report.html")


def register(app: typer.Typer) -> None:
    """Adds the command to the app."""
    app.command()(report)


def report(
    results: Annotated[
        Path | None, typer.Argument(help="A result folder, or a folder of them (default: those of the settings).")
    ] = None,
    radio: Annotated[str | None, typer.Option(help="Only this radio (default: all, side by side).")] = None,
    out: Annotated[Path, typer.Option(help="The file to write.")] = _DEFAULT_OUT,
    charts: Annotated[bool, typer.Option("--charts", help="Draw charts; needs the extra `charts`.")] = False,
    show: Annotated[bool, typer.Option("--open", help="Show the page in the browser.")] = False,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Write the page of the last fit again, with charts or with several radios side by side; fits nothing.

    A finished run is only read. The page is one file that needs no network and runs no script. It lands in the current
    folder as report.html if --out names no other place.

    Examples: pruner report --charts --open ·
    pruner report --radio loan-handheld --out loan.html ·
    pruner report out/loan-handheld
    """
    from pruner.cli.text import safe
    from pruner.library.results import comparison, published_on, runs_in, runs_of_settings, write_page

    date, series, mode = None, None, PRIVATE
    if results is not None:
        runs = runs_in(results, radio)
    else:
        from pruner.library.histories import recorded_growth
        from pruner.library.questions import finished_settings

        loaded = finished_settings(settings)
        series = recorded_growth(loaded).series
        runs, date = runs_of_settings(loaded, radio), published_on(loaded)
        mode = loaded.output.mode
    tell("drawing charts" if charts else "writing the page")
    with creating(mode):
        write_page(runs, out, charts=charts, date=date, series=series)
    tell.end()
    if as_json:
        print(json.dumps({"file": str(out.absolute()), "radios": comparison(runs)}, ensure_ascii=True, indent=2))
    else:
        print(safe(str(out.absolute())))
    if show and not _shown(out):
        hint("no browser can be opened here; open the file by hand")


def _shown(page: Path) -> bool:
    """Whether a browser took the page; without a display none is asked, because it could take over the terminal."""
    if sys.platform == "linux" and not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        return False
    import webbrowser

    from pruner.words.process import as_it_was

    as_it_was()
    return webbrowser.open(page.resolve().as_uri())
