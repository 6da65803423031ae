"""`pruner check`: every mistake in a settings file and in the files that it names."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import typer

from pruner.cli.columns import ColumnOption, answered
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, tell
from pruner.words.errors import PrunerError
from pruner.words.nouns import counted

if TYPE_CHECKING:
    from pruner.library.questions import Look, Trial
    from pruner.library.settings import Settings


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(check)


def check(column: ColumnOption = None, settings: SettingsOption = DEFAULT_SETTINGS, as_json: JsonOption = False) -> None:
    """Check a settings file and all files that it names and show every mistake at once; writes nothing.

    Every file is opened: which column gives what, with three rows as understood. The settings are tried: what fit
    would refuse is a mistake, and the exit code is that of fit. A heard log that cannot be read is said as well: fit goes on
    without it, and the exit code is that of heard fold. A rule that matches nobody is said, and is no mistake.
    Of each file to import three rows are shown (more: pruner layout preview).

    Example: pruner check --settings pruner.toml
    """
    from pruner.cli.text import paragraph, safe
    from pruner.cli.understood_text import looks_text
    from pruner.library.questions import looks, trial
    from pruner.library.settings import load_settings

    loaded = answered(load_settings(settings), column)
    found = list(looks(loaded))
    tried = trial(loaded, tell)
    tell.end()
    mistakes, code = _mistakes(tried, found)
    left_out, code_of_logs = _left_out(tried, found)
    more = [f"{line}; fit would go on without it" for line in left_out]
    for sentence in [*mistakes, *more, *_doubts(loaded), *tried.sentences]:
        print(f"pruner: {safe(sentence)}", file=sys.stderr)
    if as_json:
        shown = {name: [row.model_dump(mode="json") for row in rows] for name, rows in tried.previews.items()}
        files = [look.plain() for look in found]
        callers = [one.plain() for one in tried.callers]
        plain = {**json.loads(loaded.model_dump_json()), "mistakes": mistakes, "left_out": left_out}
        plain |= {"files": files, "callers": callers, "preview": shown}
        print(json.dumps(plain, ensure_ascii=True, indent=2))
    else:
        said = [f"{counted(len(mistakes), 'mistake')}, for which fit would be refused"] if mistakes else []
        said += [f"{counted(len(left_out), 'heard log')} that cannot be read"] if left_out else []
        print(f"{safe(str(settings))}: {' and '.join(said) or 'no mistakes'}")
        print(looks_text(found))
        for one in tried.callers:
            print(paragraph(one.sentence(), "  "))
        _show(loaded, tried)
    if code or code_of_logs:
        raise typer.Exit(code or code_of_logs)


def _mistakes(tried: Trial, found: Sequence[Look]) -> tuple[list[str], int]:
    """What would be refused, one line each, and the exit code of the first."""
    from pruner.library.questions import HEARD

    mistakes = {line: int(error.exit_code) for error in tried.refusals for line in str(error).splitlines()}
    for look in found:
        if look.what != HEARD and look.refused and not all(part in mistakes for part in look.trouble.split("; ")):
            mistakes.setdefault(look.trouble, look.refused)
    return list(mistakes), next(iter(mistakes.values()), 0)


def _left_out(tried: Trial, found: Sequence[Look]) -> tuple[list[str], int]:
    """Heard logs that cannot be read, one line each, and the exit code of `heard fold`."""
    from pruner.library.questions import HEARD

    lines = {line: int(code) for line, code in tried.left_out.items()}
    for look in found:
        if look.what == HEARD and look.refused and not any(line.startswith(look.path) for line in lines):
            lines[look.trouble] = look.refused
    return list(lines), min(lines.values(), default=0)


def _doubts(settings: Settings) -> list[str]:
    from pruner.library.fits import doubts_of, load_layouts

    try:
        return doubts_of(settings, load_layouts(settings))
    except PrunerError:
        return []


def _show(settings: Settings, tried: Trial) -> None:
    from pruner.cli.preview_text import preview_lines
    from pruner.cli.text import number, safe

    for rule in (*settings.drop, *settings.keep):
        print(f"  {'drop' if rule in settings.drop else 'keep'} {safe(rule.name)}")
    for radio in settings.radios:
        holds = counted(radio.contacts, "contact") if radio.contacts is not None else ""
        room = f"{number(radio.memory.bytes)} bytes" if radio.memory else ""
        print(f"  radio {safe(radio.name)}: {', '.join(text for text in (holds, room) if text)}")
        print(f"    -> {safe(str(settings.output.folder / radio.name))}")
        for line in preview_lines(tried.previews.get(radio.name, ()), "    "):
            print(line)
