"""`pruner init`: at most six questions, and one more where columns are in doubt; or options; to a commented settings file."""

from __future__ import annotations

import shlex
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pruner.cli.columns import ColumnOption, Columns, columns_of, tables_of
from pruner.cli.new_files import write_new
from pruner.cli.numbers import count_option
from pruner.cli.shared import DEFAULT_SETTINGS, SettingsOption, is_conversation, tell
from pruner.cli.text import number, safe
from pruner.words.disk import write_whole
from pruner.words.errors import PrunerError, SettingsError
from pruner.words.nouns import counted

if TYPE_CHECKING:
    from pruner.library.questions import FirstLook
    from pruner.library.settings import Settings


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(init)


@dataclass(slots=True)
class Wishes:
    """What is asked for, by options or by answers."""

    country: str | None = None
    locator: str | None = None
    sources: list[str] = field(default_factory=list)
    columns: list[Columns] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    heard_columns: list[Columns] = field(default_factory=list)
    talkgroups: list[int] = field(default_factory=list)
    contacts: int = 200_000
    talkgroup_limit: int | None = None
    sample: Path | None = None
    out: str = "out"


def init(
    source: Annotated[
        list[str] | None, typer.Option(help="A directory of stations: file, pattern or address. Repeatable.")
    ] = None,
    country: Annotated[str | None, typer.Option(help="Your country: a name or an ISO 3166-1 code.")] = None,
    locator: Annotated[str | None, typer.Option(help="Your Maidenhead locator, for distances.")] = None,
    talkgroup: Annotated[list[int] | None, typer.Option(min=1, help="A talkgroup that you use. Repeatable.")] = None,
    heard: Annotated[list[str] | None, typer.Option(help="A log of heard calls: file or pattern. Repeatable.")] = None,
    contacts: Annotated[int, count_option(help="How many contacts the radio holds.")] = 200_000,
    talkgroups: Annotated[int | None, count_option(help="How many talkgroups it holds.")] = None,
    sample: Annotated[Path | None, typer.Option(help="A file that its programming software exported: gives a layout.")] = None,
    radio: Annotated[str | None, typer.Option(help="A name for the radio (default: handheld).")] = None,
    out: Annotated[str, typer.Option(help="Folder for the results.")] = "out",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only show what would happen; write nothing.")] = False,
    column: ColumnOption = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
) -> None:
    """Write a commented settings file, or add a radio to an existing one; nothing else in it is changed.

    Without --source it asks, on a terminal. It opens the directories, says which column gives what and what a fit would do.
    Examples: pruner init · pruner init --source stations.csv --country AT --contacts 200000 ·
    pruner init --radio second --contacts 10000
    """
    wishes = Wishes(country, locator, source or [], [], heard or [], [], talkgroup or [], contacts, talkgroups, sample, out)
    adds = settings.exists() and radio is not None and not wishes.sources
    if adds and (country, locator, heard, talkgroup, column, out) != (None, None, None, None, None, "out"):
        raise SettingsError(
            f"init: {settings} exists; a radio is added with --radio, --contacts, --talkgroups and --sample alone"
        )
    if settings.exists() and not dry_run and not adds:
        raise SettingsError(
            f"{settings}: exists already; edit it, name another file with --settings, or add a radio: "
            "pruner init --radio NAME --contacts NUMBER"
        )
    name = radio if radio is not None else "handheld"
    if adds:
        _add_radio(settings, wishes, name, dry_run)
    else:
        _new_settings(settings, wishes, name, column or [], dry_run)


def _new_settings(settings: Path, wishes: Wishes, radio: str, column: list[str], dry_run: bool) -> None:
    asked = not wishes.sources
    if asked:
        if not is_conversation():
            raise SettingsError("init: expected --source, a directory of stations; or run it on a terminal, where it asks")
        from pruner.cli.questions import ask

        ask(wishes, settings.absolute().parent, column)
    else:
        _answer(wishes, settings.absolute().parent, column)
    learned = _learned(wishes.sample)
    known = _loaded(settings, _text(wishes, radio, None))
    unread = _show_files(known, ("heard",) if asked else ("source", "heard"))
    print(_look(known, learned), file=sys.stdout if dry_run else sys.stderr)
    if dry_run:
        return
    layout = settings.with_name(f"{radio}.layout.toml")
    files = {layout: learned} if learned is not None else {}
    files[settings] = _text(wishes, radio, layout.name if learned is not None else None)
    for path in write_new(files, "move it away, or name another radio or settings file"):
        print(safe(str(path)))
    if unread:
        said = f"{counted(unread, 'heard log')} named in {settings} cannot be read as it stands: pruner check says why"
        print(f"pruner: {safe(said)}; until then fit goes on without", file=sys.stderr)
    _say_next(settings, known)


def _add_radio(settings: Path, wishes: Wishes, radio: str, dry_run: bool) -> None:
    """Puts one more radio at the end of a settings file, whose text stays as it is."""
    from pruner.library.settings import radio_table, read_text

    text, learned = read_text(settings), _learned(wishes.sample)
    line = "\r\n" if "\r\n" in text else "\n"

    def with_radio(described_by: str | None) -> str:
        table = radio_table(radio, wishes.contacts, wishes.talkgroup_limit, described_by)
        return f"{text.rstrip()}{line}{line}{table.replace(chr(10), line)}{line}"

    known = _loaded(settings, with_radio(None))  # refuses a name that cannot be that of a folder or a file
    layout = settings.with_name(f"{radio}.layout.toml")
    known = known.model_copy(update={"radios": known.radios[-1:]})
    print(_look(known, learned), file=sys.stdout if dry_run else sys.stderr)
    if dry_run:
        return
    made = write_new({layout: learned}, "move it away, or name another radio") if learned is not None else []
    try:
        write_whole(settings, with_radio(layout.name if made else None), of_user=True)
    except OSError as error:
        for path in made:
            path.unlink(missing_ok=True)
        raise SettingsError(f"{settings}: cannot be written ({error.strerror})") from error
    for path in (*made, settings):
        print(safe(str(path)))
    _say_next(settings, known)


def _say_next(settings: Path, known: Settings) -> None:
    where = f" --settings {safe(shlex.quote(str(settings)))}" if settings != DEFAULT_SETTINGS else ""
    remote = any(source.is_remote for source in known.sources)
    tell.end()
    print(f"next: pruner {'refresh' if remote else 'fit'}{where}", file=sys.stderr)


def _text(wishes: Wishes, radio: str, layout: str | None) -> str:
    from pruner.library.settings import commented_settings

    return commented_settings(
        wishes.country,
        wishes.locator,
        wishes.sources,
        wishes.contacts,
        radio,
        wishes.out,
        talkgroups=wishes.talkgroups,
        heard=wishes.heard,
        talkgroup_limit=wishes.talkgroup_limit,
        layout=layout,
        columns=wishes.columns,
        heard_columns=wishes.heard_columns,
    )


def _answer(wishes: Wishes, folder: Path, given: list[str]) -> None:
    """Takes what `--column` says of the sources and logs; without FILE it holds for the sources."""
    found = columns_of(given, tables_of(wishes.sources, wishes.heard, folder))
    wishes.columns, wishes.heard_columns = found[: len(wishes.sources)], found[len(wishes.sources) :]


def _show_files(settings: Settings, kinds: tuple[str, ...]) -> int:
    """One line for each file of sources or logs that is at hand: which column gives what, or why it cannot be read. Returns how
    many logs cannot be."""
    from pruner.library.questions import HEARD, looks

    found = [look for look in looks(settings) if look.what.startswith(kinds)]
    for look in found:
        print(f"pruner: {safe(f'{look.path}: {look.sentence}' if look.sentence else look.trouble)}", file=sys.stderr)
    return sum(look.what == HEARD and bool(look.refused) for look in found)


def _learned(sample: Path | None) -> str | None:
    if sample is None:
        return None
    from pruner.cli.layout_text import doubt_line
    from pruner.library.layouts import learn_layout

    learned = learn_layout(sample)
    for note in learned.notes:
        print(f"pruner: {safe(note)}", file=sys.stderr)
    for doubt in learned.doubts:
        print(f"pruner: {doubt_line(doubt)}", file=sys.stderr)
    return learned.text + "\n"


def _loaded(path: Path, text: str) -> Settings:
    from pruner.library.settings import settings_of

    return settings_of(path, text)


def _look(settings: Settings, learned: str | None) -> str:
    """What a fit would do with the sources that are at hand; `learned`: the layout of the radio."""
    from pruner.library.layouts import layout_of
    from pruner.library.questions import first_look

    if any(source.is_remote for source in settings.sources):
        return "The directories come from the network: run pruner refresh, then pruner fit."
    try:
        looks = first_look(settings, layout_of(learned, draft=True) if learned else None, tell)
    except PrunerError as error:
        return f"Could not be tried out: {safe(str(error))}"
    finally:
        tell.end()
    return "\n".join(line for look in looks for line in _look_lines(look))


def _look_lines(look: FirstLook) -> list[str]:
    from pruner.cli.preview_text import preview_lines

    lines = [
        f"{number(look.rows)} rows hold {number(look.contacts)} contacts; {safe(look.radio)} would hold {number(look.kept)}:"
    ]
    lines += [f"  {safe(name)}: {number(kept)}" for name, kept in look.rules]
    lines.append(f"  The limit falls inside rule '{safe(look.cut)}'." if look.cut else "  All that the rules allow fit.")
    return [*lines, *preview_lines(look.preview, "  ")]
