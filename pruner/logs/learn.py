"""A log of free lines -> the pattern that reads it, and the settings with that pattern.

Receives a location, hands on what was learned (`read.line_pattern`) and the text of a settings file.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from pruner.logs.named import table_of
from pruner.logs.pages import page_folder, pages_of
from pruner.read.date_texts import ORDERS
from pruner.read.delimited import recode_lines
from pruner.read.heard_log import holds_tables, open_log
from pruner.read.heard_pattern import pattern_log
from pruner.read.line_pattern import Learned, lacking, learn
from pruner.read.stream import beginning, refuse_no_table, text_blocks
from pruner.settings.load import load_call_settings
from pruner.settings.values import is_address
from pruner.sources.local import expand
from pruner.sources.location import shown
from pruner.table.open_file import is_made_of_tables
from pruner.words.disk import write_whole
from pruner.words.errors import InputRefusedError, NothingToDoError, SettingsError

if TYPE_CHECKING:
    from pruner.settings.models import Heard

DEFAULT_SYSTEM: Final = "dmr"
_NO_PATTERN: Final = "is a table, and tables need no pattern: pruner heard fold reads it as it is"
_READ_BYTES: Final = 1 << 20
_TABLE: Final = re.compile(r"^\s*\[\[heard\]\]\s*(?:#.*)?$")
_LOCATION: Final = re.compile(r"""^\s*location\s*=\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)')""")


def learn_log(path: Path, system: str) -> Learned:
    """The pattern of a log, from its first lines. Raises InputRefusedError where no form of line tells calls, and
    NothingToDoError for a table."""
    holds = holds_tables(path)
    head = b"" if holds else beginning(path, _READ_BYTES)
    if holds or is_made_of_tables(head.lstrip()):
        open_log(path, {}, [], is_finished=True, system=system)  # refuses what is no log
        raise NothingToDoError(f"{path}: {_NO_PATTERN}")
    refuse_no_table(path, head)
    lines = recode_lines(head)[0].decode(errors="replace").split("\n")
    learned = learn(lines, system)
    if learned is None and _is_table(path, system):
        raise NothingToDoError(f"{path}: {_NO_PATTERN}")
    if learned is None:
        raise InputRefusedError(
            f"{path}: no form of line in it tells who called, on which talkgroup, and when: "
            f"{', '.join(lacking(lines, system))}; write a pattern yourself: "
            "[[heard]] pattern = '(?P<time>...) ... (?P<id>...) ... (?P<talkgroup>...)'"
        )
    return learned


def _is_table(path: Path, system: str) -> bool:
    """Whether a log is read without a pattern."""
    try:
        return open_log(path, {}, [], is_finished=True, system=system) is not None
    except InputRefusedError:
        return False


@dataclass(frozen=True, slots=True)
class LearnedFrom:
    """What a pattern is learned from: the file, and the location that the user gave. `is_address`: the file is a page of it;
    `dates`: their order as the settings say, "" where they do not; `system` of its calls."""

    path: Path
    location: str
    is_address: bool = False
    dates: str = ""
    system: str = DEFAULT_SYSTEM


def learned_from(location: str, settings: Path, system: str = "") -> LearnedFrom:
    """The file that a location means: itself, or the last page of an address of the settings. A page may also be named by its
    file. `system`: what was said of its calls, "" where nothing was. Raises SettingsError for an address that the settings do
    not name and where they name another system, SourceMissingError where no page is there."""
    known = load_call_settings(settings) if settings.exists() else None
    if not is_address(location):
        table = table_of(known, Path(location))
        if table is None:
            return LearnedFrom(Path(location), location, system=system or DEFAULT_SYSTEM)
        place = table.location if table.is_remote else location
        return LearnedFrom(Path(location), place, table.is_remote, table.dates or "", _system(table, system))
    remote = [heard for heard in known.heard if heard.is_remote] if known else []
    for heard in remote:
        if known is not None and location in (heard.location, shown(heard.location)):
            page = pages_of(known, heard).newest()
            return LearnedFrom(page, heard.location, True, heard.dates or "", _system(heard, system))
    raise SettingsError(
        f"{shown(location)}: {settings} names no such address; put it there ([[heard]] location), then: pruner heard fetch"
    )


def _system(heard: Heard, said: str) -> str:
    if said and "system" in heard.model_fields_set and said != heard.system:
        raise SettingsError(
            f"{shown(heard.location)}: its table [[heard]] has system = {heard.system!r}, the command says {said!r}; change one"
        )
    return said or heard.system


def undecided_dates(source: LearnedFrom, pattern: str) -> str:
    """Why a fold refuses a log by the pattern that was learned of it, in one line: nothing decides the order of its dates. ""
    where a fold takes it."""
    head = next(iter(text_blocks(source.path, None)), b"")
    try:
        pattern_log(source.path, head, pattern, source.system, source.dates)
    except InputRefusedError as error:
        return str(error)
    return ""


def snippet(source: LearnedFrom, pattern: str, is_undecided: bool = False) -> str:
    """The table of the settings that reads a log by a pattern; of an address the lines that go into its table. Where nothing
    decides the order of dates, a line to complete is among them."""
    line = f"{_system_line(source.system)}pattern = '''{pattern}'''\n"
    if is_undecided:
        line += f'dates = ""  # write one of: {", ".join(ORDERS)}\n'
    if source.is_address:
        return f"# into the table [[heard]] of {shown(source.location)}\n{line}"
    return f"[[heard]]\nlocation = {_quoted(source.location)}\n{line}"


def _system_line(system: str) -> str:
    return "" if system == DEFAULT_SYSTEM else f'system = "{system}"\n'


def write_pattern(settings: Path, path: Path, pattern: str, system: str = DEFAULT_SYSTEM) -> str:
    """Writes a pattern into a settings file: into the table [[heard]] whose location finds the log, else into a new one; and
    the system, where it says none and that is not dmr.

    Returns what was done, in words. Raises SettingsError where the file cannot be read or that table has a pattern.
    """
    if known := written_pattern(settings, path):
        raise SettingsError(f"{known}; take it out first")
    text, tables = _tables(settings)
    lines = text.splitlines()
    place, number = _place(lines, settings.parent, path)
    if place is None:
        table = snippet(LearnedFrom(path, str(path.resolve()), system=system), pattern)
        made = (text.rstrip() + "\n\n" if text.strip() else "") + table
        done = "a new table [[heard]]"
    else:
        says_system = not isinstance(tables, list) or "system" in tables[number]
        added = ("" if says_system else _system_line(system)) + f"pattern = '''{pattern}'''"
        made = "\n".join([*lines[:place], added, *lines[place:]]) + "\n"
        done = _table_at(place)
    tomllib.loads(made)
    write_whole(settings, made, of_user=True)
    return done


def written_pattern(settings: Path, path: Path) -> str:
    """Which table of a settings file has a pattern for a log, in words; "" where none has. Raises SettingsError where the file
    cannot be read."""
    text, tables = _tables(settings)
    place, number = _place(text.splitlines(), settings.parent, path)
    if place is None or not isinstance(tables, list) or "pattern" not in tables[number]:
        return ""
    return f"{settings}: {_table_at(place)} has a pattern already"


def _table_at(place: int) -> str:
    return f"the table [[heard]] whose location stands in line {place}"


def _tables(settings: Path) -> tuple[str, Any]:
    """The text of a settings file, and what it has under `heard`."""
    try:
        text = settings.read_text(encoding="utf-8") if settings.exists() else ""
        return text, tomllib.loads(text).get("heard", [])
    except (OSError, ValueError) as error:
        raise SettingsError(f"{settings}: cannot be read as TOML; mend it first, or copy the table shown") from error


def _place(lines: list[str], folder: Path, path: Path) -> tuple[int | None, int]:
    """Behind which line the pattern goes, and in which of the tables [[heard]]; None where none finds the log."""
    number = -1
    for index, line in enumerate(lines, start=1):
        number += _TABLE.match(line) is not None
        found = _LOCATION.match(line)
        if number < 0 or not found or not _is_in_heard(lines[:index]):
            continue
        location = tomllib.loads(line)["location"]
        is_page = is_address(location) and page_folder(location) in path.parts
        if is_page or path.resolve() in {one.resolve() for one in expand(str(folder / location))}:
            return index, number
    return None, -1


def _is_in_heard(lines: list[str]) -> bool:
    """Whether the last table that some lines open is [[heard]]."""
    opened = next((line for line in reversed(lines) if line.lstrip().startswith("[")), "")
    return _TABLE.match(opened) is not None


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
