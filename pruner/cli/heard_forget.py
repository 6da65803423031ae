"""The command `heard forget`: days that leave the heard stores for good."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import Annotated

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption
from pruner.words.days import day_number
from pruner.words.errors import SettingsError
from pruner.words.nouns import counted


def forget(
    before: Annotated[str | None, typer.Option(help="The first day that stays, such as 2026-01-01 (UTC).")] = None,
    day: Annotated[list[str] | None, typer.Option(help="One day, such as 2026-01-05 (UTC). Repeatable.")] = None,
    state: Annotated[Path | None, typer.Option(help="State folder, where there are no settings.")] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Remove all days before a date, or single days, from the heard stores, for good.

    The days do not come back when an old log is folded again. The logs themselves are not touched.

    Examples: pruner heard forget --before 2026-01-01 ·
    pruner heard forget --day 2026-01-05
    """
    from pruner.cli.text import paragraph
    from pruner.library.logs import forget_days
    from pruner.library.settings import load_call_settings

    if before is None and not day:
        raise SettingsError("heard forget: name days: --before 2026-01-01 or --day 2026-01-05")
    floor = None if before is None else _day("--before", before)
    folder = load_call_settings(settings).output.state if state is None else state
    removed = forget_days(folder, floor, [_day("--day", one) for one in day or ()])
    if as_json:
        plain = {
            system: {"days": len({part.day for part in parts}), "calls": sum(part.calls for part in parts)}
            for system, parts in removed.items()
        }
        print(json.dumps({"before": before, "days": sorted(day or ()), "removed": plain}, ensure_ascii=True, indent=2))
        return
    for system, parts in removed.items():
        calls = sum(part.calls for part in parts)
        gone = f"{counted(len({part.day for part in parts}), 'day')} with {counted(calls, 'call')}"
        first = f"; {before} is the first day from now on" if before else ""
        print(paragraph(f"{system}: {gone} forgotten{first}"))


def _day(option: str, text: str) -> int:
    try:
        return day_number(datetime.date.fromisoformat(text))
    except ValueError:
        raise SettingsError(f"heard forget: {option} {text!r}: expected a date such as 2026-01-01") from None
