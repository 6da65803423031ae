"""A settings file -> `Settings`, or all its mistakes at once, each with its line.

Receives the path of a TOML file, hands on frozen models whose paths are absolute (relative ones are taken
from the folder of the file).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Final

from pydantic import ValidationError

from pruner.settings.call_models import CallSettings
from pruner.settings.lines import TomlPath, line_numbers
from pruner.settings.messages import mistakes
from pruner.settings.models import Settings
from pruner.settings.values import shown
from pruner.words.errors import SettingsError

#: The settings file that is meant where none is named.
DEFAULT_NAME: Final = "pruner.toml"
#: Tables that common settings may leave to the files that go before them, and what of a radio stands for itself.
_OWN: Final = ("home", "talkgroups", "radio")
_LIMITS: Final = ("name", "contacts", "talkgroups", "memory")
_FIELDS: Final = {"radio": "radios"}


def load_settings(path: Path) -> Settings:
    """Reads and checks a settings file.

    Raises SettingsError with one line per mistake, `file:line: key: expected ..., got ...`, in the order of
    the file. List positions in keys count from 1. Files of lists must exist; their contents are not looked
    at.
    """
    return settings_of(path, read_text(path))


def load_call_settings(path: Path) -> Settings:
    """The same for commands that read and keep calls only: sources and radios may be missing."""
    return settings_of(path, read_text(path), CallSettings)


def settings_of(path: Path, text: str, model: type[Settings] = Settings) -> Settings:
    """The settings of a text that stands, or will stand, at a path. Raises SettingsError as `load_settings` does."""
    return _checked(path, text, model=model)


def common_settings(path: Path, one: Path) -> tuple[Settings, frozenset[str]]:
    """Settings that go below those of several files, of which `one` is one. A table of `_OWN` that only those files have is
    taken from that one, as far as it stands for itself: the common rules may need it. Also hands on which tables that are.

    Raises SettingsError as `load_settings` does."""
    text = read_text(path)
    present, own = _document(path, text), _document(one, read_text(one))
    lent: dict[str, Any] = {key: own[key] for key in _OWN if key in own and key not in present}
    if isinstance(lent.get("radio"), list):
        lent["radio"] = [{key: row[key] for key in _LIMITS if key in row} for row in lent["radio"] if isinstance(row, dict)]
    return _checked(path, text, lent), frozenset(lent)


def settings_over(path: Path, common: Settings, shared: Collection[str], lent: Collection[str] = ()) -> Settings:
    """The settings of a file whose tables go before those of `common`, except the tables that are `shared`; those that are
    `lent` are not of the common settings.

    Raises SettingsError with one line per mistake, also for a shared table in the file."""
    text = read_text(path)
    given = common.model_dump(mode="json", by_alias=True, exclude_unset=True, exclude={_FIELDS.get(key, key) for key in lent})
    return _checked(path, text, given, shared)


def _checked(
    path: Path,
    text: str,
    given: Mapping[str, Any] | None = None,
    shared: Collection[str] = (),
    *,
    model: type[Settings] = Settings,
) -> Settings:
    document = _document(path, text)
    wrong = [key for key in document if key in shared]
    if wrong:
        raise SettingsError([f"{path}: {key}: is the same for all customers; say it in the common settings" for key in wrong])
    document = {**(given or {}), **document}
    try:
        return model.model_validate(freeze(document), context={"folder": path.absolute().parent, "in_file": True})
    except RecursionError:
        raise _too_deep(path) from None
    except ValidationError as error:
        lines = line_numbers(text)
        found = [(_line(lines, mistake.path), mistake) for mistake in mistakes(error)]
        raise SettingsError(
            [
                f"{path}{f':{line}' if line else ''}: {mistake.key}: {mistake.sentence}"
                for line, mistake in sorted(found, key=lambda pair: pair[0])
            ]
        ) from None


def _document(path: Path, text: str) -> dict[str, Any]:
    """What a text of TOML holds. Raises SettingsError where it is none."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _too_deep(path) from None
    except ValueError as error:
        raise SettingsError(_syntax(path, text, error)) from None


def _too_deep(path: Path) -> SettingsError:
    return SettingsError(f"{path}: lists or tables are nested too deeply; no setting needs that")


def freeze(value: Any) -> Any:
    """A TOML value with every list as a tuple, as the strict models want it."""
    if isinstance(value, dict):
        return {key: freeze(item) for key, item in value.items()}
    return tuple(freeze(item) for item in value) if isinstance(value, list) else value


def read_text(path: Path) -> str:
    """The text of a settings file. Raises SettingsError where it cannot be read."""
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise SettingsError(f"{path}: no settings file here; write one with: pruner init") from None
    except OSError as error:
        raise SettingsError(f"{path}: the settings file cannot be read ({error.strerror})") from None
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SettingsError(f"{path}:{line}: the text is not UTF-8; save the file as UTF-8") from None


def _line(lines: dict[TomlPath, int], path: TomlPath) -> int:
    """The line of the nearest known ancestor, 0 if even its first key does not stand in the file."""
    while path and path not in lines:
        path = path[:-1]
    return lines.get(path, 0)


def _syntax(path: Path, text: str, error: ValueError) -> str:
    found = re.fullmatch(r"(.*?) \(at (?:line (\d+), column (\d+)|end of document)\)", str(error), re.DOTALL)
    message = (found[1] if found else str(error)).rstrip(".")
    plain = shown(message, 120)[1:-1].replace('\\"', '"').replace("\\\\", "\\")
    if not found:  # such as a number of thousands of digits
        return f"{path}: this is not TOML: {plain}"
    if not found[2]:
        return f"{path}:{len(text.splitlines())}: this is not TOML, end of the file: {plain}"
    return f"{path}:{found[2]}: this is not TOML, column {found[3]}: {plain}"
