"""Versions of the published results: made aside, read back, published in one step, kept, brought back, purged.

Receives the published folder and the state folder (the caller holds the state's lock), hands on a folder to write the
radios' folders into. `.versions/<number>` in the published folder is a version, `<number>.json` beside it says when it was
made; nothing of that enters the version itself, so the same input gives the same bytes.

Steps of a publication, each on the disk before the next: `<number>-making` complete and read back; `<number>.json` with
"published": false; the folder named `<number>`; the link `current` switched; "published": true. `_sweep` completes or undoes
whatever a killed run left.
"""

from __future__ import annotations

import contextlib
import datetime
import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from pruner.publish import switch
from pruner.publish.folders import VERSIONS
from pruner.publish.notes import Details, Note, damaged_notes, next_number, notes, take_number, write_note
from pruner.publish.takeover import MAKING, REMOVING, drop_version, published_in, take_over, versions_of
from pruner.publish.version_files import link_tree, summaries, sync_tree, verify
from pruner.words.disk import give_mode, sync
from pruner.words.errors import NothingToDoError, PrunerError, SettingsError

KEEP_VERSIONS: Final = 4
_NO_DETAILS: Final = Details()


@dataclass(frozen=True, slots=True)
class Version:
    """A published version. `made_at` is UTC in ISO 8601; `files` the folder it lies in; `details` what its maker noted."""

    number: int
    made_at: str
    current: bool
    radios: tuple[str, ...]
    files: Path
    details: Details


@contextlib.contextmanager
def new_version(
    folder: Path,
    state: Path,
    keep: int = KEEP_VERSIONS,
    details: Details = _NO_DETAILS,
    names: Sequence[str] = (),
) -> Iterator[Path]:
    """A folder to write the radios' folders into: verified and published when the block ends well, gone when it does not.

    What has the same contents as the published or the newest version is no new version: that one is published then. The first
    time, results of plain runs become a version of their own, before this one. The newest `keep` versions stay, and the
    published one. `details.kept` may be filled until the block ends. `names`: the results to come, so that what stands in
    their way is found before any work. Raises SettingsError where something cannot be written or stands in the way,
    PrunerError when files read back differently.
    """
    folder = folder.absolute()
    with switch.one_line(folder, state):
        check_places(folder, state)
        place = take_over(folder, state)
        switch.prepare(place, names)
        home = place / VERSIONS
        _sweep(place)
        making = home / f"{next_number(home)}{MAKING}"
        making.mkdir()
        try:
            yield making
            sync_tree(making)
            radios = verify(making)
            switch.prepare(place, switch.tops_of(radios))
            making = _keep_plain_results(place, making, switch.tops_of(radios))
            known = _same_contents(versions(folder, state), making, radios)
            if known is None:
                _publish(place, making, radios, details)
            else:
                _publish_again(place, making, known, details)
        except BaseException:
            with contextlib.suppress(OSError):
                _sweep(place)
            raise
        with contextlib.suppress(OSError):  # it is published; what cannot be dropped now is dropped next time
            for version in versions(folder, state)[:-keep]:
                if not version.current:
                    drop_version(home, version.number)


def check_places(folder: Path, state: Path) -> None:
    """Raises SettingsError when the state lies inside the published folder: it is private, and kept when results go."""
    for outer in (folder.absolute(), switch.published_place(folder.absolute())):
        if state.absolute().is_relative_to(outer) or state.resolve().is_relative_to(outer.parent.resolve() / outer.name):
            raise SettingsError(f"{state}: lies inside the output folder, which is published; move [output] state out of it")


def versions(folder: Path, state: Path) -> list[Version]:
    """The versions of a published folder, oldest first; also those that an earlier release left below the state."""
    home = switch.home_of(folder, state)
    present = switch.current_version(folder)
    known = (
        versions_of(home, folder)
        if home.name == switch.OLD_VERSIONS
        else [note for note in notes(home) if (home / str(note.number)).is_dir()]
    )
    found = []
    for note in known:
        files = home / str(note.number)
        current = present == files.resolve()
        if current or note.published:
            found.append(Version(note.number, note.made_at, current, note.radios, files, note.details))
    return found


def damaged(folder: Path, state: Path) -> list[str]:
    """A line for each version of a published folder that is not listed because its note is damaged."""
    return damaged_notes(switch.home_of(folder, state))


def rollback(folder: Path, state: Path, number: int | None = None) -> Version:
    """Publishes another version again: the given one, or the one before the present one.

    Raises SettingsError when there is no such version, NothingToDoError when it is the published one already, PrunerError
    when its files are not as they were written.
    """
    folder = folder.absolute()
    with switch.one_line(folder, state):
        if not versions(folder, state):
            raise SettingsError(f"{folder}: there is no earlier version to go back to")
        place = take_over(folder, state)
        switch.prepare(place, ())
        _sweep(place)
        known = versions(folder, state)
        present = next((version.number for version in known if version.current), None)
        if number is None:
            earlier = [version.number for version in known if present is None or version.number < present]
            if not earlier:
                raise SettingsError(f"{folder}: there is no earlier version to go back to")
            number = earlier[-1]
        chosen = next((version for version in known if version.number == number), None)
        if chosen is None:
            kept = ", ".join(str(version.number) for version in known) or "none"
            raise SettingsError(f"{folder}: there is no version {number} (kept: {kept})")
        if number == present:
            raise NothingToDoError(f"version {number} is the published one already")
        verify(chosen.files)
        switch.prepare(place, switch.tops_of(chosen.radios))
        switch.switch(place, number)
    return next(version for version in versions(folder, state) if version.number == number)


def purge(folder: Path, state: Path) -> list[int]:
    """Removes every version that is not published, with all that it says of people. Returns their numbers.

    Where none is published, the newest stays. What an earlier release left below the state for folders that were removed goes
    too.
    """
    folder = folder.absolute()
    with switch.one_line(folder, state):
        if versions(folder, state):
            place = take_over(folder, state)
            switch.prepare(place, ())
            _sweep(place)
        known = versions(folder, state)
        keep = next((version.number for version in known if version.current), known[-1].number if known else None)
        numbers = [version.number for version in known if version.number != keep]
        for number in numbers:
            drop_version(switch.home_of(folder, state), number)
        _purge_old(state)
    return numbers


def give_mode_to_versions(folder: Path, state: Path, mode: int) -> None:
    """Lets the files of all versions have a mode, whenever they were made."""
    with switch.one_line(folder, state):
        home = switch.published_place(folder.absolute()) / VERSIONS
        if home.is_dir():
            give_mode(home, mode)


def elsewhere(state: Path) -> list[tuple[int, Path]]:
    """Versions that an earlier release left below the state for other published folders: number and folder."""
    old = state / switch.OLD_VERSIONS
    return [(note.number, published_in(old, note)) for note in versions_of(old, None)] if old.is_dir() else []


def _purge_old(state: Path) -> None:
    """Of what an earlier release left for other folders only what these folders show stays, and the newest of those that are
    out of sight (a disk that is not mounted)."""
    kept = {folder: number for number, folder in elsewhere(state)}
    for number, folder in elsewhere(state):
        present = switch.current_version(folder)
        gone = present is None and folder.parent.is_dir() and not folder.is_symlink()
        if gone or number != (int(present.name) if present else kept[folder]):
            drop_version(state / switch.OLD_VERSIONS, number)


def _publish(place: Path, making: Path, radios: tuple[str, ...], details: Details) -> None:
    home, number = making.parent, int(making.name.removesuffix(MAKING))
    made_at = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
    note = Note(number, made_at, radios, details, published=False)
    take_number(home, number)
    write_note(home, note)
    making.rename(home / str(number))
    sync(home)
    switch.switch(place, number)
    with contextlib.suppress(OSError):  # the link counts; `_sweep` writes this later
        write_note(home, replace(note, published=True))


def _keep_plain_results(place: Path, making: Path, names: Sequence[str]) -> Path:
    """Makes a version of what plain runs left under these names; the version that is being made gets the number after it.

    Returns its folder."""
    plain = switch.plain_results(place, names)
    if not plain:
        return making
    home = making.parent
    following = making.rename(home / f"{int(making.name.removesuffix(MAKING)) + 1}{MAKING}")
    making.mkdir()
    for name in plain:
        link_tree(place / name, making / name)
    _publish(place, making, verify(making), Details())
    return following


def _same_contents(known: Sequence[Version], making: Path, radios: tuple[str, ...]) -> Version | None:
    """The published or else the newest version, if its files are whole and the same as those that were made."""
    for version in [*(one for one in known if one.current), *known[-1:]]:
        with contextlib.suppress(PrunerError, OSError):
            if summaries(version.files) == summaries(making) and verify(version.files) == radios:
                return version
    return None


def _publish_again(place: Path, making: Path, known: Version, details: Details) -> None:
    shutil.rmtree(making)
    for note in notes(making.parent):
        if note.number == known.number and note.details != details:
            write_note(making.parent, replace(note, details=details))
    if not known.current:
        switch.switch(place, known.number)


def _sweep(place: Path) -> None:
    home = place / VERSIONS
    for path in sorted(home.iterdir()):
        if path.name.endswith((MAKING, REMOVING)):
            shutil.rmtree(path)
        elif path.name.endswith(".part"):
            path.unlink()
    for note in notes(home):
        version = home / str(note.number)
        if not version.is_dir():
            (home / f"{note.number}.json").unlink()
        elif not note.published:
            if switch.current_version(place) == version.resolve():
                write_note(home, replace(note, published=True))
            else:
                drop_version(home, note.number)
