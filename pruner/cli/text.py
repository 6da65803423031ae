"""Text for a terminal: escaping, numbers, small tables."""

from __future__ import annotations

import os
import sys
import textwrap
import unicodedata
from collections.abc import Sequence
from typing import Final

WIDTH: Final = 80


def safe(text: str) -> str:
    """A text in which no character can act on a terminal or turn the direction of writing."""
    return "".join(
        f"\\x{ord(character):02x}" if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Zl", "Zp") else character
        for character in text
    )


def shortened(text: str, width: int) -> str:
    """A safe text of at most `width` characters."""
    clear = safe(text)
    return clear if len(clear) <= width else clear[: width - 3] + "..."


def paragraph(text: str, indent: str = "") -> str:
    """A safe text broken at spaces into lines of at most 80 columns; a longer word (a path) stays whole."""
    return textwrap.fill(
        safe(text),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def number(value: int) -> str:
    """A number with thousands separated."""
    return f"{value:,}"


def percent(share: float | None) -> str:
    """A share as percent with as many places as keep it from looking whole when it is not; `-` for none."""
    if share is None:
        return "-"
    for places in (1, 2, 3):
        text = f"{share * 100:.{places}f}"
        if share == 1 or float(text) < 100:
            break
    return f"{text} %"


def strong(text: str) -> str:
    """A safe text in bold on a terminal that shows it; plain in a pipe and where NO_COLOR is set (no-color.org)."""
    clear = safe(text)
    plain = not sys.stdout.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return clear if plain else f"\x1b[1m{clear}\x1b[0m"


def table(rows: Sequence[Sequence[str]], *, right: Sequence[int] = ()) -> str:
    """Rows in columns, the first row as heading; columns in `right` are aligned to the right."""
    cells = [[safe(cell) for cell in row] for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]
    lines = [
        "  ".join(
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]
    return "\n".join([lines[0], "  ".join("-" * width for width in widths), *lines[1:]])
