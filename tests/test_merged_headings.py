"""Headings in two lines, with cells that reach over several columns, as workbooks have them; and hidden sheets."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

import pruner
from pruner.table.row_shapes import two_lines

PERSONS = [("OE1KAA", "Ada", "Roth", "Graz", 2321003), ("OE2KAB", "Bruno", "Orsin", "Linz", 2321058)]
PERSONS += [("OE3KAC", "Cilli", "Wels", "Steyr", 2321158), ("OE4KAD", "Dario", "Ibsen", "Wels", 2321253)]


@pytest.mark.parametrize(
    ("upper", "lower", "whole"),
    [
        (["Call", "Person", "", "ID"], ["", "First", "Last", ""], ["Call", "First", "Last", "ID"]),
        (["Name", "", "Rufz.", "ID"], ["Vor", "Nach", "", ""], ["Vorname", "Nachname", "Rufz.", "ID"]),
        (["Call", "Person", "", "", ""], ["", "First name", "Town", "Surname", "ID"], None),
        (["Call", "Person", "", "ID"], ["OE1KAA", "Ada", "Roth", "2321003"], None),  # a record
        (["Call", "Name", "Town", "ID"], ["", "First", "", ""], None),  # nothing reaches over several
        (["Members of 2026", "", "", ""], ["Call", "First", "", "ID"], None),  # a title
    ],
)
def test_headings_of_two_lines(upper: list[str], lower: list[str], whole: list[str] | None) -> None:
    if whole is not None or len(upper) == 5:
        assert two_lines(upper, lower) == (whole or ["Call", "First name", "Town", "Surname", "ID"])
    else:
        assert two_lines(upper, lower) == []


@pytest.mark.parametrize("titles", [0, 2])
@pytest.mark.parametrize("words", [("Person", "First", "Last"), ("Name", "Vor", "Nach"), ("Who", "Given name", "Family name")])
def test_names_below_a_merged_cell_are_read(tmp_path: Path, titles: int, words: tuple[str, str, str]) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for number in range(titles):
        sheet.append([f"Round {number}"])
    sheet.append(["Call", words[0], None, "Place", "ID"])
    sheet.append([None, words[1], words[2], None, None])
    sheet.merge_cells(start_row=titles + 1, start_column=2, end_row=titles + 1, end_column=3)
    for person in PERSONS:
        sheet.append(person)
    book.save(tmp_path / "crew.xlsx")
    found = pruner.stations(tmp_path / "crew.xlsx")
    assert found.contacts.select("callsign", "first_name", "last_name", "town", "id").rows() == PERSONS


def test_a_hidden_sheet_is_not_read_and_named(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for target, persons in ((sheet, PERSONS[:2]), (book.create_sheet("Away"), PERSONS[2:])):
        target.append(["Call", "First name", "Surname", "Town", "ID"])
        for person in persons:
            target.append(person)
    book["Away"].sheet_state = "hidden"
    book.save(tmp_path / "crew.xlsx")
    found = pruner.stations(tmp_path / "crew.xlsx")
    assert found.contacts["id"].to_list() == [2321003, 2321058]
    assert "Away (hidden)" in found.understood[0]
