"""The files of a version: which results it holds, whether they read back as they were written, and copies of them.

Receives the folder of a version (or of results), hands on names of results and the bytes of summaries.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from pruner.account.parts import FileMark, Written
from pruner.publish import folders as publish
from pruner.words.disk import sync
from pruner.words.errors import PrunerError


def result_names(version: Path) -> tuple[str, ...]:
    """The result folders of a version, as paths in it (such as `radio` or `talkgroups/radio`)."""
    found: list[Path] = []
    for path in visible(version):
        deeper = path.is_dir() and not path.is_symlink() and not (path / "summary.json").is_file()
        found += (visible(path) or [path]) if deeper else [path]
    return tuple(path.relative_to(version).as_posix() for path in found)


def visible(folder: Path) -> list[Path]:
    """What lies in a folder, by name; hidden files, which a file manager may have left, do not count."""
    return sorted(path for path in folder.iterdir() if not path.name.startswith("."))


def summaries(folder: Path) -> dict[str, bytes]:
    """The summaries below a folder; they name size and SHA-256 of every other file, so equal ones mean equal results."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("summary.json"))}


def verify(version: Path) -> tuple[str, ...]:
    """The results of a version, after every file was read back and found as its summary says.

    Raises PrunerError when a file is missing, is not named, or has another size or SHA-256.
    """
    radios = [version / name for name in result_names(version)]
    for radio in radios:
        try:
            named = {file.name: file for file in Written.read(radio).files}
        except (OSError, ValueError) as error:
            raise PrunerError(f"{radio}: the summary cannot be read back ({error}); check the disk") from error
        present = {path.name for path in visible(radio)} - {"summary.json"}
        wrong = sorted(present ^ set(named))
        wrong += [name for name in sorted(present & set(named)) if _fingerprint(radio / name) != named[name]]
        if wrong:
            raise PrunerError(f"{radio / wrong[0]}: read back differently from what was written; check the disk")
    if not radios:
        raise PrunerError(f"{version}: holds no result; nothing was published")
    return result_names(version)


def move_foreign(version: Path, into: Path) -> None:
    """Moves what somebody else has put into a version beside the results, where it stays when the version goes.

    What lay inside a result has its name before its own; where a name is taken, the number of the version comes first.
    """
    for path in _foreign(version):
        name = "-".join(path.relative_to(version).parts)
        number = version.name.partition("-")[0]
        for place in (into / name, into / f"version-{number}-{name}"):
            if not place.exists() and not place.is_symlink():
                path.rename(place)
                break


def _foreign(version: Path) -> list[Path]:
    found = []
    for top in visible(version):
        inner = visible(top) if top.is_dir() and not _is_result(top) else []
        if any(_is_result(one) for one in inner):
            found += [path for one in inner for path in (_unnamed(one) if _is_result(one) else [one])]
        else:
            found += _unnamed(top) if _is_result(top) else [top]
    return found


def _is_result(path: Path) -> bool:
    return not path.is_symlink() and (path / "summary.json").is_file()


def _unnamed(result: Path) -> list[Path]:
    try:
        named = {file.name for file in Written.read(result).files}
    except (OSError, ValueError, KeyError, TypeError):
        return []
    return [path for path in visible(result) if path.name not in {*named, "summary.json"}]


def link_tree(folder: Path, copy: Path) -> None:
    """The files of a folder as hard links (copies where that cannot be) in a new folder, on the disk on return."""
    shutil.copytree(folder, copy, copy_function=_link_or_copy, symlinks=True, dirs_exist_ok=True)
    sync_tree(copy)


def _link_or_copy(file: str, copy: str) -> None:
    try:
        os.link(file, copy)
    except OSError:
        shutil.copy2(file, copy)


def sync_tree(folder: Path) -> None:
    """Brings a folder and all below it to the disk."""
    for path, _, files in os.walk(folder, topdown=False):
        for name in files:
            sync(Path(path) / name)
        sync(Path(path))


def _fingerprint(path: Path) -> FileMark:
    with path.open("rb") as file:
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)  # from the disk, not from memory
    return publish.fingerprint(path)
