"""The command `heard learn`: the pattern that reads a log of free lines."""

from __future__ import annotations

import json
import sys
from typing import Annotated

import typer

from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint
from pruner.cli.text import paragraph, safe
from pruner.words.errors import InputRefusedError, SettingsError


def learn(
    log: Annotated[str, typer.Argument(help="A heard log whose lines are free text: a file, or an address of the settings.")],
    write: Annotated[bool, typer.Option("--write", help="Write the pattern into the settings file.")] = False,
    system: Annotated[
        str | None, typer.Option(help="dmr, nxdn or p25 (default: that of the settings, else dmr).", show_default=False)
    ] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Find the pattern that reads a log of free lines, and show what it explains.

    Tables and JSON need no pattern: they are understood by their headings and cells.

    Example: pruner heard learn calls.log --write
    """
    from pruner.cli.heard_text import learned_text
    from pruner.library.logs import (
        learn_log,
        learned_from,
        snippet,
        undecided_dates,
        write_pattern,
        written_pattern,
    )
    from pruner.words.schema import SYSTEM_NAMES

    if system not in (None, *SYSTEM_NAMES):
        raise SettingsError(f"heard learn: --system {system!r}: expected one of {', '.join(SYSTEM_NAMES)}")
    source = learned_from(log, settings, system or "")
    learned = learn_log(source.path, source.system)
    is_doubtful = learned.events is not None and not learned.events.is_sure
    undecided = undecided_dates(source, learned.pattern)
    can_write = not is_doubtful and not undecided
    done = write_pattern(settings, source.path, learned.pattern, source.system) if write and can_write else ""
    if as_json:
        plain = {
            "pattern": learned.pattern,
            "explained": len(learned.explained),
            "others": len(learned.others),
            "examples": learned.examples,
            "unused": learned.unused,
            "undecided": undecided,
            "written": bool(done),
        }
        print(json.dumps(plain, ensure_ascii=True, indent=2))
    else:
        print(learned_text(learned, snippet(source, learned.pattern, bool(undecided))))
    if write and is_doubtful:
        raise InputRefusedError(
            f"{log}: its lines may be starts and ends of calls; nothing was written: put the table in by hand"
        )
    if undecided and write:
        raise InputRefusedError(f"{undecided}; nothing was written: write the order into the table shown, and copy it")
    if as_json:
        return
    if undecided:
        print(f"pruner: heard fold refuses the log as it is: {safe(undecided)}", file=sys.stderr)
        return
    if done:
        print(paragraph(f"the pattern is written into {done} of {settings}"))
    elif known := written_pattern(settings, source.path):
        print(paragraph(known))
    else:
        hint("next: add --write, or copy the table into the settings")
