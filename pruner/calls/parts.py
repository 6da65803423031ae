"""The files of a heard store: one Parquet file for each UTC day, sorted and unique.

Receives calls (or counted calls) of a day, hands on a file whose bytes depend on the rows only, and reads such files again.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.parquet as parquet

from pruner.calls.calls import DAY_SECONDS, GRAIN, KIND, Calls, Sort, joined
from pruner.words.errors import InputRefusedError

#: A call of the store, sorted and unique by all columns. `start` counts seconds since 1970-01-01 UTC; `grain` is 0 where the
#: log told the second, 1 where only the minute; `kind` is 0 for a call, 1 for its start and 2 for its end as an event.
CALL: Final = pa.schema(
    [
        ("id", pa.uint32()),
        ("talkgroup", pa.uint32()),
        ("start", pa.uint32()),
        ("milliseconds", pa.uint32()),
        ("grain", pa.uint8()),
        ("kind", pa.uint8()),
    ]
)
#: The same of a caller of whom only the call sign is known.
CALLSIGN_CALL: Final = pa.schema([("callsign", pa.string()), *list(CALL)[1:]])
#: Counted calls, unique by day, id and talkgroup. Day and times are UTC; `milliseconds` is the time on air.
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
#: The same of one day; `first` and `last` in seconds since 1970.
SHORT_ROW: Final = pa.schema(
    [
        ("id", pa.uint32()),
        ("talkgroup", pa.uint32()),
        ("calls", pa.uint32()),
        ("milliseconds", pa.uint64()),
        ("first", pa.uint32()),
        ("last", pa.uint32()),
    ]
)
#: `ROW` as polars sees it.
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
_GROUP: Final = 1 << 18
_WRITE: Final[dict[str, Any]] = {
    "compression": "zstd",
    "compression_level": 1,
    "use_dictionary": ["callsign", "talkgroup", "milliseconds", "grain", "kind", "day", "calls"],
    "column_encoding": dict.fromkeys(("id", "start", "first", "last"), "DELTA_BINARY_PACKED"),
    "write_statistics": ["id", "start"],
}


def day_name(day: int) -> str:
    """A day counted from 1970-01-01 as ISO 8601 writes it."""
    return str(np.datetime64(day, "D"))


def of_day(rows: pa.Table, day: int, columns: Sequence[str]) -> pa.Table:
    """Some columns of `ROW` from rows of one day (`SHORT_ROW`, of which only the columns that are wanted must be there)."""
    made = {}
    for name in columns:
        kind = ROW.field(name).type
        if name == "day":
            made[name] = pa.array(np.full(rows.num_rows, day, dtype=np.int32)).cast(kind)
        elif name in ("first", "last"):
            made[name] = pa.chunked_array([_milliseconds(chunk).view(kind) for chunk in rows[name].chunks], kind)
        else:
            made[name] = rows[name]
    return pa.table(made, schema=pa.schema([ROW.field(name) for name in columns]))


def in_seconds(rows: pa.Table) -> pa.Table:
    """Rows (`ROW`, or some of its columns) as `SHORT_ROW`; what is less than a second goes."""
    made = {}
    for field in SHORT_ROW:
        if field.name in ("first", "last") and field.name in rows.column_names:
            seconds = rows[field.name].cast(pa.int64()).to_numpy() // 1000
            made[field.name] = pa.array(seconds.astype(np.uint32))
        elif field.name in rows.column_names:
            made[field.name] = rows[field.name].cast(field.type)
    return pa.table(made, schema=pa.schema([SHORT_ROW.field(name) for name in made]))


def _milliseconds(seconds: pa.Array) -> pa.Array:
    return pa.array(np.multiply(seconds.to_numpy(), 1000, dtype=np.int64))


def as_table(calls: Calls) -> pa.Table:
    """Calls as rows of a file."""
    columns: list[np.ndarray[Any, Any]] = [
        calls.id,
        calls.talkgroup,
        calls.start.astype(np.uint32, copy=False),
        calls.milliseconds,
    ]
    columns += [GRAIN[calls.sorts], KIND[calls.sorts]]
    return pa.Table.from_arrays([pa.array(column) for column in columns], schema=CALL)


def as_calls(table: pa.Table | pa.RecordBatch) -> Calls:
    """Rows of a file as calls."""
    id, talkgroup, start, milliseconds, grain, kind = (table.column(name).to_numpy() for name in CALL.names)
    sort = None
    if grain.any() or kind.any():
        sort = np.where(kind > 0, kind + np.uint8(Sort.MINUTE), grain).astype(np.uint8)
    return Calls(id, talkgroup, start, milliseconds, sort)


def write_part(runs: Iterable[pa.Table], folder: Path, day: int, schema: pa.Schema = CALL) -> tuple[Path, int]:
    """Writes the sorted rows of a day, names the file by its content and counts the rows. The file is on the disk on return."""
    making = folder / f"making-{day}-{schema.names[0]}.parquet"
    rows = 0
    options = _WRITE | {
        "use_dictionary": [name for name in _WRITE["use_dictionary"] if name in schema.names],
        "column_encoding": {name: value for name, value in _WRITE["column_encoding"].items() if name in schema.names},
    }
    with parquet.ParquetWriter(making, schema, **options) as file:
        for group in _groups(runs, schema):
            rows += group.num_rows
            file.write_table(group, row_group_size=_GROUP)
    with making.open("rb+") as written:
        digest = hashlib.file_digest(written, "sha256").hexdigest()
        os.fsync(written.fileno())
    kind = "-callsigns" if schema is CALLSIGN_CALL else ""
    return making.replace(folder / f"{day_name(day)}{kind}-{digest[:16]}.parquet"), rows


def _groups(runs: Iterable[pa.Table], schema: pa.Schema) -> Iterator[pa.Table]:
    """The same rows in tables of equal length, however the runs were cut: the bytes shall not show it."""
    held = schema.empty_table()
    for run in runs:
        held = pa.concat_tables([held, run])
        while held.num_rows // _GROUP:
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
        raise damaged(path) from error


def damaged(path: Path) -> InputRefusedError:
    """What to say of a file that is gone or cannot be read."""
    return InputRefusedError(
        f"{path}: the heard store is damaged here; move the folder {path.parent} away and fold the logs again"
    )


def seam_of(path: Path, day: int, *, seconds: int) -> Calls:
    """The calls of a day that start in its last `seconds`."""
    late = (day + 1) * DAY_SECONDS - seconds
    try:
        table = parquet.read_table(path, filters=[("start", ">=", late)], use_threads=False)
    except (OSError, pa.ArrowInvalid) as error:
        raise damaged(path) from error
    return as_calls(table)


def _zeros(name: str, count: int) -> pa.Array:
    return pa.array(np.zeros(count, dtype=CALL.field(name).type.to_pandas_dtype()))


class StoredDay:
    """The calls of a stored day, handed out in the order of their ids."""

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._held: Calls | None = None
        self._batches: Iterator[pa.RecordBatch] | None = None

    def values(self, column: str) -> Iterator[np.ndarray[tuple[int], np.dtype[np.uint32]]]:
        """A column, run by run."""
        for batch in self._read(_GROUP, [column]):
            yield batch.column(0).to_numpy()

    def by_ids(self, columns: Sequence[str] = CALL.names, *, rows: int) -> Iterator[Calls]:
        """The calls in runs of about so many, each with all calls of its ids; columns that are not wanted are zero."""
        held: Calls | None = None
        for batch in self._read(rows, list(dict.fromkeys(["id", *columns]))):
            there = batch.schema.names
            full = {name: batch.column(name) if name in there else _zeros(name, len(batch)) for name in CALL.names}
            run = as_calls(pa.record_batch(full))  # a table would copy
            run = run if held is None else joined([held, run])
            cut = int(np.searchsorted(run.id, run.id[-1])) if len(run) else 0
            if cut:
                yield run.where(slice(None, cut))
            held = run.where(slice(cut, None))
        if held is not None and len(held):
            yield held

    def _read(self, rows: int, columns: Sequence[str]) -> Iterator[pa.RecordBatch]:
        if self._path is not None:
            with parquet.ParquetFile(self._path) as file:
                yield from file.iter_batches(rows, columns=list(columns), use_threads=False)

    def below(self, number: int) -> Iterator[Calls]:
        """The calls of the next ids, up to the one before `number`."""
        while True:
            if self._held is None:
                try:
                    if self._batches is None:
                        self._batches = self._read(_GROUP, CALL.names)
                    batch = next(self._batches, None)
                except (OSError, pa.ArrowInvalid) as error:
                    raise damaged(self._path or Path()) from error
                if batch is None:
                    return
                self._held = as_calls(batch)
            cut = int(np.searchsorted(self._held.id, number))
            if cut:
                yield self._held.where(slice(None, cut))
            if cut < len(self._held):
                self._held = self._held.where(slice(cut, None))
                return
            self._held = None
