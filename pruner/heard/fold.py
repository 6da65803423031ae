"""Rows of a heard log -> one row for each day, id and talkgroup: the definition of the fold.

Receives a frame of any engine that narwhals knows, hands on a frame of the same engine. Runs unchanged on polars, DuckDB,
dask and PySpark; `heard.dense` is the quick way to the same rows on one machine and is tested against this one.
"""

from __future__ import annotations

from typing import Any, Final, TypeVar

import narwhals as nw

#: Milliseconds of a day; days are those of UTC, counted from 1970-01-01.
DAY: Final = 86_400_000
#: What a row of a log is reduced to: id, talkgroup, time (milliseconds since 1970-01-01 UTC), milliseconds on air.
LOG_COLUMNS: Final = ("id", "talkgroup", "time", "milliseconds")
#: What identifies a row of the store; it is sorted by them in this order.
KEY: Final = ("day", "id", "talkgroup")
#: What the fold knows of each key; `first` and `last` are times of calls.
SUMS: Final = ("calls", "milliseconds", "first", "last")

Frame = TypeVar("Frame", bound=Any)


def fold(rows: Frame) -> Frame:
    """Calls, milliseconds on air, first and last call of every id on every talkgroup on every UTC day.

    `rows`: a lazy or eager frame with the whole-number columns `LOG_COLUMNS`. The result has `KEY` and `SUMS`, all int64,
    in no stated order.
    """
    frame: Any = nw.from_native(rows)
    time = nw.col("time")
    return (
        frame.select(*(nw.col(name).cast(nw.Int64) for name in LOG_COLUMNS))
        # The rest is taken off before dividing: engines that divide as floating-point numbers then stay exact.
        .with_columns(day=((time - time % DAY) // DAY).cast(nw.Int64))
        .group_by(*KEY)
        .agg(
            calls=nw.len(),
            milliseconds=nw.col("milliseconds").sum(),
            first=time.min(),
            last=time.max(),
        )
        .select(*KEY, *(nw.col(name).cast(nw.Int64) for name in SUMS))
        .to_native()
    )


def merge(folded: Frame) -> Frame:
    """Adds up folded rows that bear the same key, such as those of two logs of one day; same columns as `fold`."""
    frame: Any = nw.from_native(folded)
    return (
        frame.group_by(*KEY)
        .agg(
            calls=nw.col("calls").sum(),
            milliseconds=nw.col("milliseconds").sum(),
            first=nw.col("first").min(),
            last=nw.col("last").max(),
        )
        .select(*KEY, *(nw.col(name).cast(nw.Int64) for name in SUMS))
        .to_native()
    )
