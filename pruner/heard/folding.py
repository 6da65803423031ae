"""One fold under way: runs of calls in, files of days out, in memory that does not grow with the log.

Receives arrays of calls in any order and cut in any way, hands on the rows of each day. Days with many calls are counted
in `heard.dense`, everything else goes through `heard.fold.fold`; what is finished waits on the disk as pieces.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner.heard.dense import Codes, DayCells
from pruner.heard.fold import DAY, KEY, LOG_COLUMNS, SUMS, fold, merge
from pruner.heard.parts import as_rows, read_part, write_part

#: Shorter runs wait for each other.
_FEW: Final = 1 << 17
#: A day is counted in cells when a run brings at least this many calls of it.
_MANY: Final = 1 << 16
_OPEN_DAYS: Final = 2
#: A day is closed when so many calls came since its last one: logs are nearly sorted by time.
_QUIET: Final = 1 << 21
#: Calls that are folded at once where there are no cells for them.
_SPARSE: Final = 4_000_000
#: Rows of a stored day that are added up at once.
_MERGED: Final = 1 << 19


@dataclass(frozen=True, slots=True)
class Calls:
    """Calls by position: `id` and `talkgroup` uint32, `time` int64 in milliseconds since 1970-01-01 UTC, `milliseconds`
    on air (unsigned)."""

    id: npt.NDArray[np.uint32]
    talkgroup: npt.NDArray[np.uint32]
    time: npt.NDArray[np.int64]
    milliseconds: npt.NDArray[np.unsignedinteger]

    def __len__(self) -> int:
        return len(self.id)

    def where(self, which: npt.NDArray[np.generic]) -> Calls:
        """Some of the calls."""
        return Calls(self.id[which], self.talkgroup[which], self.time[which], self.milliseconds[which])


def joined(runs: list[Calls]) -> Calls:
    """Runs of calls as one."""
    if len(runs) == 1:
        return runs[0]
    return Calls(
        np.concatenate([run.id for run in runs]),
        np.concatenate([run.talkgroup for run in runs]),
        np.concatenate([run.time for run in runs]),
        np.concatenate([run.milliseconds.astype(np.uint64) for run in runs]),
    )


class Folding:
    """A fold into pieces in `folder`. Use as a context; `add` as often as needed, then `days` once."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._codes = Codes()
        self._open: dict[int, DayCells] = {}
        self._spare: list[DayCells] = []
        self._taken = 0
        self._last_taken: dict[int, int] = {}
        self._waiting: list[Calls] = []
        self._sparse: list[Calls] = []
        self._sparse_count = 0
        self._pieces: dict[int, list[Path]] = {}
        self._mixed: list[tuple[Path, set[int]]] = []
        self._writer = ThreadPoolExecutor(max_workers=1)
        self._writing: Future[None] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._writer.shutdown()

    def add(self, calls: Calls) -> None:
        """Counts a run of calls."""
        if len(calls):
            self._waiting.append(calls)
            if sum(map(len, self._waiting)) >= _FEW:
                self._take_waiting()

    def days(self) -> Iterator[tuple[int, list[Path], list[pl.DataFrame]]]:
        """Ends the fold: for each day, in order, its finished pieces (files of the store) and its other rows."""
        if self._waiting:
            self._take_waiting()
        for day in list(self._open):
            self._close(day)
        self._fold_sparse()
        if self._writing:
            self._writing.result()
        for day in sorted(self._pieces.keys() | {day for _, days in self._mixed for day in days}):
            mixed = [path for path, days in self._mixed if day in days]
            rest = [pl.scan_parquet(path).filter(pl.col("day") == day).collect() for path in mixed]
            yield day, self._pieces.get(day, []), rest

    def _take_waiting(self) -> None:
        calls, self._waiting = joined(self._waiting), []
        first, last = int(calls.time.min()) // DAY, int(calls.time.max()) // DAY
        if first == last:
            self._take_day(first, calls)
            return
        day_of = calls.time // DAY
        days, counts = np.unique(day_of, return_counts=True)
        if len(days) > _OPEN_DAYS:
            is_many = np.isin(days, list(self._open)) & (counts >= _MANY)
            self._take_sparse(calls.where(~np.isin(day_of, days[is_many])) if is_many.any() else calls)
            days = days[is_many]
        for day in days.tolist():
            self._take_day(day, calls.where(day_of == day))

    def _take_day(self, day: int, calls: Calls) -> None:
        if len(calls) < _MANY and day not in self._open:
            self._take_sparse(calls)
            return
        cells, has_cell = self._codes.cells_of(calls.id, calls.talkgroup)
        if has_cell is not None:
            self._take_sparse(calls.where(~has_cell))
            cells, calls = cells[has_cell], calls.where(has_cell)
        if day not in self._open:
            if len(self._open) == _OPEN_DAYS:
                self._close(next(iter(self._open)))
            self._open[day] = self._spare.pop() if self._spare else DayCells(self._codes, day)
            self._open[day].begin(day)
        self._open[day] = self._open.pop(day)
        if len(calls):
            self._open[day].add(cells, calls.time, calls.milliseconds)
        self._taken += len(calls)
        self._last_taken[day] = self._taken
        for other in [other for other in self._open if self._taken - self._last_taken[other] > _QUIET]:
            self._close(other)

    def _close(self, day: int) -> None:
        cells = self._open.pop(day)

        def write() -> None:
            runs = (as_rows(run, day) for run in cells.rows())
            self._pieces.setdefault(day, []).append(write_part(runs, self._folder, day))
            self._spare.append(cells)

        if self._writing:
            self._writing.result()
        self._writing = self._writer.submit(write)

    def _take_sparse(self, calls: Calls) -> None:
        if len(calls):
            self._sparse.append(calls)
            self._sparse_count += len(calls)
            if self._sparse_count >= _SPARSE:
                self._fold_sparse()

    def _fold_sparse(self) -> None:
        if not self._sparse:
            return
        calls, self._sparse, self._sparse_count = joined(self._sparse), [], 0
        frame = pl.DataFrame({name: getattr(calls, name) for name in LOG_COLUMNS})
        folded = fold(frame).sort("day", "id", "talkgroup")
        path = self._folder / f"making-mixed-{len(self._mixed)}.parquet"
        folded.write_parquet(path, compression="lz4", row_group_size=1 << 17)
        self._mixed.append((path, set(folded["day"].unique().to_list())))


def merged_day(day: int, parts: list[Path], rest: list[pl.DataFrame]) -> Iterator[pa.Table]:
    """The rows of one day from files of the store and other folded rows, in runs of bounded length."""
    tables = [pl.scan_parquet(path) for path in parts] + [frame.lazy() for frame in rest]
    for low, high in _id_ranges(parts):
        frames = [_as_folded(table.filter(pl.col("id").is_between(low, high))) for table in tables]
        rows = merge(pl.concat(frames).collect()).sort("id", "talkgroup")
        yield as_rows({name: rows[name].to_numpy() for name in rows.columns if name != "day"}, day)


def _id_ranges(parts: list[Path]) -> list[tuple[int, int]]:
    """Ranges of ids, first and last, that cut every file into runs of about `_MERGED` rows."""
    ids = [read_part(path, ["id"])["id"].to_numpy() for path in parts]
    longest = max(ids, key=len, default=np.zeros(0, dtype=np.uint32))
    starts = [0, *(int(start) for start in np.unique(longest[_MERGED::_MERGED]))]
    return list(zip(starts, [start - 1 for start in starts[1:]] + [int(np.iinfo(np.uint32).max)], strict=True))


def _as_folded(rows: pl.LazyFrame) -> pl.LazyFrame:
    return rows.select(
        pl.col("day").to_physical().cast(pl.Int64),
        *(pl.col(name).to_physical().cast(pl.Int64) for name in (*KEY[1:], *SUMS)),
    )
