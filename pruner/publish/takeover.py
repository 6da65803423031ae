"""What releases before 0.2 published: a link in the place of the published folder, to a version below the state.

Receives the published folder and the state folder (the caller holds the state's lock), leaves a real folder with all versions
that were published there. Link and folder are exchanged in one step where the system can; else by two renames, which the next
run ends. Versions below the state are removed only when they stand in their new place.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Final

from pruner.publish import folders as publish
from pruner.publish import switch
from pruner.publish.folders import CURRENT, VERSIONS
from pruner.publish.notes import Note, notes, remove_if_empty, take_number, take_numbers_of, write_note
from pruner.publish.version_files import link_tree, move_foreign, sync_tree
from pruner.words.disk import sync
from pruner.words.errors import SettingsError

#: Endings of folders that are being made or removed.
MAKING: Final = "-making"
REMOVING: Final = "-removing"


def take_over(folder: Path, state: Path) -> Path:
    """Lets the published folder be a real one, with the versions of earlier releases in it; returns where it stands.

    Raises SettingsError where a file stands in its place, OSError where nothing can be written.
    """
    place = switch.published_place(folder)
    place.parent.mkdir(parents=True, exist_ok=True)
    _end_exchange(place)
    if switch.is_old_link(place):
        old = switch.home_of(folder, state)
        known = versions_of(old, folder, current=place.readlink().name)
        _exchange_link(place, old, known)
    else:
        if place.exists() and not place.is_dir():
            raise SettingsError(f"{place}: is a file, expected a folder; choose another output folder")
        old = state / switch.OLD_VERSIONS
        known = versions_of(old, folder) if old.is_dir() else []
        if known:
            (place / VERSIONS).mkdir(parents=True, exist_ok=True)
            _carry(old, place / VERSIONS, known)
    if old.is_dir():
        _drop(old, folder)
    return place


def versions_of(old: Path, folder: Path | None, current: str = "") -> list[Note]:
    """Notes of the versions that an earlier release published in a folder (None: in any), by number; with them, as it is
    published, the version `current`."""
    found = []
    for note in notes(old):
        own = folder is None or published_in(old, note) == folder.absolute()
        if (old / str(note.number)).is_dir() and ((own and note.published) or str(note.number) == current):
            found.append(replace(note, published=True))
    return found


def published_in(old: Path, note: Note) -> Path:
    """The folder in which an earlier release published a version."""
    return Path(os.path.normpath(old.parent.absolute() / note.folder))


def _exchange_link(place: Path, old: Path, known: list[Note]) -> None:
    following, before = _following(place), _before(place)
    home = following / VERSIONS
    home.mkdir(parents=True)
    _carry(old, home, known)
    number = place.readlink().name
    if (old / number).is_dir():
        if not (home / number).is_dir():  # its note is damaged
            link_tree(old / number, home / number)
            move_foreign(home / number, following)
        switch.switch(following, int(number))
    sync_tree(following)
    if publish._exchange(following, place):
        sync(place.parent)
        following.unlink()
    else:
        place.rename(before)
        following.rename(place)
        sync(place.parent)
        before.unlink()
    sync(place.parent)


def _carry(old: Path, home: Path, known: list[Note]) -> None:
    take_numbers_of(old, home)
    for note in reversed(known):  # files of the user in the newest one keep their names
        number = note.number
        take_number(home, number)
        if (home / str(number)).is_dir():  # by a run that was killed afterwards
            continue
        making = home / f"{number}{MAKING}"
        shutil.rmtree(making, ignore_errors=True)
        link_tree(old / str(number), making)
        move_foreign(making, home.parent)
        write_note(home, note)
        making.rename(home / str(number))
    sync(home)


def _drop(old: Path, folder: Path) -> None:
    for path in old.iterdir():
        if path.name.endswith((MAKING, REMOVING)):
            shutil.rmtree(path)
        elif path.name.endswith(".part"):
            path.unlink()
    for note in notes(old):
        if published_in(old, note) == folder.absolute() or not (old / str(note.number)).is_dir():
            drop_version(old, note.number)
    remove_if_empty(old)


def drop_version(home: Path, number: int) -> None:
    """Removes a version, so that a run that is killed here leaves either all of it or nothing that is listed."""
    going = home / f"{number}{REMOVING}"
    if (home / str(number)).is_dir():
        (home / str(number)).rename(going)
    (home / f"{number}.json").unlink(missing_ok=True)
    if going.is_dir():
        shutil.rmtree(going)


def _end_exchange(place: Path) -> None:
    """Ends what a killed exchange left beside the published folder."""
    before, following = _before(place), _following(place)
    whole = (following / CURRENT).is_symlink() and not following.is_symlink()
    if not place.exists() and not place.is_symlink():
        if whole:
            following.rename(place)
        elif before.is_symlink() or before.is_dir():
            before.rename(place)
    taken_over = switch.is_old_link(place)  # what lies beside a link was made a version before
    for path in (before, following):
        if path.is_symlink():
            path.unlink()
        elif path.is_dir() and taken_over:
            shutil.rmtree(path)


def _following(place: Path) -> Path:
    return place.with_name(f".{place.name}.following")


def _before(place: Path) -> Path:
    return place.with_name(f".{place.name}.before")
