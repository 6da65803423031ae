"""Text for a terminal: escaping, numbers, small tables."""

from __future__ import annotations

import os
import sys
import unicodedata
from collections.abc import Sequence
from typing import Final

from pruner.words.printable import safe as safe

WIDTH: Final = 80


def columns(text: str) -> int:
    """How many columns of a terminal a safe text takes: wide characters two (UAX #11), combining marks none."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.category(character) in ("Mn", "Me") else 2 if unicodedata.east_asian_width(character) in "WF" else 1
        for character in text
    )


def shortened(text: str, width: int) -> str:
    """A safe text of at most `width` columns."""
    clear = safe(text)
    if columns(clear) <= width:
        return clear
    end = 0
    while columns(clear[: end + 1]) <= width - 3:
        end += 1
    return clear[:end] + "..."


def filled(text: str, width: int, *, right: bool = False) -> str:
    """A safe text with blanks behind it, or before it, up to `width` columns."""
    blanks = " " * (width - columns(text))
    return blanks + text if right else text + blanks


def paragraph(text: str, indent: str = "") -> str:
    """A safe text broken at spaces into lines of at most 80 columns; a longer word (a path) stays whole."""
    lines: list[str] = []
    for word in safe(text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else indent + word
        if not lines or columns(longer) <= WIDTH:
            lines[-1:] = [longer]
        elif word:
            lines.append(indent + word)
    return "\n".join(line.rstrip(" ") for line in lines)


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
    widths = [max(columns(row[at]) for row in cells) for at in range(len(cells[0]))]
    lines = [
        "  ".join(
            filled(cell, width, right=at in right) for at, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]
    return "\n".join([lines[0], "  ".join("-" * width for width in widths), *lines[1:]])
