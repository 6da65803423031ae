"""`pruner schedule`: regular refreshes by systemd or cron."""

from __future__ import annotations

import json
import os
import sys
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint
from pruner.cli.text import paragraph, safe
from pruner.words.errors import ExitCode, SettingsError

if TYPE_CHECKING:
    from pruner.refresh.outcome import LastRun
    from pruner.refresh.units import Plan

_NAME = "pruner-refresh"


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(schedule)


def schedule(
    every: Annotated[Literal["day", "week", "month"], typer.Option(help="Weekly means Monday, monthly the first.")] = "week",
    at: Annotated[str, typer.Option(help="Time of day, local.")] = "04:30",
    install: Annotated[bool, typer.Option("--install", help="Write the units and start the timer.")] = False,
    remove: Annotated[bool, typer.Option("--remove", help="Stop the timer and remove the units.")] = False,
    cron: Annotated[bool, typer.Option("--cron", help="Print a line for crontab -e instead.")] = False,
    status: Annotated[bool, typer.Option("--status", help="Tell how the last refresh went.")] = False,
    system: Annotated[
        bool | None, typer.Option("--system/--user", help="A service of the whole system or yours (default: by who you are).")
    ] = None,
    name: Annotated[str, typer.Option(help="Name of the units, where several settings are refreshed.")] = _NAME,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Print what makes pruner refresh regularly: a systemd service and timer, or a cron line.

    With --status exits with 1 when the last run did not go well, is overdue, or never was.
    Examples: pruner schedule --install · pruner schedule --every day --cron · pruner schedule --status
    """
    from pruner.library.settings import load_settings
    from pruner.refresh.schedule import heard_plan_for, plan_for

    if not hasattr(os, "geteuid"):
        raise SettingsError("schedule: this system has neither systemd nor cron; let its task planner run: pruner refresh")
    if sum((install, remove, cron, status)) > 1:
        raise SettingsError("schedule: choose one of --install, --remove, --cron and --status")
    loaded = load_settings(settings)
    plan = plan_for(loaded, settings, every, at, name=name, whole_system=system)
    light = heard_plan_for(loaded, plan)
    plans = [plan] if light is None else [plan, light]
    if status:
        _status(plans, as_json)
    elif install:
        _install(plans)
    elif remove:
        _remove(plan)
    elif cron:
        from pruner.refresh.units import cron_line

        print("".join(map(cron_line, plans)), end="")
        hint("cron makes up for no missed run: on a machine that sleeps use the systemd timer")
    else:
        _print(plans, as_json)


def _print(plans: list[Plan], as_json: bool) -> None:
    from pruner.refresh.units import service, timer

    texts = {f"{plan.name}.{kind}": text(plan) for plan in plans for kind, text in (("service", service), ("timer", timer))}
    if as_json:
        print(json.dumps(texts, ensure_ascii=True, indent=2))
        return
    print("\n".join(f"# {file}\n{text}" for file, text in texts.items()), end="")
    hint("next: pruner schedule --install")


def _install(plans: list[Plan]) -> None:
    from pruner.refresh.schedule import heard_name, install, remove

    if len(plans) == 1:  # the settings may have named addresses of heard logs before
        remove(heard_name(plans[0].name), whole_system=plans[0].user is not None)
    done = [install(plan) for plan in plans]
    for path in (path for one in done for path in one.files):
        print(safe(str(path)))
    for line in dict.fromkeys(line for one in done for line in one.to_do):
        print(paragraph(line), file=sys.stderr)


def _remove(plan: Plan) -> None:
    from pruner.refresh.schedule import heard_name, remove

    gone = [path for name in (plan.name, heard_name(plan.name)) for path in remove(name, whole_system=plan.user is not None)]
    for path in gone:
        print(safe(str(path)))
    if not gone:
        print("nothing was installed")
        raise typer.Exit(ExitCode.NOTHING_TO_DO)


def _status(plans: list[Plan], as_json: bool) -> None:
    from pruner.refresh.schedule import heard_status, status

    plan = plans[0]
    found = status(plan.state, plan.every, name=plan.name)
    heard_is_good, heard_sentence, heard_last = True, "", None
    for light in plans[1:]:
        heard_is_good, heard_sentence, heard_last = heard_status(light.state, light.minutes)
    good = found.good and heard_is_good
    if as_json:
        last, last_heard = (one and one.document() for one in (found.last, heard_last))
        told = {"good": good, "sentence": found.sentence, "last_run": last, "timer": found.timer}
        told |= {"heard": {"sentence": heard_sentence, "last_run": last_heard}} if heard_sentence else {}
        print(json.dumps(told, ensure_ascii=True, indent=2))
    else:
        print(paragraph(found.sentence))
        for line in _details(found.last):
            print(paragraph(line, "  "))
        if found.timer:
            print(paragraph(f"next: {found.timer.get('NextElapseUSecRealtime', '') or 'unknown'}", "  "))
        if heard_sentence:
            print(paragraph(heard_sentence))
    if not good:
        raise typer.Exit(ExitCode.NOTHING_TO_DO)


def _details(last: LastRun | None) -> list[str]:
    if last is None:
        return []
    from pruner.refresh.outcome import moment_text

    lines = [*last.kept_back.values(), last.result, *last.warnings, *last.more]
    if last.exit_code:
        lines.append(f"A refresh last went well: {moment_text(last.last_good) if last.last_good else 'never'}")
    return [line for line in lines if line]
