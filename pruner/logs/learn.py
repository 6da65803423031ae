"""A log of free lines -> the pattern that reads it, and the settings with that pattern.

Receives a path, hands on what was learned (`read.line_pattern`) and the text of a settings file.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Final

from pruner.logs.pages import page_folder
from pruner.read.delimited import recode_lines
from pruner.read.line_pattern import Learned, learn
from pruner.read.stream import text_blocks
from pruner.settings.values import is_address
from pruner.sources.local import expand
from pruner.words.disk import write_whole
from pruner.words.errors import InputRefusedError, SettingsError

_READ_BYTES: Final = 1 << 20
_TABLE: Final = re.compile(r"^\s*\[\[heard\]\]\s*(?:#.*)?$")
_LOCATION: Final = re.compile(r"""^\s*location\s*=\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)')""")


def learn_log(path: Path, system: str) -> Learned:
    """The pattern of a log, from its first lines. Raises InputRefusedError where no form of line tells calls."""
    head = b""
    for block in text_blocks(path, None):
        head += block[: _READ_BYTES - len(head)]
        if len(head) >= _READ_BYTES:
            break
    lines = recode_lines(head)[0].decode(errors="replace").split("\n")
    learned = learn(lines, system)
    if learned is None:
        raise InputRefusedError(
            f"{path}: no form of line in it tells who called, on which talkgroup, and when; write a pattern yourself: "
            "[[heard]] pattern = '(?P<time>...) ... (?P<id>...) ... (?P<talkgroup>...)'"
        )
    return learned


def snippet(path: Path, pattern: str) -> str:
    """The table of the settings that reads a log by a pattern."""
    return f"[[heard]]\nlocation = {_quoted(str(path))}\npattern = '''{pattern}'''\n"


def write_pattern(settings: Path, path: Path, pattern: str) -> str:
    """Writes a pattern into a settings file: into the table [[heard]] whose location finds the log, else into a new one.

    Returns what was done, in words. Raises SettingsError where the file cannot be read or that table has a pattern.
    """
    try:
        text = settings.read_text(encoding="utf-8") if settings.exists() else ""
        tables = tomllib.loads(text).get("heard", [])
    except (OSError, ValueError) as error:
        raise SettingsError(f"{settings}: cannot be read as TOML; mend it first, or copy the table shown") from error
    lines = text.splitlines()
    place, number = _place(lines, settings.parent, path)
    if place is None:
        made = (text.rstrip() + "\n\n" if text.strip() else "") + snippet(path.resolve(), pattern)
        done = "a new table [[heard]]"
    else:
        if isinstance(tables, list) and "pattern" in tables[number]:
            raise SettingsError(f"{settings}: line {place}: this table [[heard]] has a pattern; take it out first")
        made = "\n".join([*lines[:place], f"pattern = '''{pattern}'''", *lines[place:]]) + "\n"
        done = f"the table [[heard]] at line {place}"
    tomllib.loads(made)
    write_whole(settings, made, of_user=True)
    return done


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
