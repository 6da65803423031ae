"""`pruner why`: the story of a contact, found by id, call sign, name or town."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Final

import typer

from pruner.cli import complete
from pruner.cli.shared import DEFAULT_SETTINGS, JsonOption, SettingsOption, tell
from pruner.cli.text import paragraph, safe, shortened
from pruner.words.errors import ExitCode, PrunerError, SettingsError

if TYPE_CHECKING:
    from pruner.library.fits import Loaded
    from pruner.library.questions import Person
    from pruner.library.results import Story
    from pruner.library.settings import Settings

#: So many contacts are listed.
_MOST: Final = 20


def register(app: typer.Typer) -> None:
    """Adds the command."""
    app.command()(why)


def why(
    contact: Annotated[
        str | None, typer.Argument(help="An id, a call sign or part of one, a name, a town; * and ? as in lists.")
    ] = None,
    rule: Annotated[
        str | None, typer.Option(help="Instead: who stands at the border of a keep rule.", autocompletion=complete.rules)
    ] = None,
    missed: Annotated[bool, typer.Option("--missed", help="Instead: all who were heard and are left out.")] = False,
    radio: Annotated[
        str | None, typer.Option(help="Which radio, where the settings name several.", autocompletion=complete.radios)
    ] = None,
    out: Annotated[Path | None, typer.Option(help="The result folder of a short-form fit (default: out).")] = None,
    settings: SettingsOption = DEFAULT_SETTINGS,
    as_json: JsonOption = False,
) -> None:
    """Tell the whole story of one contact in the last fit; list the contacts where several are meant.

    All words given must be found. Where nobody bears them, those that come near are listed, and what is known of an id, and
    it exits with 1.

    Examples: pruner why 2321234 · pruner why OE1XYZ · pruner why "Anna, Graz" · pruner why "OE1*" ·
    pruner why --rule "the rest" · pruner why --missed --json
    """
    if bool(contact) + (rule is not None) + missed != 1:
        raise SettingsError(
            "why: expected an id, a call sign, a name or a town, --rule with the name of a keep rule, or --missed"
        )
    from pruner.cli.why_text import border_text, why_text
    from pruner.library.results import border, stories

    loaded, folders = _results(settings, out, radio)
    if missed:
        _show_missed(folders, as_json)
        return
    if rule is not None:
        borders = [border(folder, rule) for folder in folders]
        told = [story for one in borders for story in one.stories]
        print(_json(told) if as_json else border_text(borders))
        if not told:
            raise typer.Exit(ExitCode.NOTHING_TO_DO)
        return
    told = [story for folder in folders for story in stories(folder, contact or "")]
    if told:
        print(_json(told) if as_json else why_text(told))
        return
    _search(contact or "", loaded, folders, as_json)


def _json(told: list[Story]) -> str:
    return json.dumps([story.document() for story in told], ensure_ascii=True, indent=2)


def _show_missed(folders: list[Path], as_json: bool) -> None:
    from pruner.cli.summary_text import missed_table
    from pruner.library.questions import missed_in
    from pruner.library.results import missed_sentence

    found = {folder.name: missed_in(folder) for folder in folders}
    if as_json:
        document = [one for name, missed in found.items() for one in missed.plain(name)]
        print(json.dumps(document, ensure_ascii=True, indent=2))
    else:
        for name, missed in found.items():
            print(paragraph(f"{shortened(name, 40)}. {missed_sentence(missed.coverage)}"))
            print(f"\n{missed_table(missed.stations)}" if missed.stations else "")
    if not any(missed.stations for missed in found.values()):
        raise typer.Exit(ExitCode.NOTHING_TO_DO)


def _results(settings: Path, out: Path | None, radio: str | None) -> tuple[Settings | None, list[Path]]:
    """The settings behind the results, as far as they are known, and the folders of the results."""
    from pruner.library.questions import file_of, finished_settings
    from pruner.library.results import result_folders

    if out is not None:
        folders = result_folders(out, radio)
        known = finished_settings(settings, out) if file_of(settings, out) != file_of(settings) else None
        if not folders and radio is None:
            raise SettingsError(f"{out}: holds no finished run; run pruner fit first")
    else:
        known = finished_settings(settings)
        folders = [known.output.folder / one.name for one in known.radios if radio in (None, one.name)]
    if not folders:
        raise SettingsError(f"why: no radio is named {radio!r}")
    return known, folders


def _search(contact: str, known: Settings | None, folders: list[Path], as_json: bool) -> None:
    """Looks for the words in the directories, since no id or call sign of the results is this."""
    from pruner.cli.why_text import found_text, why_text
    from pruner.library.questions import Found, find, number_of, sentences
    from pruner.library.results import outcomes, stories

    directory = _directory(known)
    number = number_of(contact)
    found = find(directory, contact, _MOST) if directory is not None and number is None else Found([], 0, is_near=False)
    if found.total == 1 and not found.is_near:
        (one,) = found.persons
        told = [story for folder in folders for story in stories(folder, str(one.number)) if story.system == one.system]
        if told:
            named = {"name": one.name, "town": one.town}
            told = [story.model_copy(update=named) if story.reason != "duplicate id" else story for story in told]
            print(_json(told) if as_json else why_text(told))
            return
    became = [outcomes(folder, [(one.system, one.number) for one in found.persons]) for folder in folders]
    persons = [(one, [outcome[one.system, one.number] for outcome in became]) for one in found.persons]
    said = sentences(contact, folders, known, directory) if found.is_near or not found.total else []
    if as_json:
        print(json.dumps(_plain(found.is_near, persons, folders, contact, said), ensure_ascii=True, indent=2))
    else:
        print(found_text(contact, found, persons, said))
    if found.is_near or not found.total:
        raise typer.Exit(ExitCode.NOTHING_TO_DO)


def _directory(known: Settings | None) -> Loaded | None:
    """The directories of the settings, read again; None, with a line, where they cannot be had."""
    from pruner.library.fits import load

    if known is None:
        print("pruner: names are not looked for, because the settings of these results are not known", file=sys.stderr)
        return None
    try:
        return load(known, tell, with_calls=False)
    except PrunerError as error:
        print(f"pruner: names are not looked for: {safe(str(error).splitlines()[0])}", file=sys.stderr)
        return None
    finally:
        tell.end()


def _plain(
    is_near: bool, persons: list[tuple[Person, list[str]]], folders: list[Path], contact: str, said: list[str]
) -> list[dict[str, object]]:
    """For JSON: one entry per contact that was found; one for what is known of a contact that was not."""
    entries: list[dict[str, object]] = [
        {
            "system": one.system,
            "id": one.number,
            "callsign": one.callsign,
            "name": one.name,
            "town": one.town,
            "country": one.country,
            "near": is_near,
            "outcomes": {folder.name: outcome for folder, outcome in zip(folders, became, strict=True)},
        }
        for one, became in persons
    ]
    if said:
        entries.append({"contact": contact, "outcome": "absent", "known": said})
    return entries
