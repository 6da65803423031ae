"""The plain contact file: one line a contact, columns of `schema.CONTACT_COLUMNS`, comma, UTF-8, line feeds.

Receives a frame of cleaned text, writes it and reads it back.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl

from pruner import schema


def write_plain(contacts: pl.DataFrame, path: Path) -> None:
    """Writes contacts; a call sign that a spreadsheet would run as a formula loses its first sign."""
    safe = contacts.select(schema.CONTACT_COLUMNS).with_columns(
        pl.col(schema.CALLSIGN).str.strip_chars_start("=+-@").alias(schema.CALLSIGN)
    )
    safe.with_columns(pl.col(pl.String).replace("", None)).write_csv(path)
