"""What each run saw, added to the history as numbers: one line of JSON per run, which `history.runs` describes and reads.

Receives the summaries of a run. One run is one line and one write, so that a run that is killed leaves at most a broken last
line. Only counts are kept, no ids and no names.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Final, TypedDict

from pruner.account.coverage import CoverageSummary
from pruner.account.parts import RowAccount
from pruner.account.summary import Limit, Summary
from pruner.history.files import append_line
from pruner.history.runs import COUNTRY, HISTORY_SCHEMA, RADIO, SOURCE, RunRow, frame_of, history_file, last_day
from pruner.history.wants import parts_in
from pruner.words.outcomes import REASON_WORDS, Reason

if TYPE_CHECKING:
    import polars as pl

_NO_STATION: Final = tuple(
    REASON_WORDS[why] for why in (Reason.RESERVED_ID, Reason.DUPLICATE_ID, Reason.NO_STATION, Reason.OTHER_SYSTEM)
)
_OVER_LIMIT: Final = REASON_WORDS[Reason.OVER_LIMIT]


def record(folder: Path, day: datetime.date, summaries: Sequence[Summary]) -> Path:
    """Adds one run to the history: `summaries` are those of its radios."""
    path = history_file(folder)
    append_line(path, run_line(day, summaries))
    return path


def record_once_a_day(folder: Path, day: datetime.date, summaries: Sequence[Summary]) -> None:
    """The same for a run that nobody asked to be recorded: a day that is recorded already stays as it is."""
    if last_day(folder) != day:
        record(folder, day, summaries)


def as_runs(day: datetime.date, summaries: Sequence[Summary]) -> pl.DataFrame:
    """One run as `history.runs.read` would give it, without a history."""
    return frame_of([(0, day, [row for summary in summaries for row in _rows(summary)])])


def run_line(day: datetime.date, summaries: Sequence[Summary]) -> bytes:
    """The line of one run, without its line feed. What is unknown does not stand in it."""
    rows = [
        {key: value for key, value in asdict(row).items() if value is not None}
        for summary in summaries
        for row in _rows(summary)
    ]
    run = {"schema": HISTORY_SCHEMA, "day": day.isoformat(), "rows": rows}
    return json.dumps(run, ensure_ascii=True, separators=(",", ":")).encode()


class _Counts(TypedDict):
    read: int
    rejected: int
    kept: int
    contacts: int
    wanted: int


def _rows(summary: Summary) -> list[RunRow]:
    radio = summary.radio
    counts = _counts(summary.read, summary.kept, summary.rejected, {**summary.dropped, **summary.rejected_reasons})
    if summary.contacts is not None:
        counts["contacts"] = summary.contacts
    wants, coverage = tuple(parts_in(summary)), summary.coverage
    whole = RunRow(
        RADIO,
        radio,
        radio,
        **counts,
        wants=wants,
        limit=_room(summary.limit),
        coverage=None if coverage is None else coverage.own.share,
        curve=_curve(coverage),
        **_ahead(coverage, summary.kept),
    )
    sources = [RunRow(SOURCE, source.name, radio, **_counts_of(source.account)) for source in summary.sources]
    countries = [RunRow(COUNTRY, code, radio, kept=kept) for code, kept in sorted(summary.countries.items())]
    return [whole, *sources, *countries]


def _counts_of(account: RowAccount) -> _Counts:
    return _counts(account.read, account.kept, account.rejected, account.reasons)


def _counts(read: int, kept: int, rejected: int, reasons: Mapping[str, int]) -> _Counts:
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


class _Ahead(TypedDict, total=False):
    to_come: tuple[tuple[float, float | None, float | None, float | None], ...]
    period_days: int
    talkgroups: str


def _ahead(coverage: CoverageSummary | None, kept: int) -> _Ahead:
    """Calls to come by limit; where a memory is counted otherwise, at what is kept."""
    told = coverage.to_come if coverage else None
    if told is None:
        return {}
    of_all = [(float(one.contacts), one.share, one.low, one.high) for one in told.by_limit]
    points = of_all or [(float(kept), told.share, told.low, told.high)]
    if all(low is None for _, _, low, _ in points):
        return {}
    return {"to_come": tuple(points), "period_days": told.period_days, "talkgroups": told.talkgroups}


def _curve(coverage: CoverageSummary | None) -> tuple[tuple[float, float], ...] | None:
    points = () if coverage is None else coverage.by_limit
    return tuple((float(point.contacts), point.share) for point in points) or None
