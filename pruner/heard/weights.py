"""What the heard store says of single stations: last heard, number of calls.

Receives a store and numbers of stations, hands on arrays with one entry for each number. The store is read day by day, only
the columns that a question needs.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner import schema
from pruner.heard.parts import POLARS_ROW, ROW, read_part
from pruner.heard.store import Part, load_manifest


@dataclass(frozen=True, slots=True)
class Weights:
    """A store, opened. `last_day` (days since 1970-01-01, UTC) is today for every window: no clock is asked."""

    folder: Path
    parts: tuple[Part, ...]

    @property
    def first_day(self) -> int:
        """The first day of which calls are known, counted from 1970-01-01."""
        return self.parts[0].day

    @property
    def last_day(self) -> int:
        """The last day of which calls are known, counted from 1970-01-01."""
        return self.parts[-1].day

    def last_heard(self, numbers: npt.NDArray[np.uint32], talkgroups: Sequence[int] | None = None) -> npt.NDArray[np.int64]:
        """When each number (uint32, any order) was last heard, on the talkgroups if any are named: int64 milliseconds since
        1970-01-01 UTC, 0 for never."""
        latest = np.zeros(schema.ADDRESSES, dtype=np.int64)
        for rows in self.tables(["id", "last"], talkgroups):
            last = rows["last"].cast(pa.int64()).to_numpy()
            np.maximum.at(latest, rows["id"].to_numpy(), last)
        return latest[numbers]

    def calls(
        self,
        numbers: npt.NDArray[np.uint32],
        talkgroups: Sequence[int] | None = None,
        within_days: int | None = None,
    ) -> npt.NDArray[np.uint32]:
        """How often each number was heard (uint32), on the talkgroups if any are named, in the last `within_days` days."""
        counts = np.zeros(schema.ADDRESSES, dtype=np.uint32)
        for rows in self.tables(["id", "calls"], talkgroups, within_days):
            np.add.at(counts, rows["id"].to_numpy(), rows["calls"].to_numpy())
        return counts[numbers]

    def total_calls(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> int:
        """All calls, also those of ids that no directory names."""
        if talkgroups is None:
            return sum(part.calls for part in self._within(within_days))
        return sum(pc.sum(rows["calls"]).as_py() or 0 for rows in self.tables(["calls"], talkgroups, within_days))

    def rows(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
        """Rows of the store (`heard.parts.ROW`), sorted by day, id and talkgroup."""
        tables = list(self.tables(ROW.names, talkgroups, within_days))
        return pl.DataFrame(pa.concat_tables(tables), schema=POLARS_ROW) if tables else pl.DataFrame(schema=POLARS_ROW)

    def tables(
        self, columns: Sequence[str], talkgroups: Sequence[int] | None = None, within_days: int | None = None
    ) -> Iterator[pa.Table]:
        """Some columns of each day's rows, one day after the other."""
        wanted = None if talkgroups is None else pa.array(sorted(set(talkgroups)), pa.uint32())
        for part in self._within(within_days):
            names = list(columns) if wanted is None else list(dict.fromkeys([*columns, "talkgroup"]))
            rows = read_part(self.folder / part.file, names)
            if wanted is not None:
                rows = rows.filter(pc.is_in(rows["talkgroup"], value_set=wanted))
            yield rows.select(list(columns))

    def calls_by_day(self) -> dict[int, int]:
        """Calls of each day that has any, by the day's number."""
        return {part.day: part.calls for part in self.parts if part.calls}

    def only(self, days: npt.NDArray[np.int64]) -> Weights:
        """The same without the calls of other days than these (ascending)."""
        wanted = set(days.tolist())
        return replace(self, parts=tuple(part for part in self.parts if part.day in wanted))

    def _within(self, within_days: int | None) -> tuple[Part, ...]:
        if within_days is None:
            return self.parts
        return tuple(part for part in self.parts if part.day > self.last_day - within_days)


def load_weights(folder: Path, *, days: int | None = None) -> Weights | None:
    """Opens a store, or its last `days` days; None where there is no store or nothing in it.

    Raises InputRefusedError when the store is damaged.
    """
    parts = tuple(part for part in load_manifest(folder, "").parts if part.rows)
    if days is not None and parts:
        parts = tuple(part for part in parts if part.day > parts[-1].day - days)
    return Weights(folder, parts) if parts else None
