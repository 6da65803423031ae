"""Directories in which another table with other columns follows: its stations are read, its other cells are nobody's names."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from pruner.job.collect import SourceRows, collect
from pruner.words import schema

MEMBERS = "Callsign,DMR ID,First name,City\nDL1AXA,2620101,Hanno,Bremen\nDL1AXB,2620102,Imke,Kiel\n"
REPEATERS = "DB0AXA,262901,439.5625,Bremen\nDB0AXB,262902,438.2000,Kiel\n"


def collected(folder: Path, data: bytes) -> SourceRows:
    path = folder / "list.csv"
    path.write_bytes(data)
    with ThreadPoolExecutor(1) as pool:
        return collect("list", schema.SYSTEMS["dmr"], [path], pool)


def told(found: SourceRows) -> list[tuple[int, str | None, str | None]]:
    names = [name for texts in found.texts for name in texts[schema.FIRST_NAME].to_pylist()]
    towns = [town for texts in found.texts for town in texts[schema.TOWN].to_pylist()]
    return list(zip(found.number.tolist(), names, towns, strict=True))


PEOPLE = [(2620101, "Hanno", "Bremen"), (2620102, "Imke", "Kiel")]
MACHINES = [(262901, None, "Bremen"), (262902, None, "Kiel")]


@pytest.mark.parametrize("quote", ["", '"'])
def test_cells_under_other_headings_are_not_taken(tmp_path: Path, quote: str) -> None:
    text = f"{MEMBERS}Callsign,DMR ID,Output MHz,City\n{REPEATERS}"
    if quote:
        text = "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in text.splitlines()) + "\n"
    found = collected(tmp_path, text.encode())
    assert told(found) == PEOPLE + MACHINES
    assert not found.rejected


def test_the_first_headings_count_again_where_they_come_again(tmp_path: Path) -> None:
    again = MEMBERS.replace("DL1AX", "DL2AX").replace("2620", "2621")
    text = f"{MEMBERS}Callsign,DMR ID,Output MHz,City\n{REPEATERS}{again}none,x,y,z\n"
    found = collected(tmp_path, text.encode())
    assert told(found)[:6] == PEOPLE + MACHINES + [(2621101, "Hanno", "Bremen"), (2621102, "Imke", "Kiel")]
    assert [row.line for row in found.rejected] == [10]


@pytest.mark.parametrize("encoding", ["utf-8", "cp1252"])
def test_headings_that_only_come_again_change_nothing(tmp_path: Path, encoding: str) -> None:
    heading = "Rufzeichen,DMR ID,Vorname,Größe,Ort"
    rows = [f"DL1AX{letter},262010{place},Jörg,{place},Köln" for place, letter in enumerate("ABCDEFGH")]
    text = "\n".join([heading, *rows[:4], heading, *rows[4:]]) + "\n"
    assert told(collected(tmp_path, text.encode(encoding))) == [(2620100 + place, "Jörg", "Köln") for place in range(8)]
