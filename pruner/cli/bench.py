"""`pruner bench`: a folder per customer, one load of the directories, one table."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, tell
from pruner.cli.text import safe
from pruner.words.errors import SettingsError


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(bench)


def bench(
    folders: Annotated[
        list[Path] | None, typer.Argument(metavar="FOLDER...", help="A folder for each customer, with a pruner.toml in it.")
    ] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Fit the radios of several customers over one load of the directories.

    The settings name what is the same for all: sources, heard logs, and tables that a customer does not have. The pruner.toml
    in a customer's folder names home, talkgroups, rules, radios; its tables go before. Results lie in out in each folder.

    Example: pruner bench customers/*
    """
    if not folders:
        raise SettingsError("bench: expected a folder for each customer, such as: pruner bench customers/*")
    from pruner.cli.bench_text import bench_text
    from pruner.library.fits import read_customers, run_bench
    from pruner.library.questions import remember

    results = run_bench(*read_customers(settings, folders), tell)
    tell.end()
    for result in results:
        if result.problem is None:
            remember(result.customer.settings)
        for note in result.notes if result.problem is None else str(result.problem).splitlines():
            print(f"pruner: {safe(result.customer.name)}: {safe(note)}", file=sys.stderr)
    if as_json:
        plain = [
            {
                "customer": result.customer.name,
                "problem": str(result.problem) if result.problem else None,
                "folders": [str(folder) for folder in result.folders],
                "summaries": [summary.document() for summary in result.summaries],
            }
            for result in results
        ]
        print(json.dumps(plain, ensure_ascii=True, indent=2))
    else:
        print(bench_text(results))
    problems = [result.problem for result in results if result.problem is not None]
    if problems:
        raise typer.Exit(max(problem.exit_code for problem in problems))
