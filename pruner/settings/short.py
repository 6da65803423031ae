"""The options of the short form -> the same `Settings` that a file gives.

Receives the values of the command's options, hands on frozen models; relative paths are taken from the
current folder.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from pruner.reference import borders, countries
from pruner.settings.messages import Mistake, mistakes
from pruner.settings.models import Settings
from pruner.settings.names import source_names
from pruner.settings.short_form import ShortForm
from pruner.words.errors import SettingsError

_OPTIONS: Final[dict[tuple[str, ...], str]] = {
    ("home", "country"): "--country",
    ("home", "locator"): "--locator",
    ("radio", "contacts"): "--contacts",
    ("radio", "name"): "--name",
    ("radio", "layout"): "--layout",
    ("radio", "carried"): "--carried",
    ("source", "system"): "--system",
    ("drop",): "--drop",
    ("keep",): "--keep",
    ("output",): "--out",
}
_DEFAULT_OUT: Final = Path("out")


def short_settings(files: Sequence[Path], form: ShortForm) -> Settings:
    """One source per file, one radio, and the rules: each list of `keep`, home (if `country`), neighbours (if `neighbours`),
    the rest; before them a drop rule for each list of `drop`.

    No rule names an order. The state lies in `.pruner` in the output folder. Raises SettingsError with one line per mistake,
    each of which names the option.
    """
    out = form.out or _DEFAULT_OUT
    home = {"country": form.country, "locator": form.locator}
    document = {
        "home": {key: value for key, value in home.items() if value is not None},
        "source": tuple(
            {"name": source, "location": str(file), "system": form.system or "dmr"}
            for source, file in zip(source_names(map(str, files)), files, strict=True)
        ),
        "drop": tuple(_lists("left out", form.drop)),
        "keep": tuple(_keep(form)),
        "radio": (_radio(form),),
        "clean": {"one_per_callsign": form.one_per_callsign},
        "output": {"folder": out, "state": out / ".pruner"},
    }
    problems = ["--neighbours: needs --country"] if form.neighbours and form.country is None else []
    number = countries.find(form.country or "")
    if form.neighbours and number and not borders.within_hops([number], 1):
        problems.append(f"--neighbours: {countries.NAMES[number]} has no land border, so it has no neighbours; leave it out")
    try:
        settings = Settings.model_validate(document, context={"folder": Path.cwd(), "in_file": True})
    except ValidationError as error:
        found = [_line(mistake) for mistake in mistakes(error)]
        raise SettingsError(list(dict.fromkeys([*problems, *found]))) from None
    if problems:
        raise SettingsError(problems)
    return settings


def _keep(form: ShortForm) -> list[dict[str, Any]]:
    rules = _lists("list", form.keep)
    if form.country is not None:
        rules.append({"name": "home", "countries": ("home",)})
        if form.neighbours:
            rules.append({"name": "neighbours", "neighbours_of": ("home",)})
    return [*rules, {"name": "the rest"}]


def _lists(word: str, files: Sequence[Path]) -> list[dict[str, Any]]:
    """A rule for each list, named after its file; of several of one name the later ones with a number."""
    names: dict[str, int] = {}
    rules = []
    for file in files:
        times = names[file.name] = names.get(file.name, 0) + 1
        rules.append({"name": f"{word}: {file.name}" + (f" ({times})" if times > 1 else ""), "list": str(file)})
    return rules


def _radio(form: ShortForm) -> dict[str, Any]:
    files = {"layout": form.layout, "carried": form.carried}
    given = {key: str(path) for key, path in files.items() if path is not None}
    return {"name": form.name, "contacts": form.contacts, **given}


def _line(mistake: Mistake) -> str:
    """The sentence behind the name of the option it comes from."""
    keys = tuple(part for part in mistake.path if isinstance(part, str))
    for path, option in _OPTIONS.items():
        if keys[: len(path)] == path:
            return f"{option}: {mistake.sentence}"
    if keys == ("source",):
        return "expected at least one file of stations"
    return f"{mistake.key}: {mistake.sentence}"
