"""Parts that the summaries of contacts and of talkgroups share, as frozen models."""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Annotated, Final, Self, TypeVar

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, WrapSerializer

FILE: Final = "summary.json"
#: The way out where nothing says any more which files a run wrote.
ANEW: Final = "move this folder away or delete it, then run pruner fit"

Value = TypeVar("Value")


def _read_only(table: Mapping[str, Value]) -> Mapping[str, Value]:
    return MappingProxyType(dict(table))


def frozen(value: object) -> object:
    """Values of JSON that nobody can change: tables are read-only, lists are tuples."""
    if isinstance(value, Mapping):
        return MappingProxyType({key: frozen(inner) for key, inner in value.items()})
    return tuple(frozen(inner) for inner in value) if isinstance(value, list | tuple) else value


def thawed(value: object) -> object:
    """The way back: what `json.dumps` writes."""
    if isinstance(value, Mapping):
        return {key: thawed(inner) for key, inner in value.items()}
    return [thawed(inner) for inner in value] if isinstance(value, tuple) else value


def _moment(text: str) -> str:
    if datetime.datetime.fromisoformat(text).tzinfo is None:
        raise ValueError("expected a time with its offset")
    return text


#: A point in time, ISO 8601 with an offset.
Moment = Annotated[str, AfterValidator(_moment)]
#: A table by names that nobody can change.
ReadOnly = Annotated[Mapping[str, Value], AfterValidator(_read_only), WrapSerializer(lambda table, write: write(dict(table)))]
Counts = ReadOnly[int]
#: Any table of JSON, for what is defined elsewhere.
Document = Annotated[Mapping[str, object], AfterValidator(frozen), WrapSerializer(lambda table, write: write(thawed(table)))]


def no_table() -> Mapping[str, Value]:
    """What a table is that a summary of an earlier version does not have."""
    return MappingProxyType({})


class Part(BaseModel):
    """A part of a summary."""

    model_config = ConfigDict(frozen=True, extra="ignore", defer_build=True)

    def model_copy(self, *, update: Mapping[str, object] | None = None, deep: bool = False) -> Self:
        """A copy with other values, which are checked and frozen as in any part (the parent class takes them as they are)."""
        known = {name: getattr(self, name) for name in self.model_fields_set}
        return type(self).model_validate({**known, **(update or {})}, by_name=True)


class RowAccount(Part):
    """What became of rows: read = kept + dropped + rejected; `reasons`: rows per reason, of dropped and rejected ones."""

    read: int
    kept: int
    dropped: int
    rejected: int
    reasons: Counts = Field(default_factory=no_table)


class Cut(Part):
    """Where the limit fell: inside this rule, at this rank."""

    rule: str
    rank: int
    matched: int
    kept: int


class FileMark(Part):
    """A file: its name without folder, SHA-256 in hexadecimal, size in bytes."""

    name: str
    sha256: str
    bytes: int


class Written(Part):
    """What every summary says, of contacts and of talkgroups: the files that were written beside it."""

    files: tuple[FileMark, ...]

    @classmethod
    def read(cls, folder: Path) -> Self:
        """The files that a result names. Raises OSError or ValueError where it names none."""
        return cls.model_validate_json((folder / FILE).read_bytes())


def no_run(folder: Path) -> str:
    """Why a folder whose result cannot be used holds no finished run, and the way out."""
    try:
        Written.read(folder)
    except ValueError:
        return f"{FILE} there is damaged; {ANEW}"
    except OSError:
        pass
    return "holds no finished run; run pruner fit first"


class ColumnUsed(Part):
    """A column that was used: what it means, its number from 1, its heading, and what spoke for it."""

    meaning: str
    number: int
    heading: str
    evidence: str


class Understood(Part):
    """What was understood of a file; `rules`: of a list, the rules that name it."""

    file: str
    sentence: str
    columns: tuple[ColumnUsed, ...] = ()
    unused: tuple[str, ...] = ()
    headings: bool | None = None
    encoding: str = ""
    titles: int = 0
    rules: tuple[str, ...] = ()


class SourceSummary(Part):
    """A source: its rows, what became of them, its files and what was understood of each."""

    name: str
    rows: int
    account: RowAccount
    files: tuple[FileMark, ...] = ()
    understood: tuple[Understood, ...] = ()


class RadioSummary(Part):
    """What the summaries of contacts and of talkgroups share.

    `read` rows = `kept` + those `dropped` + `rejected`; `dropped` and `rejected_reasons`: rows per reason; `countries`: kept
    ones per ISO 3166-1 code (or "unknown"); `changed`: how often cleaning changed what; `files`: all others that were written.
    """

    radio: str
    read: int
    kept: int
    rejected: int
    dropped: Counts
    rejected_reasons: Counts
    cut: Cut | None = None
    countries: Counts
    changed: Counts
    files: tuple[FileMark, ...]

    @property
    def dropped_rows(self) -> int:
        """Rows that were dropped, of all reasons."""
        return sum(self.dropped.values())

    def document(self) -> dict[str, object]:
        """The summary as the tables of JSON."""
        return self.model_dump(mode="json", by_alias=True)

    def text(self) -> str:
        """The contents of summary.json."""
        return json.dumps(self.document(), ensure_ascii=False, indent=2) + "\n"
