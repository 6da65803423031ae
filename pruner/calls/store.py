"""The heard store: distinct calls, day by day.

Receives the days of a fold, hands on a folder of Parquet files (`calls.parts`) and `manifest.json`, the only commit point: a
file that it does not name is no part of the store, and a fold that is killed leaves the old store. The manifest knows calls,
not logs: the same calls give the same bytes, whatever logs they came from.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Collection, Iterable
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any, Final

from pruner.calls.parts import day_name
from pruner.calls.reading import nobody_reads
from pruner.words.days import day_number
from pruner.words.disk import sync as _sync
from pruner.words.errors import InputRefusedError
from pruner.words.stored import StoredError, checked, parsed, reason_of, schema_of

MANIFEST: Final = "manifest.json"
STORE_SCHEMA: Final = 2
#: The first release kept sums of each day, id and talkgroup, and what it remembered of logs, in the manifest.
_SCHEMA_OF_SUMS: Final = 1
#: Counted calls of whole days, made again whenever they are missing (`calls.weights`).
COUNTED: Final = "counted"
_OURS: Final = re.compile(
    r"making-.*|\d{4}-\d\d-\d\d(-callsigns)?-[0-9a-f]{16}\.parquet|(rejected|set-aside)-[0-9a-f]{16}\.csv"
)


@dataclass(frozen=True, slots=True)
class Part:
    """A file with the calls of one day; `day` counts from 1970-01-01. A file of sums has a row for each id and talkgroup."""

    day: int
    file: str
    rows: int
    calls: int


@dataclass(frozen=True, slots=True)
class Manifest:
    """What the store holds: calls by id (`parts`) and by call sign (`callsigns`), and `sums` of days that an earlier release
    folded. Days before `floor` and those of `forgotten` are never folded again."""

    system: str
    parts: tuple[Part, ...] = ()
    callsigns: tuple[Part, ...] = ()
    sums: tuple[Part, ...] = ()
    floor: int | None = None
    forgotten: tuple[int, ...] = ()

    @property
    def all_parts(self) -> tuple[Part, ...]:
        """Every file of the store."""
        return (*self.parts, *self.callsigns, *self.sums)

    @property
    def days(self) -> list[int]:
        """The days of which anything is known, ascending."""
        return sorted({part.day for part in self.all_parts})


def load_manifest(folder: Path, system: str) -> Manifest:
    """The manifest of a store, an empty one where there is none. Raises InputRefusedError when it is damaged."""
    path = folder / MANIFEST
    try:
        content = parsed(path.read_bytes())
        version = schema_of(content)
        if version not in (_SCHEMA_OF_SUMS, STORE_SCHEMA):
            raise InputRefusedError(f"{path}: written by another version (schema {version}); use that one, or fold anew")
        return _manifest(checked(_Stored, content))
    except FileNotFoundError:
        return Manifest(system)
    except (OSError, StoredError) as error:
        raise damaged_store(path, error) from error


def damaged_store(manifest: Path, error: OSError | StoredError) -> InputRefusedError:
    """The refusal of a store whose manifest cannot be read back."""
    return InputRefusedError(
        f"{manifest}: the heard store is damaged ({reason_of(error)}); move its folder away and fold the logs again"
    )


@dataclass(frozen=True, slots=True)
class _StoredPart:
    day: date
    file: str
    rows: int
    calls: int


@dataclass(frozen=True, slots=True)
class _Stored:
    """The manifest as it stands on the disk; in that of the first release `parts` are sums."""

    schema: int
    system: str
    parts: tuple[_StoredPart, ...]
    floor: date | None
    callsigns: tuple[_StoredPart, ...] = ()
    sums: tuple[_StoredPart, ...] = ()
    forgotten: tuple[date, ...] = ()


def _manifest(found: _Stored) -> Manifest:
    def parts(stored: tuple[_StoredPart, ...]) -> tuple[Part, ...]:
        return tuple(Part(day_number(part.day), part.file, part.rows, part.calls) for part in stored)

    floor = None if found.floor is None else day_number(found.floor)
    if found.schema == _SCHEMA_OF_SUMS:
        return Manifest(found.system, sums=parts(found.parts), floor=floor)
    forgotten = tuple(map(day_number, found.forgotten))
    return Manifest(found.system, parts(found.parts), parts(found.callsigns), parts(found.sums), floor, forgotten)


def with_days(old: tuple[Part, ...], new: Iterable[Part]) -> tuple[Part, ...]:
    """The parts of a store, some days of which are replaced."""
    parts = {part.day: part for part in (*old, *new)}
    return tuple(parts[day] for day in sorted(parts))


def without_days(manifest: Manifest, floor: int | None, days: Collection[int] = ()) -> Manifest:
    """The manifest without the days before a day and without single days, for good: they do not come back."""
    floors = [one for one in (floor, manifest.floor) if one is not None]
    floor = max(floors) if floors else None
    least = -1 if floor is None else floor
    forgotten = sorted(day for day in {*manifest.forgotten, *days} if day >= least)

    def kept(parts: tuple[Part, ...]) -> tuple[Part, ...]:
        return tuple(part for part in parts if part.day >= least and part.day not in forgotten)

    return replace(
        manifest,
        parts=kept(manifest.parts),
        callsigns=kept(manifest.callsigns),
        sums=kept(manifest.sums),
        floor=floor,
        forgotten=tuple(forgotten),
    )


def commit(folder: Path, manifest: Manifest) -> None:
    """Makes a manifest the true one in one step."""

    def shown(parts: tuple[Part, ...]) -> list[dict[str, object]]:
        return [asdict(part) | {"day": day_name(part.day)} for part in parts]

    content = {
        "schema": STORE_SCHEMA,
        "system": manifest.system,
        "floor": None if manifest.floor is None else day_name(manifest.floor),
        "forgotten": [day_name(day) for day in manifest.forgotten],
        "parts": shown(manifest.parts),
        "callsigns": shown(manifest.callsigns),
        "sums": shown(manifest.sums),
    }
    write_whole(folder / MANIFEST, content)


def write_whole(path: Path, content: Any) -> None:
    """Writes JSON to a file that is then the old one or the new one, on the disk."""
    making = path.with_name(f"making-{path.name}")
    with making.open("w", encoding="utf-8") as file:
        json.dump(content, file, ensure_ascii=True, indent=1)
        file.write("\n")
        file.flush()
        os.fsync(file.fileno())
    _sync(path.parent)
    making.replace(path)
    _sync(path.parent)


def sweep(folder: Path, manifest: Manifest, others: Collection[str] = (), *, wait_seconds: float = 0.0) -> bool:
    """Removes what folds left behind: files of ours that neither the manifest nor `others` name, and counted days of which
    a file is gone. Only under the lock. Where somebody still reads after `wait_seconds`, the next sweep does it; returns
    whether it is done."""
    with nobody_reads(folder, wait_seconds=wait_seconds) as may:
        if may:
            _sweep(folder, manifest, others)
        return may


def _sweep(folder: Path, manifest: Manifest, others: Collection[str]) -> None:
    named = {part.file for part in manifest.all_parts} | set(others)
    for path in folder.iterdir():
        if path.name not in named and _OURS.fullmatch(path.name):
            path.unlink(missing_ok=True)
    digests = {part.file.rpartition("-")[2].removesuffix(".parquet") for part in manifest.parts}
    counted = folder / COUNTED
    for path in counted.iterdir() if counted.is_dir() else ():
        if not set(path.name.split(".")[0].split("-")[3:]) <= digests:
            path.unlink(missing_ok=True)
