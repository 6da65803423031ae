"""The files of a heard store: one Parquet file for each UTC day, sorted by id and talkgroup.

Receives folded rows, hands on a file whose bytes depend on the rows only, and reads such files again.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
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
_ENCODING: Final = {
    "id": "DELTA_BINARY_PACKED",
    "calls": "PLAIN",
    "milliseconds": "PLAIN",
    "first": "PLAIN",
    "last": "PLAIN",
}


def day_name(day: int) -> str:
    """A day counted from 1970-01-01 as ISO 8601 writes it."""
    return str(np.datetime64(day, "D"))


def as_rows(columns: dict[str, npt.NDArray[np.generic]], day: int) -> pa.Table:
    """The rows of one day from arrays of whole numbers; `first` and `last` in milliseconds since 1970-01-01 UTC."""
    count = len(columns["id"])
    arrays = []
    for field in ROW:
        values = np.full(count, day, dtype=np.int32) if field.name == "day" else columns[field.name]
        whole = pa.array(values, pa.int64()) if pa.types.is_timestamp(field.type) else pa.array(values)
        arrays.append(whole.cast(field.type))
    return pa.Table.from_arrays(arrays, schema=ROW)


def write_part(rows: pa.Table, folder: Path, day: int) -> Path:
    """Writes the sorted rows of a day and names the file by its content. The file is on the disk on return."""
    making = folder / f"making-{day}.parquet"
    parquet.write_table(
        rows, making, row_group_size=1 << 20, compression="lz4", use_dictionary=["talkgroup", "day"], column_encoding=_ENCODING
    )
    with making.open("rb+") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
        os.fsync(file.fileno())
    return making.replace(folder / f"{day_name(day)}-{digest[:16]}.parquet")


def read_part(path: Path, columns: Sequence[str] | None = None) -> pa.Table:
    """The rows of a day, or some columns of them. Raises InputRefusedError when the file is gone or damaged."""
    try:
        with parquet.ParquetFile(path) as file:
            return file.read(columns=list(columns) if columns else None, use_threads=False)
    except (OSError, pa.ArrowInvalid) as error:
        raise InputRefusedError(
            f"{path}: the heard store is damaged here; move the folder {path.parent} away and fold the logs again"
        ) from error
