"""The text of a cell: constants and fields in braces.

Receives a text such as "{callsign} {first_name}", hands on its pieces. Nothing but names of fields can stand in
braces; `{{` and `}}` are braces themselves.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

#: The place of a contact in the written order: over all files of a layout, and in its own file.
NUMBER: Final = "number"
NUMBER_IN_FILE: Final = "number_in_file"
RUNNING: Final = (NUMBER, NUMBER_IN_FILE)

_PIECE: Final = re.compile(r"\{\{|\}\}|\{([^{}]*)\}|[{}]|[^{}]+")


@dataclass(frozen=True, slots=True)
class Piece:
    """A constant text, or the name of a field."""

    text: str
    is_field: bool


class TemplateError(ValueError):
    """A text that is no template; the message says what is wrong with it."""


@lru_cache(maxsize=1024)
def parse_template(text: str) -> tuple[Piece, ...]:
    """The pieces of a template, neighbouring constants joined. Raises TemplateError; field names are not checked."""
    pieces: list[Piece] = []
    for found in _PIECE.finditer(text):
        part, field = found[0], found[1]
        if field is not None:
            if not field:
                raise TemplateError("expected the name of a field between { and }")
            pieces.append(Piece(field, True))
            continue
        if part in ("{", "}"):
            raise TemplateError(f'expected "{part}{part}" for a single brace, or a field such as "{{callsign}}"')
        constant = part[0] if part in ("{{", "}}") else part
        if pieces and not pieces[-1].is_field:
            constant = pieces.pop().text + constant
        pieces.append(Piece(constant, False))
    return tuple(pieces)


def fields_of(text: str) -> tuple[str, ...]:
    """The names of the fields of a template, in order."""
    return tuple(piece.text for piece in parse_template(text) if piece.is_field)


def only_field(text: str) -> str | None:
    """The field of a template that holds nothing else, else None."""
    pieces = parse_template(text)
    return pieces[0].text if len(pieces) == 1 and pieces[0].is_field else None


def constant_text(text: str) -> str | None:
    """The text of a template without fields, else None."""
    return None if fields_of(text) else "".join(piece.text for piece in parse_template(text))


def escaped_constant(text: str) -> str:
    """The template that stands for a constant."""
    return text.replace("{", "{{").replace("}", "}}")
