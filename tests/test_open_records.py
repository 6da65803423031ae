"""Records whose values stand behind their names, elements of markup, cells in lines of their own: read as the tables they are;
and texts that only look so are none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st
from opened_tables import rows_of

from pruner.read.kinds import STATIONS
from pruner.table.cut import cut_text
from pruner.table.open_file import open_file
from pruner.table.open_keyed import tables_of_keyed
from pruner.table.open_xml import tables_of_markup
from pruner.words.errors import InputRefusedError

NAMES = ["Call", "DMR ID", "Name", "Town"]
ROWS = [
    ["OE1KAA", "2321001", "Ada Ferro", "Sankt Anton"],
    ["OE1KAB", "2321058", "Bruno Klaas", "Wien"],
    ["OE2KAC", "2321158", "Cilli de Roo", "Graz"],
    ["OE2KAD", "2321358", "Dario Ibsen", "Linz"],
]


def each(form: Callable[[list[str]], str]) -> str:
    return "".join(map(form, ROWS))


TEXTS = {
    "a line each": each(lambda row: f"Call: {row[0]}\nDMR ID: {row[1]}\nName: {row[2]}\nTown: {row[3]}\n\n"),
    "without blank lines": each(lambda row: f"Call = {row[0]}\nDMR ID = {row[1]}\nName = {row[2]}\nTown = {row[3]}\n"),
    "dashes": "list:\n"
    + each(lambda row: f'  - Call: {row[0]}\n    DMR ID: {row[1]}\n    Name: "{row[2]}"\n    Town: {row[3]}\n'),
    "in one line": each(lambda row: f"Call: {row[0]}, DMR ID: {row[1]}, Name: {row[2]}, Town: {row[3]}\n"),
    "in braces": "[\n"
    + each(lambda row: f"  {{'Call': '{row[0]}', 'DMR ID': {row[1]}, 'Name': '{row[2]}', 'Town': '{row[3]}'}},\n")
    + "]\n",
    "cells in lines": "\n".join(NAMES) + "\n" + each(lambda row: "\n".join(row) + "\n"),
}


@pytest.mark.parametrize("shape", TEXTS)
def test_records_are_rows(tmp_path: Path, shape: str) -> None:
    (tmp_path / "list.txt").write_text(TEXTS[shape])
    (table,) = open_file(tmp_path / "list.txt")
    found = rows_of(table)
    assert found == [NAMES, *ROWS]
    cut = cut_text(b"".join(table.blocks()).decode(), [], STATIONS, "dmr", {})
    assert cut is not None
    assert (cut.found.trouble, cut.found.positions["id"], cut.found.positions["callsign"]) == ("", 1, 0)


def test_names_in_words_and_in_brackets(tmp_path: Path) -> None:
    (tmp_path / "list.txt").write_text(each(lambda row: f'call={row[0]} id={row[1]} name="{row[2]}"\n'))
    (table,) = open_file(tmp_path / "list.txt")
    assert rows_of(table) == [["call", "id", "name"], *(row[:3] for row in ROWS)]
    (tmp_path / "list.ini").write_text(each(lambda row: f"[{row[0]}]\nid={row[1]}\nname={row[2]}\n\n"))
    (table,) = open_file(tmp_path / "list.ini")
    assert rows_of(table) == [["key", "id", "name"], *(row[:3] for row in ROWS)]


OTHERS = {
    "settings": "[home]\ncountry = AT\n[radio]\nname = a\ncontacts = 10\n",
    "a log": "time: 12:00 level: info\n" * 5,
    "numbers": "2321001\n2321058\n2321158\n",
    "ids and names by turns, but not always": "2321001\nAda\n2321058\n2321158\nBruno\n",
    "groups": "91: World\n232: Austria\n262: Germany\n",
    "a sentence": "Note: these left.\nPlease: do not call.\nThanks: all\n",
    "a title above a table": "Club: Alps\nAs of: May\nCall,DMR ID,Name\nOE1KAA,2321001,Ada\nOE1KAB,2321058,Bruno\n",
}


@pytest.mark.parametrize("name", OTHERS)
def test_other_texts_are_no_records(name: str) -> None:
    assert tables_of_keyed(lambda: iter([OTHERS[name].encode()]), "") == []


@draws(60)
@given(st.text(alphabet="ab:= \n,'\"{}[]-#1", max_size=60))
def test_any_text_is_looked_at_without_a_fault(text: str) -> None:
    for table in tables_of_keyed(lambda: iter([text.encode()]), ""):
        assert len({len(row) for row in rows_of(table)}) == 1


MARKUP = {
    "elements": "<a><b>x</b>"
    + each(lambda row: f"<s><Call>{row[0]}</Call><DMR_ID>{row[1]}</DMR_ID><Name>{row[2]}</Name><Town>{row[3]}</Town></s>")
    + "</a>",
    "attributes": '<a xmlns="urn:x">'
    + each(lambda row: f'<s Call="{row[0]}" DMR_ID="{row[1]}" Name="{row[2]}" Town="{row[3]}"/>')
    + "</a>",
}


@pytest.mark.parametrize("shape", MARKUP)
def test_elements_are_rows(tmp_path: Path, shape: str) -> None:
    (tmp_path / "list.xml").write_text(f'<?xml version="1.0"?>\n{MARKUP[shape]}')
    (table,) = open_file(tmp_path / "list.xml")
    assert rows_of(table) == [["Call", "DMR_ID", "Name", "Town"], *ROWS]


@pytest.mark.parametrize(
    "text",
    [
        "<a><b/></a>",
        "<a><b>1</b><b>2</b>",
        '<!DOCTYPE a [<!ENTITY e "eeee">]><a><b c="1"/><b c="2"/><b c="3"/></a>',
        "<a>" * 100_000 + "</a>" * 100_000,
    ],
)
def test_markup_without_records_stays_refused(tmp_path: Path, text: str) -> None:
    """Entities are not expanded: such documents may grow without end."""
    (tmp_path / "list.xml").write_text(text)
    assert tables_of_markup(text.encode(), "") == []
    with pytest.raises(InputRefusedError, match="markup"):
        open_file(tmp_path / "list.xml")


FORMS = {
    "bars, two beside headings": "||" + "||".join(NAMES) + "||\n" + each(lambda row: "|" + "|".join(row) + "|\n"),
    "LaTeX": "\\begin{tabular}{llll}\n\\hline\n"
    + " & ".join(NAMES)
    + " \\\\ \\hline\n"
    + each(lambda row: " & ".join(row) + " \\\\\n")
    + "\\end{tabular}\n",
    "lines in quotes": '"'
    + ",".join(NAMES)
    + '"\n'
    + each(lambda row: '"' + ",".join(row).replace(row[2], f'""{row[2]}""') + '"\n'),
}


@pytest.mark.parametrize("form", FORMS)
def test_further_forms_of_lines(form: str) -> None:
    cut = cut_text(FORMS[form], [], STATIONS, "dmr", {})
    assert cut is not None
    assert cut.headings == NAMES
    assert [[column.cells[row] for column in cut.board.columns] for row in range(4)] == ROWS


def test_cells_between_fences(tmp_path: Path) -> None:
    """AsciiDoc: a row is as long as the first line, or as what stands before the first blank line."""
    rows = "".join("\n".join(f"|{cell}" for cell in row) + "\n\n" for row in [NAMES, *ROWS])
    for number, text in enumerate(
        (f"|===\n{rows}|===\n", "|===\n" + "".join(f"|{' |'.join(row)}\n" for row in [NAMES, *ROWS]) + "|===\n")
    ):
        (tmp_path / f"{number}.txt").write_text(f"= Title\n\n{text}")
        (table,) = open_file(tmp_path / f"{number}.txt")
        assert rows_of(table) == [NAMES, *ROWS]


def test_columns_by_place_whose_longest_cells_touch_the_next() -> None:
    lines = ["CALL   ID      NAME          TOWN", *(f"{row[0]:<7}{row[1]:<8}{row[2]:<14}{row[3]}" for row in ROWS)]
    lines.append("F4KAE  2081234 Philippa Blum Nice")
    cut = cut_text("\n".join(lines) + "\n", [], STATIONS, "dmr", {})
    assert cut is not None
    assert cut.headings == ["CALL", "ID", "NAME", "TOWN"]
    assert cut.board.columns[2].cells == [*(row[2] for row in ROWS), "Philippa Blum"]


def test_drawn_lines_do_not_hide_a_rare_delimiter() -> None:
    lines = ["*" * 40, "* Call * ID * Name *", "*" * 40, *(f"* {row[0]} * {row[1]} * {row[2]} *" for row in ROWS), "*" * 40]
    cut = cut_text("\n".join(lines) + "\n", [], STATIONS, "dmr", {})
    assert cut is not None
    assert (cut.delimiter, cut.found.positions["name"]) == ("*", 3)


def test_entries_of_a_directory_service(tmp_path: Path) -> None:
    """LDIF, RFC 2849 (values in Base64 behind two colons); names of attributes: RFC 4519 (both from memory)."""
    text = each(
        lambda row: f"dn: cn={row[0]},dc=example\ncn: {row[0]}\nemployeeNumber: {row[1]}\nsn:: S8O8aG4=\nl: {row[3]}\n\n"
    )
    (tmp_path / "list.ldif").write_text(text)
    (table,) = open_file(tmp_path / "list.ldif")
    rows = [[f"cn={row[0]},dc=example", row[0], row[1], "K\u00fchn", row[3]] for row in ROWS]
    assert rows_of(table) == [["dn", "cn", "employeeNumber", "surname", "town"], *rows]


def test_markup_with_few_names_is_no_table(tmp_path: Path) -> None:
    (tmp_path / "list.xml").write_text("<a>" + each(lambda row: f"<s id='{row[1]}' call='{row[0]}'/>") + "</a>")
    with pytest.raises(InputRefusedError, match="markup"):
        open_file(tmp_path / "list.xml")


def test_cells_in_quotes_behind_blanks_are_no_lines_in_quotes() -> None:
    lines = ['"Call", "DMR ID", "Name", "Town"', *('", "'.join(row).join('""') for row in ROWS)]
    cut = cut_text("\n".join(lines) + "\n", [], STATIONS, "dmr", {})
    assert cut is not None
    assert [[column.cells[row] for column in cut.board.columns] for row in range(4)] == ROWS


def test_values_of_markup() -> None:
    text = '<l><r at="1"><who id="7">Anna</who><n>2</n></r><r at="2"><who id="8">Bert</who></r><r at="3"/></l>'
    (table,) = tables_of_markup(text.encode(), "")
    assert rows_of(table) == [["at", "who.id", "who", "n"], ["1", "7", "Anna", "2"], ["2", "8", "Bert", ""], ["3", "", "", ""]]
