"""`pruner fit`: the main job, and what other limits would hold."""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pruner.cli.columns import ColumnOption, answered
from pruner.cli.numbers import Counts, count_option, counts_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, tell
from pruner.cli.text import safe
from pruner.library.settings import ShortForm
from pruner.words.errors import SettingsError

if TYPE_CHECKING:
    from pruner.library.settings import Settings


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(fit)


def fit(
    files: Annotated[list[Path] | None, typer.Argument(help="Directories of stations (short form).")] = None,
    contacts: Annotated[int | None, count_option(help="Short form: how many contacts the radio holds.")] = None,
    country: Annotated[str | None, typer.Option(help="Short form: your country, kept first.")] = None,
    neighbours: Annotated[bool, typer.Option("--neighbours", help="Short form: then its neighbours.")] = False,
    locator: Annotated[str | None, typer.Option(help="Short form: your Maidenhead locator.")] = None,
    one_per_callsign: Annotated[bool, typer.Option("--one-per-callsign", help="Short form: one id per call sign.")] = False,
    system: Annotated[str | None, typer.Option(help="Short form: dmr (default), nxdn or p25.")] = None,
    layout: Annotated[Path | None, typer.Option(help="Short form: the layout of the file to import.")] = None,
    carried: Annotated[Path | None, typer.Option(help="Short form: an export of the radio; its entries stay, first.")] = None,
    drop: Annotated[list[Path] | None, typer.Option(help="Short form: a list of whom to leave out. Repeatable.")] = None,
    keep: Annotated[list[Path] | None, typer.Option(help="Short form: a list of whom to keep first. Repeatable.")] = None,
    out: Annotated[Path | None, typer.Option(help="Short form: folder for the results (default: out).")] = None,
    what_if: Annotated[
        Counts | None, counts_option("--what-if", help="Fit nothing; show what other limits would hold, such as 50k,200k.")
    ] = None,
    serial: Annotated[int, typer.Option(min=1, help="With --what-if: bits per second of the cable.")] = 9600,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Fit directories into the radios of the settings and account for every row.

    Examples: pruner fit · pruner fit --what-if 50000,100000,200000,500000 ·
    pruner fit stations.csv --contacts 200000 --country AT --neighbours --keep club.csv --out out --column id=3
    """
    lists = (tuple(drop or ()), tuple(keep or ()))
    form = ShortForm(contacts, country, neighbours, locator, one_per_callsign, out, system, layout, carried, *lists)
    chosen = _settings(files, form, what_if, column, settings)
    if what_if is not None:
        _show_what_if(chosen, what_if, serial, as_json)
        return
    from pruner.cli.several_text import several_text
    from pruner.cli.summary_text import summary_text
    from pruner.library.fits import run

    result = run(chosen, tell)
    tell.end()
    if files:
        from pruner.library.questions import remember

        remember(chosen)
    for note in result.notes:
        print(f"pruner: {safe(note)}", file=sys.stderr)
    if as_json:
        print(json.dumps([one.document() for one in result.summaries], ensure_ascii=True, indent=2))
    elif len(result.summaries) == 1:
        print(summary_text(result.summaries[0], result.folders[0]))
    else:
        print(several_text(result.summaries, result.folders))
    where = "" if files else f" --settings {safe(str(settings))}" if settings != DEFAULT_SETTINGS else ""
    hint(f"next: pruner why CALLSIGN{where}" if not files else f"next: pruner why CALLSIGN --out {safe(str(out or 'out'))}")


def _settings(
    files: list[Path] | None, form: ShortForm, what_if: list[int] | None, column: list[str] | None, settings: Path
) -> Settings:
    if files:
        if form.contacts is None and not what_if:
            raise SettingsError("fit: the short form needs --contacts, the number of contacts that the radio holds")
        from pruner.library.settings import short_settings

        return answered(short_settings(files, replace(form, contacts=form.contacts or max(what_if or [0]))), column)
    from pruner.library.settings import load_settings

    if form != ShortForm():
        raise SettingsError("fit: these options belong to the short form; name a file of stations as well")
    return answered(load_settings(settings), column)


def _show_what_if(settings: Settings, limits: list[int], serial: int, as_json: bool) -> None:
    from pruner.cli.summary_text import what_if_text
    from pruner.library.fits import load
    from pruner.library.questions import plain, what_if, write_what_if

    loaded = load(settings, tell)
    results = {radio.name: what_if(loaded, radio, limits, serial, tell) for radio in settings.radios}
    tell.end()
    files = write_what_if(results, settings.output.state / "what-if")
    if as_json:
        print(json.dumps({name: plain(rows) for name, rows in results.items()}, ensure_ascii=True, indent=2))
        return
    print("\n\n".join(what_if_text(name, rows) for name, rows in results.items()))
    print("\n" + "\n".join(safe(str(path)) for path in files))
