"""Tables whose cells no usual delimiter divides: the same rows as the CSV of the same cells."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.read.kinds import STATIONS, TALKGROUPS
from pruner.read.open_table import open_table
from pruner.read.station_list import read_list
from pruner.table.line_forms import Divided, Placed
from pruner.words import schema

HEAD = ["DMR ID", "Callsign", "First name", "Last name", "Town", "Country"]
PEOPLE = [
    ["2320137", "OE1ABC", "Ada", "Berg", "Graz", "Austria"],
    ["2620174", "DL2XYZ", "Bob", "Tal", "Emden", "Germany"],
    ["2280219", "HB9ZZZ", "Cy", "Au", "Chur", "Switzerland"],
    ["2080333", "F4ABC", "Élise", "Dupré", "Nîmes", "France"],
]
SPACED = [[*row[:4], f"Bad {row[4]}", row[5]] for row in PEOPLE]
TABLE = [HEAD, *PEOPLE]
Written = Callable[[list[list[str]]], str]


def divided(sign: str) -> Written:
    return lambda table: "".join(sign.join(row) + "\n" for row in table)


def widths(table: list[list[str]]) -> list[int]:
    return [max(len(row[place]) for row in table) + 2 for place in range(len(table[0]))]


def placed(table: list[list[str]]) -> str:
    return "".join("".join(cell.ljust(width) for cell, width in zip(row, widths(table), strict=True)) + "\n" for row in table)


def ruled(table: list[list[str]]) -> str:
    head, *rows = placed(table).splitlines()
    return "\n".join([head, " ".join("-" * (width - 1) for width in widths(table)), *rows]) + "\n"


def boxed(table: list[list[str]], *, each: bool = False) -> str:
    line = "+" + "+".join("-" * width for width in widths(table)) + "+\n"
    cells = [[f" {cell}".ljust(width) for cell, width in zip(row, widths(table), strict=True)] for row in table]
    rows = [f"|{'|'.join(row)}|\n" for row in cells]
    return line + rows[0] + line + (line.join(rows[1:]) if each else "".join(rows[1:])) + line


def marked_up(table: list[list[str]]) -> str:
    head, *rows = table
    marked = [[row[0], f"[{row[1]}](https://example.org/{row[1]})", f"**{row[2]}**", *row[3:]] for row in rows]
    return "".join(f"| {' | '.join(row)} |\n" for row in [head, ["---"] * len(head), *marked])


def circumflexed(table: list[list[str]]) -> str:
    return f"^ {' ^ '.join(table[0])} ^\n" + "".join(f"| {' | '.join(row)} |\n" for row in table[1:])


def queried(table: list[list[str]]) -> str:
    rows = [" | ".join(cell.ljust(width) for cell, width in zip(row, widths(table), strict=True)) for row in table]
    return "\n".join([rows[0], "-+-".join("-" * width for width in widths(table)), *rows[1:], f"({len(rows) - 1} rows)"]) + "\n"


FORMS: dict[str, Written] = {
    **{f"divided by {sign!r}": divided(sign) for sign in ("^", "~", "!", "¦", "\x1f", "§", "::", " - ", " / ", "   ", " | ")},
    "placed": placed,
    "placed under a rule": ruled,
    "boxed": boxed,
    "boxed one by one": lambda table: boxed(table, each=True),
    "marked up": marked_up,
    "circumflexed": circumflexed,
}


def rows_read(path: Path, text: str) -> list[tuple[str | None, ...]]:
    path.write_text(text, encoding="utf-8")
    names = (schema.ID, schema.CALLSIGN, schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.COUNTRY)
    found: list[tuple[str | None, ...]] = []
    for _, job in open_table(path, STATIONS, "dmr", {}).jobs:
        records = job()
        assert not records.unreadable
        columns = [records.columns[name].to_pylist() for name in names]
        found += zip(*([cell and cell.strip() for cell in cells] for cells in columns), strict=True)
    return found


@pytest.mark.parametrize("form", FORMS)
def test_every_form_gives_the_rows_of_the_csv(tmp_path: Path, form: str) -> None:
    assert rows_read(tmp_path / "list.txt", FORMS[form](TABLE)) == [tuple(row) for row in PEOPLE]


@pytest.mark.parametrize("form", ["placed", "placed under a rule", "boxed"])
def test_cells_may_hold_blanks_or_nothing(tmp_path: Path, form: str) -> None:
    rows = [[*row[:2], "" if place == 1 else row[2], *row[3:]] for place, row in enumerate(SPACED)]
    read = rows_read(tmp_path / "list.txt", FORMS[form]([HEAD, *rows]))
    assert [tuple(cell or "" for cell in row) for row in read] == [tuple(row) for row in rows]


def test_the_answer_of_a_database_has_one_row_that_counts(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text(queried(TABLE), encoding="utf-8")
    (job,) = [job for _, job in open_table(path, STATIONS, "dmr", {}).jobs]
    records = job()
    assert [cell and cell.strip() for cell in records.columns[schema.LAST_NAME].to_pylist()[:4]] == [row[3] for row in PEOPLE]
    assert list(records.unreadable) == [len(PEOPLE)]


@pytest.mark.parametrize(
    "text",
    [
        "OE1ABC;Graz\nDL2XYZ;Emden\n2280219;Chur\n",
        "Ada: OE1ABC\nBob: DL2XYZ\nCy: 2280219\n",
        "Friends 2026:\nGraz; OE1ABC\nEmden; DL2XYZ\nChur; 2280219\n",
        "Why\tTel.\tCall\t#\tRadio ID\n"
        "ok\t0171 4371\tOE1ABC\t1\t2320137\n\t0171 4742\tDL2XYZ\t2\t2620174\n\t0171 4\tHB9ZZZ\t3\t2280219\n",
        "; list of 2026\nOE1ABC - Ada, Graz\nDL2XYZ - Bob, Emden\nHB9ZZZ - Cy, Chur\n",
    ],
)
def test_the_first_entry_of_a_list_is_no_heading_line(tmp_path: Path, text: str) -> None:
    path = tmp_path / "club.csv"
    path.write_text(text, encoding="utf-8")
    listed = read_list(path)
    named = {"OE1ABC": 2320137, "DL2XYZ": 2620174, "HB9ZZZ": 2280219}
    assert all(call in listed.callsigns or number in listed.ids for call, number in named.items())
    assert listed.entries == len(named)


@pytest.mark.parametrize("tag", ["TG", "TG ", "#"])
@pytest.mark.parametrize("head", ["", "Name;Nr.\n"])
def test_a_tagged_number_is_no_heading(tmp_path: Path, tag: str, head: str) -> None:
    path = tmp_path / "groups.csv"
    path.write_text(head + f"Test room;{tag}98002\nLocal;{tag}9\nAustria;{tag}232\n", encoding="utf-8")
    columns = next(job() for _, job in open_table(path, TALKGROUPS, "dmr", {}).jobs).columns
    assert columns[schema.NAME].to_pylist() == ["Test room", "Local", "Austria"]


def test_a_description_stands_for_the_name_and_no_remark_does(tmp_path: Path) -> None:
    path = tmp_path / "groups.csv"
    path.write_text("TG,Slot,Description,Use\n2621,2,Coast,always\n9,1,Local,on demand\n", encoding="utf-8")
    understanding = open_table(path, TALKGROUPS, "dmr", {}).understanding
    assert {use.meaning: use.heading for use in understanding.columns} == {"id": "TG", "description": "Description"}


def test_a_comma_in_every_name_divides_no_columns_by_place(tmp_path: Path) -> None:
    table = [["DMR ID", "Callsign", "Name"], *([*row[:2], f"{row[3]}, {row[2]}"] for row in PEOPLE)]
    path = tmp_path / "list.txt"
    path.write_text(placed(table), encoding="utf-8")
    columns = next(job() for _, job in open_table(path, STATIONS, "dmr", {}).jobs).columns
    assert columns[schema.NAME].to_pylist() == [row[2] for row in table[1:]]


def test_text_across_the_places_is_a_row_that_cannot_be_read(tmp_path: Path) -> None:
    text = ruled(TABLE) + "2320999OE9XYZ-and-more-than-fits-into-a-column-of-this-table Eva  Berg\n"
    path = tmp_path / "list.txt"
    path.write_text(text, encoding="utf-8")
    (job,) = [job for _, job in open_table(path, STATIONS, "dmr", {}).jobs]
    assert list(job().unreadable) == [len(PEOPLE)]


def test_rows_with_names_of_their_own_stand_one_column_further(tmp_path: Path) -> None:
    text = "\t".join(HEAD) + "\n" + "".join("\t".join([str(place), *row]) + "\n" for place, row in enumerate(PEOPLE, 1))
    assert rows_read(tmp_path / "list.txt", text) == [tuple(row) for row in PEOPLE]


def test_delimiters_behind_every_row_do_not_move_the_headings(tmp_path: Path) -> None:
    text = ";".join(HEAD) + "\n" + "".join(";".join(row) + ";\n" for row in PEOPLE)
    assert rows_read(tmp_path / "list.txt", text) == [tuple(row) for row in PEOPLE]


@pytest.mark.parametrize("line", ["TG{} - {}", "TG {}: {}", "{} = {}", "#{} {}", "{1} ({0})", "{1}: TG {0}", "{1} - {0}"])
def test_lines_of_talkgroups(tmp_path: Path, line: str) -> None:
    groups = [("91", "World"), ("232", "Austria"), ("2328", "Alps, Tyrol"), ("98002", "Test room")]
    path = tmp_path / "groups.txt"
    path.write_text("".join(line.format(*group) + "\n" for group in groups).replace(",", ""), encoding="utf-8")
    columns = next(job() for _, job in open_table(path, TALKGROUPS, "dmr", {}).jobs).columns
    read = list(zip(columns[schema.ID].to_pylist(), columns[schema.NAME].to_pylist(), strict=True))
    assert read == [(number, name.replace(",", "")) for number, name in groups]


def test_a_dump_ends_with_its_mark(tmp_path: Path) -> None:
    text = "".join("\t".join(row) + "\n" for row in TABLE) + "\\.\n"
    assert rows_read(tmp_path / "dump.txt", text) == [tuple(row) for row in PEOPLE]


@pytest.mark.parametrize("end", ["{name} ({call})", "{name}, {call}", "{name} - {call}", "{call} {name}"])
def test_call_signs_before_and_behind_names(tmp_path: Path, end: str) -> None:
    table = [["ID", "Who"], *([row[0], end.format(name=f"{row[2]} {row[3]}", call=row[1])] for row in PEOPLE)]
    made = io.StringIO()
    csv.writer(made, delimiter=";").writerows(table)
    path = tmp_path / "list.csv"
    path.write_text(made.getvalue(), encoding="utf-8")
    columns = next(job() for _, job in open_table(path, STATIONS, "dmr", {}).jobs).columns
    assert columns[schema.CALLSIGN].to_pylist() == [row[1] for row in PEOPLE]
    assert columns[schema.NAME].to_pylist() == [f"{row[2]} {row[3]}" for row in PEOPLE]


CELLS = st.text("ab1 ", max_size=5).map(str.strip)


@given(
    st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=6),
    st.lists(st.integers(2, 9), min_size=3, max_size=3),
)
def test_places_give_back_the_cells_that_were_put_there(rows: list[list[str]], gaps: list[int]) -> None:
    wide = [max(len(row[place]) for row in rows) + gaps[place] for place in range(3)]
    form = Placed((0, wide[0], wide[0] + wide[1]))
    for row in rows:
        line = "".join(cell.ljust(width) for cell, width in zip(row, wide, strict=True))
        assert form.cells(line) == row


@given(st.lists(CELLS, min_size=2, max_size=5))
def test_bars_give_back_the_cells_between_them(cells: list[str]) -> None:
    assert Divided(r"\|", "|").cells(f"| {' | '.join(cells)} |") == cells


def test_lists_of_call_signs_in_columns_stay_lists(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text("OE1ABC   DL2XYZ   HB9ZZZ\nF4ABC    I2ABC    OK1XYZ\n", encoding="utf-8")
    assert read_list(path).callsigns == {"OE1ABC", "DL2XYZ", "HB9ZZZ", "F4ABC", "I2ABC", "OK1XYZ"}
