"""Rows that sum up a table are rejected and no stations, in directories, lists and lists of talkgroups; stations stay."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import polars as pl
import pytest

from pruner.groups.rows import collect_groups
from pruner.job.collect import collect
from pruner.read.station_list import read_list
from pruner.read.totals import TOTALS_ROW, is_totals
from pruner.table.words_cells import EMPTY_CELLS
from pruner.table.words_totals import TOTALS
from pruner.words import schema

IDS = [2_321_001, 2_321_002, 2_321_003, 2_321_004, 2_321_005]
STATIONS = [f"OE1AA{'ABCDE'[place]},{number},Ada,Austria" for place, number in enumerate(IDS)]


def read(tmp_path: Path, rows: list[str], heading: str = "Callsign,ID,Name,Country") -> tuple[list[int], list[str]]:
    source = tmp_path / "list.csv"
    source.write_text("\n".join([heading, *rows]) + "\n")
    with ThreadPoolExecutor(1) as pool:
        found = collect("list", schema.SYSTEMS["dmr"], [source], pool)
    return found.number[found.station].tolist(), [row.detail for row in found.rejected]


@pytest.mark.parametrize(
    "row",
    [
        "TOTAL,300,,France",
        "Summe,300,,",
        "Total,692644850,,",
        "AVERAGE,2321003,,",
        "Sum of all ids,9644850,,Egypt",
        "Anzahl Einträge: 5,5,,",
        "Razem,5,,",
        "合計,5,,",
        "Total entries: 5,,,",
    ],
)
def test_a_row_of_totals_is_rejected(tmp_path: Path, row: str) -> None:
    assert read(tmp_path, [*STATIONS, row]) == (IDS, [TOTALS_ROW])
    assert read(tmp_path, [*STATIONS[:3], row, *STATIONS[3:]]) == (IDS, [TOTALS_ROW])


def test_a_row_of_totals_without_a_column_of_call_signs(tmp_path: Path) -> None:
    rows = [f"{number},Ada,Austria" for number in IDS]
    assert read(tmp_path, [*rows, "300,Total,"], "ID,Name,Country") == (IDS, [TOTALS_ROW])


@pytest.mark.parametrize(
    "row", ["OE1TOT,2321009,Total,Austria", ",2321009,Sum,Austria", "TOTAL,2321009,Ada,Austria", "TOTO,2321009,,Austria"]
)
def test_a_station_stays_whatever_its_name(tmp_path: Path, row: str) -> None:
    assert read(tmp_path, [*STATIONS, row]) == ([*IDS, 2_321_009], [])


def test_lists_of_stations(tmp_path: Path) -> None:
    path = tmp_path / "club.csv"
    path.write_text("\n".join(["Callsign,ID,Name,Country", *STATIONS, "Total,9644850,,"]))
    table = read_list(path)
    path.write_text("\n".join([*map(str, IDS), "Total: 9644850"]))
    plain = read_list(path)
    assert table.ids.tolist() == plain.ids.tolist() == IDS
    assert (table.unusable, plain.unusable, plain.first_unusable) == (1, 1, "line 6: 'Total: 9644850'")
    path.write_text("\n".join([*map(str, IDS), "Sum 2321009"]))
    assert read_list(path).ids.tolist() == [*IDS, 2_321_009]


def test_lists_of_talkgroups(tmp_path: Path) -> None:
    path = tmp_path / "groups.csv"
    path.write_text("Talkgroup,Name\n232,Austria\n2321,Vienna\n262,Germany\n4,Total\n")
    with ThreadPoolExecutor(1) as pool:
        rows = collect_groups("groups", "dmr", path, pool, by_number=True)
    assert [row.detail for row in rows.rejected] == [TOTALS_ROW]
    assert pl.Series(rows.number).head(3).to_list() == [232, 2321, 262]


def test_every_language_has_its_words() -> None:
    assert set(TOTALS) == set(EMPTY_CELLS) - {"mul"}
    assert all(is_totals(entry.replace("_", " ").upper()) for text in TOTALS.values() for entry in text.split())
    assert not any(map(is_totals, ["", "300", "Ada", "Total Ada", "Austria"]))
