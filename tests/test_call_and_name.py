"""A call sign and a name in one cell are taken apart."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from pruner.job.collect import SourceRows, collect
from pruner.table.facts import call_and_name
from pruner.words import schema

NAMES = ["Ada", "Bela Kelm", "Cleo", "Dario", "Edda"]
CELLS = [f"OE1A{chr(65 + place)}X {name}" for place, name in enumerate(NAMES)]


def collected(path: Path, rows: list[str]) -> SourceRows:
    path.write_text("\n".join(rows) + "\n")
    with ThreadPoolExecutor(1) as pool:
        return collect("list", schema.SYSTEMS["dmr"], [path], pool)


@pytest.mark.parametrize("heading", ["Contact", "Name", "Entry"])
def test_call_sign_and_name_in_one_cell(tmp_path: Path, heading: str) -> None:
    rows = [f"{2_321_001 + place},{cell},Austria" for place, cell in enumerate([*CELLS, "Falk"])]
    found = collected(tmp_path / "list.csv", [f"Radio ID,{heading},Country", *rows])
    assert found.callsign.to_pylist() == [*(cell.split()[0] for cell in CELLS), None]
    assert found.texts[0][schema.NAME].to_pylist() == [*NAMES, "Falk"]
    sentence = found.understanding.sentence()
    assert f"call sign from '{heading}' (by its cells)" in sentence or f"call sign and name from '{heading}'" in sentence


def test_in_tables_side_by_side(tmp_path: Path) -> None:
    rows = [f"{2_321_001 + place},{cell},{2_321_011 + place},{cell}" for place, cell in enumerate(CELLS)]
    found = collected(tmp_path / "list.csv", ["Radio ID,Name,Radio ID,Name", *rows])
    assert found.callsign.to_pylist() == [cell.split()[0] for cell in CELLS for _ in range(2)]
    assert found.texts[0][schema.NAME].to_pylist() == [name for name in NAMES for _ in range(2)]


def test_where_a_column_holds_call_signs_names_stay(tmp_path: Path) -> None:
    rows = [f"{2_321_001 + place},{cell.split()[0]},{cell}" for place, cell in enumerate(CELLS)]
    found = collected(tmp_path / "list.csv", ["Radio ID,Call,Name", *rows])
    assert found.texts[0][schema.NAME].to_pylist() == CELLS


@pytest.mark.parametrize(
    ("cell", "parts"),
    [
        ("OE1ABC (Ada)", ("OE1ABC", "Ada")),
        ("OE1ABC - Ada Kelm", ("OE1ABC", "Ada Kelm")),
        ("oe1abc, Ada", ("oe1abc", "Ada")),
        ("OE1ABC", ("", "OE1ABC")),
        ("Ada OE1ABC", ("OE1ABC", "Ada")),
        ("OE1ABC 7", ("", "OE1ABC 7")),
    ],
)
def test_what_is_a_call_sign_and_a_name(cell: str, parts: tuple[str, str]) -> None:
    assert call_and_name(cell) == parts
