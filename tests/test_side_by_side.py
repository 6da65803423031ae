"""Tables that stand side by side under repeated headings: every entry is read once, with its own cells."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.groups.rows import collect_groups
from pruner.job.collect import SourceRows, collect
from pruner.read.station_list import read_list
from pruner.table.side_by_side import parted_blocks, repeated_blocks
from pruner.words import schema

NAMES = ["Ada", "Bela", "Cleo", "Dario", "Edda", "Falk", "Gerda", "Hedi", "Ivo", "Jana", "Karl"]
STATIONS = [(f"OE1A{chr(65 + place)}X", 2_321_001 + place, name) for place, name in enumerate(NAMES)]


def collected(path: Path, text: str) -> SourceRows:
    path.write_text(text, encoding="utf-8")
    with ThreadPoolExecutor(1) as pool:
        return collect("list", schema.SYSTEMS["dmr"], [path], pool)


def stations(found: SourceRows, column: str = schema.NAME) -> list[tuple[str | None, int, str | None]]:
    names = [name for texts in found.texts for name in texts[column].to_pylist()]
    rows = zip(found.callsign.to_pylist(), found.number.tolist(), names, strict=True)
    return sorted(rows, key=lambda row: row[1])


def beside(tables: int, between: str = ",,", heading: str = "Callsign,ID,Name", *, is_ragged: bool = False) -> str:
    """The stations in so many tables, the first the longest; `is_ragged`: rows end behind their last filled cell."""
    height = -(-len(STATIONS) // tables)
    columns = [STATIONS[place * height : (place + 1) * height] for place in range(tables)]
    lines = [between.join([heading] * tables)]
    for row in range(height):
        cells = [",".join(map(str, column[row])) if row < len(column) else ",," for column in columns]
        line = between.join(cells)
        lines.append(line.rstrip(",") if is_ragged else line)
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("tables", [2, 3, 4])
@pytest.mark.parametrize("between", [",", ",,", ",,,"])
@pytest.mark.parametrize("is_ragged", [False, True])
def test_every_station_is_read_once_with_its_own_cells(tmp_path: Path, tables: int, between: str, is_ragged: bool) -> None:
    found = collected(tmp_path / "list.csv", beside(tables, between, is_ragged=is_ragged))
    assert stations(found) == STATIONS
    assert not found.rejected
    assert f"{tables} tables side by side: a row holds up to {tables} entries" in found.understanding.sentence()


def test_numbered_headings_and_a_column_for_all(tmp_path: Path) -> None:
    rows = [
        f"{place},OE1A{place}A,232100{place},Ada,OE1B{place}B,232110{place},Bela,{('Austria', 'Germany')[place % 2]}"
        for place in range(1, 7)
    ]
    heading = "No,Call 1,ID 1,Name 1,Call 2,ID 2,Name 2,Country"
    found = collected(tmp_path / "list.csv", "\n".join([heading, *rows]) + "\n")
    assert len(stations(found)) == 12
    assert {(call[3], name) for call, _, name in stations(found) if call} == {("A", "Ada"), ("B", "Bela")}
    assert [place for _, _, place in stations(found, schema.COUNTRY)] == 2 * (3 * ["Germany", "Austria"])


def test_a_bad_entry_is_rejected_alone(tmp_path: Path) -> None:
    text = beside(2).replace(",2321008,", ",none,")
    found = collected(tmp_path / "list.csv", text + "OE1,1,2,3,4,5,6,7,8,9\n")
    assert [(row.line, row.reason) for row in found.rejected] == [(3, "invalid id"), (8, "unreadable row")]
    assert len(found.number) == len(STATIONS) + 1


def test_lists_of_stations_and_of_talkgroups(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(beside(2))
    listed = read_list(path)
    assert listed.ids.tolist() == [number for _, number, _ in STATIONS]
    assert listed.callsigns == {call for call, _, _ in STATIONS}
    path.write_text("TG,Name,,TG,Name\n232,Austria,,262,Germany\n2321,Vienna,,2621,Coast\n2322,Salt,,2622,Hills\n")
    with ThreadPoolExecutor(1) as pool:
        groups = collect_groups("groups", "dmr", path, pool, by_number=True)
    named = dict(zip(groups.number.tolist(), groups.name.to_pylist(), strict=True))
    assert named == {232: "Austria", 262: "Germany", 2321: "Vienna", 2621: "Coast", 2322: "Salt", 2622: "Hills"}


@pytest.mark.parametrize(
    "headings", ["Call,ID 1,ID 2,Name", "Call,ID,Name,Town,State", "ID,Call,First name,Last name", "Town 1,Town 2,Call,ID"]
)
def test_what_does_not_come_again_is_no_block(headings: str) -> None:
    assert not repeated_blocks(headings.split(","))


@given(st.integers(2, 5), st.integers(2, 5), st.integers(0, 2), st.integers(0, 2))
def test_blocks_lie_where_the_headings_repeat(tables: int, width: int, gap: int, before: int) -> None:
    words = ["call", "id", "name", "town", "country"][:width]
    headings = [*["key", "remark"][:before], *((words + [""] * gap) * tables)]
    found = repeated_blocks(headings)
    assert [block.start for block in found] == [before + place * (width + gap) for place in range(tables)]
    assert all(len(block) == width for block in found)


def test_tables_with_columns_of_their_own_keep_to_their_rows(tmp_path: Path) -> None:
    lines = [
        "Members;;;;Repeaters;;",
        "Call;ID;Name;;Call;ID;Town",
        "OE3AXA;2323001;Ada;;OE3XAA;232301;Horn",
        "OE3AXB;2323002;Bela;;OE1XCC;232101;Wien",
        "OE3AXC;2323003;Cleo",
    ]
    found = collected(tmp_path / "list.csv", "\n".join(lines) + "\n")
    assert [
        (call, number, name, town)
        for (call, number, name), (*_, town) in zip(stations(found), stations(found, schema.TOWN), strict=True)
    ] == [
        ("OE1XCC", 232101, None, "Wien"),
        ("OE3XAA", 232301, None, "Horn"),
        ("OE3AXA", 2323001, "Ada", None),
        ("OE3AXB", 2323002, "Bela", None),
        ("OE3AXC", 2323003, "Cleo", None),
    ]
    assert not found.rejected
    assert "town from 'Town'" in found.understanding.sentence()


@pytest.mark.parametrize("heading", ["Call,ID,Name,,Remark,Note", "Call,ID,Name,,Call,Remark", "Call,ID,,Name,Town", ",,,"])
def test_headings_that_are_not_shared_part_no_tables(heading: str) -> None:
    assert parted_blocks(heading.split(",")) == []
