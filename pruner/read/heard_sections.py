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

from pruner.read.clocks import second_of
from pruner.read.date_texts import day_of, read_date
from pruner.table.fold import fold
from pruner.table.opened import Blocks, TextTable
from pruner.words.days import DAY_SECONDS, date_of, day_number

DELIMITERS: Final = "\t;|,"
_LEAST_CELLS: Final = 3
#: So many of the headings stand in the other line too; so many of the lines begin with a time of day.
_SHARED, _MOST = 0.6, 0.6
_LONGEST_DATE: Final = 60
#: A title is no longer, and a date has no more words.
_LONGEST_TITLE, _MOST_WORDS = 160, 5
_ANY_CLOCK: Final = re.compile(r"\d:\d\d")
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
    clocks = [line for line in filled if second_of(line) is not None]
    return bool(dates) and len(clocks) > 1 and len(clocks) >= _MOST * (len(filled) - len(dates))


def _day_in(line: str, last: int) -> int | None:
    """The day of a line that holds nothing but a date, in an order that leaves no doubt; `last`: the latest that it may be."""
    text = " ".join(re.sub(r"[=*#_~\[\](){}<>|]+|(?<!\d)-+|-+(?!\d)", " ", line).split()).strip(" :;,")
    if not any(map(str.isdigit, text)) or len(text) > _LONGEST_DATE:
        return None
    found = read_date(f"{text} ", "")
    return None if found is None or found.half else day_of(found, "", last)


def _with_dates(lines: Sequence[str], last_day: int) -> Iterator[str]:
    """Lines that begin with a time of day behind its date."""
    seconds = [second_of(line) for line in lines]
    days = [_day_in(line, last_day) if second is None else None for line, second in zip(lines, seconds, strict=True)]
    for line, told, second, day in zip(lines, days, seconds, days_of(days, seconds), strict=True):
        if told is None:
            yield line if second is None or day is None else f"{date_of(day)} {line.lstrip()}"


def days_of(days: Sequence[int | None], seconds: Sequence[int | None]) -> Iterator[int | None]:
    """The day of each of some times of day in order (None: a row without one), None before a day is told. `days`: which row
    tells a day for those behind it. Where the times ascend, one behind midnight has the next day."""
    times = [second for second in seconds if second is not None]
    steps = [after - before for before, after in pairwise(times)]
    is_ascending = sum(step > 0 for step in steps) >= sum(step < 0 for step in steps)
    day: int | None = None
    last = -1
    for told, second in zip(days, seconds, strict=True):
        if told is not None:
            day, last = told, -1
        if second is not None and day is not None:
            day = min(day + (is_ascending and second < last - _BACK), _LAST_DAY)
            last = second
        yield day


def day_named_in(line: str, last: int) -> int | None:
    """The day that a title names among other words, None where it names none or several; `last`: the latest that it may be."""
    words = line.split()
    if len(line) > _LONGEST_TITLE or _ANY_CLOCK.search(line):
        return None
    days: set[int] = set()
    while words:
        found = next(
            ((length, day) for length in range(min(len(words), _MOST_WORDS), 0, -1) if (day := _dated(words[:length], last))),
            None,
        )
        days |= {found[1]} if found else set()
        words = words[found[0] if found else 1 :]
    return days.pop() if len(days) == 1 else None


def _dated(words: Sequence[str], last: int) -> int | None:
    """The day of words that are a date with a year, or with the name of a month."""
    text = " ".join(words).strip(".,:;()[]")
    is_whole = re.search(r"\d{4}", text) or re.search(r"[^\W\d_]{3}", text)
    return _day_in(text, last) if is_whole else None
