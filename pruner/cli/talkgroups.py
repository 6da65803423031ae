"""The command `talkgroups`: fits a talkgroup list into radios and prints the account."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from pruner.cli.columns import ColumnOption, answered_list, columns_of_files
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, tell
from pruner.words.errors import SettingsError
from pruner.words.schema import TALKGROUP_MEANINGS


def register(app: typer.Typer) -> None:
    """Adds the command to the app."""
    app.command()(talkgroups)


def talkgroups(
    lists: Annotated[list[Path] | None, typer.Argument(help="Lists of talkgroups (short form).")] = None,
    limit: Annotated[int | None, count_option(help="Short form: how many talkgroups the radio holds.")] = None,
    mine: Annotated[list[int] | None, typer.Option(min=1, help="Short form: a talkgroup of yours. Repeatable.")] = None,
    country: Annotated[str | None, typer.Option(help="Short form: your country.")] = None,
    system: Annotated[str | None, typer.Option(help="Short form: dmr (default), nxdn or p25.")] = None,
    out: Annotated[Path | None, typer.Option(help="Short form: folder for the results (default: out).")] = None,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Fit a talkgroup list into the radios and account for every row.

    First go your own, then those that were heard, your country, its neighbours, the rest.

    Examples: pruner talkgroups ·
    pruner talkgroups groups.csv --limit 10000 --mine 232 --mine 91 --country AT
    """
    from pruner.cli.talkgroups_text import talkgroups_text
    from pruner.library.talkgroups import job_of_settings, run_talkgroups, short_job

    if lists:
        if limit is None:
            raise SettingsError("talkgroups: the short form needs --limit, the number of talkgroups that the radio holds")
        columns = columns_of_files(column, lists, TALKGROUP_MEANINGS)
        job = short_job(lists, limit, mine or (), country, system or "dmr", out or Path("out"), columns=columns)
    else:
        from pruner.library.settings import load_settings

        if any(value is not None for value in (limit, mine or None, country, system, out)):
            raise SettingsError("talkgroups: these options belong to the short form; name a list of talkgroups as well")
        job = job_of_settings(answered_list(load_settings(settings), column))
    result = run_talkgroups(job, tell)
    tell.end()
    if as_json:
        print(json.dumps([one.document() for one in result.summaries], ensure_ascii=True, indent=2))
        return
    print("\n\n".join(talkgroups_text(*pair) for pair in zip(result.summaries, result.folders, strict=True)))
