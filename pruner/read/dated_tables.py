"""A table whose rows tell times of day alone, below a title that tells the day -> the same with a column of dates.

Receives a table of a file, hands on another. The title stands in the first rows or above the table, or is the name of the sheet
or of the member of an archive.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from functools import partial
from pathlib import PurePath
from typing import Final

from pruner.read.clocks import second_of
from pruner.read.heard_sections import DELIMITERS, day_named_in, days_of
from pruner.table.cells import as_csv
from pruner.table.line_forms import RULE
from pruner.table.opened import TextTable
from pruner.words.days import DAY_SECONDS, date_of

#: Rows above the headings are titles; so many are looked at.
_MOST_TITLES: Final = 10
#: So many cells of a column that tells times of day begin with one.
_MOST: Final = 0.9
_LARGEST: Final = 64 << 20
_HEADING: Final = "date (title)"


def with_date(table: TextTable, written: float) -> TextTable | None:
    """The table with the day that its title names in a further column; None where it names none, or no column tells times of
    day alone. `written`: when the file was written, in seconds since 1970, which tells years that titles do not."""
    rows = _rows(table)
    place = _clock_place(rows)
    if place is None:
        return None
    seconds = [second_of(row[place]) if place < len(row) else None for row in rows]
    first = next(number for number, second in enumerate(seconds) if second is not None)
    if first and RULE.fullmatch("|".join(rows[first - 1])):  # between the headings and the rows
        del rows[first - 1], seconds[first - 1]
        first -= 1
    titles = [" ".join(row) for row in rows[: min(max(first - 1, 0), _MOST_TITLES)]]
    label = re.sub(r"[_/]", " ", str(PurePath(table.label).with_suffix(""))) if table.label else ""
    last = int(written) // DAY_SECONDS
    named = (day_named_in(line, last) for line in (*reversed(titles), *reversed(table.above.split("\n")), label))
    day = next((day for day in named if day is not None), None)
    if day is None:
        return None
    days = days_of([day, *[None] * (len(rows) - 1)], seconds)
    dates = ["" if second is None or one is None else str(date_of(one)) for one, second in zip(days, seconds, strict=True)]
    if first:
        dates[first - 1] = _HEADING
    dated = [[date, *row] for date, row in zip(dates, rows, strict=True)]
    return TextTable(
        table.label, partial(as_csv, dated, errors="surrogateescape"), is_exact=True, above=table.above, notes=table.notes
    )


def _rows(table: TextTable) -> list[list[str]]:
    """The cells of a table, none of one of excessive size."""
    text = b"".join(table.blocks())
    if len(text) > _LARGEST:
        return []
    lines = text.decode(errors="surrogateescape")
    delimiter = "," if table.is_exact else max(DELIMITERS, key=lines.count)
    try:
        return list(csv.reader(io.StringIO(lines, newline=""), delimiter=delimiter))
    except csv.Error:
        return []


def _clock_place(rows: Sequence[Sequence[str]]) -> int | None:
    """The first column in which most cells begin with a time of day."""
    width = max(map(len, rows), default=0)
    for place in range(width):
        cells = [row[place] for row in rows if place < len(row) and row[place].strip()]
        clocks = sum(second_of(cell) is not None for cell in cells)
        if clocks and clocks + _MOST_TITLES > len(cells) and clocks >= _MOST * (len(cells) - _MOST_TITLES):
            return place
    return None
