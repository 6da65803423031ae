"""Properties of cutting, of forms of cells and of code pages, over generated tables. All stations are invented."""

from __future__ import annotations

import csv
import io

import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.read.kinds import STATIONS
from pruner.table.board import Board
from pruner.table.cut import cut_text
from pruner.table.encoding import vote
from pruner.table.forms import empty_words, joined_column
from pruner.words import schema

WORDS = st.text("abcdefghijklmnopqrstuvwxyzäöüéčžл", min_size=2, max_size=9).map(str.capitalize)
#: What a cell of text may hold beside letters; the delimiters among them need quotes.
TEXTS = (
    st.lists(st.one_of(WORDS, st.sampled_from([",", ";", "\t", "|", '"', "(x)", "&", "-"])), min_size=1, max_size=4)
    .map(" ".join)
    .map(str.strip)
    .filter(bool)
)
IDS = st.lists(st.integers(2_320_000, 2_329_999), min_size=4, max_size=40, unique=True).filter(
    lambda ids: (max(ids) - min(ids)) / len(ids) > 10
)
SIGNS = st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=2, max_size=3).map("OE1{}".format)


@st.composite
def tables(draw: st.DrawFn) -> tuple[list[str], list[list[str]]]:
    """Headings and rows of a directory, with its columns in any order."""
    ids = draw(IDS)
    rows = [[str(id_), draw(SIGNS), draw(TEXTS), draw(TEXTS), "Austria"] for id_ in ids]
    order = draw(st.permutations(range(5)))
    headings = ["DMR ID", "Call sign", "Name", "Town", "Country"]
    return [headings[place] for place in order], [[row[place] for place in order] for row in rows]


@draws(60)
@given(
    table=tables(),
    delimiter=st.sampled_from(",;\t|"),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    titles=st.lists(st.sampled_from(["Stations of the club", "# made by hand", "as of March", ""]), max_size=3),
)
def test_a_table_is_cut_as_it_was_written(
    table: tuple[list[str], list[list[str]]], delimiter: str, quoting: int, titles: list[str]
) -> None:
    headings, rows = table
    made = io.StringIO()
    csv.writer(made, delimiter=delimiter, quoting=quoting, lineterminator="\n").writerows([headings, *rows])
    found = cut_text("".join(f"{title}\n" for title in titles) + made.getvalue(), [], STATIONS, "dmr", {})
    assert found is not None
    assert (found.delimiter, found.quote, found.headings, found.before) == (delimiter, '"', headings, len(titles) + 1)
    assert not found.found.trouble
    meanings = {"DMR ID": schema.ID, "Call sign": schema.CALLSIGN, "Country": schema.COUNTRY}
    assert {found.found.positions[meaning]: heading for heading, meaning in meanings.items()} == {
        headings.index(heading): heading for heading in meanings
    }
    assert [list(cells) for cells in zip(*(column.cells for column in found.board.columns), strict=True)] == rows


@draws(60)
@given(table=tables(), delimiter=st.sampled_from(",;\t|"))
def test_without_headings_ids_and_call_signs_are_found(table: tuple[list[str], list[list[str]]], delimiter: str) -> None:
    headings, rows = table
    made = io.StringIO()
    csv.writer(made, delimiter=delimiter, lineterminator="\n").writerows(rows)
    found = cut_text(made.getvalue(), [], STATIONS, "dmr", {})
    assert found is not None
    assert found.headings is None
    assert found.found.positions[schema.ID] == headings.index("DMR ID")
    assert found.found.positions[schema.CALLSIGN] == headings.index("Call sign")


@draws(60)
@given(
    ids=IDS,
    signs=st.lists(SIGNS, min_size=40, max_size=40),
    form=st.sampled_from(["{id} {sign}", "{sign} ({id})", "{sign}/{id}", "{id}-{sign}", "[{id}] {sign}", "{sign}, {id}"]),
)
def test_an_id_and_a_call_sign_in_one_cell(ids: list[int], signs: list[str], form: str) -> None:
    cells = [[form.format(id=id_, sign=sign), "Anna"] for id_, sign in zip(ids, signs, strict=False)]
    assert joined_column(Board(["Station", "Name"], cells, "dmr"), None) == 0
    assert joined_column(Board(["Station", "Name"], [[str(id_), "Anna"] for id_ in ids], "dmr"), 0) is None


@draws(60)
@given(names=st.lists(WORDS, min_size=20, max_size=40), mark=st.sampled_from(["-", "--", "?", "NULL", "n/a", "none", "Null"]))
def test_a_mark_stands_for_nothing_where_a_column_uses_it_as_one(names: list[str], mark: str) -> None:
    is_sign = not any(map(str.isalpha, mark))
    for times, is_mark in ((1, is_sign), (len(names) // 2, True)):
        cells = [mark if at < times else name for at, name in enumerate(names)]
        board = Board(["Name"], [[cell] for cell in cells], "dmr")
        assert (mark in empty_words(board, {schema.NAME: 0}).get(schema.NAME, ())) is is_mark


#: Code page, beginning of ids and call signs of a country that uses it, words of its language.
PAGES = [
    ("cp1250", "230", "OK1", "Příbram Žďár Přerov Kroměříž Jiří Šárka Čáslav Ústí"),
    ("cp1250", "260", "SP1", "Łódź Gdańsk Świdnica Żary Włocławek Małgorzata Józef"),
    ("cp1251", "250", "RA1", "Москва Казань Иваново Пётр Ольга Тверь Псков"),
    ("cp1251", "284", "LZ1", "София Варна Пловдив Георги Бургас Русе"),
    ("cp1253", "202", "SV1", "Αθήνα Πάτρα Γιώργος Ελένη Βόλος Λάρισα"),
    ("cp1254", "286", "TA1", "İzmir Eskişehir Ağrı Çağrı Gülşen Muğla"),
    ("cp932", "440", "JA1", "東京都 大阪市 名古屋 田中 京都市"),
    ("koi8_r", "250", "RA1", "Москва Казань Иваново Пётр Ольга Тверь Псков"),
    ("cp866", "250", "RA1", "Москва Казань Иваново Пётр Ольга Тверь Псков"),
    ("euc_jp", "440", "JA1", "東京都 大阪市 名古屋 田中 京都市"),
    ("cp852", "230", "OK1", "Příbram Žďár Přerov Kroměříž Jiří Šárka Čáslav Ústí"),
    ("iso8859_2", "230", "OK1", "Příbram Žďár Přerov Kroměříž Jiří Šárka Čáslav Ústí"),
    ("cp1252", "232", "OE1", "Österreich Jürgen Mödling Gänserndorf Wörgl"),
]


@draws(60)
@given(
    page=st.sampled_from(PAGES),
    others=st.lists(st.sampled_from(PAGES), max_size=2),
    picks=st.lists(st.integers(0, 99), min_size=30, max_size=60),
)
def test_rows_vote_for_the_code_page_in_which_they_were_written(
    page: tuple[str, str, str, str], others: list[tuple[str, str, str, str]], picks: list[int]
) -> None:
    """A few rows of other countries, in the same code page as far as it has their letters, do not change it."""
    encoding, digits, series, words = page
    lines = []
    for at, pick in enumerate(picks):
        word = words.split()[pick % len(words.split())]
        lines.append(f"{digits}{1000 + at};{series}{chr(65 + pick % 26)}X;{word}")
    foreign = [line for line in lines if not line.isascii()]
    lines += [f"{digits_}5000;{series_}ZZ;plain" for _, digits_, series_, _ in others]
    found = vote([line.encode(encoding) for line in lines])
    assert found is not None
    assert [line.encode(encoding).decode(found) for line in foreign] == foreign


@draws(60)
@given(pair=st.permutations(PAGES).map(lambda pages: pages[:2]).filter(lambda pair: pair[0][0] != pair[1][0]))
def test_rows_of_two_code_pages_agree_on_none_or_read_right(pair: list[tuple[str, str, str, str]]) -> None:
    """Letters that stand at the same place in both pages are no disagreement."""
    lines = [
        (f"{digits}{1000 + at};{series}{chr(65 + at)}X;{words.split()[at % 5]}", encoding)
        for encoding, digits, series, words in pair
        for at in range(20)
    ]
    found = vote([line.encode(encoding) for line, encoding in lines])
    right = sum(line == line.encode(encoding).decode(found, errors="replace") for line, encoding in lines) if found else 0
    assert found is None or right >= 0.9 * len(lines)


@pytest.mark.parametrize("town", ["São Tomé", "Mólina", "Ñuñoa"])
def test_a_western_town_with_an_id_of_a_country_of_another_script(town: str) -> None:
    assert vote([f"4150001;OD5AA;{town}".encode("cp1252")]) == "cp1252"
    assert vote(["4150001;OD5AA;بيروت".encode("cp1256")]) == "cp1256"


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_a_quote_that_stays_open_costs_its_row(delimiter: str) -> None:
    rows = [[str(2_321_117 + 131 * at * at), f"OE1X{chr(65 + at)}", "Anna", "Austria"] for at in range(9)]
    lines = [delimiter.join(row) for row in [["ID", "Call", "Name", "Country"], *rows]]
    lines[4] = lines[4].replace("Anna", '"Anna')
    found = cut_text("\n".join(lines) + "\n", [], STATIONS, "dmr", {})
    assert found is not None
    assert found.found.positions[schema.ID] == 0
