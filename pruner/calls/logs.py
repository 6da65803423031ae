"""What is remembered of logs beside the store: how much of each was read, and the files of rows that were not folded.

Nothing depends on it: a log that is not remembered is read once more, and its calls are known. So it is written behind the
manifest, never before.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Final

from pruner.calls.parts import day_name
from pruner.calls.store import MANIFEST, damaged_store, write_whole
from pruner.words.days import day_number
from pruner.words.errors import InputRefusedError
from pruner.words.stored import StoredError, reason_of, stored

LOGS: Final = "logs.json"


@dataclass(frozen=True, slots=True)
class Taken:
    """A log that was folded, known by its content whatever its name.

    `kind` text: the first `length` bytes (`lines` lines) of the unpacked text were taken and have the SHA-256 `digest`; the
    rest comes later. `kind` whole: the file itself has `length` bytes and that digest. `head` is the digest of the first
    `head_length` bytes. read = folded + rejected + all of `set_aside`.
    """

    name: str
    kind: str
    length: int
    lines: int
    digest: str
    head_length: int
    head: str
    read: int = 0
    folded: int = 0
    rejected: int = 0
    set_aside: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Apart:
    """A file of rows that were not folded; `last_day` is the last day that the same fold took, None if it took none; `address`:
    they are of its pages."""

    file: str
    last_day: int | None
    address: str = ""


@dataclass(frozen=True, slots=True)
class Logs:
    """All that is remembered of logs."""

    taken: tuple[Taken, ...] = ()
    apart: tuple[Apart, ...] = ()

    @property
    def files(self) -> list[str]:
        """The files that must stay."""
        return [one.file for one in self.apart]

    def without_days(self, floor: int | None, days: tuple[int, ...] = ()) -> Logs:
        """Without the rows that may be of days that are forgotten: those of folds that took nothing behind the floor, and all
        that may hold one of the single days. Rows of pages are of all days."""

        def stays(one: Apart) -> bool:
            if one.address and (floor is not None or days):
                return False
            if floor is not None and (one.last_day is None or one.last_day < floor):
                return False
            return not any(one.last_day is None or one.last_day >= day for day in days)

        return Logs(self.taken, tuple(one for one in self.apart if stays(one)))


def load_logs(folder: Path) -> Logs:
    """What is remembered of the logs of a store. Raises InputRefusedError when it is damaged."""
    path = folder / LOGS
    try:
        found = stored(_Stored, path.read_bytes()) if path.is_file() else _of_first_release(folder / MANIFEST)
    except (OSError, StoredError) as error:
        raise InputRefusedError(
            f"{path}: is damaged ({reason_of(error)}); remove it, then fold the logs again (no call is lost)"
        ) from error
    apart = (Apart(one.file, None if one.last_day is None else day_number(one.last_day), one.address) for one in found.apart)
    return Logs(found.taken, tuple(apart))


@dataclass(frozen=True, slots=True)
class _StoredApart:
    file: str
    last_day: datetime.date | None
    address: str = ""


@dataclass(frozen=True, slots=True)
class _Stored:
    """What is remembered, as it stands on the disk."""

    taken: tuple[Taken, ...]
    apart: tuple[_StoredApart, ...]


@dataclass(frozen=True, slots=True)
class _StoredOfSums:
    """The same in the manifest of the first release."""

    apart: tuple[_StoredApart, ...] = ()


def _of_first_release(manifest: Path) -> _Stored:
    """Of its logs only sums were kept, so they are read once more."""
    try:
        return _Stored((), stored(_StoredOfSums, manifest.read_bytes()).apart)
    except FileNotFoundError:
        return _Stored((), ())
    except (OSError, StoredError) as error:
        raise damaged_store(manifest, error) from error


def save_logs(folder: Path, logs: Logs) -> None:
    """Remembers, in one step."""
    apart = [
        {"file": one.file, "last_day": None if one.last_day is None else day_name(one.last_day)}
        | ({"address": one.address} if one.address else {})
        for one in logs.apart
    ]
    write_whole(folder / LOGS, {"taken": [asdict(taken) for taken in logs.taken], "apart": apart})
