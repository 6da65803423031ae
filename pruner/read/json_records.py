"""JSON arrays, objects that hold one list of records, and JSON lines -> runs of records.

Receives UTF-8 blocks. The text is cut into single records by counting braces outside strings, on arrays of bytes, so that
neither the whole tree nor a Python loop per record is needed.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import polars as pl

from pruner.errors import InputRefusedError
from pruner.read.columnar import as_records, identify_names
from pruner.read.records import Indices, Records
from pruner.table.kinds import Kind
from pruner.table.understanding import Understanding, understanding_of

_RECORDS: Final = 1 << 17


@dataclass(frozen=True, slots=True)
class JsonBlock:
    """`texts`: one JSON object a record, as it stood in the file; `lines`: the line of the file each begins on."""

    texts: list[bytes]
    lines: list[int]


def looks_like_json(head: bytes) -> bool:
    """Whether a text begins as a JSON array or object."""
    return head.lstrip()[:1] in (b"{", b"[")


def json_blocks(
    stream: Iterator[bytes], columns: Mapping[str, str | int], where: str, kind: Kind, system: str
) -> tuple[Understanding, Iterator[tuple[JsonBlock, dict[str, str]]]]:
    """What was understood of a JSON text, and its records. Raises InputRefusedError when it is no list of records or ends
    early."""
    text = b"".join(stream)
    begins, ends = _as_lines(text) if _is_json_lines(text) else _as_list(text, where, kind.table)
    if not len(begins):
        raise InputRefusedError(f"{where}: holds no records; expected {kind.table}")
    names: dict[str, None] = {}
    sampled = []
    for begin, end in zip(begins[:200].tolist(), ends[:200].tolist(), strict=True):
        try:
            record = json.loads(text[begin:end])
        except (ValueError, RecursionError):
            continue
        if isinstance(record, dict):
            names.update(dict.fromkeys(record))
            sampled.append(record)
    known = list(names)
    rows = [["" if record.get(name) is None else str(record[name]) for name in known] for record in sampled]
    found, board = identify_names(known, rows, columns, where, kind, system)
    mapping = {meaning: known[place] for meaning, place in found.positions.items()}
    return understanding_of(where, board, found), _blocks(text, begins, ends, mapping)


def _blocks(text: bytes, begins: Indices, ends: Indices, mapping: dict[str, str]) -> Iterator[tuple[JsonBlock, dict[str, str]]]:
    line_ends = np.flatnonzero(np.frombuffer(text, dtype=np.uint8) == 10)
    lines = np.searchsorted(line_ends, begins) + 1
    for first in range(0, len(begins), _RECORDS):
        part = slice(first, first + _RECORDS)
        spans = zip(begins[part].tolist(), ends[part].tolist(), strict=True)
        yield JsonBlock([text[begin:end] for begin, end in spans], lines[part].tolist()), mapping


def parse_json(block: JsonBlock, mapping: dict[str, str]) -> Records:
    """Parses records; those that are not JSON objects become unreadable ones. Values that are no text become text."""
    wanted = dict.fromkeys(mapping.values(), pl.String)
    unreadable: dict[int, str] = {}
    try:
        frame = _frame(block.texts, wanted)
    except pl.exceptions.PolarsError:
        texts = list(block.texts)
        for index, text in enumerate(texts):
            try:
                # Numbers stay as they are written; NaN and infinities are missing values.
                record = json.loads(text, parse_float=str, parse_int=str, parse_constant=lambda _: None)
                if not isinstance(record, dict):
                    raise ValueError("not an object")
                texts[index] = json.dumps(record).encode()
            except (ValueError, RecursionError):
                unreadable[index] = "not a JSON object"
                texts[index] = b"{}"
        frame = _frame(texts, wanted)
    columns = {meaning: frame[name].to_arrow() for meaning, name in mapping.items()}
    records = as_records(columns, len(block.texts))

    def origin(indices: Indices) -> list[tuple[int, str]]:
        return [(block.lines[i], block.texts[i].decode(errors="replace")) for i in indices.tolist()]

    records.origin, records.unreadable, records.lines = origin, unreadable, 0
    return records


def _frame(texts: list[bytes], wanted: dict[str, type[pl.String]]) -> pl.DataFrame:
    frame = pl.read_ndjson(io.BytesIO(b"\n".join(text.replace(b"\n", b" ") for text in texts)), schema=wanted)
    if frame.height != len(texts):
        raise pl.exceptions.ComputeError("a record is missing")
    return frame


def _is_json_lines(text: bytes) -> bool:
    first = text.lstrip().split(b"\n", 1)[0]
    try:
        value = json.loads(first)
    except (ValueError, RecursionError):
        return False
    return isinstance(value, dict) and not any(_holds_records(inner) for inner in value.values())


def _holds_records(value: object) -> bool:
    return isinstance(value, list) and any(isinstance(inner, dict) for inner in value)


def _as_lines(text: bytes) -> tuple[Indices, Indices]:
    ends = np.flatnonzero(np.frombuffer(text, dtype=np.uint8) == 10)
    if not text.endswith(b"\n"):
        ends = np.append(ends, len(text))
    begins = np.concatenate([np.zeros(1, dtype=np.int64), ends[:-1] + 1])
    filled = np.fromiter((bool(text[b:e].strip()) for b, e in zip(begins.tolist(), ends.tolist(), strict=True)), bool)
    return begins[filled], ends[filled]


def _as_list(text: bytes, where: str, table: str) -> tuple[Indices, Indices]:
    data = np.frombuffer(text, dtype=np.uint8)
    inside = _inside_strings(data)
    opens = ((data == 0x7B) | (data == 0x5B)) & ~inside
    closes = ((data == 0x7D) | (data == 0x5D)) & ~inside
    places = np.flatnonzero(opens | closes)
    depth = np.cumsum(np.where(opens[places], 1, -1))
    if not len(depth) or depth[-1] != 0 or depth.min() < 0:
        raise InputRefusedError(f"{where}: the JSON text is damaged or ends early; get the file again")
    level = 2 if data[places[0]] == 0x5B else 3
    begins = places[(depth == level) & (data[places] == 0x7B)]
    ends = places[(depth == level - 1) & (data[places] == 0x7D)] + 1
    if level == 3:
        lists = places[(depth == 2) & (data[places] == 0x5B)]
        holding = np.unique(np.searchsorted(lists, begins))
        if len(holding) > 1:
            raise InputRefusedError(f"{where}: the JSON object holds {len(holding)} lists of records; expected one")
    if len(begins) != len(ends):
        raise InputRefusedError(f"{where}: the JSON text is no list of records; expected {table}")
    return begins, ends


def _inside_strings(
    data: np.ndarray[tuple[int], np.dtype[np.uint8]],
) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    quotes = np.flatnonzero(data == 34)
    slashes = np.flatnonzero(data == 92)
    if len(slashes):
        # A quote is escaped by an odd run of backslashes before it.
        run_starts = np.flatnonzero(np.diff(slashes, prepend=-2) > 1)
        run_of = np.searchsorted(slashes, quotes - 1)
        run_of = np.clip(run_of, 0, len(slashes) - 1)
        preceded = slashes[run_of] == quotes - 1
        start = slashes[run_starts[np.searchsorted(run_starts, run_of, side="right") - 1]]
        quotes = quotes[~(preceded & ((quotes - start) % 2 == 1))]
    edges = np.zeros(len(data) + 1, dtype=np.int8)
    edges[quotes] = 1
    inside: np.ndarray[tuple[int], np.dtype[np.bool_]] = np.cumsum(edges[:-1], dtype=np.int64) % 2 == 1
    return inside
