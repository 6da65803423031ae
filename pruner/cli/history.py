"""The commands `compare` and `forecast`: what changed between results, and when the directory outgrows a limit."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pruner.cli import complete
from pruner.cli.columns import ColumnOption
from pruner.cli.numbers import count_option
from pruner.words.disk import creating
from pruner.words.errors import ExitCode, SettingsError
from pruner.words.nouns import counted

if TYPE_CHECKING:
    from pruner.library.histories import Difference
    from pruner.library.settings import Settings

_DEFAULT = Path("pruner.toml")
SettingsOption = Annotated[Path, typer.Option("--settings", help="The settings file.", show_default=True)]
JsonOption = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


def register(app: typer.Typer) -> None:
    """Adds the commands to the app."""
    app.command()(compare)
    app.command()(forecast)


def compare(
    results: Annotated[
        list[Path] | None, typer.Argument(metavar="[OLD NEW]", help="Two results of a radio (folders) or two contact files.")
    ] = None,
    mark: Annotated[bool, typer.Option("--mark", help="Remember the present result as written to the radio.")] = False,
    radio: Annotated[
        str | None, typer.Option(help="Which radio, where the settings name several.", autocompletion=complete.radios)
    ] = None,
    threshold: Annotated[
        int | None,
        count_option(least=1, help="From how many changes on it counts. Two results: 1. A radio: worth_writing, or 1 in 200."),
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Write every change into this CSV file.")] = None,
    system: Annotated[str, typer.Option(help="What the ids of contact files are: dmr, nxdn or p25.")] = "dmr",
    export: Annotated[
        list[Path] | None, typer.Option(help="A fresh export of the radio: does it hold what was written? Repeatable.")
    ] = None,
    layout: Annotated[Path | None, typer.Option(help="The layout of the export, where it is not understood.")] = None,
    column: ColumnOption = None,
    settings: SettingsOption = _DEFAULT,
    as_json: JsonOption = False,
) -> None:
    """Show what was added, removed and changed: between two results, or since the radio was last written.

    Without OLD and NEW each radio's present result is compared with what --mark remembered, to tell whether writing the
    radio is worth the time. What is remembered holds no name and no call sign.

    Exits with 0 below the threshold, with 1 from the threshold on (a radio never marked counts as worth writing). With
    --export it exits with 0 where the radio holds what was written, with 1 where it does not.

    Examples: pruner compare out-old/loan-handheld out/loan-handheld --out changes.csv ·
    pruner compare --export radio.csv · pruner compare --mark · pruner compare
    """
    if export:
        if mark or threshold is not None or len(results or ()) > 1:
            raise SettingsError("compare: --export goes with one result at most, and without --mark and --threshold")
        code = _check_export(export, results or [], radio, layout, column, system, out, settings, as_json)
    elif layout is not None or column:
        raise SettingsError("compare: --layout and --column describe an export; name it with --export")
    elif results:
        if mark or radio is not None or len(results) != 2:
            raise SettingsError("compare: expected two results, OLD and NEW; --mark and --radio go without any")
        code = _compare_two(results[0], results[1], threshold or 1, out, system, as_json)
    else:
        from pruner.library.questions import finished_settings

        loaded = finished_settings(settings)
        radios = _radios(loaded, radio)
        if len(radios) > 1 and (mark or out):
            raise SettingsError(f"compare: name one radio with --radio: {', '.join(radios)}")
        code = _mark(loaded, radios[0], as_json) if mark else _since_written(loaded, radios, threshold, out, as_json)
    if code:
        raise typer.Exit(code)


def _compare_two(old: Path, new: Path, threshold: int, out: Path | None, system: str, as_json: bool) -> int:
    from pruner.cli.compare_text import pair_text
    from pruner.library.histories import compare as compare_contacts
    from pruner.library.histories import contacts_at
    from pruner.words.schema import SYSTEM_NAMES

    if system not in SYSTEM_NAMES:
        raise SettingsError(f"compare: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
    sides = [contacts_at(path, system) for path in (old, new)]
    found = compare_contacts(*sides)
    _write(found, out)
    for side in sides:
        if side.unread:
            _warn(f"{side.name}: {side.unread:,} rows could not be read and were left aside")
    if as_json:
        _print_json({"old_result": str(old), "new_result": str(new), "threshold": threshold, **found.plain()})
    else:
        print(pair_text(found, sides[0], sides[1]))
    return ExitCode.NOTHING_TO_DO if found.total >= threshold else ExitCode.DONE


def _check_export(
    exports: list[Path],
    results: list[Path],
    radio: str | None,
    layout: Path | None,
    column: list[str] | None,
    system: str,
    out: Path | None,
    settings: Path,
    as_json: bool,
) -> int:
    from pruner.cli.columns import columns_of_files
    from pruner.cli.export_text import export_text
    from pruner.library.histories import check_export, contacts_at, present_contacts, write_changes

    columns = {key: value for found in columns_of_files(column, exports) for key, value in found.items()}
    state = None
    if results:
        written = contacts_at(results[0], system)
    else:
        from pruner.library.questions import finished_settings

        loaded = finished_settings(settings)
        names = _radios(loaded, radio)
        if len(names) > 1:
            raise SettingsError(f"compare: an export is of one radio; name it with --radio: {', '.join(names)}")
        (radio,) = names
        written, system, state = present_contacts(loaded, radio), loaded.sources[0].system, loaded.output.state
    found = check_export(written, exports, system=system, described_by=layout, columns=columns, state=state, radio=radio or "")
    if out is not None:
        write_changes(found.difference, out)
    if as_json:
        _print_json({"result": written.name, "radio": radio, **found.plain()})
    else:
        print(export_text(found, written.name))
    return ExitCode.DONE if found.holds else ExitCode.NOTHING_TO_DO


def _since_written(loaded: Settings, radios: list[str], threshold: int | None, out: Path | None, as_json: bool) -> int:
    from pruner.cli.compare_text import since_text
    from pruner.library.histories import since_written

    if threshold is None:
        threshold = loaded.refresh.worth_writing
    answers = [since_written(loaded, radio, threshold) for radio in radios]
    for answer in answers:
        if answer.difference:
            with creating(loaded.output.mode):
                _write(answer.difference, out)
        elif out:
            raise SettingsError(f"compare: {answer.radio} was never marked as written, so there is nothing to put into {out}")
    if as_json:
        _print_json([answer.plain() for answer in answers])
    else:
        print("\n\n".join(since_text(answer) for answer in answers))
    return ExitCode.NOTHING_TO_DO if any(answer.worth for answer in answers) else ExitCode.DONE


def _mark(loaded: Settings, radio: str, as_json: bool) -> int:
    import datetime

    from pruner.cli.text import safe
    from pruner.library.histories import mark_written

    day = datetime.datetime.now(datetime.UTC).date()
    count = mark_written(loaded, radio, day)
    if as_json:
        _print_json({"radio": radio, "contacts": count, "written_on": day.isoformat()})
    else:
        print(f"{safe(radio)}: {counted(count, 'contact')} marked as written on {day}")
    return ExitCode.DONE


def _radios(loaded: Settings, radio: str | None) -> list[str]:
    """All radios, or the one that is named."""
    names = [one.name for one in loaded.radios if radio in (None, one.name)]
    if not names:
        raise SettingsError(f"compare: no radio is named {radio!r}")
    return names


def _write(found: Difference, out: Path | None) -> None:
    if out is not None:
        from pruner.library.histories import write_changes

        write_changes(found, out)


def _print_json(value: Any) -> None:
    print(json.dumps(value, ensure_ascii=True, indent=2))


def _warn(message: str) -> None:
    from pruner.cli.text import safe

    print(f"pruner: {safe(message)}", file=sys.stderr)


def forecast(
    limit: Annotated[list[int] | None, count_option(least=1, help="Another limit to ask for, in contacts. Repeatable.")] = None,
    snapshot: Annotated[
        list[str] | None, typer.Option(metavar="DATE=COUNT", help="Stations on a day, in place of the runs. Repeatable.")
    ] = None,
    snapshots: Annotated[Path | None, typer.Option(help="The same from a CSV file of date and count.")] = None,
    interval: Annotated[int, count_option(least=50, most=99, help="Probability of the interval of a date, in percent.")] = 90,
    settings: SettingsOption = _DEFAULT,
    as_json: JsonOption = False,
) -> None:
    """Tell when the directory outgrows 200,000 and 500,000 contacts and each radio, and what share of calls it names then.

    Growth is taken from the recorded runs (of refresh, and of plain fits one a day), or from counts given by hand. What a
    radio's rules want comes from its last run. "Today" is the last recorded day. Where the numbers do not carry a forecast it
    says so and exits with 1.

    Examples: pruner forecast ·
    pruner forecast --snapshots counts.csv --limit 300000
    """
    from pruner.cli.forecast_text import forecast_plain, forecast_text
    from pruner.library.histories import forecast as look_ahead
    from pruner.library.histories import limits_to_forecast, recorded_growth

    given = bool(snapshot or snapshots)
    loaded = None
    if not given or settings != _DEFAULT or settings.exists():
        from pruner.library.questions import finished_settings

        loaded = finished_settings(settings)
    growth = recorded_growth(loaded, snapshot or (), snapshots)
    for note in growth.notes:
        _warn(f"forecast: {note}")
    limits = limits_to_forecast(loaded, growth.runs, limit or ())
    found = look_ahead(growth.series, limits, interval / 100)
    for radio in loaded.radios if loaded else ():
        if found.growth and any(one.name == radio.name and one.wants is None for one in limits):
            _warn(f"forecast: {radio.name} was never fitted, so what its rules want is not known; run pruner fit first")
    if as_json:
        _print_json(forecast_plain(found, growth.aside))
    else:
        print(forecast_text(found, growth.aside))
    if not found.growth:
        raise typer.Exit(ExitCode.NOTHING_TO_DO)
