"""The summary of one radio's fit: what `summary.json` holds, as frozen models.

`SCHEMA` is the version of this form. Fields are only added, with a value for summaries that do not have them, so that every
earlier version can be read; what a later version adds is ignored. `summary.schema.json` beside this module is the same as a
JSON Schema (draft 2020-12).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from pruner.words.errors import InputRefusedError

SCHEMA: Final = 2
FILE: Final = "summary.json"


class Part(BaseModel):
    """A part of a summary."""

    model_config = ConfigDict(frozen=True, extra="ignore")


class Limit(Part):
    """What the radio holds: `contacts` (null where only bytes count), `keep_free` of them stay empty, `bytes` of memory."""

    contacts: int | None = None
    keep_free: int = 0
    bytes: int | None = None


class RowAccount(Part):
    """What became of rows: read = kept + dropped + rejected; `reasons`: rows per reason, of dropped and rejected ones."""

    read: int
    kept: int
    dropped: int
    rejected: int
    reasons: dict[str, int] = Field(default_factory=dict)


class DropCount(Part):
    """A drop rule, and how many contacts it left out."""

    name: str
    matched: int


class RuleCount(Part):
    """A keep rule: its order and limit, and of all contacts how many it matched, owned (first rule that matched) and kept."""

    name: str
    order: str
    at_most: int | None = None
    matched: int
    owned: int = 0
    kept: int


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


class RouteSummary(Part):
    """Where a rule measures from: its GPX file, locators, how many points they have, and their lines (thinned out for a map),
    each point as latitude and longitude in degrees."""

    rule: str
    file: str | None = None
    locators: tuple[str, ...] = ()
    within_km: float | None = None
    points: int
    lines: tuple[tuple[tuple[float, float], ...], ...] = ()


class SourceSummary(Part):
    """A source: its rows, what became of them, its files and what was understood of each."""

    name: str
    rows: int
    account: RowAccount
    files: tuple[FileMark, ...] = ()
    understood: tuple[Understood, ...] = ()


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
    levels: dict[str, int] = Field(default_factory=dict)
    aim: str = "order"
    expected_calls: Worth | None = None


class Coverage(Part):
    """Looking back: calls in the window, how many of them were named by the choice, how many of the callers stand in a
    directory; shares of all calls, null without calls."""

    calls: int
    named: int
    in_directory: int = 0
    share: float | None = None
    best_share: float | None = None


class CallsignCalls(Part):
    """Calls in the window that name only a call sign, and how many of them bear one that a directory has."""

    calls: int
    in_directory: int


class LimitShare(Part):
    """Looking back: the share of calls that another limit would have named."""

    contacts: int
    share: float


class Ahead(Part):
    """To come: a share of calls and its interval; only `low` where only a lower bound is known."""

    share: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def interval(self) -> tuple[float, float, float] | None:
        """Share, low and high, where all are known."""
        if self.share is None or self.low is None or self.high is None:
            return None
        return self.share, self.low, self.high


class ShareToCome(Ahead):
    """To come, at another limit."""

    contacts: int


class Strangers(Part):
    """To come: the share of calls from stations never heard before, and which share of those has a name."""

    share: float
    named: float


class CallsToCome(Ahead):
    """To come: the share of the calls of the next period that will have a name, with an interval of `confidence`; only `low`
    where only a lower bound is known; none of them, and `why`, where there is no figure."""

    period_days: int
    confidence: float
    talkgroups: str
    why: str | None = None
    calls: int | None = None
    strangers: Strangers | None = None
    by_limit: tuple[ShareToCome, ...] = ()


class MissedStation(Part):
    """A contact that was heard in the window and is not kept; `country` is null where unknown, `calls_on_mine` where the
    settings name no talkgroups; `rule`: which one owns it or left it out."""

    id: int
    system: str
    callsign: str | None = None
    country: str | None = None
    calls: int
    calls_on_mine: int | None = None
    reason: str
    rule: str | None = None


class Elsewhere(Part):
    """Stations that an order passed by because they were heard on other talkgroups only; their calls, and the share of all
    calls in the window."""

    stations: int
    calls: int
    share: float


class Missed(Part):
    """Looking back over `window_days`: contacts that were heard and are not kept, their calls on all talkgroups, and the first
    of them, those heard most."""

    window_days: int
    stations: int
    calls: int
    first: tuple[MissedStation, ...] = ()
    elsewhere: Elsewhere | None = None


class CountryGone(Part):
    """A country of whose stations hardly any are kept."""

    country: str
    stations: int
    kept: int


class Calendar(Part):
    """The days that the logs of a system cover; days are ISO 8601 dates."""

    first_day: str
    last_day: str
    covered_days: int
    left_out: tuple[str, ...] = ()
    silent: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()


class CoverageSummary(Part):
    """Calls and who made them: looking back over `window_days`, and to come."""

    window_days: int
    all: Coverage
    mine: Coverage | None = None
    by_callsign: CallsignCalls | None = None
    to_come: CallsToCome | None = None
    missed: Missed | None = None
    by_limit: tuple[LimitShare, ...] = ()
    expected_by: dict[str, str] = Field(default_factory=dict)
    calendar: dict[str, Calendar] = Field(default_factory=dict)

    @property
    def own(self) -> Coverage:
        """The coverage that counts: on the user's talkgroups where they are named, else on all."""
        return self.mine or self.all


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


class Summary(Part):
    """One radio: what was read, kept, dropped and rejected, by rule and reason, from where, and what it is worth.

    `dropped` and `rejected_reasons`: rows per reason; `countries`: contacts kept per ISO 3166-1 code (or "unknown");
    `placed_by`: records per evidence of their country; `changed`: how often cleaning changed what; `layout`: the layout in
    which the contacts are written, null for the plain file; `files`: all others that were written.
    """

    schema_: int = Field(default=SCHEMA, alias="schema")
    radio: str
    limit: Limit
    read: int
    kept: int
    rejected: int
    dropped: dict[str, int]
    rejected_reasons: dict[str, int]
    drop_rules: tuple[DropCount, ...]
    rules: tuple[RuleCount, ...]
    matched_nobody: tuple[str, ...] = ()
    order_note: str | None = None
    countries: dict[str, int]
    nearly_gone: tuple[CountryGone, ...] = ()
    placed_by: dict[str, int]
    changed: dict[str, int]
    sources: tuple[SourceSummary, ...]
    lists: tuple[Understood, ...] = ()
    routes: tuple[RouteSummary, ...] = ()
    layout: dict[str, object] | None = None
    cut: Cut | None = None
    memory: MemoryUse | None = None
    coverage: CoverageSummary | None = None
    carried: CarriedSummary | None = None
    preview: tuple[PreviewRow, ...] = ()
    files: tuple[FileMark, ...]

    @property
    def dropped_rows(self) -> int:
        """Rows that were dropped, of all reasons."""
        return sum(self.dropped.values())

    @property
    def understood(self) -> list[Understood]:
        """What was understood of each file of the sources and of each list."""
        return [*(one for source in self.sources for one in source.understood), *self.lists]

    def document(self) -> dict[str, object]:
        """The summary as the tables of JSON."""
        return self.model_dump(mode="json", by_alias=True)

    def text(self) -> str:
        """The contents of summary.json."""
        return json.dumps(self.document(), ensure_ascii=False, indent=2) + "\n"

    @classmethod
    def parse(cls, data: bytes | str, where: str) -> Self:
        """The summary of a text, of this or any earlier version. Raises InputRefusedError with one line that begins with
        `where`."""
        try:
            return cls.model_validate_json(data)
        except ValidationError as error:
            first = error.errors(include_url=False, include_input=False)[0]
            key = ".".join(map(str, first["loc"])) or "it"
            raise InputRefusedError(f"{where}: is not the summary of a fit ({key}: {first['msg']}); fit again") from error

    @classmethod
    def load(cls, folder: Path) -> Self:
        """The summary in the folder of a result. Raises InputRefusedError where there is none or it cannot be read."""
        path = folder / FILE
        try:
            return cls.parse(path.read_bytes(), str(path))
        except OSError as error:
            raise InputRefusedError(f"{path}: cannot be read ({error.strerror}); run the fit again") from error
