"""Which column holds the ids: the particular word before the general one, and never a column that counts the rows."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from pruner.job import load, run
from pruner.settings.load import load_settings
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.words.errors import InputRefusedError

IDS = [2_321_001, 2_321_002, 2_321_003, 2_321_004]


def numbers(tmp_path: Path, headings: str, rows: list[str]) -> list[int]:
    source = tmp_path / "list.csv"
    source.write_text("\n".join([headings, *rows]) + "\n")
    return load(short_settings([source], ShortForm(10, out=tmp_path / "out"))).contacts.number.tolist()


@pytest.mark.parametrize(
    "headings", ["Nr,DMR-ID,Rufzeichen", "id,dmr_id,callsign", "Number,Station ID,Call", "Row,Unit id,Name"]
)
def test_the_particular_word_is_taken_before_the_general_one(tmp_path: Path, headings: str) -> None:
    rows = [f"{place},{number},OE1AA{'XABCDE'[place]}" for place, number in enumerate(IDS, start=1)]
    assert numbers(tmp_path, headings, rows) == IDS


@pytest.mark.parametrize("heading", ["id", "Number", "Nummer"])
def test_a_column_that_counts_the_rows_holds_no_ids(tmp_path: Path, heading: str) -> None:
    rows = [f"{place},OE1AA{'XABCDE'[place]}" for place in range(1, 6)]
    with pytest.raises(
        InputRefusedError, match=rf"list\.csv: line 1: the column '{heading}' counts the rows .*columns = \{{ id"
    ):
        numbers(tmp_path, f"{heading},callsign", rows)


@pytest.mark.parametrize("ids", [[1, 2], [1, 2, 4], [2, 3, 4], [1, 3, 2], [700, 20, 4000]])
def test_numbers_too_small_for_stations_are_no_ids(tmp_path: Path, ids: list[int]) -> None:
    with pytest.raises(InputRefusedError, match=r"list\.csv: line 1: the column 'id' (counts|does not look)"):
        numbers(tmp_path, "id,callsign", [f"{number},OE1AAA" for number in ids])


def test_other_systems_may_number_their_stations_from_one(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("id,callsign\n1,OE1AAA\n2,OE1AAB\n3,OE1AAC\n")
    settings = short_settings([tmp_path / "list.csv"], ShortForm(10, out=tmp_path / "out"))
    source = settings.sources[0].model_copy(update={"system": "nxdn"})
    assert load(settings.model_copy(update={"sources": [source]})).contacts.number.tolist() == [1, 2, 3]


def test_a_column_that_the_settings_name_is_taken_as_it_is(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("id,callsign\n1,OE1AAA\n2,OE1AAB\n3,OE1AAC\n")
    (tmp_path / "pruner.toml").write_text(
        '[[source]]\nname = "list"\nlocation = "list.csv"\ncolumns = { id = "id" }\n'
        '[[keep]]\nname = "all"\n[[radio]]\nname = "r"\ncontacts = 5\n'
    )
    assert load(load_settings(tmp_path / "pruner.toml")).contacts.number.tolist() == [1, 2, 3]


def test_each_column_of_ids_is_a_record_of_its_own(tmp_path: Path) -> None:
    rows = ["OE1AAA,2321001,2321107,Ada", "OE1AAB,2321402,12a,Bela", "OE1AAC,,,Cleo", "OE1AAD,2321904,2321777,Dario"]
    assert numbers(tmp_path, "Call,DMR ID 1,DMR ID 2,Name", rows) == [2_321_001, 2_321_107, 2_321_402, 2_321_777, 2_321_904]


def test_several_ids_in_the_export_of_a_radio_keep_their_texts(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("id,callsign\n2321001,OE1AAA\n2321002,OE1AAB\n2321003,OE1AAC\n")
    export = "id,callsign,name\n2321007 2321008,OE1AAX,Ada\n2321009,OE1AAY,Bela\n2321010,OE1AAZ,Cleo\n"
    (tmp_path / "export.csv").write_text(export)
    (tmp_path / "pruner.toml").write_text(
        '[[source]]\nname = "list"\nlocation = "list.csv"\n[[keep]]\nname = "all"\n'
        '[[radio]]\nname = "r"\ncontacts = 9\ncarried = "export.csv"\n'
    )
    run(load_settings(tmp_path / "pruner.toml"))
    written = pl.read_csv(tmp_path / "out" / "r" / "contacts.csv").filter(pl.col("id") > 2_321_003)
    names = ["Ada", "Ada", "Bela", "Cleo"]
    assert written.select("id", "first_name").rows() == list(zip(range(2_321_007, 2_321_011), names, strict=True))


def test_a_heading_line_is_no_record_where_columns_are_said_by_position(tmp_path: Path) -> None:
    (tmp_path / "list.csv").write_text("id,callsign\n# of last month\n2321001,OE1AAA\n2321002,OE1AAB\n2321003,OE1AAC\n")
    (tmp_path / "pruner.toml").write_text(
        '[[source]]\nname = "list"\nlocation = "list.csv"\ncolumns = { id = 1, callsign = 2 }\n'
        '[[keep]]\nname = "all"\n[[radio]]\nname = "r"\ncontacts = 9\n'
    )
    loaded = load(load_settings(tmp_path / "pruner.toml"))
    assert loaded.contacts.number.tolist() == IDS[:3]
    assert not loaded.sources[0].rejected


@pytest.mark.parametrize("mark", ["-", "unknown", "n/a", "keine Angabe"])
def test_marks_of_emptiness_do_not_speak_against_a_column(tmp_path: Path, mark: str) -> None:
    """Most cells of the country, and half of the call signs, are not known; a mark says so as an empty cell does."""
    signs = [f"OE1AA{'ABCDEFGHIJ'[at]}" if at % 2 else mark for at in range(10)]
    rows = [f"{2_321_001 + 97 * at},{sign},{'Austria' if at < 2 else mark}" for at, sign in enumerate(signs)]
    source = tmp_path / "list.csv"
    source.write_text("\n".join(["Number,Sign,Country,Name", *(f"{row},Ada" for row in rows)]) + "\n")
    loaded = load(short_settings([source], ShortForm(10, out=tmp_path / "out")))
    taken = {use.meaning: use.number for use in loaded.sources[0].understanding.columns}
    assert taken == {"id": 1, "callsign": 2, "country": 3, "name": 4}
    assert len(loaded.contacts) == len(rows)


def test_only_call_signs_of_stations_count_as_tidied(tmp_path: Path) -> None:
    source = tmp_path / "list.csv"
    source.write_text("id,callsign\n2321001,oe1aaa\n2321002,OE1AAB\nnone,oe1aac\n16777215,oe1aad\n2321005,oe1aae/p\n" * 3)
    settings = short_settings([source], ShortForm(10, out=tmp_path / "out"))
    settings = settings.model_copy(update={"sources": [settings.sources[0].model_copy(update={"rejected_share_at_most": 1.0})]})
    assert load(settings).sources[0].counts["call signs tidied"] == 6
