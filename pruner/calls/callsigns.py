"""Calls that name only a call sign: kept under it, day by day, by the same rules as those with an id.

Receives frames of such calls of numbered logs, hands on the distinct calls of each day and how many of them each log brought.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import polars as pl
import pyarrow as pa

from pruner.calls.calls import DAY_SECONDS
from pruner.calls.parts import CALLSIGN_CALL, read_part

#: What a frame of such calls holds; `day` is taken from `start`.
FRAME: Final = pl.Schema(
    {
        "callsign": pl.String(),
        "talkgroup": pl.UInt32(),
        "start": pl.UInt32(),
        "milliseconds": pl.UInt32(),
        "grain": pl.UInt8(),
        "kind": pl.UInt8(),
    }
)
_KEY: Final = ("callsign", "talkgroup", "start", "grain", "kind")
_HELD: Final = 1 << 21


def distinct(frame: pl.DataFrame) -> pl.DataFrame:
    """One row for each call, sorted: the longest of equal ones, or each duration where that tells calls apart."""
    is_own = (pl.col("kind") == 0) & ((pl.col("grain") == 1) | (pl.col("start") % 60 == 0))
    own = pl.when(is_own).then(pl.col("milliseconds")).otherwise(None).alias("own")
    grouped = frame.group_by(*_KEY, own).agg(pl.col("milliseconds").max())
    return grouped.select(FRAME.names()).sort(*_KEY, "milliseconds")


class CallsignFolding:
    """Such calls of a fold; `folder` holds what does not fit into memory."""

    def __init__(self, folder: Path, *, held: int = _HELD) -> None:
        self._folder = folder
        self._most = held
        self._held: list[pl.DataFrame] = []
        self._files: list[Path] = []

    def add(self, log: int, frame: pl.DataFrame) -> None:
        """Takes calls of a log."""
        if not len(frame):
            return
        day = (pl.col("start") // DAY_SECONDS).cast(pl.Int32).alias("day")
        self._held.append(frame.with_columns(pl.lit(log, pl.Int32).alias("log"), day))
        if sum(map(len, self._held)) >= self._most:
            path = self._folder / f"making-callsigns-{len(self._files)}.parquet"
            pl.concat(self._held).write_parquet(path, compression="lz4")
            self._files.append(path)
            self._held = []

    def days(self) -> list[int]:
        """The days with calls, ascending."""
        found = [frame["day"] for frame in self._held]
        found += [pl.read_parquet(path, columns=["day"])["day"] for path in self._files]
        return sorted(set().union(*(days.unique().to_list() for days in found)))

    def merged(self, day: int, stored: Path | None, new: Counter[int]) -> Iterator[pa.Table]:
        """All calls of a day, with those of its file in the store. Adds to `new` how many calls each log brought that neither
        the store nor an earlier log had."""
        is_day = pl.col("day") == day
        frames = [pl.scan_parquet(path).filter(is_day).collect() for path in self._files]
        frames += [frame.filter(is_day) for frame in self._held]
        held = pl.DataFrame(schema=FRAME) if stored is None else callsign_calls(stored)
        for (log,), frame in pl.concat(frames).group_by("log", maintain_order=True):
            union = distinct(pl.concat([held, frame.select(FRAME.names())]))
            new[log] += len(union) - len(held)
            held = union
        yield held.to_arrow().cast(CALLSIGN_CALL)


def callsign_calls(path: Path) -> pl.DataFrame:
    """The calls of a file of the store. Raises InputRefusedError when it is damaged."""
    return pl.DataFrame(read_part(path), schema=FRAME)
