"""The demo's heard logs: what was called on the air, month by month, with a little dirt.

Receives the stations of a directory; hands on CSV files as bytes. Everything is invented; whoever bears one of the ids has
nothing to do with it.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Final

import numpy as np
import polars as pl

from pruner.demo.callers import Overs, make_overs
from pruner.demo.conversations import DAY_SECONDS
from pruner.demo.draws import Draws, Integers
from pruner.demo.persons import World
from pruner.demo.stations import Stations
from pruner.words.days import date_of, day_number

FOLDER: Final = "heard"
HEADINGS: Final = ("time", "id", "talkgroup", "seconds")
#: The log ends on the day after the tour's last one.
FIRST_DAY: Final = day_number(date(2026, 2, 1))
DAYS: Final = 181
#: Calls per station of the directory.
CALLS_PER_STATION: Final = 1.8
#: Rows that are spoilt, as a share of all; each row carries one kind at most.
SPOILT: Final[dict[str, float]] = {
    "id with letters": 0.0006,
    "no time": 0.0005,
    "too few cells": 0.0004,
    "clock not set": 0.0010,
    "reserved id": 0.0005,
}
#: The clock of one gateway was ahead for a while: the kind, by how many days, and for one of how many calls in the log (so in
#: small demos for none). They lie behind the end of the log, where a day of few calls would pass for today.
AHEAD: Final = "clock ahead"
AHEAD_DAYS: Final = 30
AHEAD_ONE_OF: Final = 10_000


def invented_calls(
    stations: Stations, *, seed: int, world: World = "varied", days: int = DAYS, about: int | None = None
) -> Overs:
    """Calls of these stations and of a few that no directory names. `about`: how many calls."""
    count = round(CALLS_PER_STATION * len(stations.ids)) if about is None else about
    return make_overs(Draws(seed), stations, count, first_day=FIRST_DAY, days=days, world=world)


def spoilt_rows(draws: Draws, rows: int) -> dict[str, Integers]:
    """Which rows carry which kind of dirt."""
    order = draws.order("spoilt calls", rows)
    found, begin = {}, 0
    for kind, share in SPOILT.items():
        count = min(max(1, round(share * rows)), rows - begin)
        found[kind] = np.sort(order[begin : begin + count])
        begin += count
    run = np.arange(rows // AHEAD_ONE_OF) + rows * 15 // 16
    return {**found, AHEAD: np.setdiff1d(run, order[:begin])}


def _lines(overs: Overs, spoilt: dict[str, Integers]) -> pl.Series:
    time = overs.time.copy()
    # A hotspot that has not yet asked for the time begins in 1970.
    time[spoilt["clock not set"]] %= 4_000
    time[spoilt[AHEAD]] += AHEAD_DAYS * DAY_SECONDS
    number = overs.id.copy()
    number[spoilt["reserved id"]] = 16_777_215
    frame = pl.DataFrame(
        {
            "time": pl.Series(time * 1000).cast(pl.Datetime("ms")).dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "id": pl.Series(number).cast(pl.String),
            "talkgroup": pl.Series(overs.talkgroup).cast(pl.String),
            "seconds": pl.Series(overs.tenths // 10).cast(pl.String) + "." + pl.Series(overs.tenths % 10).cast(pl.String),
        }
    )
    letters, timeless, short = spoilt["id with letters"], spoilt["no time"], spoilt["too few cells"]
    frame = frame.with_columns(
        frame["id"].scatter(letters, "x" + frame["id"].gather(letters)),
        frame["time"].scatter(timeless, pl.Series(["--:--"]).gather(np.zeros(len(timeless), dtype=np.int64))),
    )
    whole = frame.select(pl.concat_str(HEADINGS, separator=",")).to_series()
    return whole.scatter(short, frame[short].select(pl.concat_str(HEADINGS[:2], separator=",")).to_series())


def _months(days: int) -> list[tuple[str, int]]:
    """Year and month of each file, and its first day (days since 1970-01-01)."""
    all_days = [FIRST_DAY + day for day in range(days)]
    dates = map(date_of, all_days)
    return [(f"{one:%Y-%m}", day) for day, one in zip(all_days, dates, strict=True) if one.day == 1 or day == FIRST_DAY]


def file_names(days: int = DAYS) -> list[str]:
    """The names of the logs, one for each month."""
    return [f"calls-{month}.csv" for month, _ in _months(days)]


def calls_files(stations: Stations, *, seed: int, world: World = "varied", days: int = DAYS) -> dict[str, bytes]:
    """The heard logs: a CSV file per month, by name (`calls-2026-02.csv`)."""
    overs = invented_calls(stations, seed=seed, world=world, days=days)
    lines = _lines(overs, spoilt_rows(Draws(seed), len(overs)))
    starts = np.searchsorted(overs.time, [day * DAY_SECONDS for _, day in _months(days)]).tolist()
    heading = pl.Series([",".join(HEADINGS)])
    parts = [pl.concat([heading, lines[start:end]]) for start, end in zip(starts, [*starts[1:], len(overs)], strict=True)]
    return {name: f"{part.str.join(chr(10)).item()}\n".encode() for name, part in zip(file_names(days), parts, strict=True)}


def planted_calls(stations: Stations, *, seed: int, world: World = "varied", days: int = DAYS) -> dict[str, int]:
    """What `calls_files` with the same arguments writes: rows, rows per kind of dirt, calls from ids in no directory."""
    overs = invented_calls(stations, seed=seed, world=world, days=days)
    spoilt = spoilt_rows(Draws(seed), len(overs))
    strange = int(np.count_nonzero(~np.isin(overs.id, stations.ids)))
    return {"rows": len(overs), "of strangers": strange, **{kind: len(rows) for kind, rows in spoilt.items()}}


def write_calls(folder: Path, stations: Stations, *, seed: int, world: World = "varied", days: int = DAYS) -> list[Path]:
    """Writes the heard logs of these stations into a folder; the paths written."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, content in calls_files(stations, seed=seed, world=world, days=days).items():
        (folder / name).write_bytes(content)
        paths.append(folder / name)
    return paths
