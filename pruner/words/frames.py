"""Between tables of Arrow, which a plain fit goes on with, and frames, which everything richer is written in.

Loading the library of frames takes longer than all that a plain fit would do with it, so it is loaded where a frame is made.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pyarrow as pa

if TYPE_CHECKING:
    import polars as pl


def series_of(texts: pa.StringArray) -> pl.Series:
    """Texts as a column of a frame."""
    import polars as pl

    return pl.Series(pl.from_arrow(texts), dtype=pl.String)


def array_of(texts: pl.Series) -> pa.StringArray:
    """A column of texts of a frame as an Arrow array."""
    return texts.to_arrow().cast(pa.string())


def table_of(frame: pl.DataFrame) -> pa.Table:
    """A frame as a table; texts are of the type that Arrow's functions take together (`pa.string`)."""
    table = frame.to_arrow().combine_chunks()
    texts = [pa.types.is_large_string(kind) or pa.types.is_string_view(kind) for kind in table.schema.types]
    kinds = [pa.string() if is_text else kind for is_text, kind in zip(texts, table.schema.types, strict=True)]
    return table.cast(pa.schema(zip(table.column_names, kinds, strict=True)))
