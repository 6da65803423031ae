"""The command `coverage`: which order of contacts would have named the most callers."""

from __future__ import annotations

import json
from typing import Annotated

import typer

from pruner.cli.columns import ColumnOption, answered
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, tell
from pruner.words.errors import SettingsError


def register(app: typer.Typer) -> None:
    """Adds the command to the app."""
    app.command()(coverage)


def coverage(
    cuts: Annotated[int, count_option(least=1, most=100, help="How often the log is cut, at most.")] = 4,
    period: Annotated[
        int | None, count_option(least=1, most=366, help="Days scored after each cut (default: period_days of the settings).")
    ] = None,
    limit: Annotated[
        list[int] | None,
        count_option(least=1, help="A number of contacts (default: common ones and the radios'). Repeatable."),
    ] = None,
    talkgroups: Annotated[str | None, typer.Option(help="mine or all (default: mine, where the settings name any).")] = None,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Show how many calls your rules and each order would have named, on days that they did not know.

    The heard store is cut at a day: each chooses by what was known before, and is scored on the calls that came
    after. "your rules" are those of the settings, as fit would have applied them then; the orders stand alone, but those
    who were left out stay out. Exits with 1 when the log is too short.

    Examples: pruner coverage ·
    pruner coverage --limit 50000 --talkgroups all --json
    """
    from pruner.cli.coverage_text import coverage_text
    from pruner.library.questions import prove_orders
    from pruner.library.settings import load_settings

    if talkgroups not in (None, "mine", "all"):
        raise SettingsError(f"coverage: --talkgroups {talkgroups!r}: expected mine or all")
    loaded = answered(load_settings(settings), column)
    found = prove_orders(loaded, cuts=cuts, period_days=period, limits=limit or (), talkgroups=talkgroups, progress=tell)
    tell.end()
    plain = [one.plain() for one in found]
    print(json.dumps({"systems": plain}, ensure_ascii=True, indent=2) if as_json else coverage_text(found))
