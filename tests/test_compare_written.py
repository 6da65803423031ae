"""What is remembered as written to a radio: enough to tell changes, no name."""

from __future__ import annotations

import datetime
import hashlib
import stat
import tempfile
from pathlib import Path

import polars as pl
import pytest
from draws import draws
from history_samples import CONTACTS, contacts_of
from hypothesis import given

from pruner.history.compare import compare
from pruner.history.contacts import TEXT_COLUMNS
from pruner.history.written import compare_with_written, default_threshold, fingerprints, mark, marked_file, read_written
from pruner.words.errors import SettingsError

DAY = datetime.date(2026, 3, 1)
ONE = {
    (0, 2320001): {"callsign": "OE1AAA", "first_name": "Adalberta", "town": "Oberstal", "country_code": "AT", "rule": "club"}
}


@given(CONTACTS, CONTACTS)
@draws(30)
def test_tells_the_same_changes_as_the_results_themselves(old_rows: dict, new_rows: dict) -> None:
    old, new = contacts_of(old_rows), contacts_of(new_rows)
    with tempfile.TemporaryDirectory() as state:
        mark(Path(state), "radio", old, DAY)
        found = compare_with_written(Path(state), "radio", new)
    assert found is not None
    expected = compare(old, new)
    known = ["system", "id", "what", "country", "rule"]
    assert found.changes.select(known).equals(expected.changes.select(known))
    assert (found.old, found.new, found.by("rule")) == (expected.old, expected.new, expected.by("rule"))


def test_no_name_and_no_call_sign_is_kept(tmp_path: Path) -> None:
    """Whoever is erased at the source is not found by any text of theirs."""
    path = mark(tmp_path, "radio", contacts_of(ONE), DAY)
    assert [file for file in tmp_path.rglob("*") if file.is_file()] == [path] == [marked_file(tmp_path, "radio")]
    kept = pl.read_parquet(path)
    assert kept.schema == {
        "system": pl.UInt8,
        "id": pl.UInt32,
        "country_code": pl.String,
        "rule": pl.String,
        "fingerprint": pl.UInt64,
    }
    assert kept.drop("fingerprint").rows() == [(0, 2320001, "AT", "club")]
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    for text in (b"OE1AAA", b"Adalberta", b"Oberstal"):
        assert text not in path.read_bytes()
    gone = compare_with_written(tmp_path, "radio", contacts_of({}))
    assert gone is not None
    assert gone.changes.rows() == [(0, 2320001, "", "removed", "", "AT", "club")]


def test_every_marking_has_a_key_of_its_own(tmp_path: Path) -> None:
    """So that fingerprints of two markings, or of two owners, cannot be matched with each other or with a list of names."""
    seen = set()
    for number in range(5):
        mark(tmp_path, f"radio {number}", contacts_of(ONE))
        marked = read_written(tmp_path, f"radio {number}")
        assert marked is not None
        seen.add((marked.key, marked.frame["fingerprint"][0]))
    assert len({key for key, _ in seen}) == len({mark for _, mark in seen}) == 5


def test_fingerprints_are_keyed_hashes_of_each_column() -> None:
    """Computed one by one with hashlib's BLAKE2b (RFC 7693)."""
    rows = {
        (0, 1): {"callsign": "OE1AAA", "first_name": "Ada", "last_name": "Bea"},
        (0, 2): {"callsign": "OE1AAA", "first_name": "Bea", "last_name": "Ada"},
        (0, 3): {},
    }
    contacts, key = contacts_of(rows), bytes(range(32))
    expected = []
    for row in contacts.frame.to_dicts():
        parts = [hashlib.blake2b(row[c].encode(), key=key, digest_size=8, person=c.encode()).digest() for c in TEXT_COLUMNS]
        expected.append(sum(int.from_bytes(part, "little") for part in parts) % (1 << 64))
    assert fingerprints(contacts.frame, TEXT_COLUMNS, key).tolist() == expected
    assert len(set(expected)) == 3


def test_the_last_marking_counts_and_knows_its_day(tmp_path: Path) -> None:
    assert compare_with_written(tmp_path, "radio", contacts_of(ONE)) is None
    mark(tmp_path, "radio", contacts_of({}), DAY)
    mark(tmp_path, "radio", contacts_of(ONE), datetime.date(2026, 4, 1))
    marked, found = read_written(tmp_path, "radio"), compare_with_written(tmp_path, "radio", contacts_of(ONE))
    assert marked is not None
    assert found is not None
    assert (marked.day, found.same) == (datetime.date(2026, 4, 1), True)
    mark(tmp_path, "radio", contacts_of(ONE))
    again = read_written(tmp_path, "radio")
    assert again is not None
    assert again.day is None


def test_where_columns_are_missing_changes_are_not_guessed(tmp_path: Path) -> None:
    mark(tmp_path, "radio", contacts_of(ONE), DAY)
    found = compare_with_written(tmp_path, "radio", contacts_of({(0, 2320001): {"callsign": "X"}}, fields=("callsign",)))
    assert found is not None
    assert (found.same, found.total, found.compared) == (False, 0, ())
    assert any(sentence.startswith("callsign: the marking does not know") for sentence in found.not_compared)


def test_a_failed_marking_leaves_the_old_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = mark(tmp_path, "radio", contacts_of(ONE), DAY)
    before = path.read_bytes()

    def fail(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pl.DataFrame, "write_parquet", fail)
    with pytest.raises(SettingsError, match="No space left"):
        mark(tmp_path, "radio", contacts_of({}), DAY)
    assert path.read_bytes() == before
    assert [file.name for file in path.parent.iterdir()] == [path.name]


@pytest.mark.parametrize("damage", [b"", b"PAR1", None])
def test_a_damaged_marking_is_one_line(tmp_path: Path, damage: bytes | None) -> None:
    path = mark(tmp_path, "radio", contacts_of(ONE), DAY)
    if damage is None:
        pl.read_parquet(path).write_parquet(path, metadata={"schema": "2"})
    else:
        path.write_bytes(damage)
    with pytest.raises(SettingsError, match="mark the radio again"):
        compare_with_written(tmp_path, "radio", contacts_of(ONE))


def test_the_threshold_is_one_contact_in_two_hundred() -> None:
    assert [default_threshold(n) for n in (0, 1, 200, 201, 200_000)] == [1, 1, 1, 2, 1000]
