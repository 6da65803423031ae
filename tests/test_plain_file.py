"""The plain contact file and what it is made of, against what others make of the same texts: polars, the csv module, str."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import polars as pl
import pyarrow as pa
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.job.texts import split_names
from pruner.layout.plain import plain_cells, write_plain
from pruner.words import schema
from pruner.words.frames import array_of, series_of, table_of

TEXTS = st.text(st.sampled_from("aZß,;\"' \n\r=+-@0"), max_size=4) | st.text(st.characters(codec="utf-8"), max_size=6)
CELLS = {name: pl.UInt32 if name == schema.ID else pl.String for name in schema.CONTACT_COLUMNS}
ROWS = st.lists(st.tuples(*(st.integers(1, 2**32 - 1) if name == schema.ID else TEXTS for name in CELLS)), max_size=8)


def written(parts: list[pl.DataFrame], path: Path) -> str:
    write_plain([plain_cells(table_of(part)) for part in parts], path)
    return path.read_bytes().decode()


@draws(100)
@given(st.lists(ROWS, max_size=4))
def test_the_file_is_what_polars_and_the_csv_module_make_of_it(
    tmp_path_factory: pytest.TempPathFactory, parts: list[list[tuple[object, ...]]]
) -> None:
    frames = [pl.DataFrame(rows, schema=CELLS, orient="row") for rows in parts]
    text = written(frames, tmp_path_factory.mktemp("plain") / "contacts.csv")
    whole = pl.concat([pl.DataFrame(schema=CELLS), *frames])
    whole = whole.with_columns(pl.col(schema.CALLSIGN).str.strip_chars_start("=+-@"))
    assert text == whole.with_columns(pl.col(pl.String).replace("", None)).write_csv()
    rows = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert rows == [list(schema.CONTACT_COLUMNS), *([str(cell) for cell in row] for row in whole.rows())]


@given(st.lists(st.text(st.sampled_from("ab, é\n"), max_size=8), max_size=6))
def test_names_are_cut_at_the_first_mark(names: list[str]) -> None:
    first, last = split_names(pa.array(names, pa.string()))
    turned = [name.partition(", ")[::-2] if ", " in name else name.partition(" ")[::2] for name in names]
    assert list(zip(first.to_pylist(), last.to_pylist(), strict=True)) == turned


@given(st.lists(st.none() | TEXTS, max_size=6))
def test_texts_are_the_same_on_both_sides(texts: list[str | None]) -> None:
    array = pa.array(texts, pa.string())
    assert series_of(array).to_list() == texts
    assert array_of(series_of(array)).equals(array)
    table = table_of(pl.DataFrame({"text": texts, "number": range(len(texts))}, schema={"text": pl.String, "number": pl.UInt8}))
    assert table.schema.types == [pa.string(), pa.uint8()]
    assert table["text"].to_pylist() == texts
