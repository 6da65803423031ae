"""The rows of all days of a store in the order of their days, as they lie in its files.

Receives an opened store, hands on columns in pieces, of which no copy is made unless they are short.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.weights import Weights

#: Up to so many numbers are compared one by one, which is faster than to look each up.
_FEW: Final = 16
#: Pieces of fewer rows on average are joined: to copy them takes less than to walk over so many.
_SHORT: Final = 1 << 14
Column = npt.NDArray[Any]


@dataclass(frozen=True, slots=True)
class DayRows:
    """Counted calls by day, id and talkgroup. `days` (int64, ascending, from 1970-01-01): row numbers `bounds[k]` up to
    `bounds[k + 1]` are of day `days[k]`. `table`: the columns of `calls.parts.SHORT_ROW` that were asked for."""

    days: npt.NDArray[np.int64]
    bounds: npt.NDArray[np.int64]
    table: pa.Table

    def between(self, first: int, last: int) -> DayRows:
        """The rows of the days from one to another, both included."""
        low, high = np.searchsorted(self.days, np.array([first, last + 1])).tolist()
        begin, end = self.bounds[[low, high]].tolist()
        return DayRows(self.days[low:high], self.bounds[low : high + 1] - begin, self.table.slice(begin, end - begin))

    def of(self, days: npt.NDArray[np.int64]) -> DayRows:
        """The rows of some days."""
        wanted = np.flatnonzero(np.isin(self.days, days))
        if len(wanted) == len(self.days):
            return self
        lengths = np.diff(self.bounds)[wanted]
        pieces = [self.table.slice(self.bounds[place], self.bounds[place + 1] - self.bounds[place]) for place in wanted]
        table = _whole(pieces) if pieces else self.table.slice(0, 0)
        return DayRows(self.days[wanted], np.append(0, np.cumsum(lengths)), table)

    def pieces(self, columns: Sequence[str], talkgroups: Sequence[int] | None = None) -> Iterator[tuple[Column, ...]]:
        """Some columns piece by piece, those on the talkgroups if any are named."""
        names = list(dict.fromkeys([*columns, *(() if talkgroups is None else ("talkgroup",))]))
        for batch in self.table.select(names).to_batches():
            found = tuple(batch.column(name).to_numpy() for name in columns)
            if talkgroups is not None:
                which = np.flatnonzero(_is_in(batch.column("talkgroup"), talkgroups))
                found = tuple(column[which] for column in found)
            yield found

    def with_days(self, talkgroups: Sequence[int] | None = None) -> tuple[npt.NDArray[np.int64], pa.Table]:
        """The day of each row, and the rows, those on the talkgroups if any are named."""
        day = np.repeat(self.days, np.diff(self.bounds))
        if talkgroups is None:
            return day, self.table
        which = [_is_in(batch.column("talkgroup"), talkgroups) for batch in self.table.to_batches()]
        is_wanted = np.concatenate([np.zeros(0, dtype=bool), *which])
        return day[is_wanted], self.table.filter(pa.array(is_wanted))


def day_rows(weights: Weights, columns: Sequence[str]) -> tuple[DayRows, dict[int, int]]:
    """The rows of all days of a store, and the calls of each day that has any; `calls` is among the columns."""
    tables = list(weights.short_tables(columns))
    lengths = [table.num_rows for table in tables]
    table = _whole(tables)
    rows = DayRows(np.array(weights.days, dtype=np.int64), np.append(0, np.cumsum(lengths, dtype=np.int64)), table)
    calls = {
        day: int(pc.sum(table["calls"]).as_py()) for day, table in zip(weights.days, tables, strict=True) if table.num_rows
    }
    return rows, calls


def _whole(tables: Sequence[pa.Table]) -> pa.Table:
    """Tables one behind the other; short ones in one piece."""
    table = pa.concat_tables(tables)
    return table.combine_chunks() if table.num_rows < _SHORT * len(tables) else table


def _is_in(column: pa.Array, wanted: Sequence[int]) -> npt.NDArray[np.bool_]:
    if len(wanted) > _FEW:
        return pc.is_in(column, value_set=pa.array(sorted(set(wanted)), pa.uint32())).to_numpy(zero_copy_only=False)
    values = column.to_numpy()
    found = np.zeros(len(values), dtype=bool)
    for number in set(wanted):
        found |= values == number
    return found
