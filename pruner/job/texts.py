"""Text of chosen records: fetched from the runs it was read in, cleaned once per distinct value.

Receives positions of records over all sources, hands on Arrow arrays in the order of the positions; frames are made of them
for those who go on with frames.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.clean.text import CHANGE_WORDS, clean_texts
from pruner.job.collect import SourceRows
from pruner.reference import countries
from pruner.words import schema
from pruner.words.frames import series_of

if TYPE_CHECKING:
    import polars as pl

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
                places = pa.array(ascending[low:high] - start - first)
                parts.append(texts[column].take(places) if column in texts else pa.nulls(len(places), pa.string()))
        start += len(source.number)
    coded = [part if pa.types.is_dictionary(part.type) else part.dictionary_encode() for part in parts]
    whole = pa.chunked_array(coded, _TEXT).unify_dictionaries().combine_chunks()
    if isinstance(whole, pa.ChunkedArray):
        whole = pa.concat_arrays(whole.chunks) if whole.num_chunks else pa.array([], _TEXT)
    return whole if back is None else whole.take(pa.array(back))


@dataclass(frozen=True, slots=True)
class RecordTexts:
    """Texts of chosen records (`rules.contacts.Texts`): `records` are positions over all sources."""

    sources: Sequence[SourceRows]
    records: npt.NDArray[np.int64]

    def callsigns(self) -> pa.Array:
        """Call signs as they were cleaned."""
        return fetch_callsigns(self.sources, self.records)

    def text(self, column: str) -> pa.DictionaryArray:
        """A text column as it was read."""
        return fetch_text(self.sources, self.records, column)

    def part(self, low: int, high: int) -> RecordTexts:
        """Those of the records at the positions `low` to `high`."""
        return RecordTexts(self.sources, self.records[low:high])


def _ascending(records: npt.NDArray[np.int64]) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64] | None]:
    """Records in the order of the files, and how to come back (None: they stood so)."""
    if len(records) < 2 or bool((records[1:] > records[:-1]).all()):
        return records, None
    order = np.argsort(records)
    back = np.empty(len(order), dtype=np.int64)
    back[order] = np.arange(len(order))
    return records[order], back


@dataclass(frozen=True, slots=True)
class Coded:
    """A text column: distinct `values`, and the code (uint32) of each entry."""

    values: pa.StringArray
    codes: npt.NDArray[np.uint32]

    def part(self, part: slice) -> pa.StringArray:
        """The texts of some entries."""
        return self.values.take(pa.array(self.codes[part]))

    def or_else(self, other: Coded) -> Coded:
        """Each text, or where it is empty the text of the other column."""
        empty = pc.equal(self.values, "").to_numpy(zero_copy_only=False)
        codes = np.where(empty[self.codes], other.codes + np.uint32(len(self.values)), self.codes)
        return Coded(pa.concat_arrays([self.values, other.values]), codes)


@dataclass(frozen=True, slots=True)
class WrittenColumns:
    """Contacts as they are written, still one code per distinct text."""

    number: npt.NDArray[np.uint32]
    callsign: pa.Array
    texts: dict[str, Coded]

    def table(self, part: slice = slice(None)) -> pa.Table:
        """Some contacts as `schema.CONTACT_COLUMNS`."""
        start, stop, _ = part.indices(len(self.number))
        columns = {schema.ID: pa.array(self.number[part])}
        columns[schema.CALLSIGN] = self.callsign.slice(start, stop - start).fill_null("")
        columns |= {column: coded.part(part) for column, coded in self.texts.items()}
        return pa.table({column: columns[column] for column in schema.CONTACT_COLUMNS})

    def frame(self) -> pl.DataFrame:
        """All contacts as a frame of the same columns."""
        import polars as pl  # a plain fit goes on with tables

        columns = {schema.ID: pl.Series(self.number), schema.CALLSIGN: series_of(self.callsign).fill_null("")}
        columns |= {column: series_of(coded.values)[coded.codes] for column, coded in self.texts.items()}
        return pl.DataFrame({column: columns[column] for column in schema.CONTACT_COLUMNS})


def written_columns(
    sources: Sequence[SourceRows],
    records: npt.NDArray[np.int64],
    number: npt.NDArray[np.uint32],
    country: npt.NDArray[np.uint8],
    *,
    as_read: bool = False,
) -> tuple[WrittenColumns, Counter[str]]:
    """Contacts as they are written (all text cleaned), in the order given, and what was changed, in contacts. `as_read`:
    capitals stay, and countries are called as the source calls them."""
    changes: Counter[str] = Counter()
    order = np.argsort(records)
    back = np.empty(len(order), dtype=np.int64)
    back[order] = np.arange(len(order))
    ascending = records[order]

    def cleaned(column: str, *, name_like: bool = True) -> Coded:
        coded = _cleaned(fetch_text(sources, ascending, column), name_like and not as_read, changes)
        return Coded(coded.values, coded.codes[back])

    whole = cleaned(schema.NAME)
    first, last = split_names(whole.values)
    called, named = cleaned(schema.COUNTRY), Coded(pa.array(countries.NAMES), country.astype(np.uint32))
    texts = {
        schema.FIRST_NAME: cleaned(schema.FIRST_NAME).or_else(Coded(first, whole.codes)),
        schema.LAST_NAME: cleaned(schema.LAST_NAME).or_else(Coded(last, whole.codes)),
        schema.TOWN: cleaned(schema.TOWN),
        schema.STATE: cleaned(schema.STATE, name_like=False),
        schema.COUNTRY: called.or_else(named) if as_read else named.or_else(called),
    }
    return WrittenColumns(number, fetch_callsigns(sources, ascending).take(pa.array(back)), texts), changes


def written_contacts(
    sources: Sequence[SourceRows],
    records: npt.NDArray[np.int64],
    number: npt.NDArray[np.uint32],
    country: npt.NDArray[np.uint8],
) -> tuple[pl.DataFrame, Counter[str]]:
    """The same as one frame of `schema.CONTACT_COLUMNS`."""
    columns, changes = written_columns(sources, records, number, country)
    return columns.frame(), changes


def texts_as_read(sources: Sequence[SourceRows], records: npt.NDArray[np.int64]) -> dict[str, list[str]]:
    """The texts of records, "" where there are none, as their files say them: names cut as contacts are, nothing cleaned."""
    columns = (schema.NAME, schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE, schema.COUNTRY)
    texts = {name: fetch_text(sources, records, name).cast(pa.string()).fill_null("") for name in columns}
    halves = split_names(texts.pop(schema.NAME))
    for name, half in zip((schema.FIRST_NAME, schema.LAST_NAME), halves, strict=True):
        texts[name] = pc.if_else(pc.equal(texts[name], ""), half, texts[name])
    return {name: column.to_pylist() for name, column in texts.items()}


def _cleaned(column: pa.DictionaryArray, name_like: bool, changes: Counter[str]) -> Coded:
    texts, marks = clean_texts(column.dictionary, name_like=name_like)
    codes = column.indices.fill_null(len(texts)).to_numpy(zero_copy_only=False).astype(np.uint32)
    rows = np.bincount(codes, minlength=len(texts) + 1)[: len(texts)]
    for bit, word in enumerate(CHANGE_WORDS):
        changes[word] += int(rows[(marks >> bit) & 1 == 1].sum())
    return Coded(pa.concat_arrays([texts, pa.array([""])]), codes)


def split_names(names: pa.StringArray) -> tuple[pa.StringArray, pa.StringArray]:
    """First and last name of whole names: at ", " turned round, else at the first space."""
    turned = pc.match_substring(names, ", ")
    (behind, ahead), (first, last) = _halves(names, ", "), _halves(names, " ")
    return pc.if_else(turned, ahead, first), pc.if_else(turned, behind, last)


def _halves(texts: pa.StringArray, mark: str) -> tuple[pa.StringArray, pa.StringArray]:
    """What stands before the first mark, and what behind it ("" where there is none)."""
    parts = pc.split_pattern(texts, mark, max_splits=1)
    starts, ends = parts.offsets[:-1], parts.offsets[1:]
    second = pc.if_else(pc.equal(pc.subtract(ends, starts), 2), pc.subtract(ends, 1), None)
    return parts.values.take(starts), parts.values.take(second).fill_null("")
