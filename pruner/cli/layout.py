"""The commands `layout check`, `layout learn` and `layout preview`."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pruner.cli import complete
from pruner.cli.layout_text import doubt_line
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, hint, is_conversation, tell
from pruner.cli.text import safe
from pruner.words.errors import ExitCode, SettingsError

if TYPE_CHECKING:
    from pruner.library.layouts import Doubt

_commands = typer.Typer(help="Layouts: how the import file of a radio looks.", no_args_is_help=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Adds the commands to the app."""
    app.add_typer(_commands, name="layout")


@_commands.command()
def check(
    file: Annotated[Path, typer.Argument(help="A layout (TOML).")],
    as_json: JsonOption = False,
) -> None:
    """Check a layout and show every mistake in it at once; writes nothing.

    What the file marks as DOUBTFUL is said on standard error.

    Example: pruner layout check loan-handheld.layout.toml
    """
    from pruner.cli.layout_text import layout_text
    from pruner.library.layouts import load_layout, plain_document

    layout = load_layout(file)
    if as_json:
        print(json.dumps(plain_document(layout), ensure_ascii=True, indent=2))
    else:
        print(layout_text(layout, file))
    for doubt in layout.doubts:
        print(f"pruner: {safe(str(file))}: {safe(doubt)}", file=sys.stderr)


@_commands.command()
def preview(
    layout: Annotated[Path | None, typer.Argument(help="A layout; not given: those of the settings' radios.")] = None,
    source: Annotated[
        list[Path] | None, typer.Option(help="A directory of stations to try it on, without settings. Repeatable.")
    ] = None,
    radio: Annotated[
        str | None, typer.Option(help="Which radio of the settings, where they name several.", autocompletion=complete.radios)
    ] = None,
    rows: Annotated[int, count_option(least=1, most=1000, help="How many rows to show.")] = 10,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Show telling rows of the file to import, beside what was read; writes nothing.

    The longest texts, what is cut and transliterated, other scripts, empty fields. Exits with 1 where the file would be
    empty. Examples: pruner layout preview · pruner layout preview my-radio.layout.toml --source stations.csv
    """
    from pruner.cli.preview_text import preview_lines
    from pruner.cli.text import strong
    from pruner.library.layouts import preview_settings, previews

    told = previews(preview_settings(settings, layout, source or [], radio), rows, tell)
    tell.end()
    plain = {name: [row.model_dump(mode="json") for row in found] for name, found in told.items()}
    if as_json:
        print(json.dumps(plain, ensure_ascii=True, indent=2))
    else:
        for name, found in told.items():
            print("\n".join([strong(name), *preview_lines(found)] if found else [f"{safe(name)}: the file would be empty"]))
    if not any(told.values()):
        raise typer.Exit(ExitCode.NOTHING_TO_DO)


@_commands.command()
def learn(
    sample: Annotated[Path, typer.Argument(help="A file that your programming software exported, with a few rows.")],
    out: Annotated[Path | None, typer.Option(help="Where to write the layout; not given: to standard output.")] = None,
    column: Annotated[
        list[str] | None, typer.Option(help='What a column holds, such as "4={town}"; counted from 1. Repeatable.')
    ] = None,
    capitals: Annotated[
        bool | None, typer.Option("--capitals/--no-capitals", help="Whether what stands in capitals there always does.")
    ] = None,
) -> None:
    """Learn a layout from a file that was exported from a radio's own software.

    Columns in doubt are marked in the layout; on a terminal they are asked about.

    Example: pruner layout learn export.csv --out my-radio.layout.toml
    """
    from pruner.cli.new_files import write_new
    from pruner.library.layouts import learn_layout

    answers = _answers(column or [])
    learned = learn_layout(sample, answers, capitals)
    asked = [doubt for doubt in learned.doubts if doubt.answer != "--capitals"]
    if asked and is_conversation():
        answers |= _asked(sample, answers, asked)
        learned = learn_layout(sample, answers, capitals)
    if out is None:
        print("".join(character if character in "\n\t" else safe(character) for character in learned.text))
        return
    write_new({out: learned.text + "\n"}, "name another file with --out or edit it")
    print(safe(str(out)))
    for note in learned.notes:
        print(safe(note), file=sys.stderr)
    for doubt in learned.doubts:
        print(doubt_line(doubt), file=sys.stderr)
    hint(f"next: pruner layout check {safe(str(out))}")


def _answers(given: list[str]) -> dict[int, str]:
    answers = {}
    for text in given:
        place, sign, template = text.partition("=")
        if not sign or not place.isascii() or not place.isdigit() or not 1 <= int(place) <= 10_000:
            raise SettingsError(f'--column: expected a position and what stands there, such as "4={{town}}", got {text!r}')
        answers[int(place) - 1] = _template(template)
    return answers


def _template(answer: str) -> str:
    from pruner.library.layouts import CONTACT_FIELDS, RUNNING

    return f"{{{answer}}}" if answer in (*CONTACT_FIELDS, *RUNNING) else answer


def _asked(sample: Path, given: dict[int, str], doubts: Sequence[Doubt]) -> dict[int, str]:
    """What the user says of each column in doubt; an answer that is no template is asked for again."""
    from pruner.library.layouts import CONTACT_FIELDS, learn_layout

    print(f"Fields: {', '.join(CONTACT_FIELDS)}, number; or a text that stands in every row.", file=sys.stderr)
    answers: dict[int, str] = {}
    for doubt in doubts:
        seen = ", ".join(repr(safe(example)) for example in doubt.examples)
        print(f"Column {doubt.place + 1}, {safe(doubt.title)!r}: {doubt.reason}. It holds: {seen}", file=sys.stderr)
        while doubt.place not in answers:
            answer = _template(typer.prompt("What stands here?", default=doubt.value, err=True))
            try:
                learn_layout(sample, {**given, **answers, doubt.place: answer})
                answers[doubt.place] = answer
            except SettingsError as error:
                print(safe(str(error)), file=sys.stderr)
    return answers
