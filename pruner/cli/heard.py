"""The commands `heard fold`, `heard show` and `heard forget`: what was heard, and what is remembered of it."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pruner.cli.columns import ColumnOption, answered_logs, columns_of_files
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, tell
from pruner.errors import NothingToDoError, SettingsError

if TYPE_CHECKING:
    from pruner.settings.models import Settings

heard = typer.Typer(
    name="heard", help="Fold heard logs, show who was heard, forget.", no_args_is_help=True, rich_markup_mode=None
)
SystemOption = Annotated[str, typer.Option(help="dmr, nxdn or p25.")]


def register(app: typer.Typer) -> None:
    """Adds the commands to the app."""
    app.add_typer(heard)


@heard.command()
def fold(
    files: Annotated[list[Path] | None, typer.Argument(help="Heard logs (default: those of the settings).")] = None,
    system: Annotated[str | None, typer.Option(help="With FILES: dmr (default), nxdn or p25.")] = None,
    zone: Annotated[str | None, typer.Option(help="With FILES: zone of times that name none (default: UTC).")] = None,
    state: Annotated[Path | None, typer.Option(help="With FILES: state folder, where there are no settings.")] = None,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Take in what is new in heard logs and account for every row.

    A log is known by its content: folding it again, or under another name, changes nothing; a log that has grown is
    taken from where it ended.

    Examples: pruner heard fold ·
    pruner heard fold calls.csv --zone Europe/Vienna
    """
    from pruner.cli.heard_text import fold_text
    from pruner.pipeline.heard import LogFiles, fold_all, fold_logs
    from pruner.schema import HEARD_MEANINGS, SYSTEM_NAMES

    if not files:
        if any(value is not None for value in (system, zone, state)):
            raise SettingsError("heard fold: --system, --zone and --state go with files; name a heard log as well")
        result = fold_all(answered_logs(_load(settings), column), tell)
    else:
        if system not in (None, *SYSTEM_NAMES):
            raise SettingsError(f"heard fold: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
        known_zone = _zone(zone or "UTC")
        said = columns_of_files(column, files, HEARD_MEANINGS)
        alike = [columns for place, columns in enumerate(said) if columns not in said[:place]]
        logs = [
            LogFiles(
                [file for file, own in zip(files, said, strict=True) if own == columns], system or "dmr", known_zone, columns
            )
            for columns in alike
        ]
        result = fold_logs(state or _load(settings).output.state, logs, tell)
    tell.end()
    print(json.dumps(result.plain(), ensure_ascii=True, indent=2) if as_json else fold_text(result))
    hint("next: pruner heard show")


@heard.command()
def show(
    talkgroup: Annotated[list[int] | None, typer.Option(min=1, help="Only calls on this talkgroup. Repeatable.")] = None,
    days: Annotated[int | None, count_option(least=1, help="Only the last days; the last day is the last one heard.")] = None,
    count: Annotated[int, count_option(least=1, most=1000, help="Length of the lists.")] = 10,
    system: SystemOption = "dmr",
    state: Annotated[Path | None, typer.Option(help="State folder, where there are no settings.")] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Show who was heard most, on what talkgroups, since when.

    Exits with 1 when nothing was folded yet. Examples: pruner heard show ·
    pruner heard show --talkgroup 232 --days 28
    """
    from pruner.cli.heard_text import overview_text
    from pruner.heard.show import overview
    from pruner.heard.weights import load_weights
    from pruner.schema import SYSTEM_NAMES

    if system not in SYSTEM_NAMES:
        raise SettingsError(f"heard show: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
    folder = (state or _load(settings).output.state) / "heard" / system
    weights = load_weights(folder)
    found = overview(weights, talkgroups=talkgroup or None, within_days=days, count=count) if weights else None
    if found is None or not found.calls:
        raise NothingToDoError(f"{folder}: no such calls in the heard store; take logs in with: pruner heard fold")
    print(json.dumps(found.plain(), ensure_ascii=True, indent=2) if as_json else overview_text(found))


@heard.command()
def forget(
    before: Annotated[str, typer.Option(help="The first day that stays, such as 2026-01-01 (UTC).")],
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Remove all days before a date from the heard stores, for good.

    The days do not come back when an old log is folded again. The logs themselves are not touched.

    Example: pruner heard forget --before 2026-01-01
    """
    from pruner.cli.heard_text import counted
    from pruner.cli.text import paragraph
    from pruner.pipeline.heard import forget_days

    try:
        day = (datetime.date.fromisoformat(before) - datetime.date(1970, 1, 1)).days
    except ValueError:
        raise SettingsError(f"heard forget: --before {before!r}: expected a date such as 2026-01-01") from None
    removed = forget_days(_load(settings), day)
    if as_json:
        plain = {system: {"days": len(parts), "calls": sum(part.calls for part in parts)} for system, parts in removed.items()}
        print(json.dumps({"before": before, "removed": plain}, ensure_ascii=True, indent=2))
        return
    for system, parts in removed.items():
        calls = sum(part.calls for part in parts)
        gone = f"{counted(len(parts), 'day')} with {counted(calls, 'call')}"
        print(paragraph(f"{system}: {gone} forgotten; {before} is the first day from now on"))


def _load(settings: Path) -> Settings:
    from pruner.settings.load import load_settings

    return load_settings(settings)


def _zone(name: str) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise SettingsError(f"heard fold: --zone {name!r}: expected the name of a time zone, such as Europe/Vienna") from None
    return name
