"""Which column holds what: headings of any language or none, keys that look like ids, tables that are no directory."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

import pruner
from pruner.read.forms import capitals_marked, surname_marked
from pruner.read.kinds import STATIONS
from pruner.table import cut as cutting
from pruner.table.board import Board
from pruner.table.cut import Cut, cut_text
from pruner.table.headings import ENDING, sense_of
from pruner.table.identify import identify
from pruner.table.kinds import Meaning
from pruner.words import schema

# All stations are invented. Country codes: ITU-T E.212; call sign series: ITU Radio Regulations, Appendix 42.
ROWS = [(f"{2_320_117 + 131 * n * n}", f"OE{n % 9 + 1}X{chr(65 + n)}Q", f"Name{chr(97 + n)}", "Austria") for n in range(12)]


def cut_of(headings: str | None, rows: list[tuple[str, ...]]) -> Cut:
    lines = [*([headings] if headings else []), *(";".join(row) for row in rows)]
    found = cut_text("\n".join(lines) + "\n", [], STATIONS, "dmr", {})
    assert found is not None
    return found


@pytest.mark.parametrize(
    "headings",
    [
        "ID;Call sign;Name;Country",
        "Kennung;Rufzeichen;Name;Land",
        "Identifiant;Indicatif;Nom;Pays",
        "Número;Indicativo;Nombre;País",
        "qwx;zzk;vvb;ppl",
        None,
    ],
)
def test_id_call_sign_and_country_whatever_the_headings(headings: str | None) -> None:
    found = cut_of(headings, ROWS).found
    assert not found.trouble
    assert [found.positions[name] for name in (schema.ID, schema.CALLSIGN, schema.COUNTRY)] == [0, 1, 3]


@pytest.mark.parametrize("first", [0, 1, 2_320_001])
@pytest.mark.parametrize("step", [1, -1])
def test_a_key_beside_the_ids_is_not_taken(first: int, step: int) -> None:
    keys = range(first, first + 12)[::step]
    rows = [(str(key), *row) for key, row in zip(keys, ROWS, strict=True)]
    found = cut_of("Nr;ID;Call;Name;Country", rows).found
    assert not found.trouble
    assert found.positions[schema.ID] == 1


@pytest.mark.parametrize("heading", ["Nr", "No.", "Number", "id"])
@pytest.mark.parametrize("other", ["Zuordnung", "Kwartz", ""])
def test_dense_keys_in_the_range_of_ids_give_way_to_ids_under_an_unknown_heading(heading: str, other: str) -> None:
    rows = [(str(2_320_001 + at), *row) for at, row in enumerate(ROWS)]
    found = cut_of(f"{heading};{other};Call;Name;Country", rows).found
    assert not found.trouble
    assert found.positions[schema.ID] == 1


@pytest.mark.parametrize("other", ["Telefon", "Mitgliedsnummer", "Hausnummer"])
def test_a_complete_directory_stays_one_beside_numbers_of_something_else(other: str) -> None:
    rows = [(str(2_320_001 + at), *row) for at, row in enumerate(ROWS)]
    found = cut_of(f"id;{other};Call;Name;Country", rows).found
    assert not found.trouble
    assert found.positions[schema.ID] == 0


def test_where_headings_and_cells_agree_no_rival_is_scored() -> None:
    """The cells of a column are looked at for the meaning of its heading alone."""
    asked: list[tuple[str, int]] = []

    def asking(meaning: Meaning) -> Meaning:
        cells = meaning.cells
        if cells is None:
            return meaning

        def looked(board: Board, place: int) -> float:
            asked.append((meaning.name, place))
            return cells(board, place)

        return replace(meaning, cells=looked)

    kind = replace(STATIONS, meanings=tuple(asking(meaning) for meaning in STATIONS.meanings))
    lines = [
        "DMR ID;Call sign;Remark;Country",
        *(f"{id_};{call};{2_320_000 + at};{land}" for at, (id_, call, _, land) in enumerate(ROWS)),
    ]
    found = cut_text("\n".join(lines) + "\n", [], kind, "dmr", {})
    assert found is not None
    assert not found.found.trouble
    assert sorted(set(asked)) == [(schema.CALLSIGN, 1), (schema.COUNTRY, 3), (schema.ID, 0)]


@pytest.mark.parametrize(
    "text",
    [
        "item;price\nbolt;12.50\nnut;3.20\nscrew;7.75\n",
        "day;degrees;rain\n2026-01-01;3;0\n2026-01-02;5;2\n2026-01-03;4;1\n",
        "line;stop;leaves\n4;Harbour;08:15\n5;Market;08:30\n6;Mill;08:45\n",
        "id;callsign\n1;OE1XAA\n2;OE1XBB\n3;OE1XCC\n4;OE1XDD\n",
        "id;callsign\n2620117;OE1XAA\n2080351;OE1XBB\n3101234;OE1XCC\n",
    ],
)
def test_what_is_no_directory_is_refused(text: str) -> None:
    found = cut_text(text, [], STATIONS, "dmr", {})
    assert found is None or found.found.trouble


@pytest.mark.parametrize(
    "types",
    [
        "integer;text;text;text",
        "INT(10);VARCHAR(12);VARCHAR(40);CHAR(2)",
        "number;string;string;",
        "bigint unsigned;varchar(8);;enum",
    ],
)
def test_a_line_of_types_below_the_headings_is_no_row(types: str) -> None:
    text = f"ID;Call sign;Name;Country\n{types}\n" + "".join(";".join(row) + "\n" for row in ROWS)
    found = cut_text(text, [], STATIONS, "dmr", {})
    assert found is not None
    assert (found.before, found.board.rows) == (2, len(ROWS))


def test_a_row_that_holds_one_word_for_a_type_is_a_row() -> None:
    rows = [(ROWS[0][0], ROWS[0][1], "Long", "Austria"), *ROWS[1:]]
    assert cut_of("ID;Call sign;Name;Country", rows).board.rows == len(ROWS)


@pytest.mark.parametrize(
    ("places", "expected"),
    [
        (("Bulunduğu il",), {schema.TOWN: 2}),
        (("İl", "İlçe"), {schema.STATE: 2, schema.TOWN: 3}),
        (("İlçe", "İl"), {schema.TOWN: 2, schema.STATE: 3}),
        (("Kraj", "Grad"), {schema.STATE: 2, schema.TOWN: 3}),
    ],
)
def test_a_heading_that_means_a_town_or_a_state(places: tuple[str, ...], expected: dict[str, int]) -> None:
    rows = [(id_, call, *["Olburg", "Umstadt"][: len(places)]) for id_, call, _, _ in ROWS]
    found = cut_of(";".join(["Kimlik", "Çağrı işareti", *places]), rows).found.positions
    assert {meaning: place for meaning, place in found.items() if meaning in (schema.TOWN, schema.STATE)} == expected


def test_a_clean_file_is_cut_once(monkeypatch: pytest.MonkeyPatch) -> None:
    calls = []
    real = cutting.identify

    def counted(*arguments: object) -> object:
        calls.append(1)
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(cutting, "identify", counted)
    assert not cut_of("ID;Call sign;Name;Country", ROWS).found.trouble
    assert len(calls) == 1


@pytest.mark.parametrize(
    ("heading", "is_turned"),
    [
        ("Cognome e Nome", True),
        ("Nome e Cognome", False),
        ("Name, Vorname", True),
        ("Vorname Name", False),
        ("Nom Prénom", True),
        ("Last name, First name", True),
        ("Name (last, first)", True),
        ("Příjmení a jméno", True),
        ("Jméno a příjmení", False),
        ("Soyadı Adı", True),
        ("Adı Soyadı", False),
        ("ФИО", True),
        ("Name", False),
        ("Operator name", False),
    ],
)
def test_a_heading_of_two_parts_of_a_name_says_which_comes_first(heading: str, is_turned: bool) -> None:
    """Their order as the languages have it: from memory."""
    sense = sense_of(heading)
    assert ("name" in sense.classes, sense.is_turned) == (True, is_turned)


@pytest.mark.parametrize(
    "heading", ["First name", "Last Name", "Given name", "Family name", "Prénom du titulaire", "Vor- und Nachname"]
)
def test_one_part_of_a_name_is_no_whole_name(heading: str) -> None:
    assert "name" not in sense_of(heading).classes


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        ("Calsign", "callsign"),
        ("Frist name", "first_name"),
        ("Lats name", "last_name"),
        ("Citty", "town"),
        ("Contry", "country"),
    ],
)
def test_a_heading_with_one_wrong_letter_is_the_heading(heading: str, meaning: str) -> None:
    assert sense_of(heading).classes == {meaning: ENDING}


@pytest.mark.parametrize(
    ("name", "marked"),
    [
        ("Berg Anna", "Berg, Anna"),
        ("de la Cruz Juan", "de la Cruz, Juan"),
        ("VAN DER BERG Jan", "VAN DER BERG, Jan"),
        ("Berg, Anna", "Berg, Anna"),
        ("Anna", "Anna"),
    ],
)
def test_the_surname_before_a_first_name_is_marked(name: str, marked: str) -> None:
    assert surname_marked(name) == marked


@pytest.mark.parametrize(
    ("name", "marked"),
    [
        ("BERG Anna", "BERG, Anna"),
        ("van der BERG Anna Maria", "van der BERG, Anna Maria"),
        ("O'DELL-ŠTURM Ivo", "O'DELL-ŠTURM, Ivo"),
        ("Anna BERG", "Anna BERG"),
        ("Anna Berg", "Anna Berg"),
        ("BERG ANNA", "BERG ANNA"),
        ("J. Berg", "J. Berg"),
    ],
)
def test_capitals_mark_the_surname(name: str, marked: str) -> None:
    assert capitals_marked(name) == marked


@pytest.mark.parametrize("heading", ["Name", "Operator", ""])
def test_surnames_in_capitals_stand_first_where_most_names_show_it(tmp_path: Path, heading: str) -> None:
    names = ["ROTH Ada", "VAN DEN BERG Bruno", "Cilli Wels", "IBSEN Dario", "KELM Ann"]
    rows = [f"OE{place + 1}KAA,{2321001 + 57 * place},{name}" for place, name in enumerate(names)]
    path = tmp_path / "crew.csv"
    path.write_text("\n".join([*([f"Call,DMR ID,{heading}"] if heading else []), *rows]) + "\n")
    found = pruner.stations(path).contacts
    assert found["first_name"].to_list() == ["Ada", "Bruno", "Cilli", "Dario", "Ann"]
    assert [name.upper() for name in found["last_name"]] == ["ROTH", "VAN DEN BERG", "WELS", "IBSEN", "KELM"]
    path.write_text(path.read_text().replace("ROTH Ada", "Ada Roth").replace("IBSEN Dario", "DARIO IBSEN"))
    assert pruner.stations(path).contacts["first_name"].to_list()[4] == "KELM"  # too few show it


def test_codes_of_states_that_contradict_the_call_signs_are_no_countries() -> None:
    rows = [[f"310{1000 + 7 * n}", f"W{n}ABC", state] for n, state in enumerate(("CA", "ME", "GA", "AZ", "AL", "MN"), 1)]
    found = identify(Board(["DMR ID", "Call", "ST"], rows, "dmr"), STATIONS, {})
    assert {meaning: choice.position for meaning, choice in found.choices.items()} == {"id": 0, "callsign": 1, "state": 2}


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        *(
            ("Surename", "last_name"),
            ("Fornames", "first_name"),
            ("Towm", "town"),
            ("Contry", "country"),
            ("Callsing", "callsign"),
        ),
        *(("Nachn.", "last_name"), ("Rufz.", "callsign"), ("Нас. място", "town"), ("vn", "first_name"), ("Teilnehmer", "name")),
        *(("Eftirnafn", "last_name"), ("ქალაქი", "town"), ("نام خانوادگی", "last_name"), ("Mbiemri", "last_name")),
    ],
)
def test_misspelt_shortened_and_further_words(heading: str, meaning: str) -> None:
    """Of Icelandic, Georgian, Persian and Albanian: from memory."""
    assert meaning in sense_of(heading).classes


@pytest.mark.parametrize("heading", ["paid", "void", "grid", "Game", "Rate"])
def test_words_that_only_end_or_sound_like_others_mean_none_of_ours(heading: str) -> None:
    assert not sense_of(heading).classes.keys() & set(STATIONS.names)


@pytest.mark.parametrize(("heading", "is_name"), [("Member", True), ("Mitglied", True), ("Xqvw", True), ("Remark", False)])
def test_a_column_of_persons_is_that_of_names_where_there_is_no_other(heading: str, is_name: bool) -> None:
    names = ["Ada Ferro", "Bruno Klaas", "Cilli de Roo", "Dario Ibsen"]
    lines = [f"{2_321_001 + 57 * at};OE1KA{'ABCD'[at]};{name};Wien" for at, name in enumerate(names)]
    found = cut_text("\n".join([f"ID;Call;{heading};Town", *lines]) + "\n", [], STATIONS, "dmr", {})
    assert found is not None
    assert ("name" in found.found.choices) is is_name


def test_call_signs_before_names_speak_for_ids_without_headings() -> None:
    lines = [f"OE1KA{'ABCDEF'[at]} Ada Ferro, Wien, {2_321_001 + 57 * at}" for at in range(6)]
    found = cut_text("\n".join(lines) + "\n", [], STATIONS, "dmr", {})
    assert found is not None
    assert (found.found.trouble, found.found.positions["id"], found.found.named) == ("", 2, "name")


def test_columns_under_a_drawn_line_are_cut_by_place_whatever_stands_around() -> None:
    lines = [
        "A CLUB",
        "",
        "CALL    ID       TOWN",
        "------  -------  -----------",
        "OE1KAA  2321001  Sankt Anton",
        "OE1KAB  2321058  Wien",
    ]
    found = cut_text("\n".join([*lines, "OE1KAC  2321158  Bad Aussee", "", "THE END OF IT"]) + "\n", [], STATIONS, "dmr", {})
    assert found is not None
    assert found.board.columns[2].cells[:3] == ["Sankt Anton", "Wien", "Bad Aussee"]
