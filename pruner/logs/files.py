"""Heard logs as files on this machine, and what became of each in a fold.

Receives what settings say of a log, hands on values that `logs.fold` fills.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pruner.calls.marks import Account
from pruner.calls.store import Part
from pruner.read.heard_log import is_packed
from pruner.table.understanding import Understanding
from pruner.words.errors import ExitCode, InputRefusedError, SourceMissingError

if TYPE_CHECKING:
    from pruner.settings.models import Heard


#: A file that was not written to for so long has its last line whole (seconds).
FINISHED_AFTER: Final = 600


@dataclass(frozen=True, slots=True)
class LogFiles:
    """Files of one system that are written alike; `zone` is the IANA name for times that name none ("": nobody said
    it, they are taken as UTC); `dates`: in
    which order day and month stand in dates of numbers (`date_texts.ORDERS`; "": the file decides); `pattern`: of lines of
    free text (`read.heard_pattern`). `address`: they are pages of it, of which nothing is remembered; `is_finished`: whether
    their last line is a whole one (None: their age decides)."""

    paths: Sequence[Path]
    system: str = "dmr"
    zone: str = ""
    columns: Mapping[str, str | int] = field(default_factory=dict)
    dates: str = ""
    pattern: str = ""
    address: str = ""
    is_finished: bool | None = None


@dataclass(frozen=True, slots=True)
class FileResult:
    """What became of one file in this fold, and what was understood of it; no row is read of a file that was taken before, and
    nothing is understood anew. `is_empty`: nothing stands in it."""

    path: Path
    system: str
    account: Account
    understanding: Understanding | None = None
    address: str = ""
    is_empty: bool = False

    @property
    def name(self) -> str:
        """What people call it."""
        return self.address or self.path.name

    def plain(self) -> dict[str, object]:
        """For JSON."""
        said: dict[str, object] = {} if self.understanding is None else {"understood": self.understanding.sentence()}
        said |= {"empty": True} if self.is_empty else {}
        return {"file": self.address or str(self.path), "system": self.system, **self.account.plain(), **said}


@dataclass(frozen=True, slots=True)
class FoldResult:
    """All files that were read, the days of each system's store that were changed, and what became too old in it. `refused`:
    logs and pages that cannot be read, `missing`: those that cannot be had; one line each, by location."""

    files: list[FileResult] = field(default_factory=list)
    changed: dict[str, list[Part]] = field(default_factory=dict)
    stores: dict[str, Path] = field(default_factory=dict)
    forgotten: dict[str, list[Part]] = field(default_factory=dict)
    refused: dict[str, str] = field(default_factory=dict)
    missing: dict[str, str] = field(default_factory=dict)

    @property
    def troubles(self) -> list[str]:
        """One line for each log that was left out."""
        return [*self.missing.values(), *self.refused.values()]

    @property
    def exit_code(self) -> ExitCode:
        """3 where a log is refused, else 4 where one cannot be had."""
        return ExitCode.INPUT_REFUSED if self.refused else ExitCode.SOURCE_MISSING if self.missing else ExitCode.DONE

    def leave_out(self, where: str, error: InputRefusedError | SourceMissingError) -> None:
        """Notes a log that is left out."""
        into = self.refused if isinstance(error, InputRefusedError) else self.missing
        into[where] = "; ".join(str(error).splitlines())

    def checked(self) -> FoldResult:
        """The same. Raises what is wrong with the logs where none could be read."""
        if self.troubles and not self.files:
            raise (InputRefusedError if self.refused else SourceMissingError)("\n".join(self.troubles))
        return self

    def add(self, other: FoldResult) -> None:
        """Adds what came of another fold."""
        self.files.extend(other.files)
        self.stores.update(other.stores)
        self.refused.update(other.refused)
        self.missing.update(other.missing)
        for own, more in ((self.changed, other.changed), (self.forgotten, other.forgotten)):
            for system, parts in more.items():
                own[system] = [*own.get(system, ()), *parts]

    @property
    def total(self) -> Account:
        """The account of all files."""
        total = Account()
        for file in self.files:
            total.add(file.account)
        return total

    def plain(self) -> dict[str, object]:
        """For JSON."""
        return {
            "files": [one.plain() for one in self.files],
            "total": self.total.plain(),
            "days_changed": {system: len({part.day for part in parts}) for system, parts in self.changed.items()},
            "days_forgotten": {system: len({part.day for part in parts}) for system, parts in self.forgotten.items()},
            "refused": list(self.refused.values()),
            "missing": list(self.missing.values()),
        }


def written_as(heard: Heard, paths: Sequence[Path]) -> LogFiles:
    """Files of a heard log of the settings."""
    return LogFiles(paths, heard.system, heard.stated_zone, dict(heard.columns), heard.dates or "", heard.pattern or "")


def is_finished(path: Path, now: float) -> bool:
    """Whether nobody writes to a file any more, by its age or its kind; `now` in seconds since 1970."""
    return now - path.stat().st_mtime > FINISHED_AFTER or is_packed(path)
