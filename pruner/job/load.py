"""Sources in, contacts out: everything that is known before a radio's rules and limit apply.

Receives settings, hands on the rows of every source and the contacts (one per id), shared by all radios of a run.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from pruner.account.parts import FileMark
from pruner.clean.duplicates import SourceIds, Survivors, surviving_records
from pruner.job.collect import SourceRows, collect
from pruner.job.contact_calls import ContactCalls, load_calls
from pruner.job.rejections import guard_rejected
from pruner.job.routes import read_routes
from pruner.job.texts import RecordTexts, fetch_callsigns
from pruner.place.country import kinds
from pruner.publish.folders import fingerprint
from pruner.read.kinds import STATIONS
from pruner.read.station_list import read_list
from pruner.reference.routes import Route
from pruner.rules.contacts import Contacts
from pruner.rules.matching import Ownership, Rules
from pruner.settings.models import KeepRule, Radio, Settings, Source
from pruner.sources.local import expand
from pruner.table.kinds import Kind
from pruner.table.listed import Listed
from pruner.table.opened import Held
from pruner.words import schema
from pruner.words.errors import SettingsError, SourceMissingError
from pruner.words.outcomes import Reason
from pruner.words.progress import Progress, silent
from pruner.words.threads import Future, Pool, Work, beside

if TYPE_CHECKING:
    from pruner.layout.model import Layout


@dataclass(slots=True)
class Loaded:
    """Everything that is known before a radio's limit is applied: shared by all radios of a run.

    `records` are positions over the rows of all sources, one per contact; `calls` is None without heard logs; `layouts`
    are by name of the radio, `lists` by the path that rules name, `routes` by the name of the rule. `as_read`: texts are
    written as they were read, but for what no file may hold: capitals stay, and countries are called as the source calls them.
    """

    settings: Settings
    sources: list[SourceRows]
    files: list[list[Path | Held]]
    records: npt.NDArray[np.int64]
    contacts: Contacts
    calls: ContactCalls | None
    rules: Rules
    layouts: dict[str, Layout]
    lists: dict[Path, Listed]
    routes: dict[str, Route]
    prints: list[list[Future[FileMark]]] = field(default_factory=list)
    owners: dict[tuple[str, ...], Ownership] = field(default_factory=dict)
    as_read: bool = False

    def fingerprints(self) -> list[list[FileMark]]:
        """Name, SHA-256 and size of each file of each source, counted once for all radios. Raises SourceMissingError where one
        cannot be read any more."""
        self.prints = self.prints or _fingerprints(self.files)
        return [[one.result() for one in files] for files in self.prints]

    def keep_rules(self, radio: Radio) -> list[KeepRule]:
        """The keep rules that count for a radio, in its order."""
        by_name = {rule.name: rule for rule in self.settings.keep}
        return [by_name[name] for name in radio.rules] if radio.rules else list(self.settings.keep)

    def ownership(self, radio: Radio) -> Ownership:
        """Which rule owns each contact, for a radio; radios with the same rules share it."""
        rules = self.keep_rules(radio)
        names = tuple(rule.name for rule in rules)
        if names not in self.owners:
            self.owners[names] = self.rules.owners(rules)
        return self.owners[names]


def _fingerprints(files: list[list[Path | Held]]) -> list[list[Future[FileMark]]]:
    """Counted beside whatever is done meanwhile."""
    counted = [[path for path in paths if isinstance(path, Path)] for paths in files]
    prints = iter(beside(Work.HASHING, [partial(_fingerprint, path) for paths in counted for path in paths]))
    return [[next(prints) for _ in paths] for paths in counted]


def _fingerprint(path: Path) -> FileMark:
    try:
        return fingerprint(path)
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read any more ({error.strerror}); run again") from error


def load(
    settings: Settings,
    progress: Progress = silent,
    *,
    will_write: bool = False,
    held: Mapping[str, Path | Held] | None = None,
    with_calls: bool = True,
    kind: Kind = STATIONS,
) -> Loaded:
    """Reads, cleans and places all sources and makes the rules ready.

    `will_write`: fingerprints of the sources are wanted; `held`: sources that a caller has in hand, by name; `with_calls`: the
    calls in the state folder count; `kind`: what the sources are.
    """
    layouts, routes = load_layouts(settings), read_routes((*settings.drop, *settings.keep))
    sources: list[SourceRows] = []
    files: list[list[Path | Held]] = []
    with Pool(Work.PARSING) as pool:
        for source in settings.sources:
            stage = f"reading {source.name}"
            progress(stage)
            paths: list[Path | Held] = [
                *([held[source.name]] if held and source.name in held else source_paths(source, settings.output.state))
            ]
            rows = collect(
                source.name,
                schema.SYSTEMS[source.system],
                paths,
                pool,
                columns=dict(source.columns) if source.columns else None,
                kind=kind,
                encoding=source.encoding,
                told=partial(progress, stage),
            )
            guard_rejected(source, rows)
            sources.append(rows)
            files.append(paths)
    prints = _fingerprints(files) if will_write else []
    pa.default_memory_pool().release_unused()
    progress("ranking")
    survivors = _survivors(sources)
    contacts, calls = _contacts(settings, sources, survivors, with_calls)
    # Where calls are known, the rules are asked for earlier days too.
    remember = calls is not None or len({radio.rules for radio in settings.radios}) > 1
    lists = read_lists(settings)
    rules = Rules(contacts, settings, lists, routes, remember=remember)
    return Loaded(settings, sources, files, survivors.record, contacts, calls, rules, layouts, lists, routes, prints)


def read_lists(settings: Settings) -> dict[Path, Listed]:
    """The lists of all rules, by path. Raises InputRefusedError or SourceMissingError with one line."""
    lists = {rule.list: rule.list_columns for rule in (*settings.drop, *settings.keep) if rule.list is not None}
    return {path: read_list(path, columns) for path, columns in lists.items()}


def load_layouts(settings: Settings) -> dict[str, Layout]:
    """The layouts of the radios that have one, by name of the radio. Raises SettingsError with all their mistakes."""
    layouts: dict[str, Layout] = {}
    problems: list[str] = []
    for radio in settings.radios:
        if radio.layout is not None:
            from pruner.layout.model import load_layout  # layouts are for those who have one

            try:
                layouts[radio.name] = load_layout(radio.layout)
            except SettingsError as error:
                problems += error.problems
    if problems:
        raise SettingsError(problems)
    return layouts


def doubts_of(settings: Settings, layouts: dict[str, Layout]) -> list[str]:
    """What the layouts of the radios mark as doubtful, one sentence each, every layout once."""
    by_path = {radio.layout: layouts[radio.name] for radio in settings.radios if radio.name in layouts}
    return [f"{path}: {doubt}" for path, layout in by_path.items() for doubt in layout.doubts]


def source_paths(source: Source, state: Path) -> list[Path]:
    """The files of a source, sorted; of an address, what the last refresh fetched. Raises SourceMissingError."""
    if source.is_remote:
        body = state / "sources" / source.name / "body"
        if not body.is_file():
            raise SourceMissingError(f"{source.name}: nothing was fetched yet from its address; run pruner refresh first")
        return [body]
    paths = expand(source.location)
    if not paths:
        raise SourceMissingError(f"{source.location}: no file matches; check the location of source {source.name!r}")
    return paths


def _survivors(sources: Sequence[SourceRows]) -> Survivors:
    """The records that stay; the others with a station's address are marked as duplicates."""
    survivors = surviving_records([SourceIds(rows.system, rows.number, rows.station, rows.suffixed) for rows in sources])
    for rows, (_, places) in zip(sources, by_source(sources, survivors.duplicates), strict=True):
        rows.reason[places] = Reason.DUPLICATE_ID
    return survivors


def by_source(
    sources: Sequence[SourceRows], records: npt.NDArray[np.int64]
) -> Iterator[tuple[slice | npt.NDArray[np.int64], npt.NDArray[np.int64]]]:
    """For each source: which entries of `records` lie in it, and where in the source."""
    if len(sources) == 1:
        yield slice(None), records
        return
    start = 0
    for rows in sources:
        end = start + len(rows.number)
        inside = np.flatnonzero((records >= start) & (records < end))
        yield inside, records[inside] - start
        start = end


def _contacts(
    settings: Settings, sources: Sequence[SourceRows], survivors: Survivors, with_calls: bool
) -> tuple[Contacts, ContactCalls | None]:
    number, systems, records = survivors.number, survivors.system, survivors.record
    country = np.zeros(len(records), dtype=np.uint8)
    source = np.zeros(len(records), dtype=np.uint8)
    for index, (rows, (inside, places)) in enumerate(zip(sources, by_source(sources, records), strict=True)):
        country[inside] = rows.country[places]
        source[inside] = index
    kind = np.zeros(len(records), dtype=np.uint8)
    for slot in range(len(schema.SYSTEM_NAMES)):
        low, high = np.searchsorted(systems, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
        kind[low:high] = kinds(number[low:high], schema.SYSTEM_NAMES[slot])
    stores = load_calls(settings, sorted({rows.system for rows in sources})) if with_calls else {}
    for name in [name for name, store in stores.items() if store.weights.by_callsign is not None]:
        slot = schema.SYSTEM_NAMES.index(name)
        low, high = np.searchsorted(systems, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
        stores[name] = stores[name].joined(number[low:high], fetch_callsigns(sources, records[low:high]))
    contacts = Contacts(
        number,
        systems,
        source,
        kind,
        country,
        RecordTexts(sources, records),
        settings.home.place,
        home_country=settings.home.country_number,
    )
    if not stores:
        return contacts, None
    from pruner.job.traits import traits_in  # for those who have heard logs

    calls = ContactCalls(stores, number, systems, traits_in(contacts), settings.calls.period_days)
    contacts.calls = calls  # the calls ask these contacts for their places
    return contacts, calls
