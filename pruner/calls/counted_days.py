"""Days of the store -> counted calls by id and talkgroup, remembered beside the store.

Receives an opened store, hands on one table for each day. What was counted once is kept in the folder `counted`, named by what
it was counted from; it may be removed at any time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import polars as pl
import pyarrow as pa

from pruner.calls import counting
from pruner.calls.calls import Calls, joined
from pruner.calls.parts import ROW, SHORT_ROW, StoredDay, as_calls, damaged, day_name, in_seconds, of_day, read_part, seam_of
from pruner.calls.reading import Reading
from pruner.calls.remembered import remember, remembered
from pruner.calls.store import COUNTED, Manifest, Part

#: Changes when what is counted changes.
_EDITION: Final = 4
#: Calls of a day that are counted at once.
_AT_ONCE: Final = 1 << 20
#: Columns that tell starts and sorts.
_WHEN_AND_HOW: Final = ("start", "grain", "kind")


class CountedDays:
    """The counted calls of a store's days, for a tolerance in seconds; `reading` holds its files."""

    def __init__(
        self, folder: Path, manifest: Manifest, tolerance: int = counting.TOLERANCE, reading: Reading | None = None
    ) -> None:
        self.folder = folder
        self.tolerance = tolerance
        self._parts = {part.day: part for part in manifest.parts}
        self._sums = {part.day: part for part in manifest.sums}
        self._seam: tuple[int, Calls] | None = None
        self._reading = reading

    def of_day(self, day: int, columns: Sequence[str]) -> pa.Table:
        """Some columns of the rows of a day (`calls.parts.ROW`), sorted by id and talkgroup."""
        if day not in self._sums:
            return of_day(self._counted(day, _stored(columns)), day, columns)
        return self._with_sums(day).select(list(columns))

    def short_of_day(self, day: int, columns: Sequence[str]) -> pa.Table:
        """The same as `SHORT_ROW`."""
        if day not in self._sums:
            return self._counted(day, columns)
        return in_seconds(self._with_sums(day).select(list(columns)))

    def _with_sums(self, day: int) -> pa.Table:
        counted = of_day(self._counted(day, SHORT_ROW.names), day, ROW.names)
        return _larger(counted, read_part(self.folder / self._sums[day].file))

    def calls_of_day(self, day: int) -> Calls | None:
        """The stored calls of a day, None where there are none."""
        return as_calls(read_part(self.folder / self._parts[day].file)) if day in self._parts else None

    def _counted(self, day: int, columns: Sequence[str]) -> pa.Table:
        part = self._parts.get(day)
        if part is None:
            return SHORT_ROW.empty_table().select(list(columns))
        before, after = self._parts.get(day - 1), self._parts.get(day + 1)
        # Only a day whose calls may go on behind midnight is counted from the day after too.
        closed, open_ = self._remembered(part, before), self._remembered(part, before, after, is_open=True)
        for path in (closed, open_):
            known = remembered(path, columns)
            if known is not None:
                return known
        try:
            is_open = self._has_late_starts(part)
            return remember(open_ if is_open else closed, self._count(day, part, after if is_open else None), columns)
        except (OSError, pa.ArrowInvalid) as error:
            raise damaged(self.folder / part.file) from error

    def _count(self, day: int, part: Part, next_part: Part | None) -> Iterator[pa.Table]:
        """The rows of a day, run by run; afterwards its seam is known. `next_part`: where calls may end on the day after."""
        before, late = self._before(day), []
        after = None if next_part is None else counting.early(as_calls(read_part(self.folder / next_part.file)))
        stored = StoredDay(self.folder / part.file)
        whole = list(stored.by_ids(rows=_AT_ONCE)) if part.rows <= _AT_ONCE else None
        full = counting.are_full_of_minutes(whole if whole is not None else stored.by_ids(_WHEN_AND_HOW, rows=_AT_ONCE))
        for calls in whole if whole is not None else stored.by_ids(rows=_AT_ONCE):
            low, high = int(calls.id[0]), int(calls.id[-1])
            own, ends = (None if run is None else run.where((run.id >= low) & (run.id <= high)) for run in (before, after))
            yield counting.short_rows(counting.counted(calls, own, self.tolerance, after=ends, full_of_minutes=full))
            late.append(counting.seam(calls))
        self._seam = (day, joined(late)) if late else None

    def _has_late_starts(self, part: Part) -> bool:
        stored = StoredDay(self.folder / part.file)
        has_events = any(bool(kinds.any()) for kinds in stored.values("kind"))
        return has_events and counting.has_late_starts(stored.by_ids(_WHEN_AND_HOW, rows=_AT_ONCE))

    def _before(self, day: int) -> Calls | None:
        if day - 1 not in self._parts:
            return None
        if self._seam is not None and self._seam[0] == day - 1:
            return self._seam[1]
        return seam_of(self.folder / self._parts[day - 1].file, day - 1, seconds=counting.SEAM_SECONDS)

    def _remembered(self, part: Part, *others: Part | None, is_open: bool = False) -> Path:
        digests = [one.file.rpartition("-")[2].removesuffix(".parquet") for one in (part, *others) if one is not None]
        name = "-".join([day_name(part.day), *digests])
        return self.folder / COUNTED / f"{name}.{_EDITION}{'-open' if is_open else ''}-{self.tolerance}.arrow"


def _stored(columns: Sequence[str]) -> list[str]:
    """The columns of `SHORT_ROW` from which columns of `ROW` are made; never none, for they say how many rows there are."""
    return [name for name in columns if name != "day"] or ["id"]


def _larger(counted: pa.Table, sums: pa.Table) -> pa.Table:
    """Of each id and talkgroup the row with more calls, the counted one where both have as many."""
    key = ["id", "talkgroup"]
    both = pl.concat(
        [pl.DataFrame(sums).with_columns(rank=pl.lit(0)), pl.DataFrame(counted.cast(sums.schema)).with_columns(rank=pl.lit(1))]
    )
    kept = both.sort(*key, "calls", "rank").unique(key, keep="last", maintain_order=True).sort(key)
    return kept.drop("rank").to_arrow().cast(ROW)
