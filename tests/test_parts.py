"""Files that hold a list in several tables: read whole, without other states of the list."""

from __future__ import annotations

import gzip
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest

import pruner
from pruner.read.kinds import STATIONS
from pruner.read.open_table import open_table
from pruner.words import schema
from pruner.words.errors import InputRefusedError

AUSTRIA = [{"id": 2320100 + 37 * row, "callsign": f"OE{row}ABC", "name": f"Ada {row}"} for row in range(1, 10)]
GERMANY = [{"id": 2620100 + 41 * row, "callsign": f"DL{row}XYZ", "name": f"Bob {row}"} for row in range(1, 10)]
FEW = [{"id": 2280155, "callsign": "HB9ZZZ", "name": "Cy"}]


def ids_of(path: Path) -> list[str]:
    opened = open_table(path, STATIONS, "dmr", {})
    return [text for _, job in opened.jobs for text in job().columns[schema.ID].to_pylist()]


def numbers(*lists: list[dict[str, Any]]) -> list[str]:
    return [str(record["id"]) for records in lists for record in records]


def as_csv(records: list[dict[str, Any]]) -> str:
    return "ID;Call;Name\n" + "".join(";".join(map(str, record.values())) + "\n" for record in records)


def archive(**members: str) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w") as file:
        for name, text in members.items():
            file.writestr(f"{name}.csv", text)
    return made.getvalue()


@pytest.mark.parametrize(
    "value",
    [
        {"AT": AUSTRIA, "DE": GERMANY, "CH": FEW},
        {"countries": {"AT": {"members": AUSTRIA}, "DE": {"members": GERMANY}, "CH": {"members": FEW}}},
        [{"country": "AT", "members": AUSTRIA}, {"country": "DE", "members": GERMANY}, {"country": "CH", "members": FEW * 3}],
    ],
    ids=["by key", "deeper", "in records"],
)
def test_lists_under_several_keys_are_one(tmp_path: Path, value: Any) -> None:
    path = tmp_path / "list.json"
    path.write_text(json.dumps(value))
    assert set(ids_of(path)) == set(numbers(AUSTRIA, GERMANY, FEW))


def test_members_of_an_archive_with_the_same_columns_are_one_list(tmp_path: Path) -> None:
    path = tmp_path / "list.zip"
    path.write_bytes(archive(at=as_csv(AUSTRIA), de=as_csv(GERMANY), ch=as_csv(FEW), fees="No;Euro\n1;35\n2;35\n"))
    assert ids_of(path) == numbers(AUSTRIA, GERMANY, FEW)
    sentence = open_table(path, STATIONS, "dmr", {}).understanding.sentence()
    assert "read with it, of the same columns: de.csv, ch.csv" in sentence
    assert "not read, because no table of this kind is found there: fees.csv" in sentence


def test_a_table_without_rows_leaves_nothing_out(tmp_path: Path) -> None:
    path = tmp_path / "list.zip"
    path.write_bytes(archive(at=as_csv(AUSTRIA), empty=""))
    assert ids_of(path) == numbers(AUSTRIA)
    assert "not read" not in open_table(path, STATIONS, "dmr", {}).understanding.sentence()


def test_another_state_of_the_list_is_read_too(tmp_path: Path) -> None:
    path = tmp_path / "list.zip"
    path.write_bytes(archive(now=as_csv(AUSTRIA), before=as_csv(AUSTRIA[:-1] + FEW), copy=as_csv(AUSTRIA[2:])))
    assert ids_of(path) == numbers(AUSTRIA, AUSTRIA[:-1], FEW)
    sentence = open_table(path, STATIONS, "dmr", {}).understanding.sentence()
    assert "read with it, of the same columns: before.csv; not read, because nothing new stands there: copy.csv" in sentence


def test_every_row_of_overlapping_tables_is_accounted_for(tmp_path: Path) -> None:
    path = tmp_path / "list.zip"
    path.write_bytes(archive(now=as_csv(AUSTRIA), before=as_csv(AUSTRIA[:-1] + FEW)))
    summary = pruner.fit([path], radio=pruner.Radio(contacts=100), home=pruner.Home("AT")).summary
    assert (summary.read, summary.kept) == (18, 10)
    assert dict(summary.dropped) == {"duplicate id": 8}


def test_a_table_of_other_columns_is_named(tmp_path: Path) -> None:
    path = tmp_path / "list.zip"
    other = "DMR;Rufz;Ort\n" + "".join(f"{row['id']};{row['callsign']};Kelm\n" for row in GERMANY)
    path.write_bytes(archive(at=as_csv(AUSTRIA), de=other))
    assert ids_of(path) == numbers(AUSTRIA)
    sentence = open_table(path, STATIONS, "dmr", {}).understanding.sentence()
    assert "not read, because the columns are others (put them into files of their own): de.csv" in sentence


@pytest.mark.parametrize("inner", ["more.zip", "more.csv.gz", "more.7z"])
def test_an_archive_in_an_archive_is_named(tmp_path: Path, inner: str) -> None:
    path = tmp_path / "list.zip"
    path.write_bytes(archive(at=as_csv(AUSTRIA)))
    packed = {"more.zip": archive(de=as_csv(GERMANY)), "more.csv.gz": gzip.compress(b"a,b\n"), "more.7z": b"7z\xbc\xaf\x27\x1c"}
    with zipfile.ZipFile(path, "a") as file:
        file.writestr(inner, packed[inner])
        file.writestr("photo.png", b"\x89PNG")
    assert ids_of(path) == numbers(AUSTRIA)
    sentence = open_table(path, STATIONS, "dmr", {}).understanding.sentence()
    assert sentence.endswith(f"not read, because no table of this kind is found there: {inner}")


def test_the_table_with_most_rows_is_read(tmp_path: Path) -> None:
    """Also where a short one says more in its columns."""
    path = tmp_path / "list.zip"
    guests = "DMR ID;Call sign;First name;Last name;Town;Country\n2280155;HB9ZZZ;Cy;Holm;Erlau;Switzerland\n" * 2
    path.write_bytes(archive(guests=guests, at=as_csv(AUSTRIA), de=as_csv(GERMANY)))
    assert ids_of(path) == numbers(AUSTRIA, GERMANY)
    assert "guests.csv" in open_table(path, STATIONS, "dmr", {}).understanding.sentence()


def test_a_description_of_the_columns_heads_rows_of_cells(tmp_path: Path) -> None:
    path = tmp_path / "list.json"
    columns = [{"name": name, "type": "text"} for name in ("DMR ID", "Callsign", "Name")]
    path.write_text(json.dumps({"columns": columns, "rows": [list(record.values()) for record in AUSTRIA]}))
    assert "name from 'Name'" in open_table(path, STATIONS, "dmr", {}).understanding.sentence()


def test_the_longer_list_inside_a_record_is_a_table(tmp_path: Path) -> None:
    path = tmp_path / "list.json"
    path.write_text(json.dumps([{"type": "header", "version": "1"}, {"type": "table", "data": AUSTRIA}]))
    assert ids_of(path) == numbers(AUSTRIA)


def test_headings_in_brackets_are_no_json(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("[id],[call],[name]\n2320137,OE1ABC,Ada\n2320174,OE2ABC,Eve\n2320219,OE3ABC,Ida\n")
    assert ids_of(path) == ["2320137", "2320174", "2320219"]


def test_markup_in_braces_is_not_called_damaged_json(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_text('{| class="table"\n|-\n| 2320137 || OE1ABC\n|}\n')
    with pytest.raises(InputRefusedError, match="no column of ids"):
        ids_of(path)
