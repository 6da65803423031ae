"""What each run saw, kept as numbers: one line of JSON per run in `<state>/history/runs.jsonl`.

Receives the summaries of a run, hands on a frame of all runs. One run is one line and one write, so that a run that is
killed leaves at most a broken last line, which reading skips. Only counts are kept, no ids and no names.

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
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import polars as pl

from pruner.account.coverage import CoverageSummary
from pruner.account.parts import RowAccount
from pruner.account.summary import Limit, Summary
from pruner.history.files import append_line
from pruner.history.wants import parts_in
from pruner.words.errors import SettingsError
from pruner.words.outcomes import REASON_WORDS, Reason

HISTORY_SCHEMA: Final = 1
SOURCE, COUNTRY, RADIO = "source", "country", "radio"
#: Columns of the frame that `read` gives.
COLUMNS: Final[dict[str, Any]] = {
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
}
_NO_STATION: Final = tuple(REASON_WORDS[why] for why in (Reason.RESERVED_ID, Reason.DUPLICATE_ID, Reason.NO_STATION))
_OVER_LIMIT: Final = REASON_WORDS[Reason.OVER_LIMIT]


def history_file(folder: Path) -> Path:
    """Where the history lies in its folder (`<state>/history`)."""
    return folder / "runs.jsonl"


def record(folder: Path, day: datetime.date, summaries: Sequence[Summary]) -> Path:
    """Adds one run to the history: `summaries` are those of its radios."""
    path = history_file(folder)
    append_line(path, run_line(day, summaries))
    return path


def record_once_a_day(folder: Path, day: datetime.date, summaries: Sequence[Summary]) -> None:
    """The same for a run that nobody asked to be recorded: a day that is recorded already stays as it is."""
    path = history_file(folder)
    try:
        last = path.read_bytes().rstrip(b"\n").rpartition(b"\n")[2] if path.exists() else b""
        known = json.loads(last)["day"] if last else ""
    except (OSError, ValueError, KeyError, TypeError):
        known = ""
    if known != day.isoformat():
        record(folder, day, summaries)


def as_runs(day: datetime.date, summaries: Sequence[Summary]) -> pl.DataFrame:
    """One run as `read` would give it, without a history."""
    rows = [{"run": 0, "day": day, **row} for summary in summaries for row in _rows(summary)]
    return pl.DataFrame(rows, schema=COLUMNS)


def run_line(day: datetime.date, summaries: Sequence[Summary]) -> bytes:
    """The line of one run, without its line feed."""
    rows = [row for summary in summaries for row in _rows(summary)]
    run = {"schema": HISTORY_SCHEMA, "day": day.isoformat(), "rows": rows}
    return json.dumps(run, ensure_ascii=True, separators=(",", ":")).encode()


def _rows(summary: Summary) -> list[dict[str, Any]]:
    radio = summary.radio
    reasons = {**summary.dropped, **summary.rejected_reasons}
    whole = {
        "about": RADIO,
        "name": radio,
        "radio": radio,
        **_counts(summary.read, summary.kept, summary.rejected, reasons),
        **({} if summary.contacts is None else {"contacts": summary.contacts}),
        "wants": [list(part) for part in parts_in(summary)],
        "limit": _room(summary.limit),
        **_coverage(summary.coverage),
    }
    sources = [
        {"about": SOURCE, "name": source.name, "radio": radio, **_counts_of(source.account)} for source in summary.sources
    ]
    countries = [
        {"about": COUNTRY, "name": code, "radio": radio, "kept": kept} for code, kept in sorted(summary.countries.items())
    ]
    return [whole, *sources, *countries]


def _counts_of(account: RowAccount) -> dict[str, int]:
    return _counts(account.read, account.kept, account.rejected, account.reasons)


def _counts(read: int, kept: int, rejected: int, reasons: Mapping[str, int]) -> dict[str, int]:
    none = sum(reasons.get(word, 0) for word in _NO_STATION)
    return {
        "read": read,
        "rejected": rejected,
        "kept": kept,
        "contacts": read - rejected - none,
        "wanted": kept + reasons.get(_OVER_LIMIT, 0),
    }


def _room(limit: Limit) -> int | None:
    return None if limit.contacts is None else max(limit.contacts - limit.keep_free, 0)


def _coverage(coverage: CoverageSummary | None) -> dict[str, Any]:
    if coverage is None:
        return {"coverage": None, "curve": None}
    curve = [[float(point.contacts), point.share] for point in coverage.by_limit]
    return {"coverage": coverage.own.share, "curve": curve or None}


def no_runs() -> pl.DataFrame:
    """An empty history."""
    return pl.DataFrame(schema=COLUMNS)


def read(folder: Path) -> pl.DataFrame:
    """All runs as one frame of `COLUMNS`: by day, runs of one day in the order in which they were recorded.

    `run` numbers the runs from 0 in this order. A line that is not whole (a run that was killed while it wrote) is skipped; no
    file at all is an empty history. Raises SettingsError for a file that a later version wrote or that cannot be read.
    """
    path = history_file(folder)
    try:
        lines = path.read_bytes().split(b"\n") if path.exists() else []
    except OSError as error:
        raise SettingsError(f"{path}: cannot be read ({error.strerror})") from error
    runs = sorted((run for run in (_run(line, path) for line in lines) if run), key=lambda run: run[0])
    try:
        rows = [{"run": index, "day": day, **row} for index, (day, run_rows) in enumerate(runs) for row in run_rows]
        return pl.DataFrame(rows, schema=COLUMNS)
    except (TypeError, pl.exceptions.PolarsError):
        raise SettingsError(f"{path}: holds rows that pruner did not write; move it away to begin anew") from None


def _run(line: bytes, path: Path) -> tuple[datetime.date, list[dict[str, Any]]] | None:
    try:
        run = json.loads(line)
        version, day, rows = run["schema"], datetime.date.fromisoformat(run["day"]), list(run["rows"])
    except (ValueError, KeyError, TypeError):
        return None
    if version != HISTORY_SCHEMA:
        raise SettingsError(f"{path}: was written by another version of pruner (schema {version}); move it away to begin anew")
    return day, rows
