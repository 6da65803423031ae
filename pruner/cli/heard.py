"""The commands `heard fold`, `fetch`, `cluster` and `show`: what was heard, and who."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pruner.cli.columns import ColumnOption, answered_logs, columns_of_files
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, SystemOption, hint, tell
from pruner.cli.text import safe
from pruner.words.errors import NothingToDoError, SettingsError

if TYPE_CHECKING:
    from pruner.library.settings import Settings

heard = typer.Typer(
    name="heard", help="Fold heard logs, show who was heard, forget.", no_args_is_help=True, rich_markup_mode=None
)


def register(app: typer.Typer) -> None:
    """Adds the commands to the app."""
    from pruner.cli.heard_forget import forget
    from pruner.cli.heard_learn import learn

    heard.command()(forget)
    heard.command()(learn)
    app.add_typer(heard)


@heard.command()
def fold(
    files: Annotated[list[Path] | None, typer.Argument(help="Heard logs (default: those of the settings).")] = None,
    system: Annotated[
        str | None, typer.Option(help="With FILES: dmr (default), nxdn or p25; goes before the settings.")
    ] = None,
    zone: Annotated[
        str | None, typer.Option(help="With FILES: zone of times that name none (default: that of the settings, else UTC).")
    ] = None,
    dates: Annotated[str | None, typer.Option(help='With FILES: "day first", "month first" or "year first".')] = None,
    state: Annotated[Path | None, typer.Option(help="With FILES: state folder, where there are no settings.")] = None,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Take in what is new in heard logs and account for every row.

    Every call counts once, whatever logs it stands in: folding a log again, a copy of it, or one that tells the same in
    another order changes nothing. A log that cannot be read harms no other; the command then ends with 3, or with 4 where it is
    not there. Of FILES that a [[heard]] table of the settings finds, its pattern, columns and zone hold.

    Examples: pruner heard fold ·
    pruner heard fold calls.csv --zone Europe/Vienna --column id=Radio
    """
    from pruner.cli.heard_text import fold_text, understood
    from pruner.library.logs import fold_all, fold_logs, named_logs
    from pruner.words.schema import HEARD_MEANINGS, SYSTEM_NAMES

    if not files:
        if any(value for value in (system, zone, state, dates)):
            raise SettingsError(
                "heard fold: options for logs go with files; name a heard log as well, or write them in the settings"
            )
        result = fold_all(answered_logs(_load(settings), column), tell)
    else:
        if system not in (None, *SYSTEM_NAMES):
            raise SettingsError(f"heard fold: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
        said, order = columns_of_files(column, files, HEARD_MEANINGS), _dates(dates or "")
        known_zone = _zone(zone) if zone else ""
        loaded = None if state is not None else _load(settings)
        logs = named_logs(files, said, loaded, system=system or "", zone=known_zone, dates=order)
        if loaded is None:
            result = fold_logs(state or Path(), logs, tell)
        else:
            result = fold_logs(loaded.output.state, logs, tell, keep_days=loaded.calls.keep_days)
    tell.end()
    for line in understood(result):
        print(line, file=sys.stderr)
    print(json.dumps(result.plain(), ensure_ascii=True, indent=2) if as_json else fold_text(result))
    if result.troubles:
        print("\n".join(f"pruner: {safe(line)}" for line in result.troubles), file=sys.stderr)
        raise typer.Exit(result.exit_code)
    hint("next: pruner heard show")


@heard.command()
def fetch(
    force: Annotated[bool, typer.Option("--force", help="Ask now, although the interval has not passed.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Say nothing when all went well.")] = False,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Fetch the heard logs whose location is an address, and take in what is new.

    Made to run every few minutes (pruner schedule sees to it): it locks the heard store only, never the results. Exits with 4
    where an address could not be had or its page cannot be read; pages that came wait until they can be.

    Example: pruner heard fetch
    """
    from pruner.cli.heard_text import fetch_text
    from pruner.library.logs import fetch_and_fold

    result = fetch_and_fold(_load(settings), force=force, progress=tell)
    tell.end()
    if as_json:
        print(json.dumps(result.plain(), ensure_ascii=True, indent=2))
    elif not quiet:
        print(fetch_text(result))
    for line in result.troubles:
        print(f"pruner: {safe(line)}", file=sys.stderr)
    if result.exit_code:
        raise typer.Exit(result.exit_code)


@heard.command()
def cluster(
    address: Annotated[str, typer.Argument(help="Address of the cluster (Spark Connect), such as sc://host:15002.")],
    paths: Annotated[list[str], typer.Argument(help="Heard logs, by the paths that the cluster knows.")],
    form: Annotated[str, typer.Option("--format", help="parquet, orc, csv (with headings) or json (lines).")] = "parquet",
    system: SystemOption = "dmr",
    zone: Annotated[str, typer.Option(help="Zone of times that name none.")] = "UTC",
    dates: Annotated[str, typer.Option(help='"day first", "month first" or "year first".')] = "",
    column: ColumnOption = None,
    state: Annotated[Path | None, typer.Option(help="State folder, where there are no settings.")] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Fold heard logs that lie on a cluster: it finds the distinct rows, which are brought here and folded as any log.

    The calls are those of a fold of the same files on this machine. Needs the extra cluster.

    Example: pruner heard cluster sc://cluster.example.org:15002 /logs/2026/
    """
    from pruner.cli.heard_text import cluster_text
    from pruner.library.logs import ClusterLogs, fold_on_cluster
    from pruner.words.schema import HEARD_MEANINGS, SYSTEM_NAMES

    if system not in SYSTEM_NAMES:
        raise SettingsError(f"heard cluster: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
    (said,) = columns_of_files(column, [Path(paths[0])], HEARD_MEANINGS)
    logs = ClusterLogs(paths, form, system, _zone(zone), said, _dates(dates))
    if state is not None:
        result = fold_on_cluster(state, address, logs, tell)
    else:
        loaded = _load(settings)
        result = fold_on_cluster(loaded.output.state, address, logs, tell, keep_days=loaded.calls.keep_days)
    tell.end()
    print(json.dumps(result.plain(), ensure_ascii=True, indent=2) if as_json else cluster_text(result))
    hint("next: pruner heard show")


@heard.command()
def show(
    talkgroup: Annotated[list[int] | None, typer.Option(min=1, help="Only calls on this talkgroup. Repeatable.")] = None,
    days: Annotated[int | None, count_option(least=1, help="Only the last days; the last day is the last one heard.")] = None,
    count: Annotated[int, count_option(least=1, most=1000, help="Length of the lists.")] = 10,
    everybody: Annotated[bool, typer.Option("--all", help="Every caller on every talkgroup.")] = False,
    system: SystemOption = "dmr",
    state: Annotated[Path | None, typer.Option(help="State folder, where there are no settings.")] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Show who was heard most, on what talkgroups, since when; with settings also what the directory says of them.

    Exits with 1 when nothing was folded yet. Examples: pruner heard show ·
    pruner heard show --talkgroup 232 --days 28 ·
    pruner heard show --all --json
    """
    from pruner.cli.heard_text import callers_plain, callers_text, overview_plain, overview_text
    from pruner.library.logs import callers, heard_in, heard_of, overview
    from pruner.words.schema import SYSTEM_NAMES

    if system not in SYSTEM_NAMES:
        raise SettingsError(f"heard show: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
    loaded = None if state else _load(settings)
    found = heard_of(loaded, system) if loaded else heard_in(state or Path(), system)
    weights = found.weights
    seen = overview(weights, talkgroups=talkgroup or None, within_days=days, count=count) if weights else None
    if weights is None or seen is None or not seen.calls:
        folder = (loaded.output.state if loaded else state or Path()) / "heard" / system
        raise NothingToDoError(f"{folder}: no such calls in the heard store; take logs in with: pruner heard fold")
    if found.note:
        print(f"pruner: {safe(found.note)}", file=sys.stderr)
    if everybody:
        rows = callers(weights, talkgroups=talkgroup or None, within_days=days).to_dicts()
        known = found.callers([row["id"] for row in rows if row["id"] is not None])
        print(json.dumps(callers_plain(rows, known), ensure_ascii=True, indent=1) if as_json else callers_text(rows, known))
        return
    known = found.callers([line.number for line in seen.most_heard if isinstance(line.number, int)])
    has_directory = found.directory is not None
    plain = overview_plain(seen, known) if as_json else {}
    print(json.dumps(plain, ensure_ascii=True, indent=2) if as_json else overview_text(seen, known, has_directory, talkgroup))


def _load(settings: Path) -> Settings:
    from pruner.library.settings import load_call_settings

    return load_call_settings(settings)


def _zone(name: str) -> str:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise SettingsError(f"heard fold: --zone {name!r}: expected the name of a time zone, such as Europe/Vienna") from None
    return name


def _dates(order: str) -> str:
    from pruner.library.logs import ORDERS

    if order not in ("", *ORDERS):
        raise SettingsError(f"heard fold: --dates {order!r}: expected one of {', '.join(map(repr, ORDERS))}")
    return order
