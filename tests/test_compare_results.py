"""Two results compared: against DuckDB's full outer join, and as a user finds the file of changes."""

from __future__ import annotations

import csv
import shutil
from dataclasses import asdict
from pathlib import Path

import duckdb
import polars as pl
import pytest
from demo_worlds import folded_demo
from draws import draws
from history_samples import CONTACTS, contacts_of, summary
from hypothesis import given

from pruner.ask.history import contacts_at
from pruner.history.compare import Difference, compare, write_changes
from pruner.history.contacts import TEXT_COLUMNS, ResultContacts, read_result
from pruner.job import run
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError, SettingsError
from pruner.words.schema import CONTACT_COLUMNS

QUERY = f"""
select coalesce(n.system, o.system) as system, coalesce(n.id, o.id) as id, coalesce(n.callsign, o.callsign) as callsign,
  case when o.id is null then 'added' when n.id is null then 'removed' else 'changed' end as what,
  case when o.id is null or n.id is null then '' else concat_ws(' ', {
    ", ".join(f"case when o.{column} <> n.{column} then '{column}' end" for column in TEXT_COLUMNS)
}) end as fields,
  coalesce(n.country_code, o.country_code) as country, coalesce(n.rule, o.rule) as rule
from old o full outer join new n on o.system = n.system and o.id = n.id
where o.id is null or n.id is null or {" or ".join(f"o.{column} <> n.{column}" for column in TEXT_COLUMNS)}
order by 1, 2
"""


@pytest.mark.long
@given(CONTACTS, CONTACTS)
@draws(30)
def test_as_a_full_outer_join_in_sql(old_rows: dict, new_rows: dict) -> None:
    """DuckDB is the independent oracle."""
    old, new = contacts_of(old_rows), contacts_of(new_rows)
    found = compare(old, new)
    with duckdb.connect() as database:
        database.register("old", old.frame.to_arrow())
        database.register("new", new.frame.to_arrow())
        expected = database.execute(QUERY).fetchall()
    assert found.changes.rows() == expected


@given(CONTACTS, CONTACTS)
@draws(30)
def test_what_must_hold_of_any_two(old_rows: dict, new_rows: dict) -> None:
    old, new = contacts_of(old_rows), contacts_of(new_rows)
    found, back = compare(old, new), compare(new, old)
    assert compare(old, old).same
    assert found.old + found.counts["added"] - found.counts["removed"] == found.new
    assert (found.counts["added"], found.counts["removed"]) == (back.counts["removed"], back.counts["added"])
    assert found.changes.filter(pl.col("what") == "changed")["fields"].to_list() == [
        fields for fields, what in back.changes.select("fields", "what").rows() if what == "changed"
    ]
    for column in ("country", "rule"):
        groups = found.by(column)
        assert sum(group.total for group in groups) == found.total == sum(found.counts.values())
        assert groups == sorted(groups, key=lambda group: (-group.total, group.name))
        for group in groups:
            rows = found.changes.filter(pl.col(column) == group.name)["what"].to_list()
            assert {what: rows.count(what) for what in ("added", "removed", "changed")}.items() <= asdict(group).items()
    lists = [fields.split() for fields in found.changes["fields"].to_list()]
    assert found.by_field() == {c: n for c in TEXT_COLUMNS if (n := sum(c in fields for fields in lists))}


def test_only_what_both_sides_know_is_compared() -> None:
    full = contacts_of({(0, 1): {"callsign": "OE1AAA", "town": "Wien"}})
    bare = contacts_of({(0, 1): {"callsign": "OE1AAB"}}, fields=("callsign",))
    found = compare(full, bare)
    assert found.changes["fields"].to_list() == ["callsign"]
    assert found.compared == ("callsign",)
    nothing = compare(full, contacts_of({(0, 1): {}, (0, 2): {}}, fields=()))
    assert nothing.counts == {"added": 1, "removed": 0, "changed": 0}


def test_contacts_out_of_order_are_a_fault() -> None:
    good = contacts_of({(0, 1): {}, (0, 2): {}})
    with pytest.raises(ValueError, match="ordered by system and id"):
        compare(ResultContacts("x", good.frame.reverse()), good)


HOSTILE = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    " \u00a0=1",
    "\x00=1",
    "＝1",
    "a\nb",
    "a\x1b[2Jb",
    "a\u202eb",
    '"quoted", comma',
]


def test_the_file_can_be_opened_by_a_spreadsheet(tmp_path: Path) -> None:
    """No cell begins as a formula (OWASP "CSV Injection", from memory), no character turns or moves anything."""
    rows = {(0, number): {"callsign": text, "rule": text} for number, text in enumerate(HOSTILE, 1)}
    write_changes(compare(contacts_of({}), contacts_of(rows)), tmp_path / "changes.csv")
    text = (tmp_path / "changes.csv").read_text(encoding="utf-8")
    assert not any(ord(c) < 32 and c != "\n" for c in text)
    assert not set(text) & {"\u202e", "\x7f"}
    heading, *lines = csv.reader(text.splitlines())
    assert heading == ["id", "callsign", "what", "fields", "country", "rule"]
    assert [line[0] for line in lines] == [str(number) for number in range(1, len(HOSTILE) + 1)]
    assert [line[1] for line in lines] == ["1+1", "1", "1", "SUM(A1)", "1", "1", "1", "1", "ab", "a[2Jb", "ab", HOSTILE[-1]]
    assert [line[5] for line in lines] == [line[1] for line in lines]


def test_a_file_that_cannot_be_written_is_one_line_and_leaves_the_old_one(tmp_path: Path) -> None:
    found = compare(contacts_of({}), contacts_of({(0, 1): {}}))
    (tmp_path / "file").write_text("mine")
    with pytest.raises(SettingsError, match="cannot be written"):
        write_changes(found, tmp_path / "file" / "changes.csv")
    broken = Difference(found.changes.drop("rule"), 0, 1)
    with pytest.raises(pl.exceptions.ColumnNotFoundError):
        write_changes(broken, tmp_path / "file")
    assert (tmp_path / "file").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["file"]


@pytest.fixture(scope="module")
def tour(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo that was fitted: the folder of its result."""
    folder = tmp_path_factory.mktemp("tour") / "demo"
    run(load_settings(folded_demo(folder)))
    return folder / "out" / "loan-handheld"


def rewritten(path: Path, other: Path, delimiter: str, encoding: str) -> None:
    """The same contacts in another dialect, with another heading for one column."""
    with path.open(encoding="utf-8", newline="") as old, other.open("w", encoding=encoding, newline="") as new:
        rows = list(csv.reader(old))
        rows[0][2] = "First Name"
        csv.writer(new, delimiter=delimiter).writerows(rows)


@pytest.mark.long
def test_a_result_as_it_was_written(tour: Path) -> None:
    found = read_result(tour)
    with (tour / "contacts.csv").open(encoding="utf-8", newline="") as file:
        written = [tuple(row.values()) for row in csv.DictReader(file)]
    assert found.frame.select(pl.col(CONTACT_COLUMNS).cast(pl.String)).rows() == written
    kept = pl.read_parquet(tour / "ledger.parquet").filter(pl.col("outcome") == "kept").sort("id")
    assert found.frame["rule"].to_list() == kept["rule"].to_list()
    assert found.frame["country_code"].to_list() == kept["country"].fill_null("").to_list()


def test_a_folder_and_its_contact_file_are_the_same(tour: Path, tmp_path: Path) -> None:
    """The file goes the way of any directory, whatever its delimiter and encoding."""
    other = tmp_path / "other.csv"
    rewritten(tour / "contacts.csv", other, ";", "utf-16")
    for path in (tour / "contacts.csv", other):
        found = compare(contacts_at(tour), contacts_at(path))
        assert found.same
        assert found.new == len(read_result(tour)) > 1000


def test_results_that_cannot_be_compared(tour: Path, tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="holds no finished run"):
        read_result(tmp_path)
    copy = tmp_path / "copy"
    shutil.copytree(tour, copy)
    lines = (copy / "contacts.csv").read_text(encoding="utf-8").splitlines()
    (copy / "contacts.csv").write_text("\n".join([lines[0], *lines[2:]]) + "\n", encoding="utf-8")
    with pytest.raises(InputRefusedError, match=r"does not hold the contacts that ledger\.parquet names"):
        read_result(copy)
    (copy / "ledger.parquet").write_bytes(b"PAR1")
    with pytest.raises(SettingsError, match="is not the ledger"):
        read_result(copy)


def test_a_result_in_a_layout_of_its_own(tour: Path, tmp_path: Path) -> None:
    """Its texts are read where its file can be read as a directory; else the ledger gives the call sign."""
    readable, opaque = tmp_path / "readable", tmp_path / "opaque"
    for copy in (readable, opaque):
        shutil.copytree(tour, copy)
        rewritten(copy / "contacts.csv", copy / "contacts-01.txt", "\t", "utf-8")
        (copy / "contacts.csv").unlink()
        summary = (copy / "summary.json").read_text(encoding="utf-8")
        (copy / "summary.json").write_text(summary.replace("contacts.csv", "contacts-01.txt"), encoding="utf-8")
    found = compare(contacts_at(tour), contacts_at(readable))
    assert (found.same, found.compared) == (True, TEXT_COLUMNS)
    (opaque / "contacts-01.txt").write_text("0000001 AB\n", encoding="ascii")
    found = compare(contacts_at(tour), contacts_at(opaque))
    assert (found.same, found.total, found.compared) == (False, 0, ("callsign",))
    assert any("in a layout that it does not record" in sentence for sentence in found.not_compared)


def test_nothing_kept(tour: Path, tmp_path: Path) -> None:
    settings_file = tour.parent.parent / "pruner.toml"
    text = settings_file.read_text(encoding="utf-8").replace("200_000", "0").replace('folder = "out"', f"folder = '{tmp_path}'")
    (settings_file.parent / "none.toml").write_text(text, encoding="utf-8")
    run(load_settings(settings_file.parent / "none.toml"))
    found = compare(read_result(tour), read_result(tmp_path / "loan-handheld"))
    assert found.counts["removed"] == found.old == found.total


def test_carried_entries_put_the_file_in_the_order_of_ids_alone(tmp_path: Path) -> None:
    """Stations of two systems: the ledger tells which is which, whatever the order of the file."""
    rows = [("nxdn", 5, "kept"), ("dmr", 9, "kept"), ("dmr", 7, "dropped"), ("nxdn", 11, "kept")]
    ledger = pl.DataFrame(rows, schema=["system", "id", "outcome"], orient="row").with_columns(
        pl.col("id").cast(pl.UInt32), callsign=pl.lit(None, pl.String), country=pl.lit("AT"), rule=pl.lit("the rest")
    )
    ledger.write_parquet(tmp_path / "ledger.parquet")
    (tmp_path / "summary.json").write_text(summary(3).text(), encoding="utf-8")
    lines = [",".join(CONTACT_COLUMNS), "N5,5,,,,,", "D9,9,,,,,", "N11,11,,,,,"]
    for order in (lines, [lines[0], lines[2], lines[1], lines[3]]):
        (tmp_path / "contacts.csv").write_text("\n".join(order) + "\n", encoding="utf-8")
        found = read_result(tmp_path).frame
        assert found.select("system", "id", "callsign").rows() == [(0, 9, "D9"), (1, 5, "N5"), (1, 11, "N11")]
