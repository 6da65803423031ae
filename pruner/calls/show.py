"""Who was heard most, on what talkgroups, since when; and every caller on every talkgroup.

Receives an opened store, hands on lists. The store is read day by day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.calendar import calendar_of
from pruner.calls.parts import day_name
from pruner.calls.weights import Weights
from pruner.words import schema

_TALKGROUPS_SHOWN: Final = 3


@dataclass(frozen=True, slots=True)
class Line:
    """A station (with the talkgroups it called on most), a call sign or a talkgroup. Times: ISO 8601, UTC."""

    number: int | str
    calls: int
    seconds: float
    first: str
    last: str
    talkgroups: list[int]


@dataclass(frozen=True, slots=True)
class Overview:
    """The store at a glance; the lists have most calls first, then the smaller number. `days` is on how many days from the
    first to the last anybody called, `gaps` (first and last day of each) when nobody did. `callsigns` are those that no
    directory has, of calls that name no id; `callsigns_heard` is how many there are in all; `notes`: which days do not count in
    fits and coverage, in words."""

    first_day: str
    last_day: str
    days: int
    gaps: list[tuple[str, str]]
    calls: int
    stations: int
    most_heard: list[Line]
    busiest: list[Line]
    callsigns: list[Line]
    callsigns_heard: int = 0
    notes: tuple[str, ...] = ()

    def plain(self) -> dict[str, Any]:
        """For JSON."""

        def named(lines: list[Line], name: str) -> list[dict[str, Any]]:
            return [{name if key == "number" else key: value for key, value in asdict(one).items()} for one in lines]

        busiest = [
            {key: value for key, value in one.items() if key != "talkgroups"} for one in named(self.busiest, "talkgroup")
        ]
        stations, callsigns = named(self.most_heard, "id"), named(self.callsigns, "callsign")
        return asdict(self) | {"most_heard": stations, "busiest": busiest, "callsigns": callsigns}


def overview(weights: Weights, *, talkgroups: Sequence[int] | None, within_days: int | None, count: int) -> Overview:
    """The `count` stations and talkgroups with most calls, of all days or the last ones."""
    by_id = np.zeros(schema.ADDRESSES, dtype=np.uint64)
    by_talkgroup = np.zeros(schema.ADDRESSES, dtype=np.uint64)
    for rows in weights.tables(["id", "talkgroup", "calls"], talkgroups, within_days):
        calls = rows["calls"].to_numpy().astype(np.uint64)
        np.add.at(by_id, rows["id"].to_numpy(), calls)
        np.add.at(by_talkgroup, rows["talkgroup"].to_numpy(), calls)
    total = int(by_id.sum())
    by_id[0] = 0  # nobody's
    ids, groups = _most(by_id, count), _most(by_talkgroup, count)
    of_ids, of_groups = [], []
    for rows in weights.tables(["id", "talkgroup", "calls", "milliseconds", "first", "last"], talkgroups, within_days):
        of_ids.append(_summed(rows.filter(pc.is_in(rows["id"], value_set=pa.array(ids))), ["id", "talkgroup"]))
        of_groups.append(_summed(rows.filter(pc.is_in(rows["talkgroup"], value_set=pa.array(groups))), ["talkgroup"]))
    days = weights.within(within_days)
    first = weights.first_day if within_days is None else max(weights.first_day, weights.last_day - within_days + 1)
    nameless = list(weights.nameless(talkgroups, within_days))
    return Overview(
        day_name(first),
        day_name(weights.last_day),
        len(days),
        [(day_name(day + 1), day_name(after - 1)) for day, after in pairwise([first - 1, *days]) if after > day + 1],
        total,
        int(np.count_nonzero(by_id)),
        _lines(of_ids, "id"),
        _lines(of_groups, "talkgroup"),
        _lines(nameless, "callsign")[:count] if nameless else [],
        pl.concat(nameless)["callsign"].n_unique() if nameless else 0,
        _left_out(weights),
    )


def _left_out(weights: Weights) -> tuple[str, ...]:
    """What of the whole store does not count as a covered day, in words."""
    sums = (pc.sum(rows["calls"]).as_py() or 0 for rows in weights.tables(["calls"]))
    by_day = dict(zip(weights.days, sums, strict=True))
    return tuple(calendar_of(by_day).notes()[1:]) if any(by_day.values()) else ()


def callers(weights: Weights, *, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
    """Every caller on every talkgroup: `id`, `callsign`, `talkgroup`, `calls`, `milliseconds`, `first`, `last`, sorted. Of
    callers with an id the call sign is null; callers of whom only a call sign is known, that no directory has, have no id."""
    rows = weights.rows(talkgroups, within_days).lazy().filter(pl.col("id") > 0)
    frames = [_summed(rows.collect(), ["id", "talkgroup"]).with_columns(callsign=pl.lit(None, pl.String))]
    nameless = list(weights.nameless(talkgroups, within_days))
    if nameless:
        frames.append(_summed(pl.concat(nameless), ["callsign", "talkgroup"]).with_columns(id=pl.lit(None, pl.UInt32)))
    columns = ["id", "callsign", "talkgroup", "calls", "milliseconds", "first", "last"]
    found = pl.concat([frame.select(columns) for frame in frames])
    return found.sort("id", "callsign", "talkgroup", nulls_last=True)


def _most(calls: np.ndarray[tuple[int], np.dtype[np.uint64]], count: int) -> np.ndarray[tuple[int], np.dtype[np.uint32]]:
    heard = np.flatnonzero(calls)
    return heard[np.lexsort((heard, -calls[heard].astype(np.int64)))][:count].astype(np.uint32)


def _summed(rows: pa.Table | pl.DataFrame, keys: list[str]) -> pl.DataFrame:
    frame = pl.DataFrame(rows) if isinstance(rows, pa.Table) else rows
    return frame.group_by(keys).agg(
        pl.col("calls", "milliseconds").cast(pl.UInt64).sum(), pl.col("first").min(), pl.col("last").max()
    )


def _lines(frames: list[pl.DataFrame], key: str) -> list[Line]:
    frame = pl.concat(frames)
    total = _summed(frame, [key]).sort(["calls", key], descending=[True, False])
    on: dict[int | str, list[int]] = {}
    if key != "talkgroup":
        detail = _summed(frame, [key, "talkgroup"]).sort(["calls", "talkgroup"], descending=[True, False])
        for number, talkgroup in detail.select(key, "talkgroup").iter_rows():
            on.setdefault(number, []).append(talkgroup)
    return [
        Line(
            row[key],
            row["calls"],
            row["milliseconds"] / 1000,
            row["first"].strftime("%Y-%m-%dT%H:%M:%SZ"),
            row["last"].strftime("%Y-%m-%dT%H:%M:%SZ"),
            on.get(row[key], [])[:_TALKGROUPS_SHOWN],
        )
        for row in total.to_dicts()
    ]
