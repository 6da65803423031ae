"""A heard log of JSON -> what its fields hold, and its runs of records.

JSON lines grow and are read line by line: a bad one is a rejected record. Any other JSON text is one value, read as a whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Final

import pyarrow as pa

from pruner.read.columnar import identify_names
from pruner.read.heard_columns import NO_WORDS, EventWords, LogColumns, log_columns, with_times
from pruner.read.heard_events import take_events
from pruner.read.heard_kind import HEARD
from pruner.read.heard_meanings import TIME
from pruner.read.heard_text import Blocks, TextLog
from pruner.read.json_records import JsonBlock, parse_json
from pruner.read.json_values import Flat, flat_records, value_of, values_of
from pruner.read.line_tokens import TIME as TIME_TOKEN
from pruner.read.line_tokens import tokens_of
from pruner.read.records import Indices, Records
from pruner.read.stream import text_blocks
from pruner.table.understanding import understanding_of
from pruner.words.errors import InputRefusedError

_SAMPLED: Final = 200
_RECORDS: Final = 1 << 16
_HEAD: Final = 1000
LINE_TIME, LINE_TEXT = "line.time", "line.text"
#: So many lines are looked at, and so many of them have an object behind other text.
_LOOKED_AT, _MOST = 20, 0.6


def is_json_lines(head: bytes) -> bool:
    """Whether a text that begins like JSON has a JSON value on each line, rather than one in all."""
    if is_behind_text(head):
        return True
    lines = [line for line in head.split(b"\n")[:_LOOKED_AT] if line.strip()]
    values = [_records_on(line) for line in lines]
    if not head.lstrip().startswith(b"{"):
        return len(lines) > 1 and sum(map(bool, values)) >= 2 and bool(values[0])
    return any(map(bool, values)) if len(lines) > 1 else len(values[0]) == 1


def is_behind_text(head: bytes) -> bool:
    """Whether most lines of a text have a JSON object behind other text: a time, the name of a program, a topic."""
    lines = [line for line in head.split(b"\n")[:_LOOKED_AT] if line.strip()]
    behind = [line for line in lines if line.find(b"{") > 0 and _records_on(line)]
    return len(behind) >= max(2, _MOST * len(lines))


def _records_on(line: bytes) -> list[Flat]:
    """The records of a line; what stands before an object is in the fields `LINE_TIME` and `LINE_TEXT`."""
    with suppress(ValueError):
        return flat_records(value_of(line))
    begin, end = line.find(b"{"), line.rfind(b"}") + 1
    if begin < 1 or end <= begin:
        return []
    try:
        found = flat_records(value_of(line[begin:end]))
    except ValueError:
        return []
    around = _text_fields(line[:begin].decode(errors="replace"))
    return [{**around, **record} for record in found]


def _text_fields(text: str) -> Flat:
    tokens = tokens_of(text)
    moment = next((token.text for token in tokens if token.kind == TIME_TOKEN), None)
    rest = " ".join(token.text for token in tokens if token.kind != TIME_TOKEN)
    return {LINE_TEXT: rest} if moment is None else {LINE_TIME: moment, LINE_TEXT: rest}


@dataclass(frozen=True, slots=True)
class _Fields:
    """What the fields of records hold: `mapping` from meanings to names, and what the words of events tell."""

    columns: LogColumns
    mapping: dict[str, str]
    events: EventWords


def _identified(
    path: Path,
    sample: list[Flat],
    columns: Mapping[str, str | int],
    system: str,
    order: str,
    all_times: Callable[[dict[str, str]], Iterator[pa.Array]],
    head: list[Flat],
) -> _Fields:
    """`sample`: records from everywhere; `head`: those that the log begins with."""
    names = list(dict.fromkeys(chain.from_iterable(sample)))
    if len({record.get(LINE_TEXT) for record in sample}) == 1:  # what stands before every record says nothing of one
        names = [name for name in names if name != LINE_TEXT]
    rows = [[record.get(name) or "" for name in names] for record in sample]
    found, board = identify_names(names, rows, columns, str(path), HEARD, system)

    def cells_of(positions: Sequence[int]) -> dict[int, list[str]]:
        return {place: [record.get(names[place]) or "" for record in head] for place in positions}

    written = path.stat().st_mtime
    events = take_events(str(path), board, found, cells_of, written)
    mapping = {meaning: names[place] for meaning, place in found.positions.items()}
    understanding = understanding_of(str(path), board, found, doubt=events.doubt)
    identified = log_columns(understanding, board, found.positions, written, order, partial(all_times, mapping))
    return _Fields(identified, mapping, events.words)


def json_lines_log(path: Path, head: bytes, columns: Mapping[str, str | int], system: str, order: str) -> TextLog:
    """Identifies the fields of JSON lines. Raises InputRefusedError where they are no log of calls."""
    lines = [line for line in head.split(b"\n")[:_SAMPLED] if line.strip()]
    found = [_records_on(line) for line in lines]
    sample = [record for records in found for record in records][:_SAMPLED]
    is_flat = all(len(records) <= 1 for records in found) and all(line.lstrip().startswith(b"{") for line in lines)

    def times(mapping: dict[str, str]) -> Iterator[pa.Array]:
        for block in _whole_lines(text_blocks(path, None)):
            yield _lines(block, mapping, is_flat=is_flat).columns[TIME]

    fields = _identified(path, sample, columns, system, order, times, sample)

    def jobs(blocks: Blocks, before: int) -> Iterator[Callable[[], Records]]:
        for block in blocks:
            yield partial(_lines, block, fields.mapping, fields.events, is_flat=is_flat)

    return TextLog(fields.columns, jobs)


def _whole_lines(blocks: Blocks) -> Blocks:
    held = b""
    for block in blocks:
        text = held + block
        end = text.rfind(b"\n") + 1
        held = text[end:]
        yield text[:end]
    yield held


def _lines(block: bytes, mapping: dict[str, str], events: EventWords = NO_WORDS, *, is_flat: bool) -> Records:
    """Records of whole lines. `is_flat`: one object on each line; where its fields are plain ones they are read on columns."""
    texts = block.split(b"\n")
    numbers = [number for number, text in enumerate(texts, start=1) if text.strip()]
    if is_flat and not any("." in name for name in mapping.values()):
        records = parse_json(JsonBlock([texts[number - 1] for number in numbers], numbers), mapping)
    else:
        found: list[Flat] = []
        lines: list[int] = []
        unreadable: dict[int, str] = {}
        for number in numbers:
            flat = _records_on(texts[number - 1])
            if not flat:
                unreadable[len(found)] = "not a JSON object"
            found += flat or [{}]
            lines += [number] * (len(flat) or 1)

        def origin(indices: Indices) -> list[tuple[int, str]]:
            return [(lines[i], texts[lines[i] - 1].decode(errors="replace")) for i in indices.tolist()]

        records = _as_records(found, mapping, origin)
        records.unreadable = unreadable
    records.lines = block.count(b"\n")
    return with_times(records, events)


def _as_records(found: Sequence[Flat], mapping: dict[str, str], origin: Callable[[Indices], list[tuple[int, str]]]) -> Records:
    columns = {meaning: pa.array([record.get(name) for record in found], pa.string()) for meaning, name in mapping.items()}
    return Records(len(found), columns, origin=origin)


def flat_records_in(text: bytes) -> list[Flat]:
    """The records of a JSON text: one value, or values that follow each other. Raises ValueError where it is damaged."""
    try:
        return flat_records(value_of(text))
    except ValueError:
        return [record for value in values_of(text.decode()) for record in flat_records(value)]


def json_value_log(
    path: Path, columns: Mapping[str, str | int], system: str, order: str
) -> tuple[LogColumns, Iterator[Callable[[], Records | None]]]:
    """Identifies the fields of a JSON text that is one value. Raises InputRefusedError for damage and where it is no log."""
    try:
        found = flat_records_in(b"".join(text_blocks(path, None)))
    except ValueError as error:
        raise InputRefusedError(f"{path}: the JSON text is damaged or ends early; get the file again") from error
    if not found:
        raise InputRefusedError(f"{path}: holds no records; expected {HEARD.table}")
    spread = [found[place * len(found) // _SAMPLED] for place in range(_SAMPLED)] if len(found) > _SAMPLED else found

    def times(mapping: dict[str, str]) -> Iterator[pa.Array]:
        yield with_times(_as_records(found, mapping, lambda _: [])).columns[TIME]

    fields = _identified(path, spread, columns, system, order, times, found[:_HEAD])
    return fields.columns, _value_jobs(found, fields)


def _value_jobs(found: list[Flat], fields: _Fields) -> Iterator[Callable[[], Records | None]]:
    for first in range(0, len(found), _RECORDS):
        yield partial(_part, found[first : first + _RECORDS], fields.mapping, fields.events)
    yield lambda: None


def _part(found: list[Flat], mapping: dict[str, str], events: EventWords) -> Records:
    def origin(indices: Indices) -> list[tuple[int, str]]:
        return [(i + 1, ",".join(found[i].get(name) or "" for name in mapping.values())) for i in indices.tolist()]

    records = _as_records(found, mapping, origin)
    records.lines = len(found)
    return with_times(records, events)
