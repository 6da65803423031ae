"""The parts of one statement of SQL, taken one after the other.

Receives a statement as text, hands on names and values. What is not simple raises `NotUnderstood`.
"""

from __future__ import annotations

import re
from typing import Final

from pruner.table.sql_tables import NotUnderstood
from pruner.table.sql_words import parts_of

#: A number as it is written; a whole one that keys and counts are.
NUMBER: Final = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")
WHOLE: Final = re.compile(r"[0-9]{1,18}")
#: Values that a database makes when it runs the statement.
_CALL: Final = frozenset("now current_timestamp current_date curdate getdate sysdate localtimestamp".split())
#: What tells that no name stands here.
_NOT_NAMED: Final = frozenset("where set limit order using from join as inner left".split())


class Words:
    """The parts of a statement, one after the other."""

    def __init__(self, statement: str) -> None:
        self._parts = [*parts_of(statement), ("end", "")]
        self._place = 0

    @property
    def next(self) -> str:
        """The next part where it is a word or a sign, folded; "" where it is a text or a name in its signs."""
        kind, text = self._parts[self._place]
        return text.casefold() if kind in ("word", "sign") else ""

    @property
    def is_done(self) -> bool:
        """Whether nothing is left but the sign that ends a statement."""
        return self._parts[self._place][0] == "end" or (self.next == ";" and self._parts[self._place + 1][0] == "end")

    def take(self) -> tuple[str, str]:
        """The next part, with its kind. Raises NotUnderstood where there is none."""
        if self._parts[self._place][0] == "end":
            raise NotUnderstood
        self._place += 1
        return self._parts[self._place - 1]

    def has(self, *words: str) -> bool:
        """Takes these words where they stand next."""
        ahead = [text.casefold() if kind in ("word", "sign") else "" for kind, text in self._parts[self._place :][: len(words)]]
        if ahead != list(words):
            return False
        self._place += len(words)
        return True

    def must(self, *words: str) -> None:
        """Takes these words. Raises NotUnderstood where others stand there."""
        if not self.has(*words):
            raise NotUnderstood

    def name(self) -> tuple[str, ...]:
        """A name with those before it. Raises NotUnderstood where none stands there."""
        names = []
        while True:
            kind, text = self.take()
            if kind not in ("either", "name", "word") or (kind == "word" and text.casefold() in _NOT_NAMED):
                raise NotUnderstood
            names.append(text)
            if not self.has("."):
                return tuple(names)

    def take_name_of(self, column: str, alias: str) -> None:
        """Takes the new value of a column, as `VALUES(name)`, `excluded.name` or of the row by its other name. Raises
        NotUnderstood where something else stands there."""
        if self.has("values", "("):
            found = self.name()
            self.must(")")
            found = ("excluded", *found[-1:])
        else:
            found = self.name()
        if (
            len(found) != 2
            or found[0].casefold() not in ("excluded", alias.casefold())
            or found[1].casefold() != column.casefold()
        ):
            raise NotUnderstood

    def value(self) -> str:
        """A value that stands for itself. Raises NotUnderstood for what would have to be reckoned."""
        kind, text = self.take()
        if kind == "word" and text.casefold() in ("n", "e") and self._parts[self._place][0] == "text":
            kind, text = self.take()
        if kind == "sign" and text in "+-" and self._parts[self._place][0] == "word":
            kind, text = "word", text.strip("+") + self.take()[1]
        folded = text.casefold()
        if kind in ("text", "either") or (kind == "word" and (NUMBER.fullmatch(text) or folded in ("true", "false"))):
            found = text
        elif kind == "word" and folded in ("null", "default"):
            found = ""
        elif kind == "word" and folded in _CALL:
            found = text
            if self.has("("):
                self.must(")")
        else:
            raise NotUnderstood
        if self.next not in (",", ")", ";", "where", "and", "or", "limit", "on", "") or (not self.next and not self.is_done):
            raise NotUnderstood
        return found
