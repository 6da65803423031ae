"""The option `--column`: which column of a file holds what, said on the command line.

Receives `[FILE:]MEANING=COLUMN` as people write it, hands on meanings and columns for each file that a command reads. What is
said here beats the settings.
"""

from __future__ import annotations

import contextlib
import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Annotated, Any, Final, TypeVar

import typer

from pruner.words import schema
from pruner.words.errors import PrunerError, SettingsError

if TYPE_CHECKING:
    from pruner.library.settings import Heard, Settings, Source

ColumnOption = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="[FILE:]MEANING=COLUMN",
        help="Which column holds what: its heading, or its position from 1; such as id=3. Repeatable.",
    ),
]
Columns = dict[str, str | int]
Model = TypeVar("Model")
#: A table has fewer columns than this.
_MOST: Final = 100_000


@dataclass(frozen=True, slots=True)
class Table:
    """A file that a command reads: `names` by which FILE may call it, what its columns can mean, and whether an answer without
    FILE holds for it."""

    names: tuple[str, ...]
    meanings: tuple[str, ...] = schema.STATION_ANSWERS
    is_main: bool = True


def columns_of_files(
    given: Sequence[str] | None, files: Sequence[Path], meanings: tuple[str, ...] = schema.STATION_ANSWERS
) -> list[Columns]:
    """What was said of each file that stands on the command line. Raises SettingsError with one line per wrong answer."""
    return columns_of(given or (), [Table(_names(file), meanings) for file in files])


def columns_of(given: Sequence[str], tables: Sequence[Table]) -> list[Columns]:
    """What was said of each table. Raises SettingsError with one line per wrong answer."""
    found: list[Columns] = [{} for _ in tables]
    problems = []
    for text in given:
        try:
            file, meaning, column = _parsed(text, tables)
            meant = [place for place, table in enumerate(tables) if _is_meant(table, file)]
            for place in meant:
                _check_meaning(meaning, tables[place].meanings)
                if found[place].setdefault(meaning, column) != column:
                    raise ValueError(f"{meaning} was given another column before")
        except ValueError as error:
            problems.append(f"--column {text!r}: {error}")
    if problems:
        raise SettingsError(problems)
    return found


def tables_of(sources: Sequence[str], logs: Sequence[str], folder: Path) -> list[Table]:
    """Locations of sources and of heard logs, relative to a folder, as tables."""
    return [
        *(Table((location, *_names(folder / location))) for location in sources),
        *(Table((location, *_names(folder / location)), schema.HEARD_MEANINGS, False) for location in logs),
    ]


def answered(settings: Settings, given: Sequence[str] | None) -> Settings:
    """Settings with what was said of the files that they name; without FILE an answer holds for the sources."""
    if not given:
        return settings
    groups, rules = settings.talkgroups, (*settings.drop, *settings.keep)
    tables = [Table(tuple(_names_of_source(source, settings.output.state))) for source in settings.sources]
    tables += [Table(_names_of_log(heard), schema.HEARD_MEANINGS, False) for heard in settings.heard]
    tables += [Table(_names(rule.list), schema.LIST_ANSWERS, False) for rule in rules]
    tables += [Table(_names(radio.carried), is_main=False) for radio in settings.radios]
    tables += [Table(_names(groups.list), schema.TALKGROUP_MEANINGS, False)]
    said = iter(columns_of(given, tables))
    return settings.model_copy(
        update={
            "sources": tuple(_with(source, "columns", next(said)) for source in settings.sources),
            "heard": tuple(_with(heard, "columns", next(said)) for heard in settings.heard),
            "drop": tuple(_with(rule, "list_columns", next(said)) for rule in settings.drop),
            "keep": tuple(_with(rule, "list_columns", next(said)) for rule in settings.keep),
            "radios": tuple(_with(radio, "carried_columns", next(said)) for radio in settings.radios),
            "talkgroups": _with(groups, "list_columns", next(said)),
        }
    )


def answered_list(settings: Settings, given: Sequence[str] | None) -> Settings:
    """The same for a command that reads the list of talkgroups alone, for which an answer without FILE holds."""
    if not given:
        return settings
    (said,) = columns_of(given, [Table(_names(settings.talkgroups.list), schema.TALKGROUP_MEANINGS)])
    return settings.model_copy(update={"talkgroups": _with(settings.talkgroups, "list_columns", said)})


def answered_logs(settings: Settings, given: Sequence[str] | None) -> Settings:
    """The same for a command that reads the heard logs alone."""
    tables = [Table(_names_of_log(heard), schema.HEARD_MEANINGS) for heard in settings.heard]
    said = columns_of(given or (), tables)
    heard = tuple(_with(one, "columns", columns) for one, columns in zip(settings.heard, said, strict=True))
    return settings.model_copy(update={"heard": heard})


def _with(model: Model, key: str, columns: Columns) -> Model:
    changed: Any = model
    return changed.model_copy(update={key: {**getattr(model, key), **columns}}) if columns else model


def _names(path: PurePath | None) -> tuple[str, ...]:
    """A path as it was given, as an absolute one, and its name; of a pattern also those of the files that it matches."""
    if path is None:
        return ()
    from pruner.library.files import expand

    paths = [path, Path(path).absolute()]
    with contextlib.suppress(PrunerError):  # whoever reads the files says what is wrong
        paths += expand(str(Path(path).absolute()))
    return tuple(dict.fromkeys([*map(str, paths), *(one.name for one in paths)]))


def _names_of_log(heard: Heard) -> tuple[str, ...]:
    path = PurePath(heard.location)
    return (heard.location, path.name) if heard.is_remote else _names(path)


def _names_of_source(source: Source, state: Path) -> Iterator[str]:
    yield source.name
    if source.is_remote:
        yield from (source.location, PurePath(source.location).name, str(state / "sources" / source.name / "body"), "body")
    else:
        yield from _names(PurePath(source.location))


def _parsed(text: str, tables: Sequence[Table]) -> tuple[str | None, str, str | int]:
    """File (None: not named), meaning and column. Raises ValueError with a sentence."""
    legal = tuple(dict.fromkeys(meaning for table in tables for meaning in table.meanings))
    sides = text.split("=")
    if len(sides) < 2:
        raise ValueError("expected [FILE:]MEANING=COLUMN, such as id=3")
    splits = [("=".join(sides[:cut]), "=".join(sides[cut:])) for cut in range(1, len(sides))]
    left, column = next((one for one in splits if one[0].rpartition(":")[2].strip() in legal), splits[0])
    file, colon, meaning = left.rpartition(":")
    meaning, column = meaning.strip(), column.strip()
    _check_meaning(meaning, legal)
    if colon and not any(_is_meant(table, file) for table in tables):
        known = ", ".join(dict.fromkeys(table.names[-1] for table in tables if table.names)) or "none"
        raise ValueError(f"no file {file!r} is read here (there are: {known})")
    if not column:
        raise ValueError("expected a heading, or a position counted from 1, behind the =")
    if not (column.isascii() and column.isdigit()):
        return file if colon else None, meaning, column
    if not 1 <= int(column[:9]) < _MOST or len(column) > len(str(_MOST)):
        raise ValueError(f"positions count from 1, got {column[:9]}")
    return file if colon else None, meaning, int(column)


def _check_meaning(meaning: str, legal: Sequence[str]) -> None:
    if meaning in legal:
        return
    near = difflib.get_close_matches(meaning.casefold().replace(" ", "_"), legal, n=1, cutoff=0.6)
    hint = f"did you mean {near[0]}?" if near else f"legal here: {', '.join(legal)}"
    raise ValueError(f"{meaning!r} is nothing that a column holds; {hint}")


def _is_meant(table: Table, file: str | None) -> bool:
    if file is None:
        return table.is_main
    return file in table.names or str(Path(file).absolute()) in table.names
