"""A heard log of free lines -> runs of records, by a pattern with named groups.

Receives blocks of lines and a pattern from the settings; the groups bear the meanings of `kinds.HEARD`. Two more say what a
line tells where they hold text, whatever word it is: `start_event` and `end_event`; where the pattern has one of them only,
all other lines tell the other. Lines that the pattern does not explain are no calls: they are set aside, and counted.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Final

import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.delimited import recode_lines
from pruner.read.event_words import END_EVENT, START_EVENT
from pruner.read.heard_columns import LogColumns, log_columns, with_times
from pruner.read.heard_meanings import EVENT, OTHER_LINE, SECONDS, TIME
from pruner.read.heard_text import Blocks, TextLog
from pruner.read.line_events import END_GROUP, START_GROUP
from pruner.read.records import Indices, Records
from pruner.read.stream import text_blocks
from pruner.table.board import Board
from pruner.table.understanding import ColumnUse, Understanding
from pruner.words import schema
from pruner.words.errors import InputRefusedError, SettingsError

_SAMPLED: Final = 200
_SHOWN: Final = 3
_GROUPS: Final = (*schema.HEARD_MEANINGS, START_GROUP, END_GROUP)


def groups_of(pattern: str) -> tuple[str, ...]:
    """The named groups of a pattern, in order. Raises SettingsError where it is none, or names what is no column of a log."""
    try:
        names = tuple(re.compile(pattern).groupindex)
        pl.Series([""]).str.extract_groups(pattern)
    except (re.error, pl.exceptions.ComputeError) as error:
        reason = " ".join(str(error).split())[-120:]
        raise SettingsError(f"pattern: cannot be read ({reason}); write it without look-around") from error
    unknown = [name for name in names if name not in _GROUPS]
    has_who, has_when = {"id", "callsign"} & set(names), "time" in names or {"date", "clock"} <= set(names)
    if unknown or not (has_who and has_when and "talkgroup" in names):
        raise SettingsError(
            f"pattern: names the groups {', '.join(names) or '(none)'}; expected (?P<id>...) or (?P<callsign>...), "
            f"(?P<talkgroup>...) and (?P<time>...), or date and clock; legal names are {', '.join(_GROUPS)}"
        )
    return names


def pattern_log(path: Path, head: bytes, pattern: str, system: str, order: str) -> TextLog:
    """A log whose lines a pattern explains. Raises SettingsError for the pattern, InputRefusedError where it explains none."""
    names = groups_of(pattern)
    found = records_of(head, pattern, names)
    good = [index for index in range(found.count) if index not in found.unreadable]
    if not good:
        line = next((line for line in head.decode(errors="replace").split("\n") if line.strip()), "")
        raise InputRefusedError(f"{path}: the pattern of the settings explains none of the first lines, such as {line[:60]!r}")
    sample = found.columns
    meanings = tuple(sample)
    rows = [[str(sample[name][index].as_py() or "") for name in meanings] for index in good[:_SAMPLED]]
    # The name of a group says no unit.
    board = Board(["duration" if name == SECONDS else name for name in meanings], rows, system)
    uses = tuple(ColumnUse(name, place + 1, name, "pattern", name) for place, name in enumerate(meanings))
    shown = tuple(dict(zip(meanings, row, strict=True)) for row in rows[:_SHOWN])
    understanding = Understanding(str(path), "", uses, (), True, rows=shown)

    def times() -> Iterator[pa.Array]:
        for block in text_blocks(path, None):
            yield with_times(records_of(block, pattern, names)).columns[TIME]

    positions = {name: place for place, name in enumerate(meanings)}
    columns: LogColumns = log_columns(understanding, board, positions, path.stat().st_mtime, order, times)

    def jobs(blocks: Blocks, before: int) -> Iterator[Callable[[], Records]]:
        for block in blocks:
            yield partial(_run, block, pattern, names)

    return TextLog(columns, jobs)


def _run(block: bytes, pattern: str, names: tuple[str, ...]) -> Records:
    return with_times(records_of(block, pattern, names))


def records_of(block: bytes, pattern: str, names: tuple[str, ...]) -> Records:
    """One record for each line that is not blank; those that the pattern does not explain are unreadable."""
    text, _ = recode_lines(block)
    lines = text.decode(errors="replace").split("\n")
    numbers = [number for number, line in enumerate(lines, start=1) if line.strip()]
    texts = pl.Series([lines[number - 1] for number in numbers], dtype=pl.String)
    found = texts.str.extract_groups(pattern).struct.unnest().select(names)
    is_call = ~found.select(pl.all_horizontal(pl.all().is_null())).to_series().to_numpy()
    groups = {name: _filled(found[name].to_arrow().cast(pa.string())) for name in names}
    columns = {name: cells for name, cells in groups.items() if name in schema.HEARD_MEANINGS}
    if len(columns) < len(names):
        columns[EVENT] = pc.if_else(pa.array(is_call), _events(groups), None)

    def origin(indices: Indices) -> list[tuple[int, str]]:
        return [(numbers[index], lines[numbers[index] - 1]) for index in indices.tolist()]

    unreadable = dict.fromkeys((index for index, good in enumerate(is_call.tolist()) if not good), OTHER_LINE)
    return Records(len(numbers), columns, unreadable, origin, block.count(b"\n"))


def _events(groups: dict[str, pa.Array]) -> pa.Array:
    """What each line tells, by the groups of events."""
    told = {name: groups[name].is_valid() for name in (START_GROUP, END_GROUP) if name in groups}
    ends = told[END_GROUP] if END_GROUP in told else pc.invert(told[START_GROUP])
    starts = told[START_GROUP] if START_GROUP in told else pc.invert(ends)
    return pc.if_else(ends, END_EVENT, pc.if_else(starts, START_EVENT, pa.scalar(None, pa.string())))


def _filled(column: pa.Array) -> pa.Array:
    return pc.if_else(pc.equal(column, ""), None, column)
