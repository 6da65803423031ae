"""Text of chosen records: fetched from the runs it was read in, cleaned once per distinct value.

Receives positions of records over all sources, hands on Arrow arrays in the order of the positions.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa

from pruner import schema
from pruner.clean.text import CHANGE_WORDS, clean_values
from pruner.pipeline.collect import SourceRows
from pruner.reference import countries

_TEXT = pa.dictionary(pa.int32(), pa.string())


def fetch_callsigns(sources: Sequence[SourceRows], records: npt.NDArray[np.int64]) -> pa.Array:
    """Cleaned call signs of records, in the order given."""
    ascending, back = _ascending(records)
    parts = []
    start = 0
    for source in sources:
        for chunk in source.callsign.chunks:
            low, high = np.searchsorted(ascending, (start, start + len(chunk)))
            if low < high:
                parts.append(chunk.take(pa.array(ascending[low:high] - start)))
            start += len(chunk)
    whole = pa.concat_arrays(parts) if parts else pa.array([], pa.string())
    return whole if back is None else whole.take(pa.array(back))


def fetch_text(sources: Sequence[SourceRows], records: npt.NDArray[np.int64], column: str) -> pa.DictionaryArray:
    """A text column of records as it was read, in the order given; null where a source has no such column."""
    ascending, back = _ascending(records)
    parts = []
    start = 0
    for source in sources:
        for texts, first, last in zip(source.texts, source.starts[:-1], source.starts[1:], strict=True):
            low, high = np.searchsorted(ascending, (start + first, start + last))
            if low < high:
                found = texts.get(column)
                parts.append(
                    pa.DictionaryArray.from_arrays(pa.nulls(int(high - low), pa.int32()), pa.array([], pa.string()))
                    if found is None
                    else found.take(pa.array(ascending[low:high] - start - first))
                )
        start += len(source.number)
    whole = pa.chunked_array(parts, _TEXT).unify_dictionaries().combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = pa.concat_arrays(whole.chunks) if whole.num_chunks else pa.array([], _TEXT)
    return whole if back is None else whole.take(pa.array(back))


def _ascending(records: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64] | None]:
    """Records in the order of the files, and how to come back (None: they stood so)."""
    if len(records) < 2 or bool((records[1:] > records[:-1]).all()):
        return records, None
    order = np.argsort(records)
    back = np.empty(len(order), dtype=np.int64)
    back[order] = np.arange(len(order))
    return records[order], back


def written_contacts(
    sources: Sequence[SourceRows],
    records: npt.NDArray[np.int64],
    number: npt.NDArray[np.uint32],
    country: npt.NDArray[np.uint8],
) -> tuple[pl.DataFrame, Counter[str]]:
    """Contacts as they are written (`schema.CONTACT_COLUMNS`, all text cleaned), and what was changed, in contacts."""
    changes: Counter[str] = Counter()
    order = np.argsort(records)
    records, number, country = records[order], number[order], country[order]
    cleaned = {
        column: _cleaned(fetch_text(sources, records, column), column != schema.STATE, changes)
        for column in (schema.NAME, schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE)
    }
    first, last = split_names(cleaned[schema.NAME])
    own_country = _cleaned(fetch_text(sources, records, schema.COUNTRY), True, changes)
    names = pl.Series(countries.NAMES)[country.astype(np.uint32)]
    frame = pl.DataFrame(
        {
            schema.ID: number,
            schema.CALLSIGN: pl.Series(pl.from_arrow(fetch_callsigns(sources, records))),
            schema.FIRST_NAME: cleaned[schema.FIRST_NAME],
            schema.LAST_NAME: cleaned[schema.LAST_NAME],
            schema.TOWN: cleaned[schema.TOWN],
            schema.STATE: cleaned[schema.STATE],
            schema.COUNTRY: names,
            "first": first,
            "last": last,
            "own_country": own_country,
        }
    )
    back = np.empty(len(order), dtype=np.uint32)
    back[order] = np.arange(len(order), dtype=np.uint32)
    return frame[back].select(
        schema.ID,
        pl.col(schema.CALLSIGN).fill_null(""),
        _or(schema.FIRST_NAME, "first"),
        _or(schema.LAST_NAME, "last"),
        schema.TOWN,
        schema.STATE,
        _or(schema.COUNTRY, "own_country"),
    ), changes


def _or(column: str, other: str) -> pl.Expr:
    return pl.when(pl.col(column) == "").then(pl.col(other)).otherwise(pl.col(column)).alias(column)


def _cleaned(column: pa.DictionaryArray, name_like: bool, changes: Counter[str]) -> pl.Series:
    texts, marks = clean_values(column.dictionary.to_pylist(), name_like=name_like)
    codes = column.indices.fill_null(len(texts)).to_numpy(zero_copy_only=False)
    rows = np.bincount(codes, minlength=len(texts) + 1)[: len(texts)]
    for bit, word in enumerate(CHANGE_WORDS):
        changes[word] += int(rows[(marks >> bit) & 1 == 1].sum())
    return pl.Series([*texts, ""])[codes.astype(np.uint32)]


def split_names(names: pl.Series) -> tuple[pl.Series, pl.Series]:
    """First and last name of whole names: at ", " turned round, else at the first space."""
    frame = names.to_frame("name").select(
        turned=pl.col("name").str.contains(", ", literal=True),
        comma=pl.col("name").str.splitn(", ", 2),
        space=pl.col("name").str.splitn(" ", 2),
    )
    frame = frame.select(
        first=pl.when("turned").then(pl.col("comma").struct[1]).otherwise(pl.col("space").struct[0]).fill_null(""),
        last=pl.when("turned").then(pl.col("comma").struct[0]).otherwise(pl.col("space").struct[1]).fill_null(""),
    )
    return frame["first"], frame["last"]
