"""Tables with named columns -> which holds what, and records."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.records import Indices, Records
from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.identify import identify
from pruner.table.kinds import Kind
from pruner.table.refusals import refusal
from pruner.table.understanding import CORRECT, shown
from pruner.words import schema
from pruner.words.errors import ColumnsError, SourceMissingError

_PARQUET: Final = b"PAR1"
_ARROW: Final = b"ARROW1"


def is_columnar(path: Path) -> bool:
    """Whether a file is Parquet or Arrow, by its first bytes. Raises SourceMissingError if it cannot be read."""
    try:
        with path.open("rb") as file:
            head = file.read(6)
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror}); check the location") from error
    return head.startswith(_PARQUET) or head == _ARROW


def identify_names(
    names: list[str], rows: list[list[str]], columns: Mapping[str, str | int], where: str, kind: Kind, system: str
) -> tuple[Identified, Board]:
    """Which of the named columns of a table holds what, and the board of its sampled rows. Raises InputRefusedError."""
    board = Board(names, rows, system)
    try:
        found = identify(board, kind, columns)
    except KeyError as error:
        name = error.args[0]
        missing = f"it has no column {name}" if isinstance(name, int) else f"no column is headed {name!r}"
        problem = f"{where}: {missing} (found: {', '.join(map(shown, names[:8]))})"
        raise ColumnsError(problem, CORRECT, f"correct {kind.setting}") from error
    if found.trouble:
        raise refusal(where, board, found, kind)
    return found, board


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
