"""The published folder as a link to one version, and how it changes from one to the next in a single step.

Receives the published folder and a version's folder. Whoever reads the published folder sees one whole version at
every instant, also when the process is killed.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from pruner.disk import sync
from pruner.errors import PrunerError, SettingsError
from pruner.report import publish

VERSIONS: Final = "versions"
#: Errors of a place that cannot be written: no room, read-only, not allowed.
UNWRITABLE: Final = (errno.ENOSPC, errno.EDQUOT, errno.EROFS, errno.EACCES, errno.EPERM, errno.EFBIG, errno.ENOTDIR)
_MAKING: Final = ".making-"
_OWN_STATE: Final = ".pruner"


def is_version_link(path: Path) -> bool:
    """Whether a path is a link that a switch made: to a numbered folder below a folder `versions`, with its note beside it
    (or to one that is gone)."""
    if not path.is_symlink():
        return False
    target = path.parent / path.readlink()
    numbered = target.name.isascii() and target.name.isdigit() and target.parent.name == VERSIONS
    return numbered and (target.with_name(f"{target.name}.json").is_file() or not target.exists())


def published_place(folder: Path) -> Path:
    """Where the link to the version stands: the folder itself, or what the user's own link leads to.

    Raises SettingsError where that link leads to a place that is not there, such as a disk that is not mounted.
    """
    for _ in range(40):  # as many links as the system itself follows
        if not folder.is_symlink() or is_version_link(folder):
            break
        target = folder.parent / folder.readlink()
        if not target.parent.is_dir():
            raise SettingsError(f"{folder}: is a link to {target}, whose folder is not there; mount the disk or mend the link")
        folder = target
    return folder


def current_version(folder: Path) -> Path | None:
    """The version's folder that is published, None if none is."""
    try:
        place = published_place(folder)
    except SettingsError:
        return None
    return place.resolve() if is_version_link(place) and place.is_dir() else None


def prepare(place: Path) -> None:
    """Sweeps what a killed switch left, and finds out whether a switch will be possible.

    Raises SettingsError for a place that holds anything but results, OSError for one that cannot be written.
    """
    place.parent.mkdir(parents=True, exist_ok=True)
    before, following = _before(place), _following(place)
    if before.is_dir() and not before.is_symlink():
        if place.is_symlink():
            shutil.rmtree(before)
        elif not place.exists():
            before.rename(place)
    if following.is_symlink():
        following.unlink()
    elif following.is_dir():  # the exchange was done, and its content had been made a version before
        shutil.rmtree(following)
    if not is_version_link(place):
        _refuse_foreign(place)
    following.symlink_to(place.name)
    following.unlink()


def switch(place: Path, version: Path) -> None:
    """Publishes a version: one rename. A real folder in the place is exchanged with the link and then removed: its content
    must have been made a version (`copy_results`) before."""
    target = Path(os.path.relpath(version.resolve(), place.parent.resolve()))
    following, before = _following(place), _before(place)
    following.symlink_to(target)
    if place.is_symlink() or not place.exists():
        following.replace(place)
    elif publish._exchange(following, place):
        sync(place.parent)
        shutil.rmtree(following)
    else:
        place.rename(before)
        following.replace(place)
        sync(place.parent)
        shutil.rmtree(before)
    sync(place.parent)


def copy_results(place: Path, into: Path) -> None:
    """The result folders of earlier plain runs as hard links (copies where that cannot be) in a new folder."""
    into.mkdir()
    for radio in _results(place):
        copy = into / radio.relative_to(place)
        copy.mkdir(parents=True)
        for file in sorted(radio.iterdir()):
            try:
                os.link(file, copy / file.name)
            except OSError:
                shutil.copy2(file, copy / file.name)


def verify(version: Path) -> tuple[str, ...]:
    """The result folders of a version (such as `radio` or `talkgroups/radio`), after every file was read back and found as its
    summary says.

    Raises PrunerError when a file is missing, is not named, or has another size or SHA-256.
    """
    radios = [version / name for name in result_names(version)]
    for radio in radios:
        try:
            named = {file["name"]: file for file in json.loads((radio / "summary.json").read_bytes())["files"]}
        except (OSError, ValueError, KeyError, TypeError) as error:
            raise PrunerError(f"{radio}: the summary cannot be read back ({error}); check the disk") from error
        present = {path.name for path in radio.iterdir()} - {"summary.json"}
        wrong = sorted(present ^ set(named))
        wrong += [name for name in sorted(present & set(named)) if _fingerprint(radio / name) != named[name]]
        if wrong:
            raise PrunerError(f"{radio / wrong[0]}: read back differently from what was written; check the disk")
    if not radios:
        raise PrunerError(f"{version}: holds no result; nothing was published")
    return result_names(version)


def _fingerprint(path: Path) -> dict[str, str | int]:
    with path.open("rb") as file:
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)  # from the disk, not from memory
    return publish.fingerprint(path)


def write_whole(path: Path, text: str) -> None:
    """Writes a small file so that it is there as a whole or as it was before, also when the process is killed."""
    part = path.with_name(f"{path.name}.part")
    try:
        part.write_text(text, encoding="utf-8")
        sync(part)
        part.replace(path)
        sync(path.parent)
    finally:
        part.unlink(missing_ok=True)


@contextlib.contextmanager
def one_line(folder: Path, state: Path) -> Iterator[None]:
    """Turns the system's word that a place cannot be written into a SettingsError of one line."""
    try:
        yield
    except OSError as error:
        number = publish.number_of(error)
        if number not in UNWRITABLE:
            raise
        # Of a link that could not be made, the first name is only what it should hold.
        named = [name for name in (error.filename, error.filename2) if isinstance(name, str) and Path(name).is_absolute()]
        where = named[0] if named else folder
        raise SettingsError(
            f"{where}: cannot be written ({os.strerror(number)}); make room, or choose another [output] folder "
            f"or state ({state})"
        ) from error


def sync_tree(folder: Path) -> None:
    """Brings a folder and all below it to the disk."""
    for path, _, files in os.walk(folder, topdown=False):
        for name in files:
            sync(Path(path) / name)
        sync(Path(path))


def result_names(version: Path) -> tuple[str, ...]:
    """The result folders of a version, as paths in it; hidden files that a file manager has left do not count."""
    return tuple(radio.relative_to(version).as_posix() for radio in _results(version) if not radio.name.startswith("."))


def _results(place: Path) -> list[Path]:
    """What should be result folders: what lies in a folder, or one deeper where a folder is no result itself."""
    found = []
    for path in _visible(place):
        deeper = path.is_dir() and not path.is_symlink() and not (path / "summary.json").is_file()
        found += (_visible(path) or [path]) if deeper else [path]
    return found


def _visible(place: Path) -> list[Path]:
    return sorted(path for path in place.iterdir() if not path.name.startswith((_OWN_STATE, _MAKING)))


def _refuse_foreign(place: Path) -> None:
    """Raises SettingsError when a folder holds anything that no run wrote."""
    if not place.exists() and not place.is_symlink():
        return
    if not place.is_dir():
        raise SettingsError(f"{place}: is a file, expected a folder; choose another output folder")
    for aside in [*place.glob(f"{_MAKING}old-*"), *place.glob(f"*/{_MAKING}old-*")]:
        publish._put_back(aside.with_name(aside.name.removeprefix(f"{_MAKING}old-")))
    state = place / _OWN_STATE
    if state.exists() and [path.name for path in state.iterdir()] != ["lock"]:
        raise SettingsError(f"{place}: holds {_OWN_STATE!r}, which a new result would remove; move it away")
    for path in _results(place):
        if path.is_symlink() or not (path / "summary.json").is_file():
            name = path.relative_to(place).parts[0]
            raise SettingsError(f"{place}: holds {name!r}, which no run wrote and a new result would remove; move it away")
        publish._refuse_foreign(path)


def _following(place: Path) -> Path:
    return place.with_name(f".{place.name}.following")


def _before(place: Path) -> Path:
    return place.with_name(f".{place.name}.before")
