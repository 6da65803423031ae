"""What stands in a table that a file was opened as, where tests look at it."""

from __future__ import annotations

import csv
import io

from pruner.table.opened import Table, TextTable


def rows_of(table: Table) -> list[list[str]]:
    """The rows of cells of a table of text, read as RFC 4180 says."""
    assert isinstance(table, TextTable)
    return list(csv.reader(io.StringIO(b"".join(table.blocks()).decode())))
