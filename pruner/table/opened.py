"""What an opened file may be: delimited text, or rows with named columns.

Both are handed to whoever decides what the columns mean; neither knows of meanings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Indices = npt.NDArray[np.int64]
#: A text as blocks, from the beginning at each call.
Blocks = Callable[[], Iterator[bytes]]
#: So many rows of a table with named columns are looked at.
SAMPLE_ROWS: Final = 200
#: Records of more different names are no table; each of them would be a column.
MOST_NAMES: Final = 500


@dataclass(slots=True)
class Run:
    """Consecutive records of a table with named columns.

    `columns`: one Arrow array of `count` entries per name, of any type that can be written as text; `unreadable`, `origin`,
    `lines` and `recoded` as in `read.records.Records`.
    """

    count: int
    columns: dict[str, pa.Array]
    unreadable: dict[int, str] = field(default_factory=dict)
    origin: Callable[[Indices], list[tuple[int, str]]] = lambda _: []
    lines: int = 0
    recoded: int = 0


@dataclass(frozen=True, slots=True)
class TextTable:
    """Delimited text. `blocks` begins anew at each call: UTF-8 without mark, lines ending in a line feed.

    `label` names the sheet, table or member ("" where the file is the table); `is_exact`: written from cells, with commas and
    the quotes of RFC 4180, so that nothing need be tried; `is_refused`: it is no table, as `blocks` says (InputRefusedError);
    `above`: what stands between it and the table before it; `notes`: all that stands in the file beside tables; `referred`:
    headings of columns whose cells stand in another table of the file, to which the rows refer.
    A line of more than 32 MiB is refused while reading.
    """

    label: str
    blocks: Blocks
    is_exact: bool = False
    is_refused: bool = False
    above: str = ""
    notes: str = ""
    referred: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class ColumnTable:
    """Rows with named columns. `sample`: up to 200 rows of text, from the beginning and from further down; `runs`: jobs for the
    columns wanted, by name, each giving the next run; they may be done in any thread, in any order."""

    label: str
    names: list[str]
    sample: list[list[str]]
    runs: Callable[[Sequence[str]], Iterator[Callable[[], Run]]]


Table = TextTable | ColumnTable


@dataclass(frozen=True, slots=True)
class Held:
    """A table that is in memory already and stands where a file stands; `name` is what messages call it."""

    name: str
    table: ColumnTable

    def __str__(self) -> str:
        return self.name


def label_in(label: str, inner: str) -> str:
    """The label of what stands in a part of a file; either is "" where it is the only one."""
    return ": ".join(filter(None, (label, inner)))


def shown(text: str, longest: int = 60) -> str:
    """A text of a file for one line of a message: printable, on one line, not long."""
    text = " ".join(text[: 4 * longest].split())
    text = "".join(character if character.isprintable() else "?" for character in text)
    return text if len(text) <= longest else f"{text[: longest - 3]}..."
