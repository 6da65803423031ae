"""Since when each id stands in a directory, as the runs saw it: ids and days, no names.

Receives the ids of a source and a day, hands on the ids that a source had on an earlier day. One file per source in
`<state>/first-seen`; it holds the ids that the source has now, and goes with the source. The day is the last one that the logs
cover, no clock is asked. Ids of the first recorded run have been there for an unknown time.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.parquet as pq

FOLDER: Final = "first-seen"
#: The day of ids that stood there already when the first run was recorded.
EARLIER: Final = -1
_BEGUN: Final = b"first run"
_ENDING: Final = ".parquet"

Days = npt.NDArray[np.int32]
Ids = npt.NDArray[np.uint32]


def _read(path: Path) -> tuple[Ids, Days, int] | None:
    """Ids (ascending), their days, and the day of the first run; None where nothing is known, or the file is damaged."""
    try:
        with pq.ParquetFile(path) as file:
            table = file.read()
        ids, days = (table[name].to_numpy() for name in ("id", "day"))
        return ids.astype(np.uint32), days.astype(np.int32), int(table.schema.metadata[_BEGUN])
    except (OSError, pa.ArrowException, KeyError, TypeError, ValueError):
        return None


def remember(folder: Path, source: str, ids: Ids, day: int) -> None:
    """Notes which ids (ascending) a source has on a day (since 1970-01-01); those it no longer has are forgotten.

    The same ids on the same day change nothing.
    """
    known = _read(folder / f"{source}{_ENDING}")
    days = np.full(len(ids), EARLIER, dtype=np.int32)
    begun = day
    if known is not None:
        old, old_days, begun = known
        if begun <= day and np.array_equal(old, ids):
            return
        begun = min(begun, day)
        place = np.minimum(np.searchsorted(old, ids), max(len(old) - 1, 0))
        there = old[place] == ids if len(old) else np.zeros(len(ids), dtype=bool)
        days = np.where(there, old_days[place] if len(old) else EARLIER, day).astype(np.int32)
    table = pa.table({"id": ids, "day": days}).replace_schema_metadata({_BEGUN: str(begun).encode()})
    folder.mkdir(parents=True, exist_ok=True)
    making = folder / f".{source}.part"
    pq.write_table(table, making, compression="zstd")
    making.replace(folder / f"{source}{_ENDING}")


def forget_others(folder: Path, sources: Collection[str]) -> None:
    """Removes what is known of sources that are not among these."""
    if folder.is_dir():
        for path in sorted(folder.iterdir()):
            if path.name.removesuffix(_ENDING) not in sources:
                path.unlink(missing_ok=True)


def first_run(folder: Path, source: str) -> int | None:
    """The day of the first recorded run of a source; None where none was recorded."""
    known = _read(folder / f"{source}{_ENDING}")
    return None if known is None else known[2]


def stood_there(folder: Path, source: str, ids: Ids, day: int) -> npt.NDArray[np.bool_] | None:
    """Which of these ids (ascending, all of them in the source now) stood in it on an earlier day; None where no run was
    recorded by then."""
    known = _read(folder / f"{source}{_ENDING}")
    if known is None or known[2] > day:
        return None
    old, days, _ = known
    if not len(old):
        return np.zeros(len(ids), dtype=bool)
    place = np.minimum(np.searchsorted(old, ids), len(old) - 1)
    return (old[place] == ids) & (days[place] <= day)
