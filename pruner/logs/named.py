"""Heard logs that a command names by file: what the settings say of each of them.

Receives paths and settings, hands on `LogFiles`.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pruner.logs.files import LogFiles, written_as
from pruner.logs.pages import page_folder
from pruner.sources.local import expand
from pruner.words.errors import SourceMissingError

if TYPE_CHECKING:
    from pruner.settings.models import Heard, Settings


def table_of(settings: Settings | None, path: Path) -> Heard | None:
    """The first table [[heard]] whose location finds a file, or of whose address it is a page; None where there is none."""
    tables = settings.heard if settings else ()
    return next((heard for heard in tables if _finds(heard, path)), None)


def named_logs(
    files: Sequence[Path],
    columns: Sequence[Mapping[str, str | int]],
    settings: Settings | None = None,
    *,
    system: str = "",
    zone: str = "",
    dates: str = "",
) -> list[LogFiles]:
    """Files as the settings describe them, where a table [[heard]] finds them; what is said here goes before. `columns`: what
    was said of the columns of each file; `system`, `zone` and `dates` as in `LogFiles`, "" where nothing was said."""
    logs: list[LogFiles] = []
    for file, said in zip(files, columns, strict=True):
        heard = table_of(settings, file)
        known = written_as(heard, ()) if heard else LogFiles(())
        own = replace(
            known,
            system=system or known.system,
            zone=zone or known.zone,
            columns={**known.columns, **said},
            dates=dates or known.dates,
        )
        alike = next((place for place, log in enumerate(logs) if replace(log, paths=()) == own), None)
        if alike is None:
            logs.append(replace(own, paths=(file,)))
        else:
            logs[alike] = replace(own, paths=(*logs[alike].paths, file))
    return logs


def _finds(heard: Heard, path: Path) -> bool:
    if heard.is_remote:
        return page_folder(heard.location) in path.parts
    with contextlib.suppress(SourceMissingError):  # the fold of that table says so
        return path.resolve() in {one.resolve() for one in expand(heard.location)}
    return False
