"""Local times of a zone -> UTC, both in milliseconds since 1970-01-01T00:00.

Where clocks were set back and a time came twice, the first is meant; where they were set forward and it never came, the offset
before the change holds (as PEP 495 has it for fold=0).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

Integers = npt.NDArray[np.int64]


def from_zone(local: Integers, zone: str) -> Integers:
    """UTC of local times; `zone` is an IANA name, or an offset such as `UTC+02:00`."""
    if is_fixed(zone):
        return local - _offset(zone)
    placed = pl.Series(local).cast(pl.Datetime("ms")).dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    time = placed.to_physical()
    result = time.fill_null(0).to_numpy().astype(np.int64)
    skipped = np.flatnonzero(time.is_null().to_numpy())
    if len(skipped):
        distinct, which = np.unique(local[skipped], return_inverse=True)
        result[skipped] = np.array([_skipped(int(value), zone) for value in distinct], dtype=np.int64)[which]
    return result


def is_fixed(zone: str) -> bool:
    """Whether a zone is an offset from UTC, or UTC itself."""
    return zone == "UTC" or zone.startswith(("UTC+", "UTC-"))


def _offset(zone: str) -> int:
    hours, _, minutes = zone[4:].partition(":")
    return 0 if zone == "UTC" else int(f"{zone[3]}1") * (int(hours) * 60 + int(minutes)) * 60_000


def _skipped(local: int, zone: str) -> int:
    """UTC of a local time that clocks jumped over."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=local)
    offset = moment.replace(tzinfo=ZoneInfo(zone)).utcoffset() or timedelta()
    return local - int(offset.total_seconds() * 1000)
