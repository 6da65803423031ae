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

from pruner.calls.callsign_calls import CallsignCalls
from pruner.calls.counted_days import CountedDays
from pruner.calls.counting import TOLERANCE
from pruner.calls.parts import POLARS_ROW, ROW, in_seconds
from pruner.calls.reading import Reading
from pruner.calls.store import load_manifest
from pruner.words import schema


@dataclass(frozen=True, slots=True)
class Weights:
    """A store, opened. `days` (from 1970-01-01, UTC) are those of which anything is known, the last of them is today for every
    window: no clock is asked. `by_callsign` are the calls that name only a call sign, None where there are none."""

    days: tuple[int, ...]
    counted: CountedDays
    by_callsign: CallsignCalls | None = None

    @property
    def first_day(self) -> int:
        """The first day of which calls are known, counted from 1970-01-01."""
        return self.days[0]

    @property
    def last_day(self) -> int:
        """The last day of which calls are known, counted from 1970-01-01."""
        return self.days[-1]

    def joined(self, numbers: npt.NDArray[np.uint32], callsigns: pa.Array) -> Weights:
        """The same, with the calls that name only a call sign joined to the ids of a directory."""
        if self.by_callsign is None:
            return self
        calls = self.by_callsign.joined(numbers, callsigns, self._calls_of)
        return replace(self, by_callsign=calls)

    def _calls_of(self, numbers: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint32]:
        return replace(self, by_callsign=None).calls(numbers)

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
        return sum(pc.sum(rows["calls"]).as_py() or 0 for rows in self.tables(["calls"], talkgroups, within_days))

    def callsign_calls(self, within_days: int | None = None) -> tuple[int, int]:
        """Calls that name only a call sign and are not known by an id, and how many of them a directory's ids count for."""
        if self.by_callsign is None:
            return 0, 0
        days = [day for day in self.within(within_days) if day in self.by_callsign.days]
        ids = [self.by_callsign.counted(day, self.counted)[0].id for day in days]
        return sum(map(len, ids)), sum(int(np.count_nonzero(one)) for one in ids)

    def nameless(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> Iterator[pl.DataFrame]:
        """The calls of each day whose caller is known only by a call sign that no directory has (`CallsignCalls.nameless`)."""
        if self.by_callsign is not None:
            for day in self.within(within_days):
                if day in self.by_callsign.days:
                    rows = self.by_callsign.nameless(day, self.counted)
                    yield rows if talkgroups is None else rows.filter(pl.col("talkgroup").is_in(talkgroups))

    def rows(self, talkgroups: Sequence[int] | None = None, within_days: int | None = None) -> pl.DataFrame:
        """Counted calls (`calls.parts.ROW`), sorted by day, id and talkgroup. Id 0 stands for callers of whom only a call
        sign is known that no directory names."""
        tables = list(self.tables(ROW.names, talkgroups, within_days))
        return pl.DataFrame(pa.concat_tables(tables), schema=POLARS_ROW) if tables else pl.DataFrame(schema=POLARS_ROW)

    def tables(
        self, columns: Sequence[str], talkgroups: Sequence[int] | None = None, within_days: int | None = None
    ) -> Iterator[pa.Table]:
        """Some columns of each day's rows, one day after the other."""
        wanted = None if talkgroups is None else pa.array(sorted(set(talkgroups)), pa.uint32())
        for day in self.within(within_days):
            names = list(columns) if wanted is None else list(dict.fromkeys([*columns, "talkgroup"]))
            rows = self._of_day(day, names)
            if wanted is not None:
                rows = rows.filter(pc.is_in(rows["talkgroup"], value_set=wanted))
            yield rows.select(list(columns))

    def short_tables(self, columns: Sequence[str]) -> Iterator[pa.Table]:
        """Some columns of each day's rows as `calls.parts.SHORT_ROW`, one day after the other; where it can be, no copy."""
        for day in self.days:
            if self.by_callsign is None or day not in self.by_callsign.days:
                yield self.counted.short_of_day(day, columns)
            else:
                yield in_seconds(self._of_day(day, columns))

    def only(self, days: npt.NDArray[np.int64]) -> Weights:
        """The same without the calls of other days than these (ascending)."""
        wanted = set(days.tolist())
        return replace(self, days=tuple(day for day in self.days if day in wanted))

    def within(self, within_days: int | None) -> tuple[int, ...]:
        """The last days of the log with calls (None: all)."""
        if within_days is None:
            return self.days
        return tuple(day for day in self.days if day > self.last_day - within_days)

    def _of_day(self, day: int, columns: Sequence[str]) -> pa.Table:
        if self.by_callsign is None or day not in self.by_callsign.days:
            return self.counted.of_day(day, columns)
        rows = self.by_callsign.rows(day, self.counted)
        return _added(self.counted.of_day(day, ROW.names), rows).select(list(columns))


def _added(*tables: pa.Table) -> pa.Table:
    """Rows of one day, those of the same id and talkgroup as one."""
    frame = pl.concat([pl.DataFrame(table.cast(ROW)) for table in tables])
    summed = frame.group_by("id", "talkgroup", "day").agg(
        pl.col("calls", "milliseconds").sum(), pl.col("first").min(), pl.col("last").max()
    )
    return summed.select(ROW.names).sort("id", "talkgroup").to_arrow().cast(ROW)


def load_weights(folder: Path, *, days: int | None = None, tolerance: int = TOLERANCE) -> Weights | None:
    """Opens a store, or its last `days` days; None where there is no store or nothing in it. `tolerance`: seconds by which the
    starts of one call may differ.

    Raises InputRefusedError when the store is damaged.
    """
    reading = Reading(folder)
    manifest = load_manifest(folder, "")
    known = manifest.days
    if days is not None and known:
        known = [day for day in known if day > known[-1] - days]
    if not known:
        return None
    named = {part.day: folder / part.file for part in manifest.callsigns if part.day in known}
    by_callsign = CallsignCalls(named, tolerance) if named else None
    return Weights(tuple(known), CountedDays(folder, manifest, tolerance, reading), by_callsign)
