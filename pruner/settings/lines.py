"""On which line of a TOML text each key stands.

Receives a text that `tomllib` has accepted (so its grammar is not checked again), hands on a mapping from
paths to lines. Grammar: TOML 1.0.0, https://toml.io/en/v1.0.0.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from typing import Final

TomlPath = tuple[str | int, ...]

_SPACE: Final = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_STRING: Final = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}(?!")|' r"'''.*?'{3,5}(?!')|" r'"(?:[^"\\\n]|\\.)*"|' r"'[^'\n]*'", re.DOTALL
)
_SCALAR: Final = re.compile(r"[^,\]}#\n]+")


def line_numbers(text: str) -> dict[TomlPath, int]:
    """The line, counted from 1, of each key, table and list element; list positions count from 0."""
    scanner = _Scanner(text.replace("\r\n", "\n"))
    scanner.document()
    return scanner.lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [match.start() for match in re.finditer("\n", text)]
        self.lines: dict[TomlPath, int] = {}
        self.tables: dict[TomlPath, int] = {}

    def document(self) -> None:
        table: TomlPath = ()
        self.space()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
            self.space()

    def header(self) -> TomlPath:
        start = self.at
        double = self.text.startswith("[[", start)
        self.at += 2 if double else 1
        keys = self.key()
        self.at += 2 if double else 1
        path: TomlPath = ()
        for position, key in enumerate(keys):
            path = (*path, key)
            self.note(path, start)
            if double and position == len(keys) - 1:
                self.tables[path] = self.tables.get(path, -1) + 1
            if path in self.tables:
                path = (*path, self.tables[path])
                self.note(path, start)
        return path

    def pair(self, table: TomlPath) -> None:
        start = self.at
        path = table
        for key in self.key():
            path = (*path, key)
            self.note(path, start)
        self.at += 1
        self.space()
        self.value(path)

    def key(self) -> list[str]:
        """One dotted key; leaves the position on what follows it (`=` or `]`)."""
        keys = []
        while True:
            self.space()
            bare = _BARE_KEY.match(self.text, self.at) or _STRING.match(self.text, self.at)
            assert bare is not None, "the text was accepted by tomllib"
            keys.append(next(iter(tomllib.loads(f"{bare[0]}=0"))))
            self.at = bare.end()
            self.space()
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def value(self, path: TomlPath) -> None:
        if self.text[self.at] == "[":
            self.sequence(path, "]")
        elif self.text[self.at] == "{":
            self.sequence(path, "}")
        else:
            found = _STRING.match(self.text, self.at) or _SCALAR.match(self.text, self.at)
            assert found is not None, "the text was accepted by tomllib"
            self.at = found.end()

    def sequence(self, path: TomlPath, end: str) -> None:
        """A list or an inline table, from its opening bracket past its closing one."""
        position = 0
        self.at += 1
        self.space()
        while self.text[self.at] != end:
            if end == "]":
                self.note((*path, position), self.at)
                self.value((*path, position))
                position += 1
            else:
                self.pair(path)
            self.space()
            if self.text[self.at] == ",":
                self.at += 1
                self.space()
        self.at += 1

    def space(self) -> None:
        found = _SPACE.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def note(self, path: TomlPath, offset: int) -> None:
        self.lines.setdefault(path, bisect_right(self.breaks, offset - 1) + 1)
