"""Parquet and Arrow files -> runs of records."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.ipc
import pyarrow.parquet as parquet

from pruner import schema
from pruner.errors import InputRefusedError, SourceMissingError
from pruner.read import headings
from pruner.read.records import Indices, Records

_PARQUET: Final = b"PAR1"
_ARROW: Final = b"ARROW1"
_ROWS: Final = 1 << 18


def is_columnar(path: Path) -> bool:
    """Whether a file is Parquet or Arrow, by its first bytes. Raises SourceMissingError if it cannot be read."""
    try:
        with path.open("rb") as file:
            head = file.read(6)
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    return head.startswith(_PARQUET) or head == _ARROW


def columnar_batches(
    path: Path, columns: Mapping[str, str | int], vocabulary: headings.Vocabulary = headings.STATIONS
) -> Iterator[Records]:
    """The records of a Parquet or Arrow file. Raises InputRefusedError for damage and for a lack of ids."""
    try:
        with path.open("rb") as file:
            reader: Any = parquet.ParquetFile(path) if file.read(4) == _PARQUET else pyarrow.ipc.open_file(pa.OSFile(str(path)))
        schema_names = (reader.schema_arrow if hasattr(reader, "schema_arrow") else reader.schema).names
        positions = named_columns(schema_names, columns, str(path), vocabulary)
        for batch in _batches(reader, list(positions.values())):
            yield as_records({meaning: batch.column(name) for meaning, name in positions.items()}, batch.num_rows)
    except pa.ArrowNotImplementedError as error:
        raise InputRefusedError(f"{path}: a column holds neither numbers nor text; write it as text") from error
    except (pa.ArrowException, OSError, ValueError) as error:
        raise InputRefusedError(f"{path}: the file is damaged or ends early; get it again") from error


def named_columns(
    names: list[str], columns: Mapping[str, str | int], where: str, vocabulary: headings.Vocabulary = headings.STATIONS
) -> dict[str, str]:
    """Meaning -> name of the column, for files with named columns. Raises InputRefusedError without ids."""
    try:
        positions = headings.assign(names, columns, vocabulary)
    except KeyError as error:
        raise InputRefusedError(f"{where}: no column is headed {error.args[0]!r}; correct columns in the settings") from error
    if schema.ID not in positions:
        raise InputRefusedError(f"{where}: no column of {vocabulary.key} among {', '.join(names[:8])}; {vocabulary.hint}")
    return {meaning: names[position] for meaning, position in positions.items()}


def as_records(columns: dict[str, pa.Array], count: int) -> Records:
    """Records from Arrow arrays of any type: numbers become text, repeated text is dictionary-encoded."""
    made = {}
    for meaning, values in columns.items():
        array = values.combine_chunks() if isinstance(values, pa.ChunkedArray) else values
        if pa.types.is_dictionary(array.type):
            array = array.dictionary_decode()
        if pa.types.is_floating(array.type):
            array = pc.if_else(pc.equal(array, pc.floor(array)), array, None).cast(pa.int64(), safe=False)
        text = array.cast(pa.string())
        text = pc.if_else(pc.equal(text, ""), None, text)
        made[meaning] = text.dictionary_encode() if meaning in schema.REPEATED_TEXT else text

    def origin(indices: Indices) -> list[tuple[int, str]]:
        rows = pa.table(made).take(pa.array(indices)).to_pylist()
        return [
            (index + 1, ",".join("" if value is None else str(value) for value in row.values()))
            for index, row in zip(indices.tolist(), rows, strict=True)
        ]

    return Records(count, made, origin=origin, lines=count)


def _batches(reader: Any, names: list[str]) -> Iterator[pa.RecordBatch]:
    if isinstance(reader, parquet.ParquetFile):
        yield from map(_validated, reader.iter_batches(batch_size=_ROWS, columns=names))
        return
    for index in range(reader.num_record_batches):
        yield _validated(reader.get_batch(index).select(names))


def _validated(batch: pa.RecordBatch) -> pa.RecordBatch:
    """The batch. Raises ArrowInvalid where a buffer of it leads outside the memory, or a text is not UTF-8."""
    batch.validate(full=True)
    return batch
