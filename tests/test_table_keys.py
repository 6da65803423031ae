"""Databases whose columns hold keys of other tables, and views. All data invented."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest
from heard_weights import weights_in

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.directory import read_directory
from pruner.table import open_database
from pruner.table.keys import Described, references
from pruner.table.understanding import Understanding
from pruner.words.errors import InputRefusedError
from pruner.words.threads import Pool, Work

START = dt.datetime(2026, 8, 20, 18, 0, 7)
PEOPLE = [(k + 1, f"OE{k + 1}ZKA", 2_320_100 + 37 * k, f"Name {chr(65 + k)}") for k in range(8)]
GROUPS = [(1, 232, "Austria"), (2, 2328, "Styria"), (3, 91, "World")]
CALLS = [(k + 1, k * 3 % 8 + 1, k % 3 + 1, str(START + dt.timedelta(minutes=k)), k % 40 + 2) for k in range(40)]
WANTED = sorted({(PEOPLE[who - 1][2], GROUPS[group - 1][1]) for _, who, group, *_ in CALLS})


def database(path: Path, statements: Sequence[str], rows: dict[str, Sequence[tuple[object, ...]]]) -> Path:
    with closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        for table, some in rows.items():
            connection.executemany(f"INSERT INTO {table} VALUES ({', '.join('?' * len(some[0]))})", some)
        connection.commit()
    return path


def pairs(state: Path) -> list[tuple[int, int]]:
    rows = weights_in(state).rows()
    return sorted({(int(id), int(group)) for id, group in zip(rows["id"], rows["talkgroup"], strict=True)})


def fold(path: Path) -> FileResult:
    return fold_logs(path.parent / "state", [LogFiles([path], zone="UTC")]).files[0]


PERSON = "CREATE TABLE person (id INTEGER PRIMARY KEY, callsign TEXT, radio_id INT, name TEXT)"
GROUP = "CREATE TABLE talkgroup (id INTEGER PRIMARY KEY, number INT, name TEXT)"
ROWS = {"person": PEOPLE, "talkgroup": GROUPS, "heard": CALLS}


@pytest.mark.parametrize(
    "heard",
    [
        "id INTEGER PRIMARY KEY, person_id INT, talkgroup_id INT, time TEXT, seconds INT",
        "id INTEGER PRIMARY KEY, person INT, talkgroup INT, time TEXT, seconds INT",
        "id INTEGER PRIMARY KEY, src INT REFERENCES person(id), dst INT REFERENCES talkgroup, time TEXT, seconds INT",
        "id INTEGER PRIMARY KEY, src INT, tg INT REFERENCES talkgroup, time TEXT, seconds INT",
    ],
    ids=["names of keys", "names of tables", "declared", "values"],
)
def test_keys_are_followed_to_the_rows_that_they_mean(tmp_path: Path, heard: str) -> None:
    path = database(tmp_path / "log.sqlite", [PERSON, GROUP, f"CREATE TABLE heard ({heard})"], ROWS)
    assert fold(path).account.folded == 40
    assert pairs(tmp_path / "state") == WANTED


def test_keys_of_dumps_are_followed(tmp_path: Path) -> None:
    heard = "CREATE TABLE heard (id INTEGER PRIMARY KEY, person_id INT, talkgroup_id INT, time TEXT, seconds INT)"
    rows = "".join(f"INSERT INTO {name} VALUES {', '.join(map(str, some))};\n" for name, some in ROWS.items())
    path = tmp_path / "log.sql"
    path.write_text(f"{PERSON};\n{GROUP};\n{heard};\n{rows}")
    assert fold(path).account.folded == 40
    assert pairs(tmp_path / "state") == WANTED


def test_a_column_of_keys_is_named_as_its_database_names_it(tmp_path: Path) -> None:
    """Settings that were written before another table refers to these ids stay right."""
    calls = "CREATE TABLE calls (n INTEGER PRIMARY KEY, src_id INT)"
    crew = [(id, sign, name) for _, sign, id, name in [(0, f"OE{k}ZKA", 2_320_100 + k, "Ada") for k in range(1, 9)]]
    rows = {"crew": crew, "calls": [(k, 2_320_100 + k) for k in range(1, 9)]}
    made = "CREATE TABLE crew (id INTEGER PRIMARY KEY, callsign TEXT, name TEXT)"
    path = database(tmp_path / "crew.sqlite", [made, calls], rows)
    with Pool(Work.PARSING) as pool:
        found = read_directory(path, lambda records: records.count, pool, columns={"id": "id"})
        assert sum(count for _, count in found) == len(crew)
    (use,) = (use for use in understood(path).columns if use.meaning == "id")
    assert use.heading == "id (key of crew)"


def test_a_column_that_takes_long_is_no_key(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And the database is read all the same; each column has as much time as the others."""
    heard = "CREATE TABLE heard (id INTEGER PRIMARY KEY, person_id INT, talkgroup_id INT, time TEXT, seconds INT)"
    path = database(tmp_path / "log.sqlite", [PERSON, GROUP, heard], ROWS)
    headings = []
    for steps in (200, 100_000):
        with monkeypatch.context() as patch:
            patch.setattr(open_database, "_STEP", 1)
            patch.setattr(open_database, "_MOST_STEPS", steps)
            opened = {table.label: table for table in open_database.open_database(path)}
        headings.append(next(opened["heard"].blocks()).split(b"\n")[0])
    assert headings[0] == b"id,person_id,talkgroup_id,time,seconds"
    assert headings[1].startswith(b"id,person_id (key of person),talkgroup_id (key of talkgroup),time,seconds")


def test_a_view_is_taken_before_the_tables_that_it_is_made_of(tmp_path: Path) -> None:
    heard = "CREATE TABLE heard (n INTEGER PRIMARY KEY, who INT, called INT, time TEXT, seconds INT)"
    view = (
        "CREATE VIEW calls AS SELECT radio_id AS id, number AS talkgroup, time, seconds FROM heard"
        " JOIN person ON person.id = who JOIN talkgroup ON talkgroup.id = called"
    )
    understanding = fold(database(tmp_path / "log.sqlite", [PERSON, GROUP, heard, view], ROWS)).understanding
    assert understanding is not None
    assert understanding.label == "calls"
    assert pairs(tmp_path / "state") == WANTED


def test_a_view_that_lacks_rows_is_not_taken_before_its_table(tmp_path: Path) -> None:
    heard = "CREATE TABLE heard (n INTEGER PRIMARY KEY, person_id INT, talkgroup_id INT, time TEXT, seconds INT)"
    view = (
        "CREATE VIEW latest AS SELECT radio_id AS id, number AS talkgroup, time, seconds FROM heard"
        " JOIN person ON person.id = person_id JOIN talkgroup ON talkgroup.id = talkgroup_id LIMIT 9"
    )
    fold(database(tmp_path / "log.sqlite", [PERSON, GROUP, heard, view], ROWS))
    assert pairs(tmp_path / "state") == WANTED


def test_keys_that_nothing_is_known_of_are_no_ids(tmp_path: Path) -> None:
    """The other tables say neither an id nor a number."""
    named = "(id INTEGER PRIMARY KEY, note TEXT)"
    heard = "CREATE TABLE heard (n INTEGER PRIMARY KEY, person_id INT, room_id INT, time TEXT, seconds INT)"
    statements = [f"CREATE TABLE person {named}", f"CREATE TABLE room {named}", heard]
    rows = {"person": [(k, "x") for k in range(1, 9)], "room": [(k, "y") for k in range(1, 4)], "heard": CALLS}
    with pytest.raises(InputRefusedError):
        fold(database(tmp_path / "log.sqlite", statements, rows))


def test_talkgroups_that_happen_to_be_keys_stay_talkgroups(tmp_path: Path) -> None:
    """Their numbers stand among the keys of a long table, by chance."""
    nodes = "CREATE TABLE node (id INTEGER PRIMARY KEY, number INT)"
    heard = "CREATE TABLE heard (n INTEGER PRIMARY KEY, id INT, talkgroup INT, time TEXT, seconds INT)"
    calls = [(n, PEOPLE[who - 1][2], (1, 8, 91)[group - 1], *rest) for n, who, group, *rest in CALLS]
    rows = {"node": [(k, 500 + k) for k in range(1, 200)], "heard": calls}
    fold(database(tmp_path / "log.sqlite", [nodes, heard], rows))
    assert {group for _, group in pairs(tmp_path / "state")} == {1, 8, 91}


def understood(path: Path) -> Understanding:
    found: list[Understanding] = []
    with Pool(Work.PARSING) as pool:
        list(read_directory(path, lambda records: records.count, pool, understood=found.append))
    return found[0]


def test_devices_have_the_names_of_their_owners(tmp_path: Path) -> None:
    owner = "CREATE TABLE owner (owner_no INTEGER PRIMARY KEY, callsign TEXT, name TEXT)"
    device = "CREATE TABLE device (device_id INTEGER PRIMARY KEY, owner_no INT, radio_id INT)"
    owners = [(2_320_001 + k, sign, name) for k, sign, _, name in PEOPLE]
    devices = [(k, 2_320_001 + k, id) for k, _, id, _ in PEOPLE]
    path = database(tmp_path / "club.sqlite", [owner, device], {"owner": owners, "device": devices})
    uses = {use.meaning: use.heading for use in understood(path).columns}
    assert (uses["id"], uses["callsign"], uses["name"]) == ("radio_id", "owner.callsign", "owner.name")


def test_a_directory_is_the_table_of_the_ids_not_one_that_refers_to_it(tmp_path: Path) -> None:
    """There are more payments than members, and not of all."""
    payment = "CREATE TABLE payment (id INTEGER PRIMARY KEY, person_id INT REFERENCES person, euro INT)"
    payments = [(k, k % 5 + 1, k * 7) for k in range(1, 60)]
    path = database(tmp_path / "club.sqlite", [PERSON, payment], {"person": PEOPLE, "payment": payments})
    assert understood(path).label == "person"


def described(name: str, columns: dict[str, set[int]], key: str = "id") -> Described:
    return Described(name, list(columns), key, {}, lambda column: frozenset(columns[column]))


@pytest.mark.parametrize(
    ("column", "values", "is_key"),
    [
        ("station_id", {1, 2, 3}, True),
        ("stations", {2}, True),
        ("caller", {1, 2, 3, 4}, True),
        ("caller", {1}, False),
        ("caller", {1, 2, 3, 9}, False),
        ("slot", {1, 2}, False),
        ("station_id", {2_321_001}, False),
    ],
)
def test_what_is_a_key(column: str, values: set[int], is_key: bool) -> None:
    station = described("station", {"id": {1, 2, 3, 4}, "radio_id": {2_321_001, 2_321_900}})
    heard = described("heard", {"id": set(range(90)), column: values})
    found = references([station, heard])["heard"]
    assert [one.column for one in found] == [column] * is_key


def test_values_that_are_keys_of_two_tables_are_of_neither() -> None:
    tables = [described(name, {"id": {1, 2, 3}, "number": {7, 8, 9}}) for name in ("one", "two")]
    assert references([*tables, described("heard", {"n": {1, 2}, "caller": {1, 2, 3}}, "n")])["heard"] == []


def test_numbers_that_were_not_handed_out_are_no_keys() -> None:
    groups = described("talkgroup", {"id": {9, 91, 232, 2328}, "name": set()})
    assert references([groups, described("heard", {"n": {1, 2}, "talkgroup": {91, 232}}, "n")])["heard"] == []
