"""Where a forecast gets its numbers from: the recorded runs, or snapshots given by hand.

Receives the frame of `runs.read`, or texts such as `2024-01-01=180000` and CSV files of date and count; hands on a `Series`
and what the last run says of each radio.
"""

from __future__ import annotations

import csv
import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np
import polars as pl

from pruner.account.coverage import Ahead
from pruner.history.growth import Series
from pruner.history.runs import RADIO, SOURCE
from pruner.history.wants import Want, wants_of
from pruner.settings.cross import CARRIED
from pruner.words.counts import count_of
from pruner.words.days import day_number
from pruner.words.errors import InputRefusedError, SettingsError, SourceMissingError

_MOST: Final = 1 << 53


@dataclass(frozen=True, slots=True)
class RadioNow:
    """What the last run that had this radio says: what its rules ask for as the directory grows, the coverage,
    the coverage by share of the directory kept (ascending pairs), and the calls to come by that share. `room`: contacts that it
    holds, where its memory is counted otherwise as many as were kept when it was full, None if it never was."""

    wants: tuple[Want, ...]
    room: int | None
    coverage: float | None
    curve: tuple[tuple[float, float], ...]
    ahead: AheadCurve | None = None


@dataclass(frozen=True, slots=True)
class AheadCurve:
    """Calls to come by share of the directory kept: `points` are such a share, and share, low and high of the calls, ascending
    from nothing kept, nothing named (NaN where there is no figure; share and high where only a lower bound is known); of the
    next `period_days`, on `talkgroups` ("mine" or "all"). `directory`: stations at that run."""

    points: tuple[tuple[float, float, float, float], ...]
    period_days: int
    talkgroups: str
    directory: int

    def at(self, kept: float) -> Ahead:
        """The share at a share of the directory, straight between the points; no figure beside a point that has none."""
        of_directory, *values = np.array(self.points).T
        share, low, high = (float(np.interp(kept, of_directory, column)) for column in values)
        if np.isnan(low):
            return Ahead()
        known = not np.isnan(share) and not np.isnan(high)
        return Ahead(share=share if known else None, low=low, high=high if known else None)


def recorded(runs: pl.DataFrame) -> tuple[Series, int]:
    """The stations found on each recorded day (the last run of a day), and how many runs were left aside.

    Runs before the last change of the set of sources count another directory: they are left aside. Where radios carry entries
    of their own, the radio with the fewest stations counts.
    """
    names = pl.col("name").unique().sort().str.join("\n").alias("set")
    of_sources = (pl.col("about") == SOURCE) & (pl.col("name") != CARRIED)
    sources = runs.filter(of_sources).group_by("run").agg(names)
    whole = runs.filter(pl.col("about") == RADIO).group_by("run", "day").agg(pl.col("contacts").min())
    every = whole.join(sources, on="run", how="left").sort("run")
    other = np.flatnonzero((every["set"].ne_missing(every["set"].last() if every.height else None)).to_numpy())
    aside = int(other[-1]) + 1 if len(other) else 0
    days = every[aside:].filter(pl.col("contacts") > 0).unique("day", keep="last").sort("day")
    return Series(days["day"].to_physical().to_numpy().astype(np.int64), days["contacts"].to_numpy().astype(np.float64)), aside


def without_future(runs: pl.DataFrame, today: datetime.date) -> tuple[pl.DataFrame, int]:
    """The runs without those of days to come, which a wrong clock wrote, and how many these are."""
    known = runs.filter(pl.col("day") <= today + datetime.timedelta(days=1))  # the clock may stand on either side of midnight
    return known, runs["run"].n_unique() - known["run"].n_unique()


def radios_now(runs: pl.DataFrame) -> dict[str, RadioNow]:
    """The last word of the history on each radio, by name."""
    last = runs.filter((pl.col("about") == RADIO) & (pl.col("contacts") > 0)).sort("run").unique("name", keep="last")
    rows = [_LastRun(*row) for row in last.sort("name").select(_LastRun._fields).iter_rows()]
    return {row.name: RadioNow(_wants(row), _room(row), row.coverage, _curve(row), _ahead(row)) for row in rows}


class _LastRun(NamedTuple):
    """What is looked at of a radio's last run."""

    name: str
    kept: int
    contacts: int
    wanted: int
    wants: list[list[float | None]] | None
    limit: int | None
    coverage: float | None
    curve: list[list[float]] | None
    to_come: list[list[float | None]] | None
    period_days: int | None
    talkgroups: str | None


def _wants(row: _LastRun) -> tuple[Want, ...]:
    return wants_of(row.wants or [[row.wanted, None]], row.contacts)


def _room(row: _LastRun) -> int | None:
    if row.limit is not None:
        return row.limit
    return row.kept if row.wanted > row.kept else None


def _curve(row: _LastRun) -> tuple[tuple[float, float], ...]:
    if row.coverage is None:
        return ()
    points = row.curve or [[row.kept, row.coverage]]
    return ((0.0, 0.0), *((contacts / row.contacts, share) for contacts, share in sorted(points)))


def _ahead(row: _LastRun) -> AheadCurve | None:
    if not row.to_come or row.period_days is None or row.talkgroups is None:
        return None
    points = np.array(row.to_come, dtype=np.float64)
    points[:, 0] /= row.contacts
    # Nothing kept, nothing named; what is known of no limit is not known there either.
    nothing = np.where(np.isfinite(points).any(axis=0), 0.0, np.nan)
    curve = np.vstack([nothing, points[np.argsort(points[:, 0])]]).tolist()
    return AheadCurve(
        tuple((kept, share, low, high) for kept, share, low, high in curve), row.period_days, row.talkgroups, row.contacts
    )


def by_hand(snapshots: Sequence[str], file: Path | None = None) -> Series:
    """A series from `YYYY-MM-DD=count` texts and a CSV file of date and count (with or without a heading line).

    Raises SettingsError for the texts and InputRefusedError for the file, with all mistakes at once.
    """
    problems: list[str] = []
    found: dict[int, int] = {}
    for text in snapshots:
        day, sign, count = text.partition("=")
        _take(found, problems, f"--snapshot {text!r}", (day, count) if sign else (text,))
    if problems:
        raise SettingsError(problems)
    if file is not None:
        rows = list(_rows(file))
        for line, cells in rows:
            _take(found, problems, f"{file}:{line}", cells)
        if len(problems) == len(rows) > 1:
            raise InputRefusedError(f"{problems[0]} (none of the {len(rows):,} rows holds these)")
        if problems:
            raise InputRefusedError("\n".join(problems[:20]))
    days = sorted(found)
    return Series(np.array(days, dtype=np.int64), np.array([found[day] for day in days], dtype=np.float64))


def _rows(file: Path) -> Iterable[tuple[int, Sequence[str]]]:
    try:
        with file.open(encoding="utf-8-sig", newline="") as opened:
            reader = csv.reader(opened)
            rows = [(reader.line_num, cells) for cells in reader if any(cell.strip() for cell in cells)]
    except FileNotFoundError:
        raise SourceMissingError(f"{file}: no such file; expected a CSV of date and count") from None
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputRefusedError(f"{file}: cannot be read as a CSV of date and count ({error})") from None
    heading = bool(rows) and not any(character.isdigit() for cell in rows[0][1] for character in cell)
    return rows[1:] if heading else rows


def _take(found: dict[int, int], problems: list[str], where: str, cells: Sequence[str]) -> None:
    try:
        day_text, count_text = cells
        day = day_number(datetime.date.fromisoformat(day_text.strip()))
        count = count_of(count_text)
        if not 0 < count < _MOST:
            raise ValueError
    except ValueError:
        problems.append(f"{where}: expected a date and a count of stations, such as 2024-01-01 and 180000")
        return
    if day in found:
        problems.append(f"{where}: this day is given twice")
    found[day] = count
