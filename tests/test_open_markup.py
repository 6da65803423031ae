"""Tables in workbooks written as XML, wikis' sources, dumps of databases and JSON objects, and of archives what is not read.

Statements: ISO/IEC 9075-2, from memory. Tables are compared with what was written into them.
"""

from __future__ import annotations

import csv
import html
import io
import json
import zipfile
from pathlib import Path

import pytest
from opened_tables import rows_of

from pruner.job import load, run
from pruner.layout.learn import learn
from pruner.read.station_list import read_list
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.table.open_page import open_page
from pruner.table.open_sql import tables_of_dump
from pruner.table.open_wiki import tables_of_wiki
from pruner.words.errors import InputRefusedError, SettingsError

HEADINGS = ["Call", "DMR ID", "Name", "Town"]
ROWS = [
    ["OE1KAA", "2321001", "Ada Ferro", "Sankt Anton"],
    ["OE1KAB", "2321058", "Bruno Klaas", "Wien"],
    ["OE2KAC", "2321158", "Cilli & Söhne", "Graz"],
    ["OE2KAD", "2321358", "O'Dario <Ibsen>", "Linz"],
]


def numbers(path: Path) -> list[int]:
    return load(short_settings([path], ShortForm(50, out=path.parent / "out"))).contacts.number.tolist()


def workbook(rows: list[list[str]]) -> str:
    lines = "".join(f"<Row>{''.join(f'<Cell><Data>{html.escape(cell)}</Data></Cell>' for cell in row)}</Row>" for row in rows)
    return f'<?xml version="1.0"?><Workbook><Worksheet ss:Name="a"><Table>{lines}</Table></Worksheet></Workbook>'


def test_a_workbook_as_xml_is_read(tmp_path: Path) -> None:
    """Elements of SpreadsheetML 2003; an index says that cells before are empty."""
    path = tmp_path / "book.xml"
    path.write_text(workbook([HEADINGS, *ROWS]))
    assert numbers(path) == [int(row[1]) for row in ROWS]
    row = '<Row><Cell><Data>a</Data></Cell><Cell ss:Index="4"><Data>b</Data></Cell></Row>'
    text = f"<Workbook><Worksheet><Table>{row}</Table></Worksheet></Workbook>"
    (table,) = open_page(text.encode(), "", "book")
    assert rows_of(table) == [["a", "", "", "b"]]


WIKIS = {
    "cells in lines": "{|\n! Call\n! DMR ID\n! Name\n! Town\n"
    + "".join("|-\n" + "".join(f"| {cell}\n" for cell in row) for row in ROWS)
    + "|}\n",
    "cells beside each other": 'Our stations:\n{| class="x"\n|+ Stations\n! Call !! DMR ID !! Name !! Town\n'
    + "".join(f"|- style='a'\n| [[Page|{row[0]}]] || '''{row[1]}''' || style=\"b\" | {row[2]} || {row[3]}\n" for row in ROWS)
    + "|}\n",
}


@pytest.mark.parametrize("shape", WIKIS)
def test_the_table_of_a_wiki_is_read(tmp_path: Path, shape: str) -> None:
    text = WIKIS[shape].replace("<Ibsen>", "Ibsen").replace("O'Dario", "Dario")
    (tmp_path / "page.txt").write_text(text)
    assert numbers(tmp_path / "page.txt") == [int(row[1]) for row in ROWS]
    (found,) = map(rows_of, tables_of_wiki(lambda: iter([text.encode()]), ""))
    assert found == [HEADINGS, *ROWS[:3], ["OE2KAD", "2321358", "Dario Ibsen", "Linz"]]


def quoted(cell: str) -> str:
    return "'" + cell.replace("'", "''") + "'"


DUMPS = {
    "one statement a row": "-- a dump\nCREATE TABLE `m` (`call` varchar(12), `dmr_id` int, `name` text, "
    "`town` text, PRIMARY KEY (`call`));\n"
    + "".join(f"INSERT INTO `m` VALUES ({quoted(a)},{b},{quoted(c)},{quoted(d)});\n" for a, b, c, d in ROWS),
    "many rows a statement": 'BEGIN;\nINSERT INTO public."m" (call, dmr_id, name, town) VALUES\n'
    + ",\n".join(f"  ({quoted(a)}, {b}, {quoted(c)}, {quoted(d)})" for a, b, c, d in ROWS)
    + ";\nCOMMIT;\n",
    "a block of tabs": "SET x = 0;\nCOPY public.m (call, dmr_id, name, town) FROM stdin;\n"
    + "".join("\t".join(row) + "\n" for row in ROWS)
    + "\\.\n",
}


@pytest.mark.parametrize("shape", DUMPS)
def test_the_table_of_a_dump_is_read(tmp_path: Path, shape: str) -> None:
    (tmp_path / "dump.sql").write_text(DUMPS[shape])
    assert numbers(tmp_path / "dump.sql") == [int(row[1]) for row in ROWS]
    (found,) = map(rows_of, tables_of_dump(lambda: iter([DUMPS[shape].encode()]), "", "dump"))
    assert found == [["call", "dmr_id", "name", "town"], *ROWS]


def test_values_of_statements() -> None:
    text = "INSERT INTO t (a,b,c,d) VALUES (NULL,'it''s, (so)',\"x\\\"y\",1.5),(2,'l\\nm',now(),N'q');INSERT INTO u VALUES (1)"
    assert list(map(rows_of, tables_of_dump(lambda: iter([text.encode()]), "", "dump"))) == [
        [["a", "b", "c", "d"], ["", "it's, (so)", 'x"y', "1.5"], ["2", "l m", "now()", "q"]],
        [["1"]],
    ]


@pytest.mark.parametrize(
    ("value", "ids", "calls"),
    [
        ({"OE1KAA": "Ada", "OE1KAB": "Bruno", "OE1KAC": "Cilli"}, [], {"OE1KAA", "OE1KAB", "OE1KAC"}),
        ({"Ada": 2321001, "Bruno": 2321058, "Cilli": 2321158}, [2321001, 2321058, 2321158], set()),
        ({"id": 2321001, "callsign": "OE1KAA", "name": "Ada"}, [2321001], {"OE1KAA"}),
    ],
)
def test_values_by_key_are_rows_unless_keys_are_headings(
    tmp_path: Path, value: object, ids: list[int], calls: set[str]
) -> None:
    path = tmp_path / "list.json"
    path.write_text(json.dumps(value))
    listed = read_list(path)
    assert (listed.ids.tolist(), set(listed.callsigns)) == (ids, calls)


@pytest.mark.parametrize("quotes", ["“”", "„“", "«»", "‘’"])
@pytest.mark.parametrize("sign", [";", ","])
def test_typographic_quotes_are_quotes(tmp_path: Path, quotes: str, sign: str) -> None:
    rows = [["OE1KAA", "2321001", "Ferro, Ada", "Wien"], ["OE1KAB", "2321058", "Bruno Klaas", ""], *ROWS[2:]]
    path = tmp_path / "list.csv"
    path.write_text("\n".join(sign.join(f"{quotes[0]}{cell}{quotes[1]}" for cell in row) for row in [HEADINGS, *rows]) + "\n")
    result = run(short_settings([path], ShortForm(50, out=tmp_path / "out")))
    assert (result.summaries[0].read, result.summaries[0].kept) == (4, 4)
    with (result.folders[0] / "contacts.csv").open(encoding="utf-8", newline="") as file:
        names = [(row["first_name"], row["last_name"], row["town"]) for row in csv.DictReader(file)]
    assert names[:2] == [("Ada", "Ferro", "Wien"), ("Bruno", "Klaas", "")]


def test_members_of_an_archive_that_are_not_read_are_named(tmp_path: Path) -> None:
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("old.csv", "x")
    with zipfile.ZipFile(tmp_path / "all.zip", "w") as archive:
        archive.writestr("list.csv", "\n".join(",".join(row) for row in [HEADINGS, *ROWS]))
        archive.writestr("before.zip", inner.getvalue())
        archive.writestr("notes.txt", inner.getvalue())
        archive.writestr("README.md", "read me")
    loaded = load(short_settings([tmp_path / "all.zip"], ShortForm(50, out=tmp_path / "out")))
    sentence = loaded.sources[0].understanding.sentence()
    assert "not read, because no table of this kind is found there: " in sentence
    assert "before.zip" in sentence
    assert "notes.txt" in sentence
    assert "README" not in sentence
    with zipfile.ZipFile(tmp_path / "lists.zip", "w") as archive:
        archive.writestr("list.txt", "2321001\n2321058\n")
        archive.writestr("before.zip", inner.getvalue())
    assert "before.zip" in read_list(tmp_path / "lists.zip").sentence()


def test_a_table_without_ids_and_call_signs_is_no_export(tmp_path: Path) -> None:
    bank = b"Date;Payee;For;Amount;Balance\n2.11.;Works;Power;-85,20;1204,11\n3.11.;Baker;Bread;-4,70;1199,41\n"
    with pytest.raises(InputRefusedError, match=r"no column of ids or call signs is found \(found: column 1 \(Date\)"):
        learn(bank, "bank.csv", "csv", lambda headings, rows: {})
    assert "{id}" in learn(bank, "bank.csv", "csv", lambda headings, rows: {}, {0: "{id}"}).text


def test_ids_with_a_text_before_each_are_learned() -> None:
    rows = b"Station;Address;Mode\nOE1KAA;P:2321001;digital\nOE1KAB;P:2321058;digital\nOE1KAC;P:2321158;digital\n"
    assert 'value = "P:{id}"' in learn(rows, "export.csv", "csv", lambda headings, rows: {"callsign": 0}).text


def test_a_place_for_results_that_cannot_be_is_named(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("\n".join(",".join(row) for row in [HEADINGS, *ROWS]))
    (tmp_path / "file").write_text("x")
    with pytest.raises(SettingsError, match=r"file/out: cannot be written .*another folder for the results \(--out\)"):
        run(short_settings([tmp_path / "list.csv"], ShortForm(50, out=tmp_path / "file" / "out")))
