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
    """UTC of local times; `zone` is an IANA name."""
    if zone == "UTC":
        return local
    placed = pl.Series(local).cast(pl.Datetime("ms")).dt.replace_time_zone(zone, ambiguous="earliest", non_existent="null")
    time = placed.to_physical()
    result = time.fill_null(0).to_numpy().astype(np.int64)
    skipped = np.flatnonzero(time.is_null().to_numpy())
    if len(skipped):
        distinct, which = np.unique(local[skipped], return_inverse=True)
        result[skipped] = np.array([_skipped(int(value), zone) for value in distinct], dtype=np.int64)[which]
    return result


def _skipped(local: int, zone: str) -> int:
    """UTC of a local time that clocks jumped over."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=local)
    offset = moment.replace(tzinfo=ZoneInfo(zone)).utcoffset() or timedelta()
    return local - int(offset.total_seconds() * 1000)
