"""The command `convert`."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from pruner.cli.columns import ColumnOption, columns_of_files
from pruner.cli.shared import JsonOption, tell
from pruner.words.errors import SettingsError


def register(app: typer.Typer) -> None:
    """Adds the command to the app."""
    app.command()(convert)


def convert(
    old: Annotated[Path, typer.Argument(help="A contact list that was exported from a radio.")],
    to: Annotated[Path, typer.Option(help="The layout of the file to write.")],
    out: Annotated[Path, typer.Option(help="A new folder; or, with an ending, the file to import.")],
    described_by: Annotated[
        Path | None,
        typer.Option("--from", help="The layout of the old file. Without it: its headings, or else its rows."),
    ] = None,
    system: Annotated[str, typer.Option(help="dmr, nxdn or p25.")] = "dmr",
    column: ColumnOption = None,
    as_json: JsonOption = False,
) -> None:
    """Carry a contact list from one radio to another, with an account of every row.

    Example: pruner convert old-radio.csv --to new-radio.layout.toml --out new-radio
    """
    from pruner.cli.layout_text import doubt_line
    from pruner.cli.text import number, safe, table
    from pruner.cli.understood_text import lines_aside, understood_lines
    from pruner.library.conversion import convert as carry

    (columns,) = columns_of_files(column, [old])
    if columns and described_by is not None:
        raise SettingsError("convert: --column goes without --from, whose layout says what every column holds")
    converted = carry(old, to, out, described_by=described_by, columns=columns, system=system, progress=tell)
    tell.end()
    summary = converted.summary
    if as_json:
        print(json.dumps(summary.document(), ensure_ascii=True, indent=2))
        return
    dropped = summary.dropped_rows
    print(
        f"read {number(summary.read)} = written {number(summary.kept)} + dropped {number(dropped)}"
        f" + rejected {number(summary.rejected)}"
    )
    for line in (*lines_aside(summary.changed), *understood_lines(summary.understood)):
        print(line)
    for doubt in converted.doubts:
        print(f"pruner: {safe(old.name)}: {doubt_line(doubt)} (with pruner layout learn, then --from)", file=sys.stderr)
    for title, counts in (
        ("not written", {**summary.dropped, **summary.rejected_reasons}),
        ("changed", summary.changed),
    ):
        if counts:
            print("\n" + table([(title, "rows"), *((word, number(count)) for word, count in counts.items())], right=(1,)))
    print()
    for path in converted.files:
        print(safe(str(path)))
    print("\nBack up the radio before writing it.")
