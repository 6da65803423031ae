"""`pruner refresh` and `pruner rollback`: one unattended run, and the way back."""

from __future__ import annotations

import json
import signal
import sys
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Annotated

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, tell
from pruner.cli.text import paragraph, safe, shortened, table
from pruner.words.errors import ExitCode, LockedError

if TYPE_CHECKING:
    from pruner.library.results import Version
    from pruner.refresh.outcome import Outcome

QuietOption = Annotated[bool, typer.Option("--quiet", help="Say nothing when all went well.")]


def register(app: typer.Typer) -> None:
    """Adds the commands."""
    app.command()(refresh)
    app.command()(rollback)


def refresh(
    accept: Annotated[
        list[str] | None, typer.Option("--accept", help="Believe the new directory of this source once. Repeatable.")
    ] = None,
    purge: Annotated[bool, typer.Option("--purge", help="Afterwards drop old versions and files that were fetched.")] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Ask servers again and publish, although nothing calls for it.")
    ] = False,
    log_json: Annotated[Path | None, typer.Option("--log-json", help="Add a log for machines, a JSON object a line.")] = None,
    quiet: QuietOption = False,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Fetch the sources, guard against bad ones, fit, and publish all results in one step.

    In the output folder `current` leads to the present version; see also: pruner rollback, pruner schedule.
    Exits with 4 when a source could not be had or was refused and its last good files were used.
    Examples: pruner refresh · pruner refresh --accept world · pruner refresh --purge
    """
    from pruner.library.settings import load_settings
    from pruner.refresh.outcome import FAILED, headline, host_name, now
    from pruner.refresh.run import Options
    from pruner.refresh.run import refresh as run

    signal.signal(signal.SIGTERM, _interrupt)  # so that a run that is ended from outside still tells of it
    loaded = load_settings(settings)
    try:
        outcome = run(loaded, Options(tuple(accept or ()), purge, force, log_json), tell, _print_json if as_json else None)
    except LockedError:
        raise
    except BaseException:
        print(headline(FAILED, now(), host_name()), file=sys.stderr)
        raise
    if not as_json:
        if not quiet or not outcome.good:
            _show(outcome)
        for warning in outcome.warnings:
            print(f"pruner: {safe(warning)}", file=sys.stderr)
    if not outcome.good:
        raise typer.Exit(outcome.exit_code)


def _print_json(outcome: Outcome) -> None:
    print(json.dumps(outcome.plain(), ensure_ascii=True, indent=2))


def _interrupt(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _show(outcome: Outcome) -> None:
    """What came of it on standard output, what kept sources back on standard error; the rest on a terminal only."""
    print(safe(outcome.headline))
    print(safe(outcome.result))
    for line in outcome.kept_back.values():
        print(f"pruner: {safe(line)}", file=sys.stderr)
    for line in outcome.more:
        hint(paragraph(line, "  "))


def rollback(
    to: Annotated[int | None, typer.Option("--to", help="The number of a version (default: the one before).")] = None,
    show: Annotated[bool, typer.Option("--list", help="Change nothing; list the versions.")] = False,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Publish an earlier version again.

    It stays until a refresh finds something new. Exits with 1 when there is nothing to do.
    Examples: pruner rollback · pruner rollback --list · pruner rollback --to 7
    """
    from pruner.library.results import damaged, give_mode_to_versions, locked, versions
    from pruner.library.results import rollback as go_back
    from pruner.library.settings import load_settings

    output = load_settings(settings).output
    for line in damaged(output.folder, output.state):
        print(f"pruner: {safe(line)}", file=sys.stderr)
    if show:
        _list(versions(output.folder, output.state), as_json)
        return
    with locked(output.state, "rollback", output.mode):
        version = go_back(output.folder, output.state, to)
        give_mode_to_versions(output.folder, output.state, output.mode)
    if as_json:
        print(json.dumps(_plain(version), ensure_ascii=True, indent=2))
    else:
        print(f"{safe(str(output.folder))}: version {version.number} of {version.made_at[:10]} is published again")


def _list(known: list[Version], as_json: bool) -> None:
    if as_json:
        print(json.dumps([_plain(version) for version in known], ensure_ascii=True, indent=2))
    elif known:
        rows = [
            [
                str(version.number),
                version.made_at[:16].replace("T", " "),
                "published" if version.current else "",
                _kept(version),
            ]
            for version in known
        ]
        print(table([["version", "made (UTC)", "", "contacts"], *rows], right=[0]))
    else:
        print("no version was published yet; the first comes with: pruner refresh")
    if not known:
        raise typer.Exit(ExitCode.NOTHING_TO_DO)


def _kept(version: Version) -> str:
    kept = version.details.kept
    radios = [radio for radio in version.radios if not radio.startswith("talkgroups/")]
    return shortened(", ".join(f"{radio} {kept[radio]:,}" if radio in kept else radio for radio in radios), 40)


def _plain(version: Version) -> dict[str, object]:
    return {
        "number": version.number,
        "made_at": version.made_at,
        "published": version.current,
        "radios": list(version.radios),
        "kept": dict(version.details.kept) or None,
    }
