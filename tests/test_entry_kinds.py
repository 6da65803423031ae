"""Rows of a directory that a column says to be no stations of its system: groups that are called, and other systems."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import polars as pl
import pytest

import pruner
from pruner.read.system_words import is_of_another

CALLS = [f"OE{place % 9 + 1}K{chr(65 + place // 5)}{chr(65 + place % 5)}" for place in range(20)]


def reasons(path: Path, system: str = "dmr") -> Counter[str | None]:
    radio = pruner.Radio(contacts=100)
    return Counter(pruner.fit(path, rules=[pruner.Keep(name="all")], radio=radio, system=system).ledger["reason"].to_list())


def written(path: Path, lines: list[str]) -> Path:
    path.write_text("\n".join(lines) + "\n")
    return path


#: What the word for the system of a row may be (terms of ETSI, TIA and the NXDN Forum, and one that nobody knows), and whether
#: such a row is one of dmr.
CELLS = {
    "DMR": True,
    "dmr tier II": True,
    "DMR, analogue": True,
    "DMR+FM": True,
    "Tier 2": True,
    "all": True,
    "": True,
    "P25 Phase 1": False,
    "Project 25": False,
    "NXDN48": False,
    "analog": False,
    "FM": False,
    "Quixotic-7": False,
}


@pytest.mark.parametrize("cell", CELLS)
def test_what_a_cell_says_of_the_system(cell: str) -> None:
    assert is_of_another(cell, "dmr") is not CELLS[cell]


@pytest.mark.parametrize("heading", ["Betriebsart", "System", "mode", "système"])
def test_rows_of_other_systems_are_no_contacts(tmp_path: Path, heading: str) -> None:
    cells = list(CELLS)
    rows = [f"{2321100 + 7 * place};{call};Anna;{cells[place % len(cells)]}" for place, call in enumerate(CALLS)]
    path = written(tmp_path / "crew.csv", [f"ID;Call;Name;{heading}", *rows])
    others = sum(not CELLS[cells[place % len(cells)]] for place in range(len(CALLS)))
    assert reasons(path) == {None: len(CALLS) - others, "other system": others}


def test_a_word_for_all_systems_makes_no_groups_of_a_column_of_systems(tmp_path: Path) -> None:
    cells = ["all", "DMR", "P25", "DMR"]
    rows = [f"{2321100 + 7 * place};{call};Anna;{cells[place % 4]}" for place, call in enumerate(CALLS)]
    assert reasons(written(tmp_path / "crew.csv", ["ID;Call;Name;System", *rows])) == {None: 15, "other system": 5}


def test_systems_are_seen_without_headings_where_most_cells_name_them(tmp_path: Path) -> None:
    rows = [f"{2321100 + 7 * place};{call};Anna Kelm;{'P25' if place % 3 else 'DMR'}" for place, call in enumerate(CALLS)]
    assert reasons(written(tmp_path / "crew.csv", rows)) == {None: 7, "other system": 13}


@pytest.mark.parametrize(
    ("heading", "cells"),
    [("Mode", ["mobile", "portable"]), ("Remark", ["DMR since May", "P25 too", ""]), ("System", ["Linux", "BSD"])],
)
def test_columns_of_other_things_leave_all_rows(tmp_path: Path, heading: str, cells: list[str]) -> None:
    rows = [f"{2321100 + 7 * place};{call};Anna;{cells[place % len(cells)]}" for place, call in enumerate(CALLS)]
    assert reasons(written(tmp_path / "crew.csv", [f"ID;Call;Name;{heading}", *rows])) == {None: len(CALLS)}


def test_a_directory_of_another_system_is_refused(tmp_path: Path) -> None:
    rows = [f"{2321100 + 7 * place};{call};Anna;P25" for place, call in enumerate(CALLS)]
    path = written(tmp_path / "crew.csv", ["ID;Call;Name;System", *rows])
    with pytest.raises(pruner.PrunerError, match="'System' says that all rows are of another system than dmr"):
        pruner.stations(path)
    assert reasons(path, "p25") == {None: len(CALLS)}


def kinds(path: Path, words: tuple[str, str], numbers: list[int], headings: bool) -> Path:
    """Stations and groups of these numbers in one table."""
    rows = [f"{place},{words[1]},{call} Ann,{2321100 + 7 * place}" for place, call in enumerate(CALLS)]
    rows += [f"{place},{words[0]},TG {number},{number}" for place, number in enumerate(numbers, len(CALLS))]
    return written(path, [*(["No.,Kind,Label,Number"] if headings else []), *rows])


@pytest.mark.parametrize("headings", [True, False])
@pytest.mark.parametrize(
    ("words", "numbers"),
    [
        (("Group Call", "Private Call"), [232, 2328, 91]),
        (("Gruppenruf", "Einzelruf"), [2321999, 2321888]),  # their numbers are as long as those of stations
        (("Group", "Person"), [232, 2328, 91]),
    ],
)
def test_groups_that_are_called_are_no_contacts(
    tmp_path: Path, words: tuple[str, str], numbers: list[int], headings: bool
) -> None:
    assert reasons(kinds(tmp_path / "crew.csv", words, numbers, headings)) == {None: len(CALLS), "no station": len(numbers)}


def test_members_of_groups_are_contacts(tmp_path: Path) -> None:
    assert reasons(kinds(tmp_path / "crew.csv", ("Group", "Person"), [2321999, 2321888], headings=True)) == {
        None: len(CALLS) + 2
    }


def test_rows_of_other_systems_in_a_frame_are_no_contacts() -> None:
    frame = pl.DataFrame(
        {"id": [2321100, 2321107, 2321114], "callsign": CALLS[:3], "name": ["Ann"] * 3, "system": ["DMR", "NXDN", None]}
    )
    found = pruner.stations(frame)
    assert (found.read, len(found.contacts), found.others, found.groups) == (3, 2, 1, 0)
    fit = pruner.fit(frame, rules=[pruner.Keep(name="all")], radio=pruner.Radio(contacts=100))
    assert fit.ledger["reason"].to_list() == [None, "other system", None]
