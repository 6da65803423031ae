"""The options of the short form as they are given. Imports nothing heavy, so that the command line can name it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class ShortForm:
    """What a fit without a settings file is told. `drop` and `keep` are lists of stations; `layout` describes the file to
    import, `carried` is an export of the radio."""

    contacts: int | None = None
    country: str | None = None
    neighbours: bool = False
    locator: str | None = None
    one_per_callsign: bool = False
    out: Path | None = None
    system: str | None = None
    layout: Path | None = None
    carried: Path | None = None
    drop: tuple[Path, ...] = ()
    keep: tuple[Path, ...] = ()
    name: str = "radio"
