"""Local files: a location (file, folder or pattern) -> the files it means."""

from __future__ import annotations

import glob
from pathlib import Path

from pruner.words.errors import SourceMissingError


def find(location: str) -> list[Path]:
    """The files that a location means, sorted by path.

    `location` is a file, a folder (its files, hidden ones and folders in it left out) or a pattern of `glob.glob` (`**` for
    any depth). Raises SourceMissingError with one line when there is none, or when a named folder cannot be looked into.
    """
    path = Path(location)
    try:
        if path.is_dir():
            found = [entry for entry in path.iterdir() if entry.is_file() and not entry.name.startswith(".")]
            missing = "the folder holds no file"
        elif glob.has_magic(location) and not path.is_file():
            # The pattern may be absolute, which Path.glob refuses.
            found = [Path(name) for name in glob.glob(location, recursive=True) if Path(name).is_file()]  # noqa: PTH207
            missing = "no file matches"
        else:
            found = [path] if path.exists() else []
            missing = "no such file"
    except OSError as error:
        raise SourceMissingError(f"{location}: cannot be looked into ({error.strerror}); check its permissions") from error
    if not found:
        raise SourceMissingError(f"{location}: {missing}; check the location")
    return sorted(found)


def expand(location: str) -> list[Path]:
    """The files of a location of the settings, sorted: what a pattern matches, in place of a folder the files in it.

    A single path that does not exist stays, for the reader to say what is wrong; a pattern may match nothing. Raises
    SourceMissingError for a folder without files, and for a path that cannot be looked at.
    """
    # The pattern may be absolute, which Path.glob refuses.
    paths = [Path(found) for found in glob.glob(location)] if glob.has_magic(location) else [Path(location)]  # noqa: PTH207
    return sorted(file for path in paths for file in (find(str(path)) if _is_folder(path) else [path]))


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except OSError as error:  # such as a name that is too long
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
