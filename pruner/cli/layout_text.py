"""A layout as text for a terminal of 80 columns."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pruner.cli.text import number, paragraph, safe, shortened, table

if TYPE_CHECKING:
    from pruner.library.layouts import Doubt, Layout


def doubt_line(doubt: Doubt) -> str:
    """What is in doubt about a column that was learned, and the option that settles it."""
    return safe(
        f"column {doubt.place + 1}, {doubt.title!r}: taken for {doubt.value!r}: {doubt.reason}; right as it is: {doubt.answer}"
    )


def layout_text(layout: Layout, path: Path) -> str:
    """The dialect in a line or two, then one line per column."""
    form = layout.file
    delimiter = {"\t": "tab", " ": "space"}.get(form.delimiter, form.delimiter)
    dialect = "fixed columns" if form.kind == "fixed" else f"delimiter {delimiter}, quoting {form.quoting}"
    mark = ", byte-order mark" if layout.mark else ""
    heading = "a heading line" if form.headings else "no heading line"
    parts = [dialect, f"{form.encoding}{mark}", form.line_ending.upper(), heading, f"order {form.order}"]
    if form.rows_per_file is not None:
        parts.append(f"{number(form.rows_per_file)} rows a file")
    rows = [
        (
            str(place),
            shortened(column.title, 22),
            shortened(column.value, 28),
            "" if column.width is None else str(column.width),
            shortened(column.fallback or "", 14),
        )
        for place, column in enumerate(layout.columns, 1)
    ]
    return "\n".join(
        [
            paragraph(f"{path}: no mistakes"),
            paragraph("; ".join(parts)),
            "",
            table([("column", "title", "value", "width", "fallback"), *rows], right=(0, 3)),
        ]
    )
