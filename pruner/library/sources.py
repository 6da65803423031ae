"""Directories as a caller has them -> sources of settings: paths, frames of any library that narwhals knows, or settings.

A frame is never written to a disk: it stands where a file would stand.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pyarrow as pa

from pruner.settings import models
from pruner.settings.names import source_names
from pruner.table.open_columnar import hold
from pruner.table.opened import Held
from pruner.words.errors import SettingsError

#: A file or pattern, a frame (polars, pandas, Arrow, ...), or a `Source` with all that a `[[source]]` table can say.
Directory = str | Path | models.Source | Any


@dataclass(frozen=True, slots=True)
class Given:
    """`sources`: tables of the settings; `held`: those that are in memory, by name."""

    sources: list[dict[str, Any]]
    held: dict[str, Held]


def given(sources: Directory | Iterable[Directory] | Mapping[str, Directory], system: str) -> Given:
    """One directory, several, or several by name; the first one that bears an id is preferred.

    Raises SettingsError for what is neither a path, a frame nor a `Source`.
    """
    directories: list[Any]
    if isinstance(sources, Mapping):
        names, directories = [str(name) for name in sources], list(sources.values())
    else:
        directories = list(sources) if isinstance(sources, list | tuple) else [sources]
        names = source_names(str(one) if isinstance(one, str | Path) else _name_of(one) for one in directories)
    tables: list[dict[str, Any]] = []
    held: dict[str, Held] = {}
    for name, one in zip(names, directories, strict=True):
        if isinstance(one, models.Source):
            tables.append(one.model_dump(by_alias=True, exclude_unset=True))
        elif isinstance(one, str | Path):
            tables.append({"name": name, "location": str(one), "system": system})
        else:
            held[name] = hold(_arrow(one), name)
            tables.append({"name": name, "location": name, "system": system})
    return Given(tables, held)


def _name_of(directory: Any) -> str:
    return directory.name if isinstance(directory, models.Source) else "frame"


def _arrow(frame: Any) -> pa.Table:
    if isinstance(frame, pa.Table):
        return frame
    if isinstance(frame, pa.RecordBatch):
        return pa.Table.from_batches([frame])
    import narwhals as nw  # for those who have frames

    try:
        known = nw.from_native(frame)
    except TypeError as error:
        message = f"expected a path, a frame or a Source as directory, got {type(frame).__name__}"
        raise SettingsError(message) from error
    return (known.collect() if isinstance(known, nw.LazyFrame) else known).to_arrow()
