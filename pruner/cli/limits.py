"""The command `limits`: is a larger radio worth it?"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from pruner.cli import complete
from pruner.cli.columns import ColumnOption, answered
from pruner.cli.numbers import Counts, count_option, counts_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, tell
from pruner.words.errors import SettingsError


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(limits)


def limits(
    more: Annotated[Counts | None, counts_option("--limit", help="More limits to ask for, such as 100k,300k.")] = None,
    radio: Annotated[
        str | None, typer.Option(help="Only this radio (default: all of the settings).", autocompletion=complete.radios)
    ] = None,
    snapshot: Annotated[
        list[str] | None, typer.Option(metavar="DATE=COUNT", help="Stations on a day, in place of the runs. Repeatable.")
    ] = None,
    snapshots: Annotated[Path | None, typer.Option(help="The same from a CSV file of date and count.")] = None,
    interval: Annotated[int, count_option(least=50, most=99, help="Probability of the interval of a date, in percent.")] = 90,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Show whether a larger radio is worth it: what other limits would hold, until when, and what the next size gains.

    Looked at are 10,000, 50,000, 200,000 and 500,000 contacts, the limits of the radios, and those that you ask for. Each is
    filled by the rules as they stand. Calls to come need heard logs; dates need recorded runs or counts by hand, as forecast
    does. It fits nothing and writes nothing.

    Examples: pruner limits · pruner limits --limit 100000,300000 --radio loan-handheld
    """
    from pruner.cli.limits_text import limits_text
    from pruner.library.fits import load
    from pruner.library.histories import recorded_growth
    from pruner.library.limits import limit_table
    from pruner.library.questions import finished_settings

    chosen = answered(finished_settings(settings), column)
    radios = [one for one in chosen.radios if radio in (None, one.name)]
    if not radios:
        raise SettingsError(f"limits: no radio is named {radio!r}; there are {', '.join(one.name for one in chosen.radios)}")
    growth = recorded_growth(chosen, snapshot or (), snapshots)
    for note in growth.notes:
        print(f"pruner: limits: {note}", file=sys.stderr)
    found = limit_table(load(chosen, tell), radios, growth.series, more or (), interval / 100, tell)
    tell.end()
    if as_json:
        print(json.dumps(found.model_dump(mode="json", by_alias=True), ensure_ascii=True, indent=2))
    else:
        print(limits_text(found))
