"""The history of runs, read: `<state>/history/runs.jsonl`, one line of JSON per run.

Receives the folder of the history, hands on a frame of all runs. `history.record` writes what is read here.

A line holds `schema`, `day` and `rows`; a row has these keys, which are also the columns that `read` gives:

- `about`: `source`, `country` or `radio`, and `name`: of the source, the country (ISO 3166-1 code or "unknown") or the radio
- `radio`: the radio whose result is counted
- `read`, `rejected`, `kept`: rows (null where a country is counted, but for `kept`)
- `contacts`: stations found in the rows: read less rejected rows, reserved ids and duplicate ids; of a radio those of
  all directories, without its carried entries
- `wanted`: how many of them the rules asked for: kept and over limit
- `wants`: of a radio the same in parts, pairs of contacts and how many these can become at most (null: any number)
- `limit`: contacts that the radio holds, less what stays free (null where its memory is counted otherwise)
- `coverage`: share of heard calls (on the user's talkgroups, if named) whose caller was kept, null without heard logs
- `curve`: pairs of contacts and coverage, what other limits would have named with the same rules, null without heard logs
- `to_come`: contacts, and of the calls to come the share that this limit will name, with the ends of its interval (of a lower
  bound only the low one), `period_days` (of how many days) and `talkgroups` (`mine` or `all`); null where there is no figure
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Final

from pruner.words.errors import SettingsError
from pruner.words.nouns import counted
from pruner.words.stored import StoredError, checked, parsed, schema_of

if TYPE_CHECKING:
    import polars as pl

HISTORY_SCHEMA: Final = 1
SOURCE, COUNTRY, RADIO = "source", "country", "radio"


@dataclass(frozen=True, slots=True)
class RunRow:
    """What one run counted of a source, a country or a radio; the keys are described above."""

    about: str
    name: str
    radio: str
    read: int | None = None
    rejected: int | None = None
    kept: int | None = None
    contacts: int | None = None
    wanted: int | None = None
    wants: tuple[tuple[float, float | None], ...] | None = None
    limit: int | None = None
    coverage: float | None = None
    curve: tuple[tuple[float, float], ...] | None = None
    to_come: tuple[tuple[float, float | None, float | None, float | None], ...] | None = None
    period_days: int | None = None
    talkgroups: str | None = None


@dataclass(frozen=True, slots=True)
class RecordedRun:
    """A line of the history."""

    schema: int
    day: datetime.date
    rows: tuple[RunRow, ...]


@dataclass(frozen=True, slots=True)
class History:
    """All runs, a frame of `columns`: by day, runs of one day in the order in which they were recorded, numbered from 0 in this
    order. `broken`: how many lines are not whole, of runs that were killed while they wrote; they are left out."""

    runs: pl.DataFrame
    broken: int = 0

    @property
    def notes(self) -> list[str]:
        """What was left out, in words."""
        lines = counted(self.broken, "recorded run is", "recorded runs are")
        return [f"{lines} not whole and left out; the run was killed while it wrote"] if self.broken else []


def history_file(folder: Path) -> Path:
    """Where the history lies in its folder (`<state>/history`)."""
    return folder / "runs.jsonl"


def read(folder: Path) -> History:
    """All runs of a history; no file at all is an empty one.

    Raises SettingsError, with the line, for a file that a later version wrote, that holds what no run writes, or that cannot be
    read.
    """
    path = history_file(folder)
    try:
        lines = path.read_bytes().split(b"\n") if path.exists() else []
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read ({error.strerror})") from error
    found = [_run(line, f"{path}: line {number}") for number, line in enumerate(lines, 1) if line.strip()]
    runs = sorted((run for run in found if run), key=lambda run: run.day)
    return History(frame_of((index, run.day, run.rows) for index, run in enumerate(runs)), found.count(None))


def last_day(folder: Path) -> datetime.date | None:
    """The day of the run that was recorded last, None where there is none or its line is not whole."""
    path = history_file(folder)
    try:
        line = path.read_bytes().rstrip(b"\n").rpartition(b"\n")[2] if path.exists() else b""
        return checked(RecordedRun, parsed(line)).day
    except (OSError, StoredError):
        return None


def columns() -> pl.Schema:
    """Columns of the frame that `read` gives: number and day of the run, then the fields of `RunRow`."""
    import polars as pl  # who records a run makes no frame

    kinds: dict[str, pl.DataType | type[pl.DataType]] = {
        "run": pl.UInt32,
        "day": pl.Date,
        "about": pl.String,
        "name": pl.String,
        "radio": pl.String,
        "read": pl.Int64,
        "rejected": pl.Int64,
        "kept": pl.Int64,
        "contacts": pl.Int64,
        "wanted": pl.Int64,
        "wants": pl.List(pl.List(pl.Float64)),
        "limit": pl.Int64,
        "coverage": pl.Float64,
        "curve": pl.List(pl.List(pl.Float64)),
        "to_come": pl.List(pl.List(pl.Float64)),
        "period_days": pl.Int64,
        "talkgroups": pl.String,
    }
    return pl.Schema(kinds)


def frame_of(runs: Iterable[tuple[int, datetime.date, Iterable[RunRow]]]) -> pl.DataFrame:
    """Numbers, days and rows of runs as a frame of `columns`."""
    import polars as pl

    rows = [(number, day, row) for number, day, of_run in runs for row in of_run]
    values: dict[str, list[object]] = {"run": [number for number, _, _ in rows], "day": [day for _, day, _ in rows]}
    values |= {one.name: [getattr(row, one.name) for _, _, row in rows] for one in fields(RunRow)}
    return pl.DataFrame(values, schema=columns())


def no_runs() -> pl.DataFrame:
    """An empty history."""
    return columns().to_frame()


def _run(line: bytes, place: str) -> RecordedRun | None:
    """The run of a line, None where the line is not whole."""
    try:
        content = parsed(line)
    except StoredError:
        return None
    try:
        version = schema_of(content)
        if version != HISTORY_SCHEMA:
            raise SettingsError(
                f"{place}: was written by another version of pruner (schema {version}); move the file away to begin anew"
            )
        run = checked(RecordedRun, content)
        _check_counts(run)
    except StoredError as error:
        raise SettingsError(
            f"{place}: pruner did not write this ({error}); remove the line, or move the file away to begin anew"
        ) from None
    return run


def _check_counts(run: RecordedRun) -> None:
    for index, row in enumerate(run.rows):
        if row.about == RADIO and None in (row.kept, row.contacts, row.wanted):
            raise StoredError(f"rows[{index}]: expected what a radio kept, wanted and could have, found less")
