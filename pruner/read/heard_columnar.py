"""Heard logs as Parquet and Arrow files -> runs of records, their values as they are: numbers, text or timestamps.

Such a file does not grow: it is taken as a whole, and known by its bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.ipc
import pyarrow.parquet as parquet

from pruner.read.columnar import identify_names
from pruner.read.heard_columns import NO_WORDS, EventWords, LogColumns, log_columns, with_times
from pruner.read.heard_events import take_events
from pruner.read.heard_kind import HEARD
from pruner.read.heard_meanings import CLOCK, DATE, TIME
from pruner.read.log_identity import file_blocks
from pruner.read.records import Indices, Records
from pruner.table.understanding import understanding_of
from pruner.words.errors import InputRefusedError

_ROWS: Final = 1 << 18
_SAMPLED: Final = 200


def columnar_log(
    path: Path, columns: Mapping[str, str | int], system: str, order: str
) -> tuple[LogColumns, Iterator[Callable[[], Records | None]]]:
    """What was understood of a file, and its runs (to be called one after the other; None behind the last).

    Raises InputRefusedError for damage and for columns that are no part of a log.
    """
    try:
        is_parquet = next(file_blocks(path)).startswith(b"PAR1")
        reader = _reader(path, is_parquet=is_parquet)
        fields = reader.schema_arrow if is_parquet else reader.schema
        readable = [name for name, kind in zip(fields.names, fields.types, strict=True) if _is_readable(kind)]
        sample = next(_raw(reader, readable, _SAMPLED), None)
        rows = [] if sample is None else [cells_as_text(column) for column in sample.slice(0, _SAMPLED).columns]
    except (pa.ArrowException, OSError, ValueError) as error:
        raise _damaged(path) from error
    found, board = identify_names(readable, list(map(list, zip(*rows, strict=True))), columns, str(path), HEARD, system)
    written = path.stat().st_mtime
    events = take_events(str(path), board, found, lambda positions: {place: rows[place] for place in positions}, written)
    names = {meaning: readable[place] for meaning, place in found.positions.items()}
    understanding = understanding_of(str(path), board, found, doubt=events.doubt)

    def times() -> Iterator[pa.Array]:
        wanted = {meaning: name for meaning, name in names.items() if meaning in (TIME, DATE, CLOCK)}
        again = _reader(path, is_parquet=is_parquet)
        return (records.columns[TIME] for records in _batches(again, wanted, path))

    identified = log_columns(understanding, board, found.positions, written, order, times)
    return identified, _serial(_batches(reader, names, path, events.words))


def _reader(path: Path, *, is_parquet: bool) -> Any:
    return parquet.ParquetFile(path, pre_buffer=False) if is_parquet else pyarrow.ipc.open_file(pa.OSFile(str(path)))


def cells_as_text(values: pa.Array | pa.ChunkedArray) -> list[str]:
    """The cells of a column of any type as text, missing ones empty; a short float in its own precision."""
    if values.type == pa.float32():
        values = pa.array([None if value is None else float(str(np.float32(value))) for value in values.to_pylist()])
    return [
        "" if value is None else str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)
        for value in values.to_pylist()
    ]


def _is_readable(kind: pa.DataType) -> bool:
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    tests = (
        pa.types.is_integer,
        pa.types.is_floating,
        pa.types.is_decimal,
        pa.types.is_temporal,
        pa.types.is_string,
        pa.types.is_large_string,
    )
    return kind in (pa.null(), pa.string_view()) or any(test(kind) for test in tests)


def _serial(batches: Iterator[Records]) -> Iterator[Callable[[], Records | None]]:
    is_over = False

    def job() -> Records | None:
        nonlocal is_over
        records = next(batches, None)
        is_over = records is None
        return records

    while not is_over:
        yield job


def _batches(reader: Any, names: dict[str, str], path: Path, events: EventWords = NO_WORDS) -> Iterator[Records]:
    try:
        for batch in _raw(reader, list(names.values()), _ROWS):
            batch.validate(full=True)
            yield _as_records({meaning: batch.column(name) for meaning, name in names.items()}, batch.num_rows, events)
    except (pa.ArrowException, OSError, ValueError) as error:
        raise _damaged(path) from error
    finally:
        if isinstance(reader, parquet.ParquetFile):
            reader.close()


def _raw(reader: Any, names: list[str], rows: int) -> Iterator[pa.RecordBatch]:
    if isinstance(reader, parquet.ParquetFile):
        yield from reader.iter_batches(batch_size=rows, columns=names, use_threads=False)
        return
    for index in range(reader.num_record_batches):
        yield reader.get_batch(index).select(names)


def _as_records(columns: dict[str, pa.Array], count: int, events: EventWords) -> Records:
    plain = {name: _plain(array) for name, array in columns.items()}

    def origin(indices: Indices) -> list[tuple[int, str]]:
        rows = pa.table(plain).take(pa.array(indices)).to_pylist()
        texts = [",".join("" if value is None else str(value) for value in row.values()) for row in rows]
        return list(zip((indices + 1).tolist(), texts, strict=True))

    return with_times(Records(count, plain, origin=origin, lines=count), events)


def _plain(array: pa.Array) -> pa.Array:
    """The values of a column as one of few types: 64-bit integers, floats, text or timestamps. An integer that has no place in
    64 bits with sign is no id and no time: it is missing."""
    if pa.types.is_dictionary(array.type):
        array = array.dictionary_decode()
    kind = array.type
    if pa.types.is_uint64(kind):
        array = pc.if_else(pc.less_equal(array, pa.scalar((1 << 63) - 1, kind)), array, None)
    if pa.types.is_integer(kind):
        return array.cast(pa.int64())
    if kind in (pa.large_string(), pa.string_view()) or pa.types.is_decimal(kind):
        return array.cast(pa.string())
    return array


def _damaged(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: the file is damaged or ends early; get it again")
