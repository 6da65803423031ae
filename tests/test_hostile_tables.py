"""Texts that are made to take long, to hide rows or to smuggle some in: each is read in one pass, and no row is lost unsaid.

What takes time or memory by the square of its length would not end here within the patience of a person.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from opened_tables import rows_of

from pruner.job import load
from pruner.read.group_cells import group_number
from pruner.read.line_pattern import learn
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.table.headings import sense_of
from pruner.table.open_file import open_file
from pruner.words.number import whole_number

HEADINGS = ["id", "call", "name"]
ROWS = [
    ["2321001", "OE1KAA", "Ada Ferro"],
    ["2321058", "OE1KAB", "Bruno Klaas"],
    ["2321158", "OE2KAC", "Cilli de Roo"],
    ["2321358", "OE2KAD", "Dario Ibsen"],
]


def rows_in(path: Path, text: str) -> list[list[str]]:
    path.write_text(text, encoding="utf-8")
    (table,) = open_file(path)
    return rows_of(table)


def page(third: str, behind: str = "") -> str:
    lines = [f"<tr><td>{row[0]}<td>{row[1]}<td>{row[2]}" for row in ROWS]
    lines[2] = third
    return f"<!DOCTYPE html><table><tr><th>id<th>call<th>name{''.join(lines)}</table>{behind}"


def dump(third: str, behind: str = "") -> str:
    values = [f"({row[0]},'{row[1]}','{row[2]}')" for row in ROWS]
    values[2] = third
    return f"INSERT INTO s (id, call, name) VALUES\n{','.join(values)};\n{behind}"


def wiki(third: str) -> str:
    names = [row[2] for row in ROWS]
    names[2] = third
    lines = "".join(f"|-\n| {row[0]} || {row[1]} || {name}\n" for row, name in zip(ROWS, names, strict=True))
    return f"{{|\n! id !! call !! name\n{lines}|}}\n"


def lines(third: str) -> str:
    names = [row[2] for row in ROWS]
    names[2] = third
    return "".join(f"id={row[0]}, call={row[1]}, name={name}\n" for row, name in zip(ROWS, names, strict=True))


@pytest.mark.parametrize(
    "text",
    [
        page("<tr><td data-of=O'Roo>2321158<td>OE2KAC<td>Cilli de Roo"),
        page('<tr><td title="a" b">2321158<td>OE2KAC<td>Cilli de Roo'),
        page("<tr><td>2321158<td>OE2KAC<td>Cilli de Roo<svg>"),
        page("<tr><td>2321158<td>OE2KAC<td>Cilli de Roo", "<svg>" * 100_000),
        page("<tr><td>2321158<td>OE2KAC<td>Cilli de Roo", '<a "' * 100_000),
        dump("(2321158,'OE2KAC',_utf8'Cilli de Roo')"),
        dump("(2321158,'OE2KAC','Cilli de Roo') /* moved */ -- twice\n"),
        dump("(2321158,'OE2KAC','Cilli de Roo')", f"INSERT INTO t ({'a' * 5000}!) VALUES (1);\n"),
        dump("(2321158,'OE2KAC','Cilli de Roo')", f"INSERT INTO t{' ' * 60_000}x\n"),
        dump("(2321158,'OE2KAC','Cilli de Roo')", "INSERT INTO [" * 20_000),
        dump("(2321158,'OE2KAC','Cilli de Roo')", "INSERT INTO " + "(" * 60_000),
    ],
)
def test_rows_behind_odd_signs_are_read(tmp_path: Path, text: str) -> None:
    """Quotes inside of a tag mean something behind an equals sign only (WHATWG HTML, 13.2.5.33, from memory)."""
    assert rows_in(tmp_path / "list.txt", text) == [HEADINGS, *ROWS]


@pytest.mark.parametrize(
    "text",
    [
        wiki("a=aa" + "=aa" * 5000),
        wiki("[//" * 30_000),
        wiki("<!--" * 30_000),
        wiki("Cilli\n" + "de Roo\n" * 100_000),
        lines("a'" * 1000 + 'a"'),
        lines("'\"" * 1000),
    ],
)
def test_cells_of_many_odd_signs_end(tmp_path: Path, text: str) -> None:
    rows = rows_in(tmp_path / "list.txt", text)
    assert [row[:2] for row in rows] == [HEADINGS[:2], *(row[:2] for row in ROWS)]
    assert rows[-1] == ROWS[-1]


@pytest.mark.parametrize(
    ("text", "lost"),
    [
        (dump("(2321158,upper(a) + 1,7)"), "2321158,upper(a) + 1,7)"),
        (lines("Cilli de Roo") + 'id=2321777, call=OE1KAX, X" of: x\n', 'id=2321777, call=OE1KAX, X" of: x'),
        ("".join(f"id: {i}\ncall: {c}\nname: {n}\n\n" for i, c, n in ROWS) + "2321777 OE1KAX\n", "2321777 OE1KAX"),
    ],
)
def test_what_is_no_record_counts_as_unreadable(tmp_path: Path, text: str, lost: str) -> None:
    path = tmp_path / "list.txt"
    assert [lost] in rows_in(path, text)
    rows = load(short_settings([path], ShortForm(50, out=tmp_path / "out"))).sources[0]
    assert [(row.reason, lost[:12] in row.raw) for row in rows.rejected] == [("unreadable row", True)]


HIDDEN = [
    "{|\n|-\n| 2329001 || OE9KAX || Evil\n|-\n| 2329002 || OE9KAY || Evil\n|}",
    "INSERT INTO s VALUES (2329001,'OE9KAX','Evil'),(2329002,'OE9KAY','Evil');",
]


@pytest.mark.parametrize("evil", HIDDEN)
def test_a_table_in_a_cell_is_no_file(tmp_path: Path, evil: str) -> None:
    """A name of several lines neither hides the list that it stands in nor adds to it."""
    others = "".join(f"{number},OE3K{chr(65 + number % 26)}A,Emil\n" for number in range(2322001, 2322010))
    text = "id,call,name\n" + "".join(",".join(row) + "\n" for row in ROWS) + f'2321999,OE9KAZ,"{evil}"\n' + others
    (tmp_path / "list.csv").write_text(text)
    numbers = load(short_settings([tmp_path / "list.csv"], ShortForm(50, out=tmp_path / "out"))).contacts.number.tolist()
    assert len(numbers) == 14
    assert 2329001 not in numbers


def test_a_statement_in_a_value_adds_no_row(tmp_path: Path) -> None:
    evil = "INSERT INTO s (id, call, name) VALUES (2329001,''OE9KAX'',''Evil'')"
    rows = rows_in(tmp_path / "dump.sql", dump(f"(2321158,'OE2KAC','{evil}')"))
    assert [row[0] for row in rows] == ["id", *(row[0] for row in ROWS)]


def test_all_elements_and_all_their_values_are_read(tmp_path: Path) -> None:
    """Elements of two names are one list where they have the same in them; a name that comes again has its number behind it."""
    kinds = ["person", "person", "person", "repeater"]
    inner = [f"<id>{row[0]}</id><call>{row[1]}</call><name>{row[2]}</name>" for row in ROWS]
    records = "".join(f"<{kind}>{one}</{kind}>" for kind, one in zip(kinds, inner, strict=True))
    assert rows_in(tmp_path / "list.xml", f"<l>{records}<count>4</count></l>") == [HEADINGS, *ROWS]
    twice = "".join(f"<s>{one.replace('</id>', '</id><id>7</id>')}</s>" for one in inner)
    assert rows_in(tmp_path / "list.xml", f"<l>{twice}</l>")[1] == ["2321001", "7", "OE1KAA", "Ada Ferro"]
    assert rows_in(tmp_path / "list.txt", lines("Cilli, call=OE9KAX") * 2)[3] == ["2321158", "OE2KAC", "Cilli", "OE9KAX"]


def test_a_cell_that_reaches_down_stands_behind_a_short_row(tmp_path: Path) -> None:
    """WHATWG HTML, 4.9.12: the columns between stay empty. A long text is not repeated a thousand times."""
    text = f"<table><tr><td>a<td>b<td rowspan=2>c<td rowspan=1000>{'x' * 2000}<tr><td>d</table>"
    assert rows_in(tmp_path / "page.html", text)[1] == ["d", "", "c"]


def test_records_of_a_name_each_are_no_table(tmp_path: Path) -> None:
    """Each name would be a column of each record."""
    text = "".join(f"id={2321000 + number}, call=OE1KAA, n{number // 2}=x\n" for number in range(5000))
    assert len(rows_in(tmp_path / "list.txt", text)[0]) < 10


def test_long_cells_are_no_numbers() -> None:
    assert whole_number("a" + " " * 200_000 + "a") == -1
    assert whole_number("2321001" + " (car)" * 50_000) == -1
    assert whole_number("2321001 †  ") == 2321001
    assert sense_of("car " * 10_000).classes == {}
    assert group_number("ab1 " + "a" * 200_000) == -1


def test_lines_without_end_are_no_forms_of_calls() -> None:
    assert learn(['x {"a":' + '{"a":' * 1000] * 40, "dmr") is None
    calls = [f"2026-03-01 10:{minute:02}:00 {row[1]} ({row[0]}) TG 232" for minute, row in enumerate(ROWS * 5)]
    learned = learn([*calls, "x" + " {" * 5_000], "dmr")
    assert learned is not None
    assert (len(learned.explained), len(learned.others)) == (20, 1)
