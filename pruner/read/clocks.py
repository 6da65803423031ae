"""Times of day in texts -> seconds since midnight.

Receives a text, or a column of them, hands on seconds; a date beside a time of day is not looked at.
"""

from __future__ import annotations

import re
from typing import Final

import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.records import by_text
from pruner.words.number import with_ascii_digits

_CLOCK: Final = r"([0-9]{1,2}):([0-9]{2})(?::([0-9]{2}))?(?:[.,][0-9]+)?(?:\s*([AaPp])\.?\s?[Mm]\b\.?)?"
_AMONG_TEXT: Final = rf"(?:^|[^\d:]){_CLOCK}(?:[^\d:]|$)"
_AT_BEGINNING: Final = re.compile(rf"\W*{_CLOCK}(?![\d:])")


def second_of(text: str) -> int | None:
    """The second of the day that a text begins with, None where it begins with no time of day."""
    clock = _AT_BEGINNING.match(text if text.isascii() else with_ascii_digits(text))
    if clock is None:
        return None
    hour = int(clock[1]) % 12 + 12 * (clock[4] in "Pp") if clock[4] else int(clock[1])
    return hour * 3600 + int(clock[2]) * 60 + int(clock[3] or 0)


def seconds_in(texts: pa.Array) -> pl.Series:
    """The second of the day of the first time of day in each text, null where there is none."""
    if not pc.all(pc.string_is_ascii(texts)).as_py():
        texts = by_text(texts, with_ascii_digits)
    cells: pl.Series = pl.Series("cells", pl.from_arrow(texts)) if len(texts) else pl.Series("cells", [], pl.String)
    hours, minutes, seconds = (cells.str.extract(_AMONG_TEXT, group).cast(pl.Int64) for group in (1, 2, 3))
    half = cells.str.extract(_AMONG_TEXT, 4).str.to_lowercase()
    is_half = half.is_not_null()
    in_half = hours % 12 + (half == "p").fill_null(False).cast(pl.Int64) * 12
    return in_half.zip_with(is_half, hours) * 3600 + minutes * 60 + seconds.fill_null(0)
