"""The files of a heard store: one Parquet file for each UTC day, sorted by id and talkgroup.

Receives folded rows, hands on a file whose bytes depend on the rows only, and reads such files again.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.errors import InputRefusedError

#: A row of the store, unique by day, id and talkgroup. Day and times are UTC; `milliseconds` is the time on air.
ROW: Final = pa.schema(
    [
        ("id", pa.uint32()),
        ("talkgroup", pa.uint32()),
        ("day", pa.date32()),
        ("calls", pa.uint32()),
        ("milliseconds", pa.uint64()),
        ("first", pa.timestamp("ms", tz="UTC")),
        ("last", pa.timestamp("ms", tz="UTC")),
    ]
)
#: The same as polars sees it.
POLARS_ROW: Final = pl.Schema(
    {
        "id": pl.UInt32(),
        "talkgroup": pl.UInt32(),
        "day": pl.Date(),
        "calls": pl.UInt32(),
        "milliseconds": pl.UInt64(),
        "first": pl.Datetime("ms", "UTC"),
        "last": pl.Datetime("ms", "UTC"),
    }
)
_ENCODING: Final = dict.fromkeys(("id", "milliseconds", "first", "last"), "DELTA_BINARY_PACKED")
_GROUP: Final = 1 << 18


def day_name(day: int) -> str:
    """A day counted from 1970-01-01 as ISO 8601 writes it."""
    return str(np.datetime64(day, "D"))


def as_rows(columns: dict[str, npt.NDArray[np.generic]], day: int) -> pa.Table:
    """Rows of one day from arrays of whole numbers; `first` and `last` in milliseconds since 1970-01-01 UTC."""
    count = len(columns["id"])
    arrays = []
    for field in ROW:
        values = np.full(count, day, dtype=np.int32) if field.name == "day" else columns[field.name]
        whole = pa.array(values, pa.int64()) if pa.types.is_timestamp(field.type) else pa.array(values)
        arrays.append(whole.cast(field.type))
    return pa.Table.from_arrays(arrays, schema=ROW)


def write_part(runs: Iterable[pa.Table], folder: Path, day: int) -> Path:
    """Writes the sorted rows of a day and names the file by its content. The file is on the disk on return."""
    making = folder / f"making-{day}.parquet"
    with parquet.ParquetWriter(
        making, ROW, compression="none", use_dictionary=["talkgroup", "day", "calls"], column_encoding=_ENCODING
    ) as file:
        for group in _groups(runs):
            file.write_table(group, row_group_size=_GROUP)
    with making.open("rb+") as written:
        digest = hashlib.file_digest(written, "sha256").hexdigest()
        os.fsync(written.fileno())
    return making.replace(folder / f"{day_name(day)}-{digest[:16]}.parquet")


def _groups(runs: Iterable[pa.Table]) -> Iterator[pa.Table]:
    """The same rows in tables of equal length, however the runs were cut: the bytes shall not show it."""
    held = ROW.empty_table()
    for run in runs:
        held = pa.concat_tables([held, run])
        while held.num_rows >= _GROUP:
            yield held.slice(0, _GROUP).combine_chunks()
            held = held.slice(_GROUP)
    if held.num_rows:
        yield held.combine_chunks()


def read_part(path: Path, columns: Sequence[str] | None = None) -> pa.Table:
    """The rows of a day, or some columns of them. Raises InputRefusedError when the file is gone or damaged."""
    try:
        with parquet.ParquetFile(path) as file:
            return file.read(columns=list(columns) if columns else None, use_threads=False)
    except (OSError, pa.ArrowInvalid) as error:
        raise InputRefusedError(
            f"{path}: the heard store is damaged here; move the folder {path.parent} away and fold the logs again"
        ) from error
