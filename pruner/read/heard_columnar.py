"""Heard logs as Parquet and Arrow files -> runs of records, their values as they are: numbers, text or timestamps.

Such a file does not grow: it is taken as a whole, and known by its bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.ipc
import pyarrow.parquet as parquet

from pruner.errors import InputRefusedError, SourceMissingError
from pruner.read.heard_headings import needed
from pruner.read.log_identity import WHOLE, Beginning, Growing
from pruner.read.records import Indices, Records

_ROWS: Final = 1 << 18
_FILE_BLOCK: Final = 1 << 22


class WholeFile:
    """A file by its bytes; they are counted beside the reading."""

    def __init__(self, path: Path) -> None:
        thread = ThreadPoolExecutor(max_workers=1)
        self._counted = thread.submit(_beginning_of, path)
        thread.shutdown(wait=False)

    @property
    def beginning(self) -> Beginning:
        """What the file is told by. Raises SourceMissingError where it cannot be read."""
        return self._counted.result()


def _beginning_of(path: Path) -> Beginning:
    growing = Growing(WHOLE)
    for block in _file_blocks(path):
        growing.take(block)
    return growing.beginning


def columnar_runs(
    path: Path, columns: Mapping[str, str | int], known: Sequence[Beginning]
) -> tuple[WholeFile, Iterator[Callable[[], Records | None]]] | None:
    """What the file is told by, and its runs (to be called one after the other; None behind the last); None for a known file.

    Raises InputRefusedError for damage and for columns that are no part of a log.
    """
    whole = WholeFile(path)
    size = path.stat().st_size
    like = [one for one in known if one.kind == WHOLE and one.length == size]
    if like and any(one.digest == whole.beginning.digest for one in like):
        return None
    try:
        is_parquet = next(_file_blocks(path)).startswith(b"PAR1")
        reader: Any = parquet.ParquetFile(path, pre_buffer=False) if is_parquet else pyarrow.ipc.open_file(pa.OSFile(str(path)))
        names = (reader.schema_arrow if is_parquet else reader.schema).names
    except (pa.ArrowException, OSError, ValueError) as error:
        raise _damaged(path) from error
    if any(isinstance(value, int) for value in columns.values()):
        raise InputRefusedError(f"{path}: columns gives positions, but the file names its columns; give their names")
    positions = needed(names, columns, str(path))
    types = (reader.schema_arrow if is_parquet else reader.schema).types
    for place in positions.values():
        if not _is_readable(types[place]):
            raise InputRefusedError(f"{path}: column {names[place]!r} holds neither numbers, text nor times; write it as text")
    batches = _batches(reader, {meaning: names[place] for meaning, place in positions.items()}, path)
    return whole, _serial(batches)


def _is_readable(kind: pa.DataType) -> bool:
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    tests = (pa.types.is_integer, pa.types.is_floating, pa.types.is_timestamp, pa.types.is_string, pa.types.is_large_string)
    return kind in (pa.null(), pa.date32(), pa.string_view()) or any(test(kind) for test in tests)


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
    wanted = list(names.values())
    try:
        if isinstance(reader, parquet.ParquetFile):
            found: Iterator[pa.RecordBatch] = reader.iter_batches(batch_size=_ROWS, columns=wanted, use_threads=False)
        else:
            found = (reader.get_batch(index).select(wanted) for index in range(reader.num_record_batches))
        for batch in found:
            batch.validate(full=True)
            yield _as_records({meaning: batch.column(name) for meaning, name in names.items()}, batch.num_rows)
    except (pa.ArrowException, OSError, ValueError) as error:
        raise _damaged(path) from error
    finally:
        if isinstance(reader, parquet.ParquetFile):
            reader.close()


def _as_records(columns: dict[str, pa.Array], count: int) -> Records:
    plain = {name: _plain(array) for name, array in columns.items()}

    def origin(indices: Indices) -> list[tuple[int, str]]:
        rows = pa.table(plain).take(pa.array(indices)).to_pylist()
        texts = [",".join("" if value is None else str(value) for value in row.values()) for row in rows]
        return list(zip((indices + 1).tolist(), texts, strict=True))

    return Records(count, plain, origin=origin, lines=count)


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
    if kind in (pa.large_string(), pa.string_view()):
        return array.cast(pa.string())
    return array


def _damaged(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: the file is damaged or ends early; get it again")
