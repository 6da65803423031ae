"""Rows of a heard log -> distinct calls -> one row for each day, id and talkgroup: the definition of the fold.

Receives a frame of any engine that narwhals knows, hands on a frame of the same engine. Runs unchanged on polars, DuckDB,
dask and PySpark; `calls.folding` is the quick way to the same calls on one machine and is tested against this one. Times are
those of logs that tell the second; the tolerance of `calls.counting` comes afterwards.
"""

from __future__ import annotations

from typing import Any, Final, TypeVar

import narwhals as nw

from pruner.calls.calls import DAY_SECONDS

#: What a row of a log is reduced to: id, talkgroup, start (seconds since 1970-01-01 UTC), milliseconds on air.
LOG_COLUMNS: Final = ("id", "talkgroup", "start", "milliseconds")
#: What identifies a row of counted calls; days are those of UTC, counted from 1970-01-01.
KEY: Final = ("day", "id", "talkgroup")
#: What is counted of each key; `first` and `last` are starts of calls.
SUMS: Final = ("calls", "milliseconds", "first", "last")

Frame = TypeVar("Frame", bound=Any)


def distinct(rows: Frame) -> Frame:
    """Every call once: the longest of those with the same id, talkgroup and start. Where the start is a whole minute, calls
    of different duration are different ones.

    `rows`: a lazy or eager frame with the whole-number columns `LOG_COLUMNS`. The result has the same columns, all int64, in
    no stated order.
    """
    frame: Any = nw.from_native(rows)
    start, milliseconds = nw.col("start"), nw.col("milliseconds")
    return (
        frame.select(*(nw.col(name).cast(nw.Int64) for name in LOG_COLUMNS))
        .with_columns(own=nw.when(start % 60 == 0).then(milliseconds).otherwise(-1))
        .group_by("id", "talkgroup", "start", "own")
        .agg(milliseconds=milliseconds.max())
        .select(*LOG_COLUMNS)
        .to_native()
    )


def fold(calls: Frame) -> Frame:
    """Calls, milliseconds on air, first and last start of every id on every talkgroup on every UTC day.

    `calls`: distinct ones, as `distinct` hands them on. The result has `KEY` and `SUMS`, all int64, in no stated order.
    """
    frame: Any = nw.from_native(calls)
    start = nw.col("start")
    return (
        frame.select(*(nw.col(name).cast(nw.Int64) for name in LOG_COLUMNS))
        # The rest is taken off before dividing: engines that divide as floating-point numbers then stay exact.
        .with_columns(day=((start - start % DAY_SECONDS) // DAY_SECONDS).cast(nw.Int64))
        .group_by(*KEY)
        .agg(
            calls=nw.len(),
            milliseconds=nw.col("milliseconds").sum(),
            first=start.min(),
            last=start.max(),
        )
        .select(*KEY, *(nw.col(name).cast(nw.Int64) for name in SUMS))
        .to_native()
    )
