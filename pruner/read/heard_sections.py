"""A log whose headings change, or that tells each date in a line of its own -> its sections, each a table.

Receives the text of a log, hands on tables. A program that was changed writes further columns from some line on, under a line
of headings that has most words of the first one. Below a line with nothing but a date, lines begin with the time of day.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date
from functools import partial
from itertools import pairwise
from typing import Final

from pruner.read.date_texts import day_of, read_date
from pruner.table.fold import fold
from pruner.table.opened import Blocks, TextTable
from pruner.words.days import DAY_SECONDS, date_of, day_number

DELIMITERS: Final = "\t;|,"
_LEAST_CELLS: Final = 3
#: So many of the headings stand in the other line too; so many of the lines begin with a time of day.
_SHARED, _MOST = 0.6, 0.6
_CLOCK: Final = re.compile(r"\W*(\d{1,2}):(\d\d)(?::(\d\d))?(?![\d:])")
_LONGEST_DATE: Final = 60
#: A clock that goes back by more seconds, where it goes forth otherwise, is one of the next day.
_BACK: Final = 3600
_LAST_DAY: Final = day_number(date.max)


def sections_of(head: bytes, blocks: Blocks, written: float) -> list[TextTable]:
    """The sections of a text; none where its head has one line of headings, or the same one again, and no lines of dates.

    `written`: when the text was written, in seconds since 1970, which tells years that dates do not."""
    last = int(written) // DAY_SECONDS
    lines = head.decode(errors="replace").split("\n")
    if _is_dated(lines, last):
        text = b"".join(blocks()).decode(errors="replace")
        return [TextTable("", partial(_block, "\n".join(_with_dates(text.split("\n"), last))))]
    first = next((line for line in lines if line.strip()), "")
    delimiter = max(DELIMITERS, key=first.count)
    headings = headings_on(first, delimiter)
    if not headings or not any(_is_other(line, headings, delimiter) for line in lines):
        return []
    parts: list[list[str]] = [[]]
    for line in b"".join(blocks()).decode(errors="replace").split("\n"):
        if _is_other(line, headings, delimiter):
            headings = headings_on(line, delimiter)
            parts.append([])
        parts[-1].append(line)
    return [TextTable(f"section {number}", partial(_block, "\n".join(part))) for number, part in enumerate(parts, start=1)]


def _block(text: str) -> Iterator[bytes]:
    yield text.encode()


def headings_on(line: str, delimiter: str) -> Sequence[str]:
    """The headings of a line, none where a cell is empty or holds a digit."""
    cells = [fold(cell) for cell in line.split(delimiter)]
    is_line = len(cells) >= _LEAST_CELLS and all(cell and not any(map(str.isdigit, cell)) for cell in cells)
    return cells if is_line else ()


def _is_other(line: str, headings: Sequence[str], delimiter: str) -> bool:
    """Whether a line has other headings, most of which are the same."""
    if delimiter not in line or any(map(str.isdigit, line)):
        return False
    found = headings_on(line, delimiter)
    shared = len(set(found) & set(headings))
    return 0 < shared >= _SHARED * min(len(found), len(headings)) and found != headings


def _is_dated(lines: Sequence[str], last: int) -> bool:
    filled = [line for line in lines if line.strip()]
    dates = [line for line in filled if _day_in(line, last) is not None]
    clocks = [line for line in filled if _CLOCK.match(line)]
    return bool(dates) and len(clocks) > 1 and len(clocks) >= _MOST * (len(filled) - len(dates))


def _day_in(line: str, last: int) -> int | None:
    """The day of a line that holds nothing but a date, in an order that leaves no doubt; `last`: the latest that it may be."""
    text = " ".join(re.sub(r"[=*#_~\[\](){}<>|]+|(?<!\d)-+|-+(?!\d)", " ", line).split()).strip(" :;,")
    if not any(map(str.isdigit, text)) or len(text) > _LONGEST_DATE:
        return None
    found = read_date(f"{text} ", "")
    return None if found is None or found.half else day_of(found, "", last)


def _with_dates(lines: Sequence[str], last_day: int) -> Iterator[str]:
    """Lines that begin with a time of day behind its date; where they ascend, one behind midnight has that of the next day."""
    is_ascending = _is_ascending(lines)
    day: int | None = None
    last = -1
    for line in lines:
        second = _second_of(line)
        found = _day_in(line, last_day) if second is None else None
        if found is not None:
            day, last = found, -1
        elif second is not None and day is not None:
            day = min(day + (is_ascending and second < last - _BACK), _LAST_DAY)
            last = second
            yield f"{date_of(day)} {line.lstrip()}"
        else:
            yield line


def _second_of(line: str) -> int | None:
    clock = _CLOCK.match(line)
    return int(clock[1]) * 3600 + int(clock[2]) * 60 + int(clock[3] or 0) if clock else None


def _is_ascending(lines: Sequence[str]) -> bool:
    seconds = [second for line in lines if (second := _second_of(line)) is not None]
    steps = [after - before for before, after in pairwise(seconds)]
    return sum(step > 0 for step in steps) >= sum(step < 0 for step in steps)
