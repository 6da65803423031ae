"""Dumps whose statements change what their tables hold, against a database that runs the same statements (SQLite)."""

from __future__ import annotations

import csv
import sqlite3
from pathlib import Path

import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.read.station_list import read_list
from pruner.table.open_sql import tables_of_dump
from pruner.table.sql_tables import SqlTable
from pruner.words.errors import InputRefusedError, NoRowsError

TABLE = "CREATE TABLE `crew` (`key` integer NOT NULL, `sign` text, `radio` integer, `town` text, PRIMARY KEY (`key`));\n"
ROWS = (
    "INSERT INTO `crew` VALUES (1,'OE1KAA',2321001,'Graz'),(2,'OE1KAB',2321058,'Linz'),"
    "(3,'OE1KAC',2321158,'Graz'),(4,'OE1KAD',2321258,'It''s; here');\n"
)


def tables(dump: str) -> list[list[list[str]]]:
    found = tables_of_dump(lambda: iter([dump.encode()]), "", "dump.sql")
    return [list(csv.reader(b"".join(table.blocks()).decode().splitlines())) for table in found]


def in_database(dump: str, name: str = "crew") -> list[list[str]]:
    """The table as SQLite has it after the dump."""
    database = sqlite3.connect(":memory:")
    database.executescript(dump)
    found = database.execute(f"SELECT * FROM {name}")
    columns = [column[0] for column in found.description]
    return [columns, *sorted(["" if cell is None else str(cell) for cell in row] for row in found)]


CHANGES = {
    "erased by its key": "DELETE FROM `crew` WHERE `key` = 3;",
    "erased by a number with decimals": "DELETE FROM `crew` WHERE `radio` = 2321058.0;",
    "erased by a text": "delete from crew where sign = 'OE1KAB';",
    "erased by several keys": "DELETE FROM crew WHERE key IN (1, 4);",
    "erased by either of two": "DELETE FROM crew WHERE (radio = 2321001 AND town = 'Graz') OR key = 2;",
    "a condition that nobody meets": "DELETE FROM crew WHERE key = 1 AND town = 'Linz';",
    "another id": "UPDATE `crew` SET `radio` = 2321999 WHERE `sign` = 'OE1KAA';",
    "two columns of some": "UPDATE crew SET town = 'Steyr; or', sign = NULL WHERE town = 'Graz';",
    "of all": "UPDATE crew SET town = 'Wels';",
    "a row that replaces": "REPLACE INTO crew VALUES (2,'OE2KAB',2321059,'Wels');",
    "a row that gives way": "INSERT OR IGNORE INTO crew VALUES (2,'x',1,'y'),(5,'OE1KAE',2321300,'Wels');",
    "a row that replaces by columns": "INSERT INTO crew (radio, key) VALUES (2321777, 9), (2321059, 2)"
    " ON CONFLICT (key) DO UPDATE SET radio = excluded.radio;",
    "a row that does nothing": "INSERT INTO crew (key, radio) VALUES (2, 5) ON CONFLICT DO NOTHING;",
    "a comment": "-- DELETE FROM crew;\n/*\nDELETE FROM crew;\n*/",
    "a comment before it": "/* of these */ DELETE FROM crew WHERE key = 2; -- one\n/*\nand\n*/ DELETE FROM crew WHERE key = 3;",
    "a text between dollars": "-- costs $1$\nDELETE FROM crew WHERE key = 2;",
    "a trigger": "CREATE TRIGGER one AFTER INSERT ON crew BEGIN\nDELETE FROM crew;\nEND;",
    "a text with a statement in it": "INSERT INTO crew VALUES (7,'OE1KAG',2321400,'x;\nDELETE FROM crew;');",
    "a new column": "ALTER TABLE crew ADD COLUMN club text;\nUPDATE crew SET club = 'Alps' WHERE key = 1;",
    "a column less": "ALTER TABLE crew DROP COLUMN town;\nDELETE FROM crew WHERE radio = 2321058;",
    "another name of a column": "ALTER TABLE crew RENAME COLUMN radio TO number;\nDELETE FROM crew WHERE number = 2321058;",
    "other tables": "CREATE TABLE b (x integer);\nUPDATE b SET x = x + 1 WHERE x > 3;\nDELETE FROM b;",
    "one thing after the other": "DELETE FROM crew WHERE key = 1;\nINSERT INTO crew (key, sign) VALUES (1, 'OE9KAA');\n"
    "UPDATE crew SET radio = 2329001 WHERE sign = 'OE9KAA';",
}


@pytest.mark.parametrize("kind", CHANGES)
def test_statements_change_what_a_dump_holds(kind: str) -> None:
    dump = TABLE + ROWS + CHANGES[kind] + "\n"
    (found,) = tables(dump)
    expected = [[" ".join(cell.split("\n")) for cell in row] for row in in_database(dump)]
    assert [found[0], *sorted(found[1:])] == expected


@given(st.data())
@draws(60)
def test_drawn_statements_change_what_a_database_has(data: st.DataObject) -> None:
    """Every sequence of simple statements leaves the rows that SQLite has."""
    number = st.integers(1, 6)
    statements = []
    for _ in range(data.draw(st.integers(1, 6))):
        key, other, kind = data.draw(number), data.draw(number), data.draw(st.integers(0, 5))
        statements.append(
            (
                f"DELETE FROM crew WHERE key = {key};",
                f"DELETE FROM crew WHERE key IN ({key}, {other}) AND town = 'Graz';",
                f"UPDATE crew SET radio = {2322000 + key}, town = 'Graz' WHERE key = {other};",
                f"REPLACE INTO crew VALUES ({key},'OE1X',{2323000 + other},'Graz'),({other},'OE1Y',2324000,'Linz');",
                f"INSERT OR IGNORE INTO crew VALUES ({key},'OE1Z',{2325000 + key},'Wels');",
                f"INSERT INTO crew (key, radio) VALUES ({key}, {2326000 + other}), ({other}, 2327000)"
                " ON CONFLICT (key) DO UPDATE SET radio = excluded.radio;",
            )[kind]
        )
    dump = TABLE + ROWS + "INSERT INTO crew VALUES (99,'OE9Z',2329999,'Wels');\n" + "\n".join(statements)
    (found,) = tables(dump)
    assert [found[0], *sorted(found[1:])] == in_database(dump)


@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM crew WHERE key > 2;",
        "DELETE FROM crew WHERE sign = 'oe1kaa';",  # some databases mean the row with capitals
        "DELETE FROM crew WHERE key IN (SELECT key FROM gone);",
        "DELETE crew FROM crew JOIN gone ON gone.key = crew.key;",
        "DELETE FROM crew WHERE town = '';",  # a missing text is none in some databases
        "DELETE FROM crew WHERE town IN ('Graz') LIMIT 1;",
        "UPDATE crew SET radio = radio + 1;",
        "UPDATE crew SET radio = 5 WHERE key BETWEEN 1 AND 2;",
        "MERGE INTO crew USING other ON crew.key = other.key WHEN MATCHED THEN DELETE;",
        "INSERT INTO crew SELECT * FROM elsewhere;",
        "INSERT INTO crew (key, radio) VALUES (1, 5) ON CONFLICT (key) DO UPDATE SET radio = crew.radio + 1;",
        "WITH gone AS (SELECT 1) DELETE FROM crew WHERE key IN (SELECT * FROM gone);",
        "BEGIN DELETE FROM crew WHERE key = 1; END;",
        "IF 1 = 1 UPDATE crew SET sign = NULL;",
        "DO $$ BEGIN DELETE FROM crew WHERE key = 1; END $$;",
        f"DELETE FROM crew WHERE {'(' * 5000}key = 1{')' * 5000};",
        "ROLLBACK;",
        "/*!50000 DELETE FROM crew WHERE key = 1 */;",  # some databases run what such a comment says
        "DELETE FROM crew WHERE key = 1 LIMIT 'x';",
        "DELETE FROM crew WHERE key = 1 LIMIT NULL;",
        "DELETE FROM crew WHERE sign = 'OE1KAA",
        "ALTER TABLE crew ADD COLUMN state text DEFAULT 'Tyrol';",
    ],
)
def test_a_statement_that_is_not_understood_refuses_the_dump(statement: str) -> None:
    with pytest.raises(InputRefusedError, match=r"dump\.sql: line 3: it is not understood what this statement changes"):
        tables(TABLE + ROWS + statement + "\n")


def test_a_refusal_names_nobody_who_is_to_be_forgotten() -> None:
    with pytest.raises(InputRefusedError) as refused:
        tables(TABLE + ROWS + "DELETE FROM crew WHERE sign LIKE 'it\\'s OE1KAB%' OR town LIKE \"Linz%\" OR key > 2321058;\n")
    assert "(DELETE FROM crew WHERE sign LIKE ... OR town LIKE ... OR" in str(refused.value)
    assert not any(text in str(refused.value) for text in ("OE1KAB", "Linz", "2321058"))


def test_replacing_without_a_key_is_understood_only_where_all_rows_do() -> None:
    rows = "{} INTO crew (sign, radio) VALUES ('OE1KAA',2321001),('OE1KAB',2321058);\n"
    assert tables(rows.format("REPLACE") * 2) == [[["sign", "radio"], *[["OE1KAA", "2321001"], ["OE1KAB", "2321058"]] * 2]]
    with pytest.raises(InputRefusedError, match="line 2: it is not understood"):
        tables(rows.format("INSERT") + rows.format("REPLACE"))


def test_tables_go_and_change_their_names() -> None:
    made = TABLE + ROWS + TABLE.replace("crew", "spare") + ROWS.replace("crew", "spare").replace("2321", "2322")
    (left,) = tables(made + "DROP TABLE IF EXISTS `spare`;\n")
    assert [row[2] for row in left] == ["radio", "2321001", "2321058", "2321158", "2321258"]
    changed = "DROP TABLE crew;\nALTER TABLE `spare` RENAME TO `crew`;\nDELETE FROM crew WHERE key = 1;\n"
    (left,) = tables(made + changed)
    assert [left[0], *sorted(left[1:])] == in_database(made + changed)
    assert [row[2] for row in left[1:]] == ["2322058", "2322158", "2322258"]
    (left,) = tables(made + "RENAME TABLE crew TO away, spare TO crew;\nTRUNCATE TABLE away;\n")
    assert [row[2] for row in left[1:]] == ["2322001", "2322058", "2322158", "2322258"]


def test_what_is_erased_in_a_dump_is_in_no_list(tmp_path: Path) -> None:
    path = tmp_path / "crew.sql"
    path.write_text(TABLE + ROWS + "DELETE FROM `crew` WHERE `sign` = 'OE1KAB';\n")
    listed = read_list(path)
    assert (listed.ids.tolist(), set(listed.callsigns)) == ([2321001, 2321158, 2321258], {"OE1KAA", "OE1KAC", "OE1KAD"})


def test_a_dump_of_which_no_row_is_left_is_empty() -> None:
    with pytest.raises(NoRowsError, match="leave no rows"):
        tables(TABLE + ROWS + "DELETE FROM crew;\n")


def test_rows_with_other_columns_are_rows_of_the_same_table() -> None:
    dump = TABLE + ROWS + "INSERT INTO crew (town, sign, key) VALUES ('Wels','OE1KAF',8),('one cell less','OE1KAG');\n"
    (found,) = tables(dump)
    assert found[5:] == [["8", "OE1KAF", "", "Wels"], ["one cell less, OE1KAG"]]


def test_rows_that_are_not_whole_are_unreadable_in_tables_that_refer_to_each_other() -> None:
    """Also where a statement would overwrite one of their cells, and where a number is longer than any number is."""
    calls = "CREATE TABLE calls (nr integer PRIMARY KEY, crew integer);\nINSERT INTO calls VALUES (1, 1), (2, 4), (3);\n"
    short = "INSERT INTO crew (key, sign, radio) VALUES (2, 'OE1KAB') ON DUPLICATE KEY UPDATE radio = VALUES(radio);\n"
    long = f"INSERT INTO crew VALUES (5, 'OE1KAE', {'9' * 5000}, 'Wels');\nDELETE FROM crew WHERE radio = 2321158;\n"
    crew, heard = tables(TABLE + ROWS + calls + short + long)
    assert [row[0] for row in crew[1:]] == ["1", "2", "4", "2, OE1KAB", "5"]
    assert [heard[0], *heard[2:]] == [
        ["nr", "crew (key of crew)", *(f"crew.{name}" for name in crew[0][1:])],
        ["2", *crew[3]],
        ["3"],
    ]


@pytest.mark.parametrize(
    "change",
    ["ALTER TABLE crew RENAME COLUMN key TO nr;", "ALTER TABLE crew DROP COLUMN key;", "ALTER TABLE crew DROP PRIMARY KEY;"],
)
def test_keys_go_and_change_their_names_with_their_columns(change: str) -> None:
    calls = (
        "CREATE TABLE calls (nr integer PRIMARY KEY, x integer, PRIMARY KEY (nobody));\nINSERT INTO calls VALUES (1, 900);\n"
    )
    assert [len(found) for found in tables(TABLE + ROWS + calls + change)] == [5, 2]


def test_rows_that_replace_each_other_are_looked_up_by_their_key() -> None:
    """One statement for each row, as dumps have them; no row is compared with all others."""
    with pytest.MonkeyPatch.context() as patch:
        looked_at: list[int] = []
        of_table = SqlTable._key
        patch.setattr(SqlTable, "_key", lambda self, row, places: looked_at.append(1) or of_table(self, row, places))
        rows = 300
        (found,) = tables(TABLE + "".join(f"REPLACE INTO crew VALUES ({row % 200},'x',{row},'y');\n" for row in range(rows)))
    assert [row[2] for row in found[1:]] == [str(row) for row in range(100, rows)]
    assert len(looked_at) < 4 * rows


def test_bodies_that_a_database_runs_later_change_nothing() -> None:
    body = "CREATE PROCEDURE empty() \nBEGIN\nDELETE FROM crew;\nEND ;;\n"
    (found,) = tables(f"{TABLE}{ROWS}DELIMITER ;;\n{body}DELIMITER ;\nDELETE FROM crew WHERE key = 1;\n")
    assert [row[0] for row in found[1:]] == ["2", "3", "4"]
    (found,) = tables(
        f"{TABLE}{ROWS}CREATE FUNCTION f() AS $body$\nDELETE FROM crew;\n$body$;\nDELETE FROM crew WHERE key = 1;\n"
    )
    assert [row[0] for row in found[1:]] == ["2", "3", "4"]


@pytest.mark.parametrize(
    "part", ["$1{}$\n", "CREATE TRIGGER a BEGIN\n", "/*", "DELIMITER x\n", "CREATE TRIGGER a ", "`", "[", "x DELETE FROM b "]
)
def test_parts_that_nothing_ends_are_gone_through_once(part: str) -> None:
    """A text of 200 kB; where each part is looked for to the end of the text, this takes minutes."""
    text = "".join(part.format(number) for number in range(200_000 // len(part)))
    assert [len(found) for found in tables(TABLE + ROWS + text)] == [5]


@pytest.mark.parametrize(
    "head",
    [
        "INSERT [dbo].[crew] ([key], [radio]) VALUES",
        "INSERT INTO public.crew (key, radio) OVERRIDING SYSTEM VALUE VALUES",
        "INSERT LOW_PRIORITY IGNORE INTO crew (`key`, radio) VALUES",
        "insert into crew (key, radio) value",
    ],
)
def test_ways_of_writing_a_statement_with_rows(head: str) -> None:
    assert tables(f"{head} (1, 2321001);\nGO\n{head} (2, 2321058);\n") == [
        [["key", "radio"], ["1", "2321001"], ["2", "2321058"]]
    ]
