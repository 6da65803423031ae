"""The options of the short form -> the same `Settings` that a file gives.

Receives the values of the command's options, hands on frozen models; relative paths are taken from the
current folder.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from pruner.settings.messages import Mistake, mistakes
from pruner.settings.models import Settings
from pruner.settings.names import source_names
from pruner.words.errors import SettingsError

_OPTIONS: Final[dict[tuple[str, ...], str]] = {
    ("home", "country"): "--country",
    ("home", "locator"): "--locator",
    ("radio", "contacts"): "--contacts",
    ("radio", "name"): "--name",
    ("source", "system"): "--system",
    ("output",): "--out",
}


def short_settings(
    files: Sequence[Path],
    contacts: int,
    country: str | None,
    neighbours: bool,
    locator: str | None,
    one_per_callsign: bool,
    out: Path,
    system: str = "dmr",
    name: str = "radio",
) -> Settings:
    """One source per file, one radio, and the rules home (if `country`), neighbours (if `neighbours`), the
    rest.

    No rule names an order. The state lies in `out/.pruner`. Raises
    SettingsError with one line per mistake, each of which names the option.
    """
    keep: list[dict[str, Any]] = []
    if country is not None:
        keep.append({"name": "home", "countries": ("home",)})
    if neighbours and country is not None:
        keep.append({"name": "neighbours", "neighbours_of": ("home",)})
    keep.append({"name": "the rest"})
    home = {"country": country, "locator": locator}
    document = {
        "home": {key: value for key, value in home.items() if value is not None},
        "source": tuple(
            {"name": source, "location": str(file), "system": system}
            for source, file in zip(source_names(map(str, files)), files, strict=True)
        ),
        "keep": tuple(keep),
        "radio": ({"name": name, "contacts": contacts},),
        "clean": {"one_per_callsign": one_per_callsign},
        "output": {"folder": out, "state": out / ".pruner"},
    }
    problems = ["--neighbours: needs --country"] if neighbours and country is None else []
    try:
        settings = Settings.model_validate(document, context={"folder": Path.cwd()})
    except ValidationError as error:
        found = [_line(mistake) for mistake in mistakes(error)]
        raise SettingsError(list(dict.fromkeys([*problems, *found]))) from None
    if problems:
        raise SettingsError(problems)
    return settings


def _line(mistake: Mistake) -> str:
    """The sentence behind the name of the option it comes from."""
    keys = tuple(part for part in mistake.path if isinstance(part, str))
    for path, option in _OPTIONS.items():
        if keys[: len(path)] == path:
            return f"{option}: {mistake.sentence}"
    if keys == ("source",):
        return "expected at least one file of stations"
    return f"{mistake.key}: {mistake.sentence}"
