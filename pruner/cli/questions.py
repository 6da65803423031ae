"""The questions of `pruner init`, in plain words, each asked again until the answer can be used.

They are six at most, and one more where it is in doubt which column of a directory holds what.
"""

from __future__ import annotations

import glob
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from pruner.cli.columns import Columns, Table, columns_of, tables_of
from pruner.cli.numbers import MOST
from pruner.cli.text import paragraph, safe
from pruner.cli.understood_text import rows_table
from pruner.words.counts import count_between
from pruner.words.errors import PrunerError, SettingsError

if TYPE_CHECKING:
    from pruner.cli.init import Wishes
    from pruner.library.questions import Look

Answer = TypeVar("Answer")


def ask(wishes: Wishes, folder: Path, given: list[str]) -> None:
    """Asks for what no option said; relative paths are relative to the folder; `given`: what `--column` says."""
    if wishes.country is None and wishes.locator is None:
        wishes.country, wishes.locator = _asked("Where are you? A country, a Maidenhead locator, or both", _where)
    wishes.sources = _asked("Which directories of stations? Files, patterns or addresses", lambda text: _sources(text, folder))
    _ask_columns(wishes, folder, given)
    if not wishes.talkgroups:
        wishes.talkgroups = _asked("Which talkgroups do you use? Numbers, or nothing", _numbers, "")
    wishes.contacts, wishes.talkgroup_limit = _asked(
        "What does your radio hold? Contacts, and talkgroups if you know", _limits, f"{wishes.contacts}"
    )
    if wishes.sample is None:
        wishes.sample = _asked("A file that its programming software exported? Its path, or nothing", _sample, "")
    wishes.out = _asked("Where shall the files go? A folder", _folder, wishes.out)


def _ask_columns(wishes: Wishes, folder: Path, given: list[str]) -> None:
    """Shows three rows of each directory as understood, and asks once where something is in doubt."""
    tables = tables_of(wishes.sources, wishes.heard, folder)
    found = columns_of(given, tables)
    wishes.columns, wishes.heard_columns = found[: len(wishes.sources)], found[len(wishes.sources) :]
    is_asked = False
    for place, path in enumerate(_first_file(folder, location) for location in wishes.sources):
        if path is None:
            continue
        if _show(path, wishes.columns[place]).is_doubtful and not is_asked:
            is_asked = True
            table, known = tables[place], wishes.columns[place]
            question = "Is that right? Enter, or which column holds what, such as id=3 callsign=Station"
            wishes.columns[place] = _asked(question, lambda text: _columns(text, path, table, known), "yes")  # noqa: B023


def _first_file(folder: Path, location: str) -> Path | None:
    """The first file of a location; None of an address, and where there is none."""
    from pruner.library.files import expand

    if re.match(r"https?://", location):
        return None
    try:
        return next(iter(expand(str(folder / location))), None)
    except PrunerError:
        return None


def _show(path: Path, columns: Columns) -> Look:
    from pruner.library.questions import look_at

    look = look_at("source", path, columns=columns)
    typer.echo(paragraph(f"{path.name}: {look.sentence}" if look.sentence else look.trouble, "  "), err=True)
    if look.rows:
        typer.echo(rows_table(look.rows, "    "), err=True)
    return look


def _columns(text: str, path: Path, table: Table, known: Columns) -> Columns:
    """What is said of columns, shown with the rows; nothing changes for a yes."""
    if text.casefold() in ("", "y", "yes"):
        return known
    try:
        (said,) = columns_of(shlex.split(text), [table])
    except SettingsError as error:
        raise ValueError(error.problems[0].removeprefix("--column ")) from None
    if _show(path, {**known, **said}).trouble:
        raise ValueError("say it in another way, or press Enter")
    return {**known, **said}


def _asked(question: str, parse: Callable[[str], Answer], default: str | None = None) -> Answer:
    """The first answer that can be used; ValueError says why another cannot."""
    while True:
        answer = typer.prompt(question, default=default, show_default=bool(default), err=True)
        try:
            return parse(str(answer).strip())
        except ValueError as error:
            typer.echo(f"  {safe(str(error))}", err=True)


def _where(text: str) -> tuple[str | None, str | None]:
    """Country and locator; a locator alone gives the country of the nearest town."""
    from pruner.library.places import countries, geometry

    if countries.find(text):
        return text, None
    country, _, locator = text.rpartition(" ")
    if countries.find(country):
        try:
            geometry.locator_centre(locator)
        except ValueError:
            raise ValueError("the last word is no locator of 4, 6 or 8 characters, such as JN67 or JN67AB") from None
        return country.strip(), locator
    try:
        geometry.locator_centre(text)
    except ValueError:
        near = ", ".join(countries.nearest_names(text))
        raise ValueError("no country or locator is known by this" + (f"; did you mean {near}?" if near else "")) from None
    from pruner.library.places import country_of_locator

    nearest = country_of_locator(text)
    typer.echo(f"  {text} lies in or near {countries.NAMES[nearest]}.", err=True)
    return countries.CODES[nearest], text


def _sources(text: str, folder: Path) -> list[str]:
    if text and (folder / Path(text).expanduser()).is_file():
        return [str(Path(text).expanduser())]
    try:
        locations = [part for part in shlex.split(text.replace(",", " ")) if part]
    except ValueError:
        raise ValueError("a quotation mark is missing") from None
    if not locations:
        raise ValueError("at least one is needed")
    for place, location in enumerate(locations):
        if re.match(r"https?://", location):
            continue
        locations[place] = str(Path(location).expanduser())
        path = folder / locations[place]
        if not path.exists() and not glob.glob(str(path)):  # noqa: PTH207
            raise ValueError(f"there is no file {location}")
    return locations


def _numbers(text: str) -> list[int]:
    parts = [part for part in re.split(r"[\s,;]+", text) if part]
    if not all(part.isascii() and part.isdigit() and 0 < int(part) < 1 << 24 for part in parts):
        raise ValueError("numbers of talkgroups, with spaces between, such as 232 91")
    return [int(part) for part in parts]


def _limits(text: str) -> tuple[int, int | None]:
    """One or two numbers of things. Blanks stand between two numbers or inside one, so every way of reading them is tried."""
    parts = [part for part in re.split(r"\s*[;/]\s*|,\s+", text) if part]
    if len(parts) > 1:
        found = [parts]
    else:
        words = text.split()
        found = [[" ".join(words)], *([" ".join(words[:at]), " ".join(words[at:])] for at in range(1, len(words)))]
    readings = [numbers for texts in found if (numbers := _counts(texts)) is not None]
    if len(readings) > 1:
        raise ValueError(f"is that one number or two? Write {readings[0][0]}, or the two with ; between")
    if not readings or len(readings[0]) > 2:
        raise ValueError("one or two whole numbers, such as 200000 10000 or 200,000; 10,000")
    numbers = readings[0]
    return numbers[0], numbers[1] if len(numbers) == 2 else None


def _counts(texts: list[str]) -> list[int] | None:
    try:
        return [count_between(text, 0, MOST) for text in texts]
    except ValueError:
        return None


def _sample(text: str) -> Path | None:
    if not text:
        return None
    path = Path(text).expanduser()
    if not path.is_file():
        raise ValueError(f"there is no file {text}")
    return path


def _folder(text: str) -> str:
    if not text or "\0" in text:
        raise ValueError("the name of a folder")
    return text
