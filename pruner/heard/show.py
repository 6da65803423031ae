"""Who was heard most, on what talkgroups, since when.

Receives an opened store, hands on short lists. The store is read twice, day by day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner import schema
from pruner.heard.parts import day_name
from pruner.heard.weights import Weights

_TALKGROUPS_SHOWN: Final = 3


@dataclass(frozen=True, slots=True)
class Line:
    """A station (with the talkgroups it called on most) or a talkgroup. Times: ISO 8601, UTC."""

    number: int
    calls: int
    seconds: float
    first: str
    last: str
    talkgroups: list[int]


@dataclass(frozen=True, slots=True)
class Overview:
    """The store at a glance; both lists have most calls first, then the smaller number."""

    first_day: str
    last_day: str
    calls: int
    stations: int
    most_heard: list[Line]
    busiest: list[Line]

    def plain(self) -> dict[str, Any]:
        """For JSON."""
        stations = [{"id" if key == "number" else key: value for key, value in asdict(one).items()} for one in self.most_heard]
        busiest = [
            {"talkgroup" if key == "number" else key: value for key, value in asdict(one).items() if key != "talkgroups"}
            for one in self.busiest
        ]
        return asdict(self) | {"most_heard": stations, "busiest": busiest}


def overview(weights: Weights, *, talkgroups: Sequence[int] | None, within_days: int | None, count: int) -> Overview:
    """The `count` stations and talkgroups with most calls, of all days or the last ones."""
    by_id = np.zeros(schema.ADDRESSES, dtype=np.uint64)
    by_talkgroup = np.zeros(schema.ADDRESSES, dtype=np.uint64)
    for rows in weights.tables(["id", "talkgroup", "calls"], talkgroups, within_days):
        calls = rows["calls"].to_numpy().astype(np.uint64)
        np.add.at(by_id, rows["id"].to_numpy(), calls)
        np.add.at(by_talkgroup, rows["talkgroup"].to_numpy(), calls)
    ids, groups = _most(by_id, count), _most(by_talkgroup, count)
    of_ids, of_groups = [], []
    for rows in weights.tables(["id", "talkgroup", "calls", "milliseconds", "first", "last"], talkgroups, within_days):
        of_ids.append(_summed(rows.filter(pc.is_in(rows["id"], value_set=pa.array(ids))), ["id", "talkgroup"]))
        of_groups.append(_summed(rows.filter(pc.is_in(rows["talkgroup"], value_set=pa.array(groups))), ["talkgroup"]))
    first = weights.first_day if within_days is None else max(weights.first_day, weights.last_day - within_days + 1)
    return Overview(
        day_name(first),
        day_name(weights.last_day),
        int(by_id.sum()),
        int(np.count_nonzero(by_id)),
        _lines(of_ids, "id"),
        _lines(of_groups, "talkgroup"),
    )


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
    on: dict[int, list[int]] = {}
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
