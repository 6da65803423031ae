"""Rows with several ids: columns that are headed alike are read, others are offered; ids that are no longer held are none."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pytest

from pruner.account.parts import Understood
from pruner.job import load
from pruner.read.station_list import read_list
from pruner.settings.load import load_settings
from pruner.table.headings import sense_of

ROWS = (
    "OE1KAA;2321001;2329101;Ada;Austria",
    "OE1KBB;2321017;2329755;Bruno;Austria",
    "OE2KCC;2322333;2328112;Cilli;Austria",
    "DL1KDD;2621234;2629991;Dario;Germany",
)
FIRST = [2_321_001, 2_321_017, 2_322_333, 2_621_234]
SECOND = [2_329_101, 2_329_755, 2_328_112, 2_629_991]


def loaded(tmp_path: Path, headings: str, columns: Mapping[str, str] | None = None) -> tuple[list[int], Understood]:
    (tmp_path / "club.csv").write_text("\n".join([headings, *ROWS]) + "\n")
    said = ", ".join(f'{meaning} = "{column}"' for meaning, column in (columns or {}).items())
    (tmp_path / "pruner.toml").write_text(
        f'[[source]]\nname = "club"\nlocation = "club.csv"\ncolumns = {{ {said} }}\n'
        '[[keep]]\nname = "all"\n[[radio]]\nname = "r"\ncontacts = 20\n'
    )
    found = load(load_settings(tmp_path / "pruner.toml"))
    return found.contacts.number.tolist(), found.sources[0].understanding.told("club.csv")


@pytest.mark.parametrize(
    "pair",
    [
        *("ID;Second ID", "Primary ID;Secondary ID", "DMR ID 1;DMR ID 2", "1. ID;2. ID", "ID;ID 2", "Erste ID;Zweite ID"),
        "Premier ID;Deuxième ID",
    ],
)
def test_columns_that_are_headed_alike_are_ids_of_one_row(tmp_path: Path, pair: str) -> None:
    numbers, understood = loaded(tmp_path, f"Call;{pair};Name;Country")
    assert numbers == sorted(FIRST + SECOND)
    assert "several ids in a row" in understood.sentence


@pytest.mark.parametrize("pair", ["Radio ID;In the car", "DMR ID;Second radio", "Handheld;Mobile"])
def test_a_further_column_of_ids_is_offered(tmp_path: Path, pair: str) -> None:
    one, other = pair.split(";")
    numbers, understood = loaded(tmp_path, f"Call;{pair};Name;Country")
    assert numbers == sorted(FIRST)
    assert f"id_2={other}" in understood.sentence
    numbers, understood = loaded(tmp_path, f"Call;{pair};Name;Country", {"id": one, "id_2": other})
    assert numbers == sorted(FIRST + SECOND)
    assert "id_2" not in understood.sentence


@pytest.mark.parametrize(
    "heading", ["Old ID", "Former ID", "Previous DMR ID", "alte ID", "ancien ID", "Sponsor ID", "Repeater ID"]
)
def test_ids_that_are_not_those_of_the_rows_are_none(tmp_path: Path, heading: str) -> None:
    """A column of previous ids beside the present ones is neither taken nor a reason to refuse."""
    for headings, ids in ((f"Call;DMR ID;{heading};Name;Country", FIRST), (f"Call;{heading};ID;Name;Country", SECOND)):
        numbers, understood = loaded(tmp_path, headings)
        assert numbers == sorted(ids)
        assert "further columns" not in understood.sentence


def test_a_list_names_all_ids_of_its_rows(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("Member;ID 1;ID 2\nAda;2321001;2329101\nBruno;2321017;\nCilli;2322333;2328112\n")
    assert read_list(path).ids.tolist() == [2_321_001, 2_321_017, 2_322_333, 2_328_112, 2_329_101]
    path.write_text("\n".join(["Call;Radio;In the car;Name;Country", *ROWS]))
    assert read_list(path, {"id": "Radio", "id_2": "In the car"}).ids.tolist() == sorted(FIRST + SECOND)


@pytest.mark.parametrize(
    ("heading", "meaning"),
    [
        *(("Second ID", "id"), ("Duration second", "seconds"), ("Second", "seconds"), ("First heard", "time")),
        *(("Previous DMR ID", "previous_callsign"), ("Old call", "previous_callsign"), ("старый ID", "previous_callsign")),
    ],
)
def test_words_that_count_and_words_for_what_was(heading: str, meaning: str) -> None:
    assert max(sense_of(heading).classes, key=sense_of(heading).classes.__getitem__) == meaning
