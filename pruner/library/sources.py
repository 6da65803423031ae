"""Directories as a caller has them -> sources of settings: paths, frames of any library that narwhals knows, or settings.

A frame is never written to a disk: it stands where a file would stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, ValuesView
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pyarrow as pa

from pruner.library.arguments import unexpected
from pruner.settings import models, values
from pruner.settings.lines import TomlPath
from pruner.settings.messages import python_path
from pruner.settings.names import source_names
from pruner.table.open_columnar import hold
from pruner.table.opened import Held, shown
from pruner.words.errors import InputRefusedError, SettingsError

#: A file or pattern, a frame (polars, pandas, Arrow, ...), or a `Source` with all that a `[[source]]` table can say.
Directory = str | Path | models.Source | Any

_ONE: Final = "a path, a frame or a pruner.Source"


@dataclass(frozen=True, slots=True)
class Given:
    """`tables`: sources of the settings; `held`: those that are in memory, by name; `called`: what the argument of each is
    called; `own`: of which of them a `Source` says all."""

    tables: list[dict[str, Any]]
    held: dict[str, Held]
    called: list[str]
    own: list[bool]

    def path(self, place: int, rest: TomlPath) -> str:
        """What the argument is called that a value of a source comes from."""
        if self.own[place] or rest[:1] not in (("columns",), ("system",)):
            inner = python_path(rest, models.Source) if self.own[place] else ".".join(map(str, rest[:1]))
            return f"{self.called[place]}.{inner}" if inner not in ("", "location") or self.own[place] else self.called[place]
        return python_path(rest, models.Source)


def given(sources: object, system: str, columns: Mapping[str, str | int] | None = None) -> Given:
    """One directory, several, or several by name; the first one that bears an id is preferred. `system` and `columns` hold for
    those that are no `Source`.

    Raises SettingsError for what is no directory, InputRefusedError for frames that cannot be read.
    """
    names, called, directories = _listed(sources)
    found = Given([], {}, called, [isinstance(one, models.Source) for one in directories])
    said = {"system": system, **({} if columns is None else {"columns": columns})}
    for name, label, one in zip(names, called, directories, strict=True):
        if isinstance(one, models.Source):
            table = one.model_dump(by_alias=True, exclude_unset=True)
            found.tables.append({**table, "name": name} if isinstance(sources, Mapping) else table)
        elif isinstance(one, str | Path):
            _check_location(label, str(one))
            found.tables.append({"name": name, "location": str(one), **said})
        else:
            found.held[name] = hold(_arrow(label, one), name)
            found.tables.append({"name": name, "location": name, **said})
    return found


def _listed(sources: object) -> tuple[list[str], list[str], list[Any]]:
    """The directories with their names, and what each is called in messages."""
    if isinstance(sources, Mapping):
        wrong = next((name for name in sources if not isinstance(name, str)), None)
        if wrong is not None:
            raise unexpected("sources", "a dict of directories by name", wrong)
        listed = list(sources.values())
        names, called = list(sources), [f"sources[{values.shown(name)}]" for name in sources]
        if any(isinstance(one, list | tuple) for one in listed):
            raise SettingsError(f"sources: expected a dict of directories by name ({_ONE}), got lists; make a frame of them")
    else:
        if _is_one(sources):
            listed, called = [sources], ["sources"]
        elif isinstance(sources, Sequence | Iterator | ValuesView) and not isinstance(sources, bytes | bytearray):
            listed = list(sources)
            called = [f"sources[{place}]" for place in range(len(listed))]
        else:
            raise unexpected("sources", f"{_ONE}, or several of them in a list or dict", sources)
        names = source_names(str(one) if isinstance(one, str | Path) else _name_of(one) for one in listed)
    if not listed:
        raise SettingsError(f"sources: expected at least one directory ({_ONE}), got none")
    for label, one in zip(called, listed, strict=True):
        if not _is_one(one):
            raise unexpected(label, _ONE, one)
    return names, called, listed


def _name_of(directory: Any) -> str:
    return directory.name if isinstance(directory, models.Source) else "frame"


def _is_one(value: object) -> bool:
    return isinstance(value, str | Path | models.Source | pa.Table | pa.RecordBatch) or _is_frame(value)


def _is_frame(value: object) -> bool:
    import narwhals as nw  # for those who have frames

    try:
        nw.from_native(value)  # type: ignore[call-overload]
    except TypeError:
        return False
    except Exception:  # a frame, with something wrong in it that `_arrow` says
        return True
    return True


def _check_location(label: str, location: str) -> None:
    if values.is_address(location):
        raise SettingsError(
            f"{label}: an address is fetched by pruner refresh, not here; get the file and give its path, or give a "
            "pruner.Source of that address, and the state folder that it was fetched to as state=..."
        )
    if any("\ud800" <= character <= "\udfff" for character in location):
        raise SettingsError(f"{label}: expected a path whose name is UTF-8, got {values.shown(location)}; rename the file")


def _arrow(label: str, frame: Any) -> pa.Table:
    """A frame as a table. Raises InputRefusedError where its library cannot hand it over, with what that says of it."""
    if isinstance(frame, pa.Table):
        return frame
    if isinstance(frame, pa.RecordBatch):
        return pa.Table.from_batches([frame])
    import narwhals as nw  # for those who have frames

    objects: list[str] = []
    known: Any = None
    try:
        known = nw.from_native(frame)
        read = known.collect() if isinstance(known, nw.LazyFrame) else known
        kinds = read.schema
        objects = [shown(name) for name, kind in kinds.items() if kind == nw.Object]
        if objects and read.implementation.is_polars():
            raise InputRefusedError(f"{label}: {_of_objects(objects)}")  # they would be read as addresses in memory
        wide = [name for name, kind in kinds.items() if kind in (nw.Int128, nw.UInt128)]
        return read.with_columns(nw.col(wide).cast(nw.String)).to_arrow() if wide else read.to_arrow()
    except InputRefusedError:
        raise
    except Exception as error:  # whatever a library of frames raises, of a lazy frame whatever goes wrong in it
        text = shown(str(error), 200)
        advice = "collect it first" if isinstance(known, nw.LazyFrame) else "give each column a name of its own"
        advice = _of_objects(objects) if objects else advice
        raise InputRefusedError(
            f"{label}: the {type(frame).__name__} cannot be read as a table ({type(error).__name__}: {text}); {advice}"
        ) from error


def _of_objects(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"the column {names[0]!r} may hold values of several kinds; make them all text, or all numbers"
    return f"the columns {', '.join(map(repr, names))} may hold values of several kinds; make each of them text or numbers"
