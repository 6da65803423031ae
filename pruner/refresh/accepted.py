"""The last accepted files of each source: a run goes on with them when a new directory cannot be had or is refused.

`<state>/sources/<source>/accepted.json` names them, with their hashes and figures, and is the one point of commitment. They lie
in a folder beside it that is named after their contents. `body` is a link to the file of a source on the network.
"""

from __future__ import annotations

import glob
import hashlib
import json
import os
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pruner.publish.folders import fingerprint
from pruner.publish.version_files import sync_tree
from pruner.refresh.guard import Statistics
from pruner.words.disk import set_mode, write_whole
from pruner.words.stored import StoredError, reason_of, stored

_MANIFEST: Final = "accepted.json"
_ARRIVING: Final = "arriving"
_BODY: Final = "body"


@dataclass(frozen=True, slots=True)
class Bodies:
    """Files of one source that lie still. `digest` stands for their names and contents, in order."""

    folder: Path
    files: tuple[Path, ...]
    digest: str

    @property
    def pattern(self) -> str:
        """A pattern of `glob.glob` that finds the files in their order."""
        return str(Path(glob.escape(str(self.folder))) / "*" / "*")


@dataclass(frozen=True, slots=True)
class Accepted(Bodies):
    """What was accepted last: when (day, ISO 8601), and its figures."""

    day: str
    statistics: Statistics


@dataclass(frozen=True, slots=True)
class _Stored:
    """What `accepted.json` says; `files` are seen from its folder."""

    day: str
    digest: str
    files: tuple[str, ...]
    statistics: Statistics


def digest_of(files: Sequence[Path]) -> str:
    """SHA-256 over the names and contents of files, in order."""
    whole = hashlib.sha256()
    for path in files:
        whole.update(json.dumps(fingerprint(path).model_dump()).encode())
    return whole.hexdigest()


def last_accepted(state: Path, name: str) -> Accepted | None:
    """The last accepted files of a source; None when there are none. Raises StoredError when they are not as they were
    accepted."""
    home = state / "sources" / name
    path = home / _MANIFEST
    try:
        note = stored(_Stored, path.read_bytes())
        files = tuple(home / file for file in note.files)
        if not files or digest_of(files) != note.digest:
            raise StoredError("its files have changed since")
    except FileNotFoundError as error:
        if error.filename == str(path):
            return None
        raise StoredError(f"{path}: {error.filename} is gone") from None
    except (OSError, StoredError) as error:
        raise StoredError(f"{getattr(error, 'filename', None) or path}: {reason_of(error)}") from None
    return Accepted(files[0].parent.parent, files, note.digest, note.day, note.statistics)


def take_in(state: Path, name: str, files: Sequence[Path], *, may_link: bool) -> Bodies:
    """Copies of files that nobody else changes (hard links where `may_link` says that the originals are never written to)."""
    home = state / "sources" / name
    arriving = home / _ARRIVING
    shutil.rmtree(arriving, ignore_errors=True)
    home.mkdir(parents=True, exist_ok=True)
    set_mode(home, 0o700)  # names and towns of people
    arriving.mkdir()
    copies = []
    for number, path in enumerate(files, 1):
        folder = arriving / f"{number:06}"
        folder.mkdir()
        copies.append(folder / path.name)
        _link_or_copy(path, copies[-1], may_link)
    sync_tree(arriving)
    return Bodies(arriving, tuple(copies), digest_of(copies))


def _link_or_copy(path: Path, copy: Path, may_link: bool) -> None:
    if may_link:
        try:
            os.link(path, copy)
        except OSError:
            pass
        else:
            return
    shutil.copyfile(path, copy)


def accept(state: Path, name: str, bodies: Bodies, statistics: Statistics, day: str, *, remote: bool) -> Accepted:
    """Makes files that were taken in the accepted ones; those accepted before are removed."""
    home = state / "sources" / name
    folder = home / bodies.digest
    if folder.exists():  # damaged, or left by a run that was killed right here
        shutil.rmtree(folder)
    bodies.folder.rename(folder)
    files = tuple(folder / path.relative_to(bodies.folder) for path in bodies.files)
    note = {
        "schema": 1,
        "day": day,
        "digest": bodies.digest,
        "files": [str(path.relative_to(home)) for path in files],
        "statistics": statistics.plain(),
    }
    write_whole(home / _MANIFEST, json.dumps(note, indent=1) + "\n")
    accepted = Accepted(folder, files, bodies.digest, day, statistics)
    if remote:
        show_body(state, name, accepted)
    for path in home.iterdir():
        if path.is_dir() and not path.is_symlink() and path != folder:
            shutil.rmtree(path)
    return accepted


def show_body(state: Path, name: str, accepted: Accepted) -> None:
    """Lets `<source>/body` lead to the accepted file of a source on the network."""
    home = state / "sources" / name
    target = str(accepted.files[0].relative_to(home))
    if (home / _BODY).is_symlink() and str((home / _BODY).readlink()) == target:
        return
    beside = home / f"{_BODY}.part"
    beside.unlink(missing_ok=True)
    try:
        beside.symlink_to(target)
    except (OSError, NotImplementedError):  # no links here, or not for this user
        _link_or_copy(accepted.files[0], beside, may_link=True)
    beside.replace(home / _BODY)


def drop_refused(state: Path, name: str) -> None:
    """Removes files that were taken in but not accepted."""
    shutil.rmtree(state / "sources" / name / _ARRIVING, ignore_errors=True)
