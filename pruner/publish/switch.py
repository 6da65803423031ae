"""The published folder: what stands in it, and how it changes from one version to the next in a single step.

Receives the published folder. It is a real folder: `current` leads to `.versions/<number>`, and each result (`<radio>`,
`talkgroups`) to `current/<result>`; everything else in it is the user's own and stays. Whoever reads through it sees one whole
version at every instant, also when the process is killed.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from pruner.publish import folders as publish
from pruner.publish.folders import CURRENT, VERSIONS
from pruner.publish.version_files import move_foreign, result_names, summaries, visible
from pruner.words.disk import sync
from pruner.words.errors import SettingsError

#: What making a link fails with where there are none: no such call, no such kind of file, no right to them.
_NO_LINKS: Final = (None, errno.EPERM, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL)
#: Where releases before 0.2 kept versions, below the state; the published folder was a link to one of them.
OLD_VERSIONS: Final = "versions"
_LINK: Final = ".making-link-"
_ASIDE: Final = ".making-old-"
_MAKING: Final = ".making-"


def is_old_link(path: Path) -> bool:
    """Whether a path is a link that a release before 0.2 made: to a numbered folder below a folder `versions`, with its note
    beside it (or to one that is gone)."""
    if not path.is_symlink():
        return False
    target = path.parent / path.readlink()
    numbered = target.name.isascii() and target.name.isdigit() and target.parent.name == OLD_VERSIONS
    return numbered and (target.with_name(f"{target.name}.json").is_file() or not target.exists())


def published_place(folder: Path) -> Path:
    """Where results are published: the folder itself, or what the user's own link leads to.

    Raises SettingsError where that link leads to a place that is not there, such as a disk that is not mounted.
    """
    for _ in range(40):  # as many links as the system itself follows
        if not folder.is_symlink() or is_old_link(folder):
            return folder
        target = folder.parent / folder.readlink()
        if not target.parent.is_dir():
            raise SettingsError(f"{folder}: is a link to {target}, whose folder is not there; mount the disk or mend the link")
        folder = target
    raise SettingsError(f"{folder}: is a link that leads to itself; remove it")


def current_version(folder: Path) -> Path | None:
    """The version's folder that is published, None if none is."""
    try:
        place = published_place(folder)
    except SettingsError:
        return None
    link = place if is_old_link(place) else place / CURRENT
    ours = link is place or _leads_to_a_version(link)
    return link.resolve() if ours and link.is_dir() else None


def home_of(folder: Path, state: Path) -> Path:
    """The folder that holds the versions: in the published folder, or where an earlier release left them."""
    place = published_place(folder)
    if is_old_link(place):
        return (place.parent / place.readlink()).parent
    old = state / OLD_VERSIONS
    return old if old.is_dir() and not (place / VERSIONS).is_dir() else place / VERSIONS


def is_among_results(path: Path, folder: Path, names: Iterable[str]) -> bool:
    """Whether a path lies inside a result or a version of a published folder, where nothing may be written."""
    outer = [folder / VERSIONS, folder / CURRENT, *(folder / name for name in names)]
    if is_old_link(folder):
        outer.append(folder)
    place = path.absolute().parent
    return any(place.is_relative_to(one) or place.resolve().is_relative_to(one.resolve()) for one in outer)


def prepare(place: Path, names: Iterable[str]) -> None:
    """Ends what a killed run began, brings files of the user out of the published version, and finds out whether `names` can be
    published.

    Raises SettingsError where something that no run wrote stands in the way, OSError where nothing can be written.
    """
    place.mkdir(parents=True, exist_ok=True)
    present = current_version(place)
    if not _leads_to_a_version(place / CURRENT) and _is_there(place / CURRENT):
        raise _foreign(place, CURRENT)
    if _is_there(place / VERSIONS) and ((place / VERSIONS).is_symlink() or not (place / VERSIONS).is_dir()):
        raise _foreign(place, VERSIONS)
    _end_swaps(place, present)
    if present is not None:
        move_foreign(present, place)
    for name in names:
        publish._remove(place / f"{_MAKING}{name}")  # of a plain run that was killed
        if _is_there(place / name) and not _is_our_link(place / name):
            _refuse_foreign(place, name)
            if present is not None:
                raise _foreign(place, name)
    (place / VERSIONS).mkdir(exist_ok=True)
    trial = place / f"{_LINK}{CURRENT}"
    try:
        trial.symlink_to(VERSIONS)
    except (OSError, NotImplementedError) as error:
        if getattr(error, "errno", None) not in _NO_LINKS:
            raise
        raise SettingsError(
            f"{place}: no links can be made here, and versions are published by them; use pruner fit, or an [output] folder "
            "on another file system"
        ) from error
    trial.unlink()


def plain_results(place: Path, names: Iterable[str]) -> list[str]:
    """Which of `names` are real folders, as a plain fit leaves them."""
    return [name for name in names if (place / name).is_dir() and not (place / name).is_symlink()]


def switch(place: Path, number: int) -> None:
    """Publishes a version: one rename. Links to its results stand before it, those to results that it lacks go after it."""
    tops = tops_of(result_names(place / VERSIONS / str(number)))
    for name in tops:
        if not _is_there(place / name):
            (place / name).symlink_to(f"{CURRENT}/{name}")
    following = place / f"{_LINK}{CURRENT}"
    following.unlink(missing_ok=True)
    following.symlink_to(f"{VERSIONS}/{number}")
    following.replace(place / CURRENT)
    sync(place)
    for name in plain_results(place, tops):
        _swap(place, name)
    for path in place.iterdir():
        if path.name not in tops and _is_our_link(path):
            path.unlink()
    sync(place)


def tops_of(results: Iterable[str]) -> list[str]:
    """What stands in the published folder for results such as `radio` and `talkgroups/radio`."""
    return sorted({name.partition("/")[0] for name in results})


@contextlib.contextmanager
def one_line(folder: Path, state: Path) -> Iterator[None]:
    """Turns the system's word that a place cannot be written into a SettingsError of one line."""
    try:
        yield
    except OSError as error:
        number = publish.number_of(error)
        if number not in publish.UNWRITABLE:
            raise
        # Of a link that could not be made, the first name is only what it should hold.
        named = [name for name in (error.filename, error.filename2) if isinstance(name, str) and Path(name).is_absolute()]
        where = named[0] if named else folder
        raise SettingsError(
            f"{where}: cannot be written ({os.strerror(number)}); make room, or choose another [output] folder "
            f"or state ({state})"
        ) from error


def _swap(place: Path, name: str) -> None:
    """Puts the link to a result in the place of a real folder, whose content the published version holds."""
    link, aside = place / f"{_LINK}{name}", place / f"{_ASIDE}{name}"
    link.symlink_to(f"{CURRENT}/{name}")
    if publish._exchange(link, place / name):
        sync(place)
        shutil.rmtree(link)
        return
    (place / name).rename(aside)
    link.rename(place / name)
    sync(place)
    shutil.rmtree(aside)


def _end_swaps(place: Path, present: Path | None) -> None:
    """Ends what a killed take-over of plain results left; only real folders whose content is published give way to links."""
    tops = tops_of(result_names(present)) if present else []
    for path in [*place.glob(f"{_LINK}*")]:
        path.unlink() if path.is_symlink() else shutil.rmtree(path)  # exchanged: its content is published
    for path in place.glob(f"{_ASIDE}*"):
        name = path.name.removeprefix(_ASIDE)
        if name in tops and not _is_there(place / name):
            (place / name).symlink_to(f"{CURRENT}/{name}")
        publish._put_back(place / name)
    for name in plain_results(place, tops):
        if present is not None and _holds_the_same(place / name, present / name):
            _swap(place, name)


def _holds_the_same(one: Path, other: Path) -> bool:
    try:
        return summaries(one) == summaries(other)
    except OSError:
        return False


def _refuse_foreign(place: Path, name: str) -> None:
    """Raises SettingsError when what bears the name of a result holds anything that no run wrote."""
    result = place / name
    if result.is_symlink() or not result.is_dir():
        raise _foreign(place, name)
    for aside in result.glob(f"{_ASIDE}*"):
        publish._put_back(result / aside.name.removeprefix(_ASIDE))
    for one in [result] if (result / "summary.json").is_file() else visible(result) or [result]:
        if one.is_symlink() or not (one / "summary.json").is_file():
            raise _foreign(place, name)
        publish._refuse_foreign(one)


def _foreign(place: Path, name: str) -> SettingsError:
    return SettingsError(f"{place}: holds {name!r}, which no run wrote and a new result would hide; move it away")


def _leads_to_a_version(link: Path) -> bool:
    if not link.is_symlink():
        return False
    target = link.readlink()
    return target.parent == Path(VERSIONS) and target.name.isascii() and target.name.isdigit()


def _is_our_link(path: Path) -> bool:
    return path.is_symlink() and path.readlink() == Path(CURRENT) / path.name


def _is_there(path: Path) -> bool:
    return path.exists() or path.is_symlink()
