"""What a fit is asked for: rules, a radio, a home.

They are the tables of a settings file under the same names of fields, with lists where the file has lists. A wrong value raises
pydantic's ValidationError, a ValueError.
"""

from __future__ import annotations

from typing import Any

from pruner.settings import models, values

#: Names that are given to rules which have none of their own.
UNNAMED = ""


class Keep(models.KeepRule):
    """A rule whose contacts are kept, as far as there is room: the fields of a `[[keep]]` table; `name` may be absent."""

    name: str = UNNAMED


class Drop(models.DropRule):
    """A rule whose contacts are left out: the fields of a `[[drop]]` table; `name` may be absent."""

    name: str = UNNAMED


class Radio(models.Radio):
    """A radio and what it holds: the fields of a `[[radio]]` table; `name` may be absent."""

    name: values.FolderName = "radio"


class Home(models.Home):
    """Where the user is: a country (code or name) and a Maidenhead locator, either of which may be absent."""

    def __init__(self, country: str | None = None, locator: str | None = None) -> None:
        given = {"country": country, "locator": locator}
        super().__init__(**{key: value for key, value in given.items() if value is not None})


def named(rules: list[Keep] | list[Drop], word: str) -> list[dict[str, Any]]:
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
