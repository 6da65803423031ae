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
from pruner.read.records import Indices, Records
from pruner.table.board import Board
from pruner.table.identify import identify
from pruner.table.kinds import Kind
from pruner.table.understanding import Understanding, refusal, shown, understanding_of

_PARQUET: Final = b"PAR1"
_ARROW: Final = b"ARROW1"
_ROWS: Final = 1 << 18
_SAMPLED: Final = 200


def is_columnar(path: Path) -> bool:
    """Whether a file is Parquet or Arrow, by its first bytes. Raises SourceMissingError if it cannot be read."""
    try:
        with path.open("rb") as file:
            head = file.read(6)
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    return head.startswith(_PARQUET) or head == _ARROW


def columnar_batches(
    path: Path, columns: Mapping[str, str | int], kind: Kind, system: str
) -> tuple[Understanding, Iterator[Records]]:
    """What was understood of a Parquet or Arrow file, and its records. Raises InputRefusedError for damage and for a lack of
    ids."""
    try:
        with path.open("rb") as file:
            reader: Any = (
                parquet.ParquetFile(path) if file.read(4) == _PARQUET else pyarrow.ipc.open_file(pa.memory_map(str(path)))
            )
        names = (reader.schema_arrow if hasattr(reader, "schema_arrow") else reader.schema).names
        first = next(_batches(reader, names, _SAMPLED), None)
        rows = [] if first is None else [as_text(column) for column in first.slice(0, _SAMPLED).columns]
    except pa.ArrowNotImplementedError as error:
        raise _no_text(path) from error
    except (pa.ArrowInvalid, OSError) as error:
        raise _damaged(path) from error
    understanding, positions = identify_names(names, list(map(list, zip(*rows, strict=True))), columns, str(path), kind, system)
    return understanding, _records(reader, {meaning: names[place] for meaning, place in positions.items()}, path)


def _records(reader: Any, columns: dict[str, str], path: Path) -> Iterator[Records]:
    try:
        for batch in _batches(reader, list(columns.values())):
            yield as_records({meaning: batch.column(name) for meaning, name in columns.items()}, batch.num_rows)
    except pa.ArrowNotImplementedError as error:
        raise _no_text(path) from error
    except (pa.ArrowInvalid, OSError) as error:
        raise _damaged(path) from error


def _no_text(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: a column holds neither numbers nor text; write it as text")


def _damaged(path: Path) -> InputRefusedError:
    return InputRefusedError(f"{path}: the file is damaged or ends early; get it again")


def identify_names(
    names: list[str], rows: list[list[str]], columns: Mapping[str, str | int], where: str, kind: Kind, system: str
) -> tuple[Understanding, dict[str, int]]:
    """What was understood of a table with named columns, and the position of each meaning. Raises InputRefusedError."""
    board = Board(names, rows, system)
    try:
        found = identify(board, kind, columns)
    except KeyError as error:
        name = error.args[0]
        missing = f"it has no column {name}" if isinstance(name, int) else f"no column is headed {name!r}"
        raise InputRefusedError(
            f"{where}: {missing} (found: {', '.join(map(shown, names[:8]))}); correct columns or --column"
        ) from error
    if found.trouble:
        raise InputRefusedError(refusal(where, board, found, kind))
    return understanding_of(where, board, found), found.positions


def as_text(values: pa.Array) -> list[str]:
    """The cells of a column of any type as text, missing ones empty."""
    return ["" if value is None else _shown(value) for value in values.to_pylist()]


def _shown(value: object) -> str:
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


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


def _batches(reader: Any, names: list[str], rows: int = _ROWS) -> Iterator[pa.RecordBatch]:
    if isinstance(reader, parquet.ParquetFile):
        yield from reader.iter_batches(batch_size=rows, columns=names)
        return
    for index in range(reader.num_record_batches):
        yield reader.get_batch(index).select(names)
