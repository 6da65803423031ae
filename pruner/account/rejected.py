"""rejected.csv: rows that could not be read, with line number, reason and the raw text.

The raw text is hostile: it is written as a JSON string, so that it begins with a quotation mark (no
spreadsheet runs it) and its control and direction characters are escaped.
"""

from __future__ import annotations

import csv
import json
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_as_json: Final = json.JSONEncoder(ensure_ascii=False).encode


@dataclass(frozen=True, slots=True)
class RejectedRow:
    """`line` is the first line of the record in its file, from 1 (in a file without lines: its number)."""

    source: str
    line: int
    reason: str
    detail: str
    raw: str


def escaped(text: str) -> str:
    """A text as a JSON string in which nothing can act on a terminal or turn the direction of writing."""
    quoted = _as_json(text)
    if quoted.isprintable():
        return quoted
    return "".join(
        f"\\u{ord(character):04x}" if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp") else character
        for character in quoted
    )


def write_rejected(path: Path, rows: Iterable[RejectedRow]) -> None:
    """Writes the rejected rows in the order given."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["source", "line", "reason", "detail", "raw"])
        writer.writerows([row.source, row.line, row.reason, row.detail, escaped(row.raw)] for row in rows)
