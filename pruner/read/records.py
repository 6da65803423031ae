"""What reading hands on: a run of consecutive records in canonical columns."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Indices = npt.NDArray[np.int64]


@dataclass(slots=True)
class Records:
    """Consecutive records of one source.

    `columns` maps a meaning to an Arrow array of `count` entries: `id` and `callsign` are strings, every other
    one a dictionary array of strings (plain strings where the reader was told not to code it). `unreadable` maps
    the index of a record that has no usable cells to what was wrong with it. `origin` gives, for indices into this
    run, the line (from 1, within this run) and the raw text of each record. `lines` is how many lines of the file
    the run takes; `recoded` how many of them were not UTF-8; `aside` counts lines that are no records (comments, repeated
    headings).
    """

    count: int
    columns: dict[str, pa.Array]
    unreadable: dict[int, str] = field(default_factory=dict)
    origin: Callable[[Indices], list[tuple[int, str]]] = lambda _: []
    lines: int = 0
    recoded: int = 0
    aside: Counter[str] = field(default_factory=Counter)


def coded(column: pa.Array) -> pa.DictionaryArray:
    """A column with each distinct text once."""
    found: pa.DictionaryArray = column if isinstance(column, pa.DictionaryArray) else column.dictionary_encode()
    return found


def by_text(column: pa.Array, read: Callable[[str], str | None]) -> pa.StringArray:
    """The cells of a column made into other texts, each distinct one once; missing ones stay so."""
    texts = column.cast(pa.string()).dictionary_encode()
    made = pa.array([None if text is None else read(text) for text in texts.dictionary.to_pylist()], pa.string())
    return made.take(texts.indices)


def rows_where(records: Records, name: str, test: Callable[[str], bool]) -> npt.NDArray[np.bool_] | None:
    """Which records have a cell in a column that passes a test, each distinct one once; missing ones do not. None where there
    is no such column."""
    column = records.columns.get(name)
    if column is None:
        return None
    texts = coded(column)
    passed = np.array([*(text is not None and test(text) for text in texts.dictionary.to_pylist()), False])
    rows: npt.NDArray[np.bool_] = passed[texts.indices.fill_null(len(passed) - 1).to_numpy(zero_copy_only=False)]
    return rows
