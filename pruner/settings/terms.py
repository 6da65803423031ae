"""How messages speak of settings: as a file has them, or as Python has them.

Hands on the words that differ; everything else in a message is the same for both.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import PurePath
from typing import Final

from pydantic import ValidationInfo

from pruner.settings.values import shown


@dataclass(frozen=True, slots=True)
class Terms:
    """`first`: the number of the first element of a list; `expected`: what a type of pydantic's errors stands for; the others:
    what a place in the settings is called."""

    is_file: bool
    first: int
    home_country: str
    home_locator: str
    mine: str
    memory: str
    memory_fields: str
    expected: Mapping[str, str]

    def shown(self, value: object) -> str:
        """A value that is wrong, in a few printable characters."""
        if self.is_file:
            return shown(value)
        if value is None or isinstance(value, bool):
            return repr(value)
        if isinstance(value, str | int | float | PurePath):
            return shown(str(value) if isinstance(value, PurePath) else value)
        if isinstance(value, type):
            return f"the class {value.__name__}"
        return article(type(value).__name__)


def article(noun: str) -> str:
    """`a Keep`, `an int`."""
    return f"{'an' if noun[:1].lower() in 'aeiou' else 'a'} {noun}"


_NUMBERS: Final[Mapping[str, str]] = {
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "greater_than_equal": "{ge} or more",
    "greater_than": "more than {gt}",
    "less_than_equal": "{le} or less",
    "less_than": "less than {lt}",
}

FILE: Final = Terms(
    is_file=True,
    first=1,
    home_country="[home] country",
    home_locator="[home] locator",
    mine="[talkgroups] mine",
    memory="[radio.memory]",
    memory_fields="[[radio.memory.field]] tables",
    expected={
        **_NUMBERS,
        "string_type": "text in quotes",
        "bool_type": "true or false",
        "tuple_type": "a list in [ ]",
        "dict_type": "a table",
        "model_type": "a table",
    },
)
PYTHON: Final = Terms(
    is_file=False,
    first=0,
    home_country="home=pruner.Home(country=...)",
    home_locator="home=pruner.Home(locator=...)",
    mine="talkgroups=pruner.Talkgroups(mine=[...])",
    memory="memory={...}",
    memory_fields="fields=[...]",
    expected={
        **_NUMBERS,
        "string_type": "a text",
        "string_unicode": "a text that can be written as UTF-8",
        "bool_type": "True or False",
        "tuple_type": "a list",
        "dict_type": "a dict",
        "model_type": "a dict or {class_name}",
    },
)


def terms_of(info: ValidationInfo) -> Terms:
    """The terms of whoever wrote the settings, as `context={"in_file": True}` says."""
    return FILE if (info.context or {}).get("in_file") else PYTHON
