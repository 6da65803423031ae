"""The plain contact file: one line a contact, columns of `schema.CONTACT_COLUMNS`, comma, UTF-8, line feeds.

Receives frames of cleaned text and writes them one behind the other.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import polars as pl

from pruner import schema


def write_plain(parts: Iterable[pl.DataFrame], path: Path) -> None:
    """Writes contacts part by part; a call sign that a spreadsheet would run as a formula loses its first sign."""
    with path.open("wb") as file:
        file.write((",".join(schema.CONTACT_COLUMNS) + "\n").encode())
        for part in parts:
            safe = part.select(schema.CONTACT_COLUMNS).with_columns(
                pl.col(schema.CALLSIGN).str.strip_chars_start("=+-@").alias(schema.CALLSIGN)
            )
            safe.with_columns(pl.col(pl.String).replace("", None)).write_csv(file, include_header=False)
