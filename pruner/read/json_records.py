"""JSON arrays, objects that hold one list of records, and JSON lines -> runs of records.

Receives UTF-8 blocks. The text is cut into single records by counting braces outside strings, on arrays of bytes, so that
neither the whole tree nor a Python loop per record is needed.
"""

from __future__ import annotations

import io
import json
import re
from dataclasses import dataclass
from typing import Final

import polars as pl

from pruner.read.columnar import as_records
from pruner.read.records import Indices, Records

#: Lines such as `[01.03.2026 12:00:00] ...`.
_BRACKETED: Final = re.compile(rb"\s*\[[^\[\]{}\"\n]*\][ \t]*[^\s,\]]")


@dataclass(frozen=True, slots=True)
class JsonBlock:
    """`texts`: one JSON object a record, as it stood in the file; `lines`: the line of the file each begins on."""

    texts: list[bytes]
    lines: list[int]


def looks_like_json(head: bytes) -> bool:
    """Whether a text begins as a JSON array or object, rather than with something in brackets before other text."""
    return head.lstrip()[:1] in (b"{", b"[") and _BRACKETED.match(head) is None


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
