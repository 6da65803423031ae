"""Text files that a command writes for people: all or none, and never over an existing one."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pruner.words.errors import SettingsError


def write_new(files: Mapping[Path, str], if_exists: str) -> list[Path]:
    """Writes the files as UTF-8 and returns their paths. `if_exists` says what to do where one exists already.

    Raises SettingsError with one line; then none of the files has been made.
    """
    made: list[Path] = []
    path = Path()
    try:
        for path, text in files.items():
            with path.open("x", encoding="utf-8") as file:
                made.append(path)
                file.write(text)
    except (OSError, UnicodeEncodeError) as error:
        for one in made:
            one.unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise SettingsError(f"{path}: exists already; {if_exists}") from None
        if isinstance(error, UnicodeEncodeError):
            raise SettingsError(f"{path}: would name a file whose name is not UTF-8; rename that file") from None
        raise SettingsError(
            f"{path}: cannot be written ({error.strerror}); name a file in a folder you can write to"
        ) from error
    return made
