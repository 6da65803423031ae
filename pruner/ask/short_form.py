"""The settings behind the results of a short-form fit, so that other commands find them again.

Receives settings made of options, or the name of a settings file, hands on settings.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from pruner.settings.load import DEFAULT_NAME, load_settings
from pruner.settings.models import Settings
from pruner.settings.toml_text import settings_text
from pruner.words.disk import creating, write_whole

#: The file in the state folder of a short-form fit that says what its options said.
SHORT_FORM: Final = "short-form.toml"
#: Where a short-form fit puts its results, and its state in them, unless it is told otherwise.
OUT: Final = Path("out")
STATE: Final = ".pruner"


def remember(settings: Settings) -> Path:
    """Writes down the settings of a short-form fit that has been made; returns the file."""
    path = settings.output.state / SHORT_FORM
    with creating(settings.output.mode):
        write_whole(path, "# What the options of the last short-form fit said.\n\n" + settings_text(settings))
    return path


def file_of(settings: Path, out: Path | None = None) -> Path:
    """The settings file that is meant: that of the short-form fit into `out`, if there was one; where `settings` is a folder,
    the one in it; where there is no file of the usual name, that of a short-form fit into `out` in this folder."""
    if out is not None and (out / STATE / SHORT_FORM).is_file():
        return out / STATE / SHORT_FORM
    if settings.is_dir():
        inside = settings / STATE / SHORT_FORM
        return inside if inside.is_file() and not (settings / DEFAULT_NAME).is_file() else settings / DEFAULT_NAME
    remembered = OUT / STATE / SHORT_FORM
    usual = settings == Path(DEFAULT_NAME) and not settings.exists()
    return remembered if usual and remembered.is_file() else settings


def finished_settings(settings: Path, out: Path | None = None) -> Settings:
    """The settings of results that are there, as `file_of` finds them. Raises SettingsError with one line per mistake."""
    path = file_of(settings, out)
    found = load_settings(path)
    if path.name != SHORT_FORM:
        return found
    folder = path.absolute().parent.parent  # the results may have been moved since
    return found.model_copy(update={"output": found.output.model_copy(update={"folder": folder, "state": folder / STATE})})
