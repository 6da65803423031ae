"""Heard logs as Parquet and Arrow files -> runs of records, their values as they are: numbers, text or timestamps.

Such a file does not grow: it is taken as a whole, and known by its bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.ipc
import pyarrow.parquet as parquet

from pruner.errors import InputRefusedError, SourceMissingError
from pruner.read.columnar import as_text, identified
from pruner.read.heard_columns import LogColumns, log_columns, with_times
from pruner.read.kinds import CLOCK, DATE, HEARD, TIME
from pruner.read.log_identity import WHOLE, Beginning, Growing
from pruner.read.records import Indices, Records
from pruner.table.understanding import understanding_of

_ROWS: Final = 1 << 18
_FILE_BLOCK: Final = 1 << 22
_SAMPLED: Final = 200


class WholeFile:
    """A file by its bytes; they are counted beside the reading."""

    def __init__(self, path: Path) -> None:
        thread = ThreadPoolExecutor(max_workers=1)
        self._path = path
        self._counted = thread.submit(_beginning_of, path)
        thread.shutdown(wait=False)

    @property
    def beginning(self) -> Beginning:
        """What the file is told by. Raises SourceMissingError where it cannot be read."""
        return self._counted.result()

    def is_among(self, known: Iterable[Beginning]) -> bool:
        """Whether it is one of the files that are known."""
        size = self._path.stat().st_size
        like = [one for one in known if one.kind == WHOLE and one.length == size]
        return bool(like) and any(one.digest == self.beginning.digest for one in like)


def _beginning_of(path: Path) -> Beginning:
    growing = Growing(WHOLE)
    for block in _file_blocks(path):
        growing.take(block)
    return growing.beginning


def columnar_log(
    path: Path, columns: Mapping[str, str | int], system: str, order: str
) -> tuple[LogColumns, Iterator[Callable[[], Records | None]]]:
    """What was understood of a file, and its runs (to be called one after the other; None behind the last).

    Raises InputRefusedError for damage and for columns that are no part of a log.
    """
    try:
        is_parquet = next(_file_blocks(path)).startswith(b"PAR1")
        reader: Any = (
            parquet.ParquetFile(path, pre_buffer=False) if is_parquet else pyarrow.ipc.open_file(pa.memory_map(str(path)))
        )
        fields = reader.schema_arrow if is_parquet else reader.schema
        readable = [name for name, kind in zip(fields.names, fields.types, strict=True) if _is_readable(kind)]
        sample = next(_raw(reader, readable, _SAMPLED), None)
        rows = [] if sample is None else [as_text(column) for column in sample.slice(0, _SAMPLED).columns]
    except (pa.ArrowInvalid, OSError) as error:
        raise _damaged(path) from error
    board, found = identified(readable, list(map(list, zip(*rows, strict=True))), columns, str(path), HEARD, system)
    names = {meaning: readable[place] for meaning, place in found.positions.items()}
    understanding = understanding_of(str(path), board, found)

    def times() -> Iterator[pa.Array]:
        again: Any = parquet.ParquetFile(path) if is_parquet else pyarrow.ipc.open_file(pa.memory_map(str(path)))
        wanted = {meaning: name for meaning, name in names.items() if meaning in (TIME, DATE, CLOCK)}
        return (records.columns[TIME] for records in _batches(again, wanted, path))

    written = path.stat().st_mtime
    identified_columns = log_columns(understanding, board, found.positions, written, order, times)
    return identified_columns, _serial(_batches(reader, names, path))


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


def _file_blocks(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as file:
            while block := file.read(_FILE_BLOCK):
                yield block
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error


def _batches(reader: Any, names: dict[str, str], path: Path) -> Iterator[Records]:
    try:
        for batch in _raw(reader, list(names.values()), _ROWS):
            yield _as_records({meaning: batch.column(name) for meaning, name in names.items()}, batch.num_rows)
    except (pa.ArrowInvalid, OSError) as error:
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


def _as_records(columns: dict[str, pa.Array], count: int) -> Records:
    plain = {name: _plain(array) for name, array in columns.items()}

    def origin(indices: Indices) -> list[tuple[int, str]]:
        rows = pa.table(plain).take(pa.array(indices)).to_pylist()
        texts = [",".join("" if value is None else str(value) for value in row.values()) for row in rows]
        return list(zip((indices + 1).tolist(), texts, strict=True))

    return with_times(Records(count, plain, origin=origin, lines=count))


def _plain(array: pa.Array) -> pa.Array:
    array = array.dictionary_decode() if pa.types.is_dictionary(array.type) else array
    return array.cast(pa.string()) if pa.types.is_decimal(array.type) else array


def _damaged(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: the file is damaged or ends early; get it again")
