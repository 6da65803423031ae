"""The summary of one radio's fit: what `summary.json` holds, as frozen models.

`SCHEMA` is the version of this form. Fields are only added, with a value for summaries that do not have them, so that every
earlier version can be read; what a later version adds is ignored. `summary.schema.json` beside this module is the same as a
JSON Schema (draft 2020-12), of summaries as this version writes them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final, Self

from pydantic import Field, ValidationError

from pruner.account.coverage import CoverageSummary
from pruner.account.limits import LimitHolds
from pruner.account.parts import FILE, Counts, Document, Part, RadioSummary, SourceSummary, Understood, no_table
from pruner.words.errors import InputRefusedError

SCHEMA: Final = 2


class Limit(Part):
    """What the radio holds: `contacts` (null where only bytes count), `keep_free` of them stay empty, `bytes` of memory."""

    contacts: int | None = None
    keep_free: int = 0
    bytes: int | None = None


class DropCount(Part):
    """A drop rule, and how many contacts it left out."""

    name: str
    matched: int


class RuleCount(Part):
    """A keep rule: its order and limit, and of all contacts how many it matched, owned (first rule that matched) and kept;
    `grows`: whether it can match more as directories grow (it names no stations)."""

    name: str
    order: str
    at_most: int | None = None
    matched: int
    owned: int = 0
    kept: int
    grows: bool = True


class RouteSummary(Part):
    """Where a rule measures from: its GPX file, locators, how many points they have, and their lines (thinned out for a map),
    each point as latitude and longitude in degrees."""

    rule: str
    file: str | None = None
    locators: tuple[str, ...] = ()
    within_km: float | None = None
    points: int
    lines: tuple[tuple[tuple[float, float], ...], ...] = ()


class Worth(Part):
    """Expected calls that the choice is worth, what no choice exceeds, and the share that is missing at most."""

    value: float
    upper_bound: float
    gap: float


class MemoryUse(Part):
    """Bytes of a radio's memory; `levels`: contacts per level of detail."""

    bytes: int
    used: int
    free: int
    levels: Counts = Field(default_factory=no_table)
    aim: str = "order"
    expected_calls: Worth | None = None


class CountryGone(Part):
    """A country of whose stations hardly any are kept."""

    country: str
    stations: int
    kept: int


class PreviewCell(Part):
    """A cell of the file to import: the title of its column, its text, and the text that was read."""

    title: str
    text: str
    as_read: str

    @property
    def is_changed(self) -> bool:
        """Whether it is another text than what was read, but for what fills it up."""
        return self.text.strip() != self.as_read


class PreviewRow(Part):
    """A row of the file to import and why it tells something."""

    file: str
    line: int
    because: tuple[str, ...] = ()
    cells: tuple[PreviewCell, ...] = ()


class CarriedChange(Part):
    """A carried entry that could not stay as it was, and what was changed in it."""

    entry: str
    id: int
    changes: tuple[str, ...] = ()


class NotCarried(Part):
    """An entry of the export that is not carried: its id, or its line where no id could be read, and why."""

    entry: str
    id: int | None = None
    line: int | None = None
    reason: str


class CarriedSummary(Part):
    """What became of the entries of a radio's export: rows, entries that stay as they were, those that were changed or not
    carried, and columns of the export that the new layout has no place for."""

    rows: int
    unchanged: int
    changed: tuple[CarriedChange, ...] = ()
    not_carried: tuple[NotCarried, ...] = ()
    columns_left: tuple[str, ...] = ()


class Summary(RadioSummary):
    """One radio: what was read, kept, dropped and rejected, by rule and reason, from where, and what it is worth.

    `contacts`: those of all directories, each id once; `placed_by`: records per evidence of their country; `layout`: the
    layout in which the contacts are written, null for the plain file; `limits`: what the same rules would hold at other limits
    (none where the limit is bytes).
    """

    schema_: int = Field(default=SCHEMA, alias="schema")
    limit: Limit
    contacts: int | None = None
    drop_rules: tuple[DropCount, ...]
    rules: tuple[RuleCount, ...]
    matched_nobody: tuple[str, ...] = ()
    order_note: str | None = None
    nearly_gone: tuple[CountryGone, ...] = ()
    placed_by: Counts
    sources: tuple[SourceSummary, ...]
    lists: tuple[Understood, ...] = ()
    routes: tuple[RouteSummary, ...] = ()
    layout: Document | None = None
    memory: MemoryUse | None = None
    coverage: CoverageSummary | None = None
    carried: CarriedSummary | None = None
    preview: tuple[PreviewRow, ...] = ()
    limits: tuple[LimitHolds, ...] = ()

    @property
    def understood(self) -> list[Understood]:
        """What was understood of each file of the sources and of each list."""
        return [*(one for source in self.sources for one in source.understood), *self.lists]

    @classmethod
    def parse(cls, data: bytes | str, where: str) -> Self:
        """The summary of a text, of this or any earlier version. Raises InputRefusedError with one line that begins with
        `where`."""
        try:
            return cls.model_validate_json(data)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            key = ".".join(map(str, first["loc"])) or "it"
            raise InputRefusedError(f"{where}: is not the summary of a fit ({key!r}: {first['msg']}); fit again") from error

    @classmethod
    def load(cls, folder: Path) -> Self:
        """The summary in the folder of a result. Raises InputRefusedError where there is none or it cannot be read."""
        path = folder / FILE
        try:
            return cls.parse(path.read_bytes(), str(path))
        except OSError as error:
            raise InputRefusedError(f"{path}: cannot be read ({error.strerror}); run the fit again") from error
