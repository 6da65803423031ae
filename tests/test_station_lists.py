"""Lists in rules: plain text with one or several stations a line, tables of any kind, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from pruner.read.station_list import read_list
from pruner.words.errors import InputRefusedError, SourceMissingError

LISTS = {
    "one a line": "# club\n2321001\n 0002321002 \noe1abc/p # guest\n\nOE1ABC-7\n2321003.0\n232100405\n",
    "quoted": '"2321001"\n"2321002"\n"2321003"\n"2321004"\n"oe1abc"\n',
    "comma": "Name,DMR ID,Call Sign\nAnna,2321001,OE1ABC\nB,2321002,\nC,2321003,oe1abc\nD,2321004,\n",
    "semicolon": "# members\nStation-ID;Station\n2321001;OE1ABC\n2321002;OE1ABC\n2321003;\n2321004\n",
    "tab": "Call\tId\nOE1ABC\t2321001\n\t2321002\n\t2321003\n\t2321004\n",
    "bar": "number|callsign\n2321001|OE1ABC\n2321002|\n2321003|\n2321004|\n",
    "one column": "ID\n2321001\n2321002\n2321003\n2321004\n",
}


@pytest.mark.parametrize("name", LISTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_lists(tmp_path: Path, name: str, encoding: str) -> None:
    path = tmp_path / "list.txt"
    path.write_bytes(LISTS[name].replace("\n", "\r\n" if encoding == "utf-16" else "\n").encode(encoding))
    listed = read_list(path)
    assert listed.ids.dtype == np.uint32
    assert listed.ids.tolist() == [2321001, 2321002, 2321003, 2321004]
    assert listed.callsigns == (frozenset() if name == "one column" else {"OE1ABC"})


@pytest.mark.parametrize(
    ("text", "line", "sentence"),
    [
        ("2321001\n0\n", 2, "expected an id"),
        ("16777216\n", 1, "expected an id"),
        ("\n\n23x\x1b[31m!\n", 3, "'23x?[31m!'"),
        ("OE1ABC\nAnna\n", 2, "expected an id or a call sign"),
        ("OE1ABC\n2321009-2321001\n", 2, "runs backwards"),
        ("OE1ABC\nnobody " + "x" * 200_000, 2, "far too long"),
    ],
)
def test_bad_lists_get_one_line(tmp_path: Path, text: str, line: int, sentence: str) -> None:
    path = tmp_path / "list.txt"
    path.write_text(text)
    with pytest.raises(InputRefusedError) as caught:
        read_list(path)
    assert str(caught.value).startswith(f"{path}:{line}: ")
    assert sentence in str(caught.value)
    assert str(caught.value).isprintable()


def test_empty_and_missing_lists(tmp_path: Path) -> None:
    (tmp_path / "empty.txt").write_text("# nobody yet\n")
    listed = read_list(tmp_path / "empty.txt")
    assert (len(listed.ids), listed.callsigns, listed.entries) == (0, frozenset(), 0)
    with pytest.raises(SourceMissingError):
        read_list(tmp_path / "gone.txt")


SEVERAL = {
    "commas": "OE1ABC, DL1ABC, 2321001",
    "blanks": "OE1ABC DL1ABC\n2321001",
    "names beside": "OE1ABC Anna\nDL1ABC # Carla\n  2321001 (guest)\n",
    "numbered": "1. OE1ABC\n2. DL1ABC\n3) 2321001\n",
    "comments of all kinds": "// club\n; note\n-- note\n% note\nOE1ABC // Anna\nDL1ABC\n2321001\n",
    "title": "Our club\nOE1ABC\nDL1ABC\n2321001\n",
    "no headings": "2321001,OE1ABC\n2321001,DL1ABC\n",
    "one cell": "station;name\n2321001 OE1ABC;Anna\n2321001 DL1ABC;Carla\n2321001 OE1ABC;Anna\n",
}


@pytest.mark.parametrize("name", SEVERAL)
def test_several_stations_and_what_stands_around_them(tmp_path: Path, name: str) -> None:
    path = tmp_path / "list.txt"
    path.write_text(SEVERAL[name])
    listed = read_list(path)
    assert listed.ids.tolist() == [2321001]
    assert listed.callsigns == {"OE1ABC", "DL1ABC"}


def test_ranges_and_patterns(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text("2321000-2321009\nOE1*\n2622*\nDL?ABC\n")
    listed = read_list(path)
    assert listed.ranges == ((2321000, 2321009), (2622000, 2622999))
    assert listed.patterns == ("DL?ABC", "OE1*")


def test_membership_numbers_are_no_ids(tmp_path: Path) -> None:
    path = tmp_path / "club.csv"
    path.write_text("Number,Call sign,Name\n2621235,OE1XYZ,Anna\n2301234,DL1ABC,Carla\n17,F4XYZ,Eve\n")
    listed = read_list(path)
    assert not len(listed.ids)
    assert listed.callsigns == {"OE1XYZ", "DL1ABC", "F4XYZ"}


def test_an_entry_that_is_meant_not_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text("OE1*\n!OE1XYZ\n")
    with pytest.raises(
        InputRefusedError, match=r"list\.txt:2: expected an id or a call sign, got '!OE1XYZ'; correct or delete"
    ):
        read_list(path)


def test_a_list_in_json(tmp_path: Path) -> None:
    path = tmp_path / "club.json"
    path.write_text(json.dumps([{"dmr_id": 2321001, "call": "OE1ABC"}, {"dmr_id": 2621001, "call": "DL1ABC"}]))
    assert read_list(path).ids.tolist() == [2321001, 2621001]


def test_rows_of_a_table_that_name_nobody_are_counted(tmp_path: Path) -> None:
    path = tmp_path / "club.csv"
    path.write_text("id;call\n2321001;OE1ABC\n;\nnone;?\n2321002;OE1ABD\n")
    listed = read_list(path)
    assert (listed.entries, listed.unusable) == (2, 1)
    assert "name nobody" in listed.sentence()


@pytest.mark.parametrize(
    ("text", "ids", "callsigns"),
    [
        ("Friends\n=======\n2321234 Anna\n-------\n2321235 Bert\n", {2321234, 2321235}, set()),
        ("* OE1ABC: 2321234\n* OE1XYZ: 2321235\n", {2321234, 2321235}, {"OE1ABC", "OE1XYZ"}),
        ("Our members\n* OE1ABC\n* OE1XYZ\n", set(), {"OE1ABC", "OE1XYZ"}),
        ("* 2321299 has left\n2321234\n", {2321234}, set()),
        ("- OE1ABC\n* OE1XYZ\n1. OE1AAA\n", set(), {"OE1AAA", "OE1ABC", "OE1XYZ"}),
    ],
)
def test_lines_that_are_drawn_and_bullets(tmp_path: Path, text: str, ids: set[int], callsigns: set[str]) -> None:
    path = tmp_path / "list.txt"
    path.write_text(text, encoding="utf-8")
    listed = read_list(path)
    assert (set(listed.ids), set(listed.callsigns)) == (ids, callsigns)


@pytest.mark.parametrize(
    "text",
    [
        '["OE1AAA", 2320002]',
        '{"club": ["OE1AAA", "2320002"]}',
        '{"name": "club", "members": ["OE1AAA", 2320002], "year": 2026}',
    ],
)
def test_a_json_list_of_texts_and_numbers(tmp_path: Path, text: str) -> None:
    path = tmp_path / "list.json"
    path.write_text(text)
    listed = read_list(path)
    assert (listed.ids.tolist(), set(listed.callsigns)) == ([2320002], {"OE1AAA"})


@pytest.mark.parametrize(
    "text", ["OE1AAA/OE1BBB\n", "Mitglieder 2026\n\nOE1AAA\nOE1BBB\n", "Our club, no. 12:\nOE1AAA/P OE1BBB\n"]
)
def test_calls_with_slashes_and_titles_with_a_year(tmp_path: Path, text: str) -> None:
    (tmp_path / "list.txt").write_text(text)
    assert set(read_list(tmp_path / "list.txt").callsigns) == {"OE1AAA", "OE1BBB"}


NO_LISTS = {
    "phones": ("Name;Telefon;Plz", "Anna {n};{phone};{n}"),
    "phones in two columns": ("Name,Phone", "Anna,{phone}"),
    "customers": ("Buchungstag;Verwendungszweck;Betrag;Kundennummer", "01.03.2026;Miete {n};-{n},75;{id}"),
    "balances": ("Buchungstag;Betrag;Saldo;IBAN", "01.03.2026;-{n},00;{id},12;AT6000000000{n}"),
    "stock": ("Artikel;Bestand;EAN", "Schraube {n};{n};{id}"),
    "invoices": ("Rechnungsnr;Datum;Betrag", "{id};01.03.2026;{n},00"),
}


@pytest.mark.parametrize("name", NO_LISTS)
def test_tables_of_other_numbers_are_no_lists(tmp_path: Path, name: str) -> None:
    headings, row = NO_LISTS[name]
    rows = [row.format(n=n, id=2320001 + 7 * n, phone=3204689 + 98771 * n % 4_000_000) for n in range(60)]
    path = tmp_path / "table.csv"
    path.write_text("\n".join([headings, *rows]) + "\n")
    with pytest.raises(InputRefusedError, match="list_columns = ") as caught:
        read_list(path)
    assert "\n" not in str(caught.value)


def test_a_column_that_is_named_is_believed(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("Artikel;EAN\n" + "".join(f"Schraube {n};{2320001 + n}\n" for n in range(20)))
    assert read_list(path, {"id": "EAN"}).ids.tolist() == list(range(2320001, 2320021))


def test_ids_of_other_countries_than_the_rest_of_their_rows_are_no_list(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    path.write_text("ID;Name;Land\n" + "".join(f"{2320001 + 13 * n};Anna {n};Japan\n" for n in range(20)))
    with pytest.raises(InputRefusedError):
        read_list(path)


@pytest.mark.parametrize("headings", ["", "ID;Name\n", "DMR ID;Name\n"])
def test_ids_with_names_beside_them_stay_a_list(tmp_path: Path, headings: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(headings + "".join(f"{2320001 + 13 * n};Anna\n" for n in range(20)))
    assert read_list(path).ids.tolist() == [2320001 + 13 * n for n in range(20)]


@pytest.mark.parametrize(
    ("lines", "is_doubted"),
    [
        (["5551234", "6641755", "9982101", "8112233"], True),  # no code of a country in ITU-T E.212 begins so
        (["150000", "812345", "990000", "2321001"], True),
        (["2321001", "2321002", "2621003", "9982101"], False),
        (["5551234", "6641755", "9982101", "OE1KAA"], False),  # a call sign says what the list is of
        (["232-1001", "232-1002", "262-1003"], False),
        (["17", "4711", "65000"], False),  # as long as those of another system
    ],
)
def test_numbers_that_nothing_says_are_ids_are_doubted(tmp_path: Path, lines: list[str], is_doubted: bool) -> None:
    path = tmp_path / "list.txt"
    path.write_text("\n".join(lines) + "\n")
    assert ("see whether they are ids" in read_list(path).sentence()) is is_doubted


@pytest.mark.parametrize("headings", ["from;to", "von;bis", "First ID;Last ID", "de;à", "Start;End"])
def test_two_columns_may_be_the_ends_of_ranges(tmp_path: Path, headings: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"{headings};note\n2321000;2321999;east\n2620000;2620099;north\n2621234;;one alone\n")
    listed = read_list(path)
    assert (listed.ranges, listed.ids.tolist()) == (((2_321_000, 2_321_999), (2_620_000, 2_620_099)), [2_621_234])
    path.write_text("\n".join([headings, "2321000;2321999", "2620000;2620099"]))
    assert read_list(path).ranges == listed.ranges


def test_a_range_that_runs_backwards_is_none(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("from;to;name\n2321000;2321999;Ada\n2329999;2320000;Bruno\n")
    assert not read_list(path).ranges


def test_an_apostrophe_before_an_id_begins_no_comment(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text("' the club, as of May\n'2321001\n'2321002 Ada\n'OE1KAA\n")
    listed = read_list(path)
    assert (listed.ids.tolist(), set(listed.callsigns)) == ([2_321_001, 2_321_002], {"OE1KAA"})


def test_a_short_row_with_the_word_of_a_heading_is_a_row(tmp_path: Path) -> None:
    """It ends before the column of that heading."""
    path = tmp_path / "club.csv"
    signs = [f"OE{number}ABC" for number in range(1, 9)]
    path.write_text("town,note,callsign\n" + "".join(f"Graz,x,{sign}\n" for sign in signs) + "the callsign\n")
    assert read_list(path).callsigns == set(signs)
