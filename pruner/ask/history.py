"""Results and recorded runs of the settings' radios, joined with what is compared and forecast.

Receives settings, folders and files, hands on contacts to compare, how far a radio is behind, and limits to forecast.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import polars as pl

from pruner.account.summary import Summary
from pruner.ask.written_files import recorded_layout, written_in
from pruner.clean.duplicates import SourceIds, surviving_records
from pruner.history import written
from pruner.history.compare import Difference
from pruner.history.contacts import (
    COUNTRY_CODE,
    NOT_RECORDED,
    SYSTEM,
    TEXT_COLUMNS,
    ResultContacts,
    kept_contacts,
    kept_ranks,
    ordered,
    read_result,
    read_summary,
)
from pruner.history.forecast import Limit
from pruner.history.growth import Series
from pruner.history.record import as_runs
from pruner.history.runs import History, no_runs
from pruner.history.runs import read as read_runs
from pruner.history.series import by_hand, radios_now, recorded, without_future
from pruner.job.collect import collect
from pruner.job.texts import written_contacts
from pruner.layout.model import load_layout
from pruner.read.kinds import EXPORT
from pruner.reference import countries
from pruner.settings.models import Settings
from pruner.words import schema
from pruner.words.errors import PrunerError
from pruner.words.nouns import counted
from pruner.words.threads import Pool, Work

#: How many contacts handhelds commonly hold (common practice, no source).
COMMON_LIMITS: Final = (200_000, 500_000)
DIRECTORY: Final = "the directory"


@dataclass(frozen=True, slots=True)
class SinceWritten:
    """How far a radio is behind its present result. `difference` is None (and `worth` True) where it was never marked."""

    radio: str
    day: datetime.date | None
    difference: Difference | None
    contacts: int
    threshold: int

    @property
    def worth(self) -> bool:
        """Whether writing the radio is worth the time."""
        return self.difference is None or self.difference.total >= self.threshold

    def plain(self) -> dict[str, object]:
        """Plain values for JSON."""
        return {
            "radio": self.radio,
            "marked": self.difference is not None,
            "written_on": self.day.isoformat() if self.day else None,
            "contacts": self.contacts,
            "threshold": self.threshold,
            "worth_writing": self.worth,
            "difference": self.difference.plain() if self.difference else None,
        }


def contacts_at(path: Path, system: str = "dmr", layout: Path | None = None) -> ResultContacts:
    """The contacts of a result folder, or of any file that can be read as a directory (ids are of `system`).

    Files in a layout are read as the result records it. A result that records none is read in `layout`, if it is that, else as
    a directory. Raises PrunerError with one line per problem.
    """
    if not path.is_dir():
        return _of_file(path, system)
    summary = read_summary(path)
    recorded = recorded_layout(summary, path)
    if recorded is not None:
        return written_in(kept_contacts(path), kept_ranks(path), path, summary, recorded)
    found = read_result(path)
    if found.whole:
        return found
    if layout is not None:
        try:
            return written_in(found, kept_ranks(path), path, summary, load_layout(layout))
        except PrunerError:
            pass
    return _read_as_directory(found, path, summary)


def _of_file(path: Path, system: str) -> ResultContacts:
    with Pool(Work.PARSING) as pool:
        rows = collect(path.name, schema.SYSTEMS[system], [path], pool, kind=EXPORT)
    stay = surviving_records([SourceIds(system, rows.number, rows.station, rows.suffixed)])
    country = rows.country[stay.record]
    texts, _ = written_contacts([rows], stay.record, stay.number, country)
    codes = pl.Series(COUNTRY_CODE, countries.CODES)[country.astype("uint32")]
    frame = ordered(texts.with_columns(codes, pl.lit(schema.SYSTEM_NAMES.index(system)).alias(SYSTEM)))
    held = tuple(column for column in TEXT_COLUMNS if not frame.height or (frame[column] != "").any())
    return ResultContacts(str(path), frame, held, unread=len(rows.rejected))


def _read_as_directory(found: ResultContacts, folder: Path, summary: Summary) -> ResultContacts:
    """The same with the texts of its contact files, where these read as a directory."""
    names = [file.name for file in summary.files if file.name.startswith("contacts")]
    systems = found.frame[SYSTEM].unique().to_list()
    if not names or len(systems) != 1:
        return found
    try:
        parts = [_of_file(folder / name, schema.SYSTEM_NAMES[systems[0]]) for name in names]
    except PrunerError:
        return found
    texts = pl.concat([part.frame for part in parts]).sort(schema.ID)
    if not texts[schema.ID].equals(found.frame[schema.ID]):
        return found
    held = tuple(column for column in TEXT_COLUMNS if any(column in part.fields for part in parts))
    lacking = tuple(column for column in TEXT_COLUMNS if column not in held)
    unknown = (f"{', '.join(lacking)}: {NOT_RECORDED}",) if lacking else ()
    return ResultContacts(found.name, found.frame.with_columns(texts.select(TEXT_COLUMNS)), held, unknown=unknown)


def present_contacts(settings: Settings, radio: str) -> ResultContacts:
    """The contacts of a radio's present result. Raises SettingsError where there is none."""
    layout = next((one.layout for one in settings.radios if one.name == radio), None)
    return contacts_at(settings.output.folder / radio, layout=layout)


def mark_written(settings: Settings, radio: str, day: datetime.date | None) -> int:
    """Marks a radio's present result as written to it; returns how many contacts that are."""
    contacts = present_contacts(settings, radio)
    written.mark(settings.output.state, radio, contacts, day)
    return len(contacts)


def since_written(settings: Settings, radio: str, threshold: int | None = None) -> SinceWritten:
    """How far a radio is behind. `threshold`: changes from which on writing is worth it (None: one in 200 contacts)."""
    contacts = present_contacts(settings, radio)
    found = written.compare_with_written(settings.output.state, radio, contacts)
    marked = written.read_written(settings.output.state, radio) if found else None
    least = written.default_threshold(len(contacts)) if threshold is None else threshold
    return SinceWritten(radio, marked.day if marked else None, found, len(contacts), least)


def recorded_runs(settings: Settings) -> History:
    """All runs in the state folder."""
    return read_runs(settings.output.state / "history")


def last_fit(settings: Settings) -> pl.DataFrame:
    """The present results of the settings' radios, as runs of the day on which they were made; nothing where there are none."""
    found = []
    for radio in settings.radios:
        path = settings.output.folder / radio.name / "summary.json"
        try:
            day = datetime.datetime.fromtimestamp(path.stat().st_mtime, datetime.UTC).date()
            found.append(as_runs(day, [Summary.parse(path.read_bytes(), str(path))]))
        except (OSError, PrunerError):
            continue  # never fitted, or by another version
    return pl.concat(found) if found else no_runs()


def limits_to_forecast(settings: Settings | None, runs: pl.DataFrame, asked: Sequence[int] = ()) -> list[Limit]:
    """The common limits and those asked for, against the whole directory; then every radio whose room is known, against
    what its rules asked for in its present result, else in its last recorded run."""
    limits = [Limit(DIRECTORY, contacts) for contacts in sorted({*COMMON_LIMITS, *asked})]
    now = {**radios_now(runs), **radios_now(last_fit(settings))} if settings else {}
    for radio in settings.radios if settings else ():
        known = now.get(radio.name)
        if radio.contacts is not None:
            room: int | None = max(radio.contacts - radio.keep_free, 0)
        else:
            room = known.room if known else None
        if room is not None:
            limits.append(
                Limit(radio.name, room, known.wants, known.coverage, known.curve, known.ahead)
                if known
                else Limit(radio.name, room, None)
            )
    return limits


@dataclass(frozen=True, slots=True)
class Recorded:
    """How the directory grew: `series`, from the recorded `runs` or from counts by hand. Left out: runs of other sources
    (`aside`), and what `notes` name: runs of days to come, which a wrong clock wrote, and lines that are not whole."""

    series: Series
    runs: pl.DataFrame
    aside: int = 0
    notes: tuple[str, ...] = ()


def recorded_growth(
    settings: Settings | None, snapshots: Sequence[str] = (), file: Path | None = None, today: datetime.date | None = None
) -> Recorded:
    """The growth from counts by hand where there are any, else from the recorded runs, else from the present results.
    `today`: by default that of the clock (UTC)."""
    today = today or datetime.datetime.now(datetime.UTC).date()
    history = recorded_runs(settings) if settings else History(no_runs())
    runs, later = without_future(history.runs, today)
    if snapshots or file:
        return Recorded(by_hand(snapshots, file), runs, notes=tuple(history.notes))
    if settings and not runs.height:
        runs = last_fit(settings)
    series, aside = recorded(runs)
    wrong = f"{counted(later, 'recorded run')} of days to come left out; a clock was wrong then, or is now"
    return Recorded(series, runs, aside, (*history.notes, *([wrong] if later else [])))
