"""Several radios in one run, rules of their own, room kept free, entries carried, limits that nobody configured."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pruner.ask.what_if import what_if
from pruner.job import run
from pruner.job.run import load
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError, SettingsError

STATIONS = [
    ("2320001", "OE1AA", "Anna Berg", "Austria"),
    ("2320002", "OE2BB", "Bert Tal", "Austria"),
    ("2320003", "OE3CC", "Cora See", "Austria"),
    ("2620001", "DL1DD", "Dora Wald", "Germany"),
    ("2620002", "DL2EE", "Emil Feld", "Germany"),
    ("2220001", "IK1FF", "Fina Ponte", "Italy"),
]
RULES = """
[home]
country = "AT"
[[keep]]
name = "home"
countries = ["home"]
[[keep]]
name = "neighbours"
neighbours_of = ["home"]
"""


def made(folder: Path, radios: str) -> Path:
    lines = ["id,callsign,name,country", *(",".join(row) for row in STATIONS)]
    (folder / "stations.csv").write_text("\n".join(lines) + "\n")
    settings = folder / "pruner.toml"
    settings.write_text('[[source]]\nname = "world"\nlocation = "stations.csv"\n' + RULES + radios)
    return settings


def ids(folder: Path) -> list[int]:
    with (folder / "contacts.csv").open(newline="") as file:
        return [int(row["id"]) for row in csv.DictReader(file)]


def summary(folder: Path) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads((folder / "summary.json").read_text())
    return loaded


def account_holds(folder: Path) -> None:
    told = summary(folder)
    assert told["read"] == told["kept"] + sum(told["dropped"].values()) + told["rejected"]
    ledger = pl.read_parquet(folder / "ledger.parquet")
    assert ledger.height == told["read"]
    assert ledger.filter(pl.col("outcome") == "kept").height == told["kept"] == len(ids(folder))
    ranks = ledger.filter(pl.col("outcome") == "kept")["rank"].sort().to_list()
    assert ranks == list(range(1, told["kept"] + 1))
    assert told["kept"] == sum(rule["kept"] for rule in told["rules"])


def test_each_radio_has_its_own_limit_rules_and_order(tmp_path: Path) -> None:
    settings = load_settings(
        made(
            tmp_path,
            '[[radio]]\nname = "small"\ncontacts = 2\n'
            '[[radio]]\nname = "abroad"\ncontacts = 4\nrules = ["neighbours", "home"]\n'
            '[[radio]]\nname = "only"\ncontacts = 9\nrules = ["neighbours"]\n',
        )
    )
    run(settings)
    out = tmp_path / "out"
    assert ids(out / "small") == [2320001, 2320002]
    assert ids(out / "abroad") == [2220001, 2320001, 2620001, 2620002]
    assert ids(out / "only") == [2220001, 2620001, 2620002]
    assert [rule["name"] for rule in summary(out / "abroad")["rules"]] == ["neighbours", "home"]
    assert summary(out / "abroad")["cut"]["rule"] == "home"
    assert summary(out / "only")["dropped"] == {"no rule": 3}
    for name in ("small", "abroad", "only"):
        account_holds(out / name)


@pytest.mark.parametrize(("free", "kept"), [(0, 4), (1, 3), (3, 1)])
def test_room_kept_free(tmp_path: Path, free: int, kept: int) -> None:
    run(load_settings(made(tmp_path, f'[[radio]]\nname = "r"\ncontacts = 4\nkeep_free = {free}\n')))
    assert len(ids(tmp_path / "out/r")) == kept
    account_holds(tmp_path / "out/r")


def test_carried_entries_come_first_and_unchanged(tmp_path: Path) -> None:
    (tmp_path / "export.csv").write_text(
        "Id;Call sign;First name;Last name;Town\n"
        "2620002;dl2ee/p;SHOUTED;name;My Town \n"
        "77;;Workshop;;\n"
        "nothing;X1X;;;\n"
        "77;;Workshop again;;\n"
    )
    settings = made(tmp_path, '[[radio]]\nname = "r"\ncontacts = 4\ncarried = "export.csv"\n')
    run(load_settings(settings))
    out = tmp_path / "out/r"
    assert ids(out) == [77, 2320001, 2320002, 2620002]
    with (out / "contacts.csv").open(newline="") as file:
        rows = {row["id"]: row for row in csv.DictReader(file)}
    assert rows["2620002"]["callsign"] == "dl2ee/p"
    assert (rows["2620002"]["first_name"], rows["2620002"]["last_name"]) == ("SHOUTED", "name")
    assert rows["2620002"]["town"] == "My Town "
    assert rows["77"]["first_name"] == "Workshop again"
    account_holds(out)
    told = summary(out)
    assert told["rules"][0] == {
        "name": "carried entries", "order": "id", "at_most": None, "matched": 2, "owned": 2, "kept": 2,
        "grows": False,
    }  # fmt: skip
    assert told["dropped"] == {"duplicate id": 2, "over limit": 3}
    assert told["sources"][-1]["name"] == "carried entries"
    ledger = pl.read_parquet(out / "ledger.parquet")
    given_way = ledger.filter((pl.col("id") == 2620002) & (pl.col("source") == "world"))
    assert given_way["reason"].to_list() == ["duplicate id"]


def test_more_carried_entries_than_room(tmp_path: Path) -> None:
    (tmp_path / "export.csv").write_text("id,callsign\n3,A1A\n2,A1B\n1,A1C\n")
    run(load_settings(made(tmp_path, '[[radio]]\nname = "r"\ncontacts = 3\nkeep_free = 1\ncarried = "export.csv"\n')))
    assert ids(tmp_path / "out/r") == [1, 2]
    account_holds(tmp_path / "out/r")
    assert summary(tmp_path / "out/r")["dropped"] == {"over limit": 7}


def test_a_broken_export_is_refused(tmp_path: Path) -> None:
    (tmp_path / "export.csv").write_text("<html><body>no</body></html>\n")
    with pytest.raises(InputRefusedError, match=r"export\.csv"):
        run(load_settings(made(tmp_path, '[[radio]]\nname = "r"\ncontacts = 3\ncarried = "export.csv"\n')))
    assert not (tmp_path / "out/r").exists()


def test_what_if_tells_what_a_fit_with_that_limit_does(tmp_path: Path) -> None:
    radio = '[[radio]]\nname = "r"\ncontacts = 1\n'
    settings = load_settings(made(tmp_path, radio))
    rows = what_if(load(settings), settings.radios[0], [5, 2, 5, 100], 9600)
    assert [row.contacts for row in rows] == [2, 5, 100]
    for row in rows:
        run(load_settings(made(tmp_path, radio.replace("1", str(row.contacts)))))
        told = summary(tmp_path / "out/r")
        size = (tmp_path / "out/r/contacts.csv").stat().st_size
        assert (row.kept, row.bytes) == (told["kept"], size)
        assert row.rules == {rule["name"]: rule["kept"] for rule in told["rules"]}
        assert row.cut == (told["cut"] and told["cut"]["rule"])
        assert row.seconds == pytest.approx(size * 10 / 9600, abs=0.05)
        assert row.coverage is None


def test_a_radio_with_a_layout(tmp_path: Path) -> None:
    (tmp_path / "bench.layout.toml").write_text(
        '[file]\ndelimiter = ";"\norder = "rank"\nline_ending = "lf"\nending = "txt"\nrows_per_file = 3\n'
        '[[column]]\ntitle = "Sign"\nvalue = "{callsign}"\nwidth = 5\n'
        '[[column]]\ntitle = "Told"\nvalue = "{rank} {rule} {country_code} {kind} {first_name}"\n'
        '[[column]]\ntitle = "Where"\nvalue = "{id}"\n'
    )
    (tmp_path / "export.csv").write_text("id,callsign,country\n77,WORKSHOP,Italy\n")
    radio = '[[radio]]\nname = "r"\ncontacts = 4\nlayout = "bench.layout.toml"\ncarried = "export.csv"\n'
    run(load_settings(made(tmp_path, radio)))
    out = tmp_path / "out/r"
    assert (out / "contacts-01.txt").read_text() == (
        "Sign;Told;Where\nWORKS;1 carried entries IT other;77\n"
        "OE1AA;2 home AT person Anna;2320001\nOE2BB;3 home AT person Bert;2320002\n"
    )
    assert (out / "contacts-02.txt").read_text() == "Sign;Told;Where\nOE3CC;4 home AT person Cora;2320003\n"
    told = summary(out)
    assert [file["name"] for file in told["files"]] == [
        "contacts-01.txt", "contacts-02.txt", "ledger.parquet", "rejected.csv", "report.html",
    ]  # fmt: skip
    assert sum(count for word, count in told["changed"].items() if "short" in word) == 1


def test_a_broken_layout_stops_before_anything_is_written(tmp_path: Path) -> None:
    (tmp_path / "bench.layout.toml").write_text('[[column]]\nvalue = "{idd}"\n')
    radio = '[[radio]]\nname = "r"\ncontacts = 4\nlayout = "bench.layout.toml"\n'
    with pytest.raises(SettingsError, match=r"bench\.layout\.toml:2: .*idd"):
        run(load_settings(made(tmp_path, radio)))
    assert not (tmp_path / "out/r").exists()


def test_a_folder_is_a_source_like_its_files(tmp_path: Path) -> None:
    """Hidden files are no part of it; so is a folder whose name looks like a pattern."""
    settings = made(tmp_path, '[[radio]]\nname = "r"\ncontacts = 9\n')
    whole = (tmp_path / "stations.csv").read_text().splitlines()
    folder = tmp_path / "lists[1]"
    folder.mkdir()
    (folder / "a.csv").write_text("\n".join(whole[:4]) + "\n")
    (folder / "b.csv").write_text("\n".join([whole[0], *whole[4:]]) + "\n")
    (folder / ".c.csv").write_text("no directory at all")
    settings.write_text(settings.read_text().replace('"stations.csv"', '"lists[1]"'))
    run(load_settings(settings))
    assert ids(tmp_path / "out/r") == sorted(int(station[0]) for station in STATIONS)
    account_holds(tmp_path / "out/r")
