"""Versions of the published results: made aside, read back, published in one step, kept, brought back, purged.

Receives the published folder and the state folder (the caller holds the state's lock), hands on a folder to write the
radios' folders into. `<state>/versions/<number>` is a version, `<number>.json` beside it says when it was made and for
which published folder; nothing of that enters the version itself, so the same input gives the same bytes.

Steps of a publication, each on the disk before the next: `<number>-making` complete and read back; `<number>.json` with
"published": false; the folder named `<number>`; the link switched; "published": true. `_sweep` completes or undoes
whatever a killed run left.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import os
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pruner.disk import sync
from pruner.errors import NothingToDoError, PrunerError, SettingsError
from pruner.report import switch

KEEP_VERSIONS: Final = 4
_MAKING: Final = "-making"
_REMOVING: Final = "-removing"
_COUNTER: Final = "last-number"
_NOTED: Final = ("number", "made_at", "folder", "radios", "details", "published")


@dataclass(frozen=True, slots=True)
class Version:
    """A published version. `made_at` is UTC in ISO 8601; `folder` where it was published; `details` what its maker noted."""

    number: int
    made_at: str
    current: bool
    radios: tuple[str, ...]
    folder: Path
    details: Mapping[str, Any] = field(default_factory=dict)


@contextlib.contextmanager
def new_version(
    folder: Path, state: Path, keep: int = KEEP_VERSIONS, details: Mapping[str, Any] | None = None
) -> Iterator[Path]:
    """A folder to write the radios' folders into: verified and published when the block ends well, gone when it does not.

    What has the same contents as the published or the newest version is no new version: that one is published then. The first
    time, a real `folder` that holds results of plain runs becomes a version itself. Of the versions of `folder`
    the newest `keep` stay, and the published one. `details` may be filled until the block ends. Raises SettingsError where
    something cannot be written or `folder` holds what is not ours, PrunerError when files read back differently.
    """
    folder = folder.absolute()
    with switch.one_line(folder, state):
        check_places(folder, state)
        place = switch.published_place(folder)
        home = state / switch.VERSIONS
        home.mkdir(parents=True, exist_ok=True)
        _sweep(state)
        switch.prepare(place)
        number = _next_number(home)
        making = home / f"{number}{_MAKING}"
        making.mkdir()
        try:
            yield making
            radios = _complete(making)
            if place.is_dir() and not place.is_symlink():
                number = _take_over(place, folder, state, number, making)
            known = _same_contents(versions(state, folder), home, home / f"{number}{_MAKING}", radios)
            if known is None:
                _publish(place, folder, state, number, radios, details or {})
            else:
                _publish_again(place, home, home / f"{number}{_MAKING}", known, details or {})
        except BaseException:
            with contextlib.suppress(OSError):
                _sweep(state)
            raise
        with contextlib.suppress(OSError):  # it is published; what cannot be dropped now is dropped next time
            _drop(state, [version.number for version in versions(state, folder)[:-keep] if not version.current])


def check_places(folder: Path, state: Path) -> None:
    """Raises SettingsError when the state lies inside the published folder, which each version replaces."""
    for outer in (folder.absolute(), switch.published_place(folder.absolute())):
        if state.absolute().is_relative_to(outer) or state.resolve().is_relative_to(outer.parent.resolve() / outer.name):
            raise SettingsError(f"{state}: lies inside the output folder, which each version replaces; move [output] state")


def versions(state: Path, folder: Path | None = None) -> list[Version]:
    """The published versions, oldest first: of one published folder, or of all."""
    home = state / switch.VERSIONS
    wanted = folder.absolute() if folder else None
    found = []
    for number, note in sorted(_notes(home), key=lambda pair: pair[0]):
        published_in = _published_in(state, note)
        if not (home / str(number)).is_dir() or wanted not in (None, published_in):
            continue
        current = switch.current_version(published_in) == (home / str(number)).resolve()
        if not current and not note["published"]:
            continue
        found.append(Version(number, note["made_at"], current, tuple(note["radios"]), published_in, note["details"]))
    return found


def rollback(folder: Path, state: Path, number: int | None = None) -> Version:
    """Publishes another version again: the given one, or the one before the present one.

    Raises SettingsError when there is no such version, NothingToDoError when it is the published one already, PrunerError
    when its files are not as they were written.
    """
    with switch.one_line(folder, state):
        _sweep(state)
        known = versions(state, folder)
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
        version = state / switch.VERSIONS / str(number)
        switch.verify(version)
        place = switch.published_place(folder)
        switch.prepare(place)
        switch.switch(place, version)
    return next(version for version in versions(state, folder) if version.number == number)


def purge(state: Path, folder: Path | None = None) -> list[int]:
    """Removes every version that is not published, with all that it says of people. Returns their numbers.

    Where no version can be seen to be published (a disk that is not mounted), the newest stays; but not that of a published
    folder other than `folder`, if one is given, that was removed.
    """
    own = folder.absolute() if folder else None
    with switch.one_line(state, state):
        _sweep(state)
        known = versions(state)
        newest = {version.folder: version.number for version in known}
        newest |= {version.folder: version.number for version in known if version.current}
        removed = {place for place in newest if own not in (None, place) and _is_removed(place)}
        numbers = [version.number for version in known if version.folder in removed or version.number != newest[version.folder]]
        _drop(state, numbers)
    return numbers


def _is_removed(folder: Path) -> bool:
    return folder.parent.is_dir() and not folder.is_symlink() and not folder.exists()


def _complete(making: Path) -> tuple[str, ...]:
    switch.sync_tree(making)
    return switch.verify(making)


def _publish(place: Path, folder: Path, state: Path, number: int, radios: tuple[str, ...], details: Mapping[str, Any]) -> None:
    home = state / switch.VERSIONS
    note = {
        "number": number,
        "made_at": datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        "folder": os.path.relpath(folder, state.absolute()),  # so that both may be moved together
        "radios": radios,
        "details": details,
    }
    switch.write_whole(home / _COUNTER, f"{number}\n")
    _write_note(home, {**note, "published": False})
    (home / f"{number}{_MAKING}").rename(home / str(number))
    sync(home)
    switch.switch(place, home / str(number))
    with contextlib.suppress(OSError):  # the link counts; `_sweep` writes this later
        _write_note(home, {**note, "published": True})


def _same_contents(known: Sequence[Version], home: Path, making: Path, radios: tuple[str, ...]) -> Version | None:
    """The published or else the newest version, if its files are whole and the same as those that were made."""

    def summaries(folder: Path) -> list[bytes]:  # they name size and SHA-256 of every other file
        return [(folder / radio / "summary.json").read_bytes() for radio in radios]

    for version in dict.fromkeys([*(one.number for one in known if one.current), *(one.number for one in known[-1:])]):
        with contextlib.suppress(PrunerError, OSError):
            folder = home / str(version)
            if switch.verify(folder) == radios and summaries(folder) == summaries(making):
                return next(one for one in known if one.number == version)
    return None


def _publish_again(place: Path, home: Path, making: Path, known: Version, details: Mapping[str, Any]) -> None:
    shutil.rmtree(making)
    for number, note in _notes(home):
        if number == known.number and note["details"] != details:
            _write_note(home, {**note, "details": details})
    if not known.current:
        switch.switch(place, home / str(known.number))


def _take_over(place: Path, folder: Path, state: Path, number: int, making: Path) -> int:
    """Makes a version of a real folder with results; the version that is being made gets the number after it."""
    home = state / switch.VERSIONS
    following = number + 1
    making.rename(home / f"{following}{_MAKING}")
    old = home / f"{number}{_MAKING}"
    switch.copy_results(place, old)
    radios = switch.result_names(old)
    if radios:
        switch.sync_tree(old)
        _publish(place, folder, state, number, radios, {})
    else:
        old.rmdir()
        shutil.rmtree(place)
    return following


def _drop(state: Path, numbers: list[int]) -> None:
    home = state / switch.VERSIONS
    for number in numbers:
        going = home / f"{number}{_REMOVING}"
        (home / str(number)).rename(going)
        (home / f"{number}.json").unlink(missing_ok=True)
        shutil.rmtree(going)


def _sweep(state: Path) -> None:
    home = state / switch.VERSIONS
    if not home.is_dir():
        return
    for path in sorted(home.iterdir()):
        if path.name.endswith((_MAKING, _REMOVING)):
            shutil.rmtree(path)
        elif path.name.endswith(".part"):
            path.unlink()
    for number, note in _notes(home):
        version = home / str(number)
        if not version.is_dir():
            (home / f"{number}.json").unlink()
        elif not note["published"]:
            if switch.current_version(_published_in(state, note)) == version.resolve():
                _write_note(home, {**note, "published": True})
            else:
                _drop(state, [number])


def _notes(home: Path) -> list[tuple[int, dict[str, Any]]]:
    found = []
    for path in home.glob("*.json"):
        if not path.stem.isdigit():
            continue
        try:
            note = json.loads(path.read_bytes())
            found.append((int(path.stem), {key: note[key] for key in _NOTED}))
        except (OSError, ValueError, KeyError, TypeError):
            continue  # not ours, or damaged: its version stays, but nobody is sent back to it
    return found


def _published_in(state: Path, note: dict[str, Any]) -> Path:
    return Path(os.path.normpath(state.absolute() / note["folder"]))


def _write_note(home: Path, note: dict[str, Any]) -> None:
    switch.write_whole(home / f"{note['number']}.json", json.dumps(note, indent=2) + "\n")


def _next_number(home: Path) -> int:
    """A number that no version bore before, those that are gone included."""
    try:
        last = int((home / _COUNTER).read_text(encoding="ascii"))
    except (OSError, ValueError):
        last = 0
    taken = (path.name.partition("-")[0].partition(".")[0] for path in home.iterdir())
    return 1 + max([last, *(int(name) for name in taken if name.isascii() and name.isdigit())])
