"""The heard store: what was folded, day by day, and which logs it came from.

Receives the days of a fold, hands on a folder of Parquet files (`heard.parts`) and `manifest.json`. The manifest is the
only commit point: a file that it does not name is no part of the store, and a fold that is killed leaves the old store.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any, Final

import polars as pl
import pyarrow.compute as pc

from pruner.disk import sync as _sync
from pruner.errors import InputRefusedError
from pruner.heard.folding import merged_day
from pruner.heard.parts import day_name, read_part, write_part

MANIFEST: Final = "manifest.json"
STORE_SCHEMA: Final = 1
_OURS: Final = re.compile(r"making-.*|\d{4}-\d\d-\d\d-[0-9a-f]{16}\.parquet|(rejected|set-aside)-[0-9a-f]{16}\.csv")


@dataclass(frozen=True, slots=True)
class Part:
    """A file with the rows of one day; `day` counts from 1970-01-01."""

    day: int
    file: str
    rows: int
    calls: int


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
    """A file of rows that were not folded; `last_day` is the last day that the same fold took, None if it took none."""

    file: str
    last_day: int | None


@dataclass(frozen=True, slots=True)
class Manifest:
    """What the store holds. Days before `floor` were forgotten and are never folded again."""

    system: str
    parts: tuple[Part, ...] = ()
    taken: tuple[Taken, ...] = ()
    apart: tuple[Apart, ...] = ()
    floor: int | None = None


def load_manifest(folder: Path, system: str) -> Manifest:
    """The manifest of a store, an empty one where there is none. Raises InputRefusedError when it is damaged."""
    path = folder / MANIFEST
    try:
        content = json.loads(path.read_bytes())
        if content["schema"] != STORE_SCHEMA:
            raise InputRefusedError(
                f"{path}: written by another version (schema {content['schema']}); use that one, or fold anew"
            )
        return Manifest(
            content["system"],
            tuple(Part(_day(part.pop("day")), **part) for part in content["parts"]),
            tuple(Taken(**taken) for taken in content["taken"]),
            tuple(Apart(apart["file"], _day(apart["last_day"]) if apart["last_day"] else None) for apart in content["apart"]),
            _day(content["floor"]) if content["floor"] else None,
        )
    except FileNotFoundError:
        return Manifest(system)
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise InputRefusedError(f"{path}: the heard store is damaged; move its folder away and fold the logs again") from error


def _day(name: str) -> int:
    return (date.fromisoformat(name) - date(1970, 1, 1)).days


def add_days(
    folder: Path, manifest: Manifest, days: Iterable[tuple[int, list[Path], list[pl.DataFrame]]]
) -> tuple[Manifest, list[Part]]:
    """Adds folded days to the parts of a store; the result becomes true with `commit`. Also returns the new parts."""
    parts = {part.day: part for part in manifest.parts}
    changed = []
    for day, pieces, rest in days:
        files = [folder / parts[day].file, *pieces] if day in parts else pieces
        path = files[0] if len(files) == 1 and not rest else write_part(merged_day(day, files, rest), folder, day)
        calls = read_part(path, ["calls"])["calls"]
        parts[day] = Part(day, path.name, len(calls), pc.sum(calls).as_py() or 0)
        changed.append(parts[day])
    return replace(manifest, parts=tuple(parts[day] for day in sorted(parts))), changed


def forget(folder: Path, manifest: Manifest, before: int) -> Manifest:
    """Removes all days before a day, for good: they do not come back when an old log is folded again."""
    floor = max(before, manifest.floor if manifest.floor is not None else before)
    kept = replace(
        manifest,
        parts=tuple(part for part in manifest.parts if part.day >= floor),
        apart=tuple(apart for apart in manifest.apart if apart.last_day is not None and apart.last_day >= floor),
        floor=floor,
    )
    commit(folder, kept)
    return kept


def commit(folder: Path, manifest: Manifest) -> None:
    """Makes a manifest the true one in one step and removes the files that no longer belong to the store."""
    content: dict[str, Any] = {
        "schema": STORE_SCHEMA,
        "system": manifest.system,
        "floor": None if manifest.floor is None else day_name(manifest.floor),
        "parts": [asdict(part) | {"day": day_name(part.day)} for part in manifest.parts],
        "taken": [asdict(taken) for taken in manifest.taken],
        "apart": [
            {"file": apart.file, "last_day": None if apart.last_day is None else day_name(apart.last_day)}
            for apart in manifest.apart
        ],
    }
    making = folder / f"making-{MANIFEST}"
    with making.open("w", encoding="utf-8") as file:
        json.dump(content, file, ensure_ascii=True, indent=1)
        file.write("\n")
        file.flush()
        os.fsync(file.fileno())
    _sync(folder)
    making.replace(folder / MANIFEST)
    _sync(folder)
    sweep(folder, manifest)


def sweep(folder: Path, manifest: Manifest) -> None:
    """Removes what folds left behind: files of ours that the manifest does not name. Only under the lock."""
    named = {part.file for part in manifest.parts} | {apart.file for apart in manifest.apart}
    for path in folder.iterdir():
        if path.name not in named and _OURS.fullmatch(path.name):
            path.unlink(missing_ok=True)
