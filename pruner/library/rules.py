"""What a fit is asked for: rules, a radio, a home.

They are the tables of a settings file under the same names of fields, with lists where the file has lists. A wrong value raises
PrunerError with one line per mistake.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from pruner.settings import models, values

#: Names that are given to rules which have none of their own.
UNNAMED = ""


class Keep(models.KeepRule):
    """A rule whose contacts are kept, as far as there is room: the fields of a `[[keep]]` table; `name` may be absent."""

    name: values.LabelIfAny = UNNAMED


class Drop(models.DropRule):
    """A rule whose contacts are left out: the fields of a `[[drop]]` table; `name` may be absent."""

    name: values.LabelIfAny = UNNAMED


class Radio(models.Radio):
    """A radio and what it holds: the fields of a `[[radio]]` table; `name` may be absent."""

    name: values.FolderName = "radio"

    def model_post_init(self, context: Any, /) -> None:
        """The name counts as given wherever this radio stands for a table of the settings."""
        self.model_fields_set.add("name")


class Home(models.Home):
    """Where the user is: a country (code or name) and a Maidenhead locator, either of which may be absent."""

    def __init__(self, country: str | None = None, locator: str | None = None) -> None:
        given = {"country": country, "locator": locator}
        super().__init__(**{key: value for key, value in given.items() if value is not None})


def named(rules: Sequence[models.Rule], word: str) -> list[dict[str, Any]]:
    """The rules as tables of the settings; those without a name are numbered."""
    taken = {rule.name for rule in rules}
    tables = []
    for number, rule in enumerate(rules, 1):
        name = rule.name or f"{word} {number}"
        while not rule.name and name in taken:
            name += "'"
        taken.add(name)
        tables.append({**rule.model_dump(by_alias=True, exclude_unset=True), "name": name})
    return tables
