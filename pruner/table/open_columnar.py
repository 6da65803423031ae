"""Parquet and Arrow files, and Arrow streams -> a table with named columns.

Nothing of a buffer is touched before Arrow has checked it whole: damaged files lead past the end of the memory otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.ipc
import pyarrow.parquet as parquet

from pruner.table.magic import ARROW, PARQUET
from pruner.table.opened import SAMPLE_ROWS, ColumnTable, Held, Indices, Run
from pruner.words.errors import InputRefusedError, SourceMissingError

ROWS: Final = 1 << 18
_PIECES: Final = 8
_NOT_TEXT: Final = "text that is not UTF-8"


@contextmanager
def columnar_faults(path: Path | str) -> Iterator[None]:
    """Turns what Arrow raises into InputRefusedError or SourceMissingError with one line."""
    try:
        yield
    except pa.ArrowNotImplementedError as error:
        raise InputRefusedError(f"{path}: a column holds neither numbers nor text; write it as text") from error
    except OSError as error:
        if error.errno is not None:
            raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
        raise _damaged(path) from error
    except (pa.ArrowException, UnicodeDecodeError, ValueError, OverflowError, MemoryError) as error:
        raise _damaged(path) from error


def _damaged(path: Path | str) -> InputRefusedError:
    return InputRefusedError(f"{path}: the file is damaged or ends early; get it again")


def columnar_schema(path: Path) -> pa.Schema:
    """Names and types of the columns. Raises InputRefusedError for damage."""
    with columnar_faults(path), path.open("rb") as file:
        head = file.read(6)
        file.seek(0)
        if head.startswith(PARQUET):
            with parquet.ParquetFile(file, pre_buffer=False) as reader:
                schema = reader.schema_arrow
        else:
            schema = (pyarrow.ipc.open_file if head == ARROW else pyarrow.ipc.open_stream)(file).schema
        "".join(schema.names).encode()  # names that are not UTF-8 are found out here
        return schema


def columnar_batches_of(
    path: Path, names: Sequence[str], rows: int = ROWS, *, groups: Sequence[int] | None = None
) -> Iterator[pa.RecordBatch]:
    """The batches of some columns; of Parquet only of some row groups where `groups` says so.

    Buffers may lie outside the file until `checked` has seen a batch. Raises InputRefusedError for damage.
    """
    with columnar_faults(path), path.open("rb") as file:
        head = file.read(6)
        file.seek(0)
        if head.startswith(PARQUET):
            with parquet.ParquetFile(file, pre_buffer=False) as reader:
                yield from reader.iter_batches(batch_size=rows, columns=list(names), row_groups=groups, use_threads=False)
            return
        if head == ARROW:
            opened = pyarrow.ipc.open_file(file)
            batches: Iterator[pa.RecordBatch] = (opened.get_batch(index) for index in range(opened.num_record_batches))
        else:
            batches = iter(pyarrow.ipc.open_stream(file))
        for batch in batches:
            yield batch.select(list(names))


def checked(values: pa.Array) -> tuple[pa.Array, list[int]]:
    """A column that is safe to read, and the rows whose text is not UTF-8, which are missing in it.

    Raises ArrowInvalid where a buffer is damaged.
    """
    values.validate()
    if isinstance(values, pa.ChunkedArray):
        values = values.combine_chunks()
    if pa.types.is_dictionary(values.type):
        # The codes must lie in the dictionary, else decoding leads past its end.
        values.indices.validate(full=True)
        words, bad = checked(values.dictionary)
        places = values.indices.cast(pa.int64())
        if len(places) > places.null_count:
            ends = pc.min_max(places)
            if ends["min"].as_py() < 0 or ends["max"].as_py() >= len(words):
                raise pa.ArrowInvalid("a code lies outside its dictionary")
        rows = pc.is_in(places, pa.array(bad, pa.int64())).to_pylist() if bad else []
        return words.take(places), [row for row, is_bad in enumerate(rows) if is_bad]
    kind = values.type
    if not _is_text(kind):
        values.validate(full=True)
        return values, []
    plain = pa.large_binary() if kind in (pa.large_string(), pa.large_binary()) else pa.binary()
    if kind in (pa.string_view(), pa.binary_view()) or pa.types.is_fixed_size_binary(kind):
        values.validate(full=kind != pa.string_view())
        plain = pa.binary()
    raw = values if values.type == plain else values.cast(plain)
    raw.validate(full=True)
    text = pa.large_string() if plain == pa.large_binary() else pa.string()
    try:
        made = raw.cast(text)
    except pa.ArrowInvalid:
        return _without_bad(raw, text)
    return made, []


def _is_text(kind: pa.DataType) -> bool:
    return (
        kind in (pa.string(), pa.large_string(), pa.string_view(), pa.binary(), pa.large_binary(), pa.binary_view())
    ) or pa.types.is_fixed_size_binary(kind)


def _without_bad(raw: pa.Array, text: pa.DataType) -> tuple[pa.Array, list[int]]:
    cells: list[str | None] = []
    bad = []
    for row, cell in enumerate(raw.to_pylist()):
        try:
            cells.append(None if cell is None else cell.decode())
        except UnicodeDecodeError:
            cells.append(None)
            bad.append(row)
    return pa.array(cells, text), bad


def checked_batch(batch: pa.RecordBatch) -> tuple[dict[str, pa.Array], dict[int, str]]:
    """The columns of a batch, safe to read, nested ones flattened; and what is wrong with the rows that cannot be read."""
    columns: dict[str, pa.Array] = {}
    unreadable: dict[int, str] = {}
    for name, values in zip(batch.schema.names, batch.columns, strict=True):
        columns[name], bad = checked(values)
        unreadable |= dict.fromkeys(bad, _NOT_TEXT)
    return columns, unreadable


def flattened(name: str, values: pa.Array) -> Iterator[tuple[str, pa.Array]]:
    """A column as columns of plain values: records as `name.part`, lists of values joined by a blank."""
    kind = values.type
    if pa.types.is_struct(kind):
        for part, inner in zip(kind, values.flatten(), strict=True):
            yield from flattened(f"{name}.{part.name}", inner)
    elif pa.types.is_list(kind) or pa.types.is_large_list(kind):
        if not pa.types.is_nested(kind.value_type):
            texts = [
                None if row is None else " ".join(str(cell) for cell in row if cell is not None) for row in values.to_pylist()
            ]
            yield name, pa.array(texts, pa.string())
    elif not pa.types.is_nested(kind):
        yield name, values


def cell_text(value: object) -> str:
    """One value as text: whole floats without a point, times as ISO 8601, nothing for what is missing."""
    if value is None or value != value:
        return ""
    return str(int(value)) if isinstance(value, float) and value.is_integer() else str(value)


def open_columnar(path: Path) -> ColumnTable:
    """The table in a Parquet or Arrow file. Raises InputRefusedError for damage and for columns of which none is a value."""
    schema = columnar_schema(path)
    if len(set(schema.names)) < len(schema.names):
        raise InputRefusedError(f"{path}: two columns have the same name; give each its own")
    with columnar_faults(path):
        rows = list(_sample_columns(path, schema))
    return _table(rows, schema, partial(_runs, path, schema.names))


def hold(table: pa.Table, name: str, lines_above: int = 0) -> Held:
    """A table in memory, of any types that can be written as text; `lines_above`: lines of a file that stand above its rows.

    Raises InputRefusedError as `open_columnar` does."""
    if not table.num_columns:
        raise InputRefusedError(f"{name}: has no columns")
    if len(set(table.column_names)) < len(table.column_names):
        raise InputRefusedError(f"{name}: two columns have the same name; give each its own")
    places = sorted({place * table.num_rows // _PIECES for place in range(_PIECES)}) if table.num_rows else []
    with columnar_faults(name):
        batches = [batch for place in places for batch in table.slice(place, 1 << 14).to_batches()[:1]]
        rows = list(_samples(batches))
    return Held(name, _table(rows, table.schema, partial(_runs_of_batches, table, name, lines_above)))


def _table(
    rows: list[dict[str, pa.Array]], schema: pa.Schema, runs: Callable[[Sequence[str]], Iterator[Callable[[], Run]]]
) -> ColumnTable:
    names = list(dict.fromkeys(name for columns in rows for name in columns)) or list(schema.names)
    texts = [[list(map(cell_text, columns[name].to_pylist())) for name in names] for columns in rows]
    sample = [list(row) for columns in texts for row in zip(*columns, strict=True)]
    return ColumnTable("", names, sample[:SAMPLE_ROWS], runs)


def _runs_of_batches(table: pa.Table, name: str, lines_above: int, wanted: Sequence[str]) -> Iterator[Callable[[], Run]]:
    outer = [own for own in table.column_names if any(one == own or one.startswith(f"{own}.") for one in wanted)]
    for batch in table.select(outer).to_batches(max_chunksize=ROWS):
        yield partial(run_of, batch, list(wanted), name, lines_above)


def _sample_columns(path: Path, schema: pa.Schema) -> Iterator[dict[str, pa.Array]]:
    """Some rows of each of some places of the file."""
    groups: list[int] | None = None
    with path.open("rb") as file:
        if file.read(4) == PARQUET:
            file.seek(0)
            with parquet.ParquetFile(file, pre_buffer=False) as reader:
                count = reader.num_row_groups
            groups = sorted({place * count // _PIECES for place in range(_PIECES)}) if count else []
    taken = []
    for number, batch in enumerate(columnar_batches_of(path, schema.names, 1 << 14, groups=groups)):
        taken.append(batch)
        if number + 1 == _PIECES:
            break
    yield from _samples(taken)


def _samples(batches: Sequence[pa.RecordBatch]) -> Iterator[dict[str, pa.Array]]:
    each = SAMPLE_ROWS // max(len(batches), 1)
    for batch in batches:
        columns, _ = checked_batch(batch)
        step = max(batch.num_rows // each, 1)
        places = pa.array(range(0, min(batch.num_rows, step * each), step), pa.int64())
        yield {name: array for outer, values in columns.items() for name, array in flattened(outer, values.take(places))}


def _runs(path: Path, outer_names: Sequence[str], wanted: Sequence[str]) -> Iterator[Callable[[], Run]]:
    outer = [name for name in outer_names if any(one == name or one.startswith(f"{name}.") for one in wanted)]
    for batch in columnar_batches_of(path, outer):
        yield partial(run_of, batch, list(wanted), path)


def run_of(batch: pa.RecordBatch, wanted: list[str], path: Path | str, lines_above: int = 0) -> Run:
    """A batch as a run of records. Raises InputRefusedError where its buffers are damaged."""
    with columnar_faults(path):
        columns, unreadable = checked_batch(batch)
        flat = {name: array for outer, values in columns.items() for name, array in flattened(outer, values)}
    made = {name: flat.get(name, pa.nulls(batch.num_rows, pa.string())) for name in wanted}

    def origin(indices: Indices) -> list[tuple[int, str]]:
        rows = zip(*(made[name].take(pa.array(indices)).to_pylist() for name in wanted), strict=True)
        return [
            (lines_above + index + 1, ",".join(map(cell_text, row))) for index, row in zip(indices.tolist(), rows, strict=True)
        ]

    return Run(batch.num_rows, made, unreadable, origin, batch.num_rows)
