"""Heard logs in files of several tables: workbooks, databases, archives, pages, markup, dumps of SQL. All data invented."""

from __future__ import annotations

import datetime as dt
import io
import json
import sqlite3
import tarfile
import zipfile
from collections.abc import Callable
from contextlib import closing
from html import escape
from pathlib import Path

import pytest
from heard_weights import totals_in, weights_in

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.words.errors import InputRefusedError

START = dt.datetime(2026, 8, 20, 18, 0, 7)
HEADINGS = ["time", "callsign", "id", "talkgroup", "seconds"]
Rows = list[list[str]]


def rows(day: int = 0, count: int = 30) -> Rows:
    times = [START + dt.timedelta(days=day, minutes=k) for k in range(count)]
    return [
        [str(at), f"OE{k % 9 + 1}ZKA", str(2_320_100 + k % 9), str((232, 91)[k % 2]), str(k % 40 + 2)]
        for k, at in enumerate(times)
    ]


TOTALS = (30, sum(int(row[-1]) for row in rows()))


def csv(some: Rows, headings: list[str] = HEADINGS) -> str:
    return "\n".join(map(",".join, [headings, *some])) + "\n"


def fold(path: Path) -> FileResult:
    return fold_logs(path.parent / "state", [LogFiles([path])]).files[0]


def as_workbook(path: Path, some: Rows) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["Of the club's gateway"])
    sheet.append(HEADINGS)
    for time, sign, *numbers in some:
        sheet.append([dt.datetime.fromisoformat(time), sign, *map(int, numbers)])
    notes = book.create_sheet("notes")
    notes.append(["what", "who"])
    notes.append(["antenna mended", "Anna"])
    book.save(path)


def as_database(path: Path, some: Rows) -> None:
    path.unlink(missing_ok=True)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE links (name TEXT, state TEXT)")
        connection.execute("INSERT INTO links VALUES ('north', 'up')")
        connection.execute("CREATE TABLE calls (time TEXT, callsign TEXT, id INTEGER, talkgroup INTEGER, seconds REAL)")
        connection.executemany("INSERT INTO calls VALUES (?, ?, ?, ?, ?)", some)
        connection.commit()


def as_page(path: Path, some: Rows) -> None:
    """With a menu in a table, cells that nobody closes, entities and a script."""
    cells = "\n".join(
        f'<tr class="r"><td>{time}<td><a href="/?c={sign}">{escape(sign)}</a>&nbsp;<td>{id}'
        f"<td><b>TG&nbsp;{tg}</b><td>{took}&thinsp;s"
        for time, sign, id, tg, took in some
    )
    path.write_text(
        "<!doctype html><html><head><style>td{top:0}</style></head><body><table><tr><td><a href=/>Home</a><td>Help</table>"
        f"<script>document.write('<table><tr><td>1')</script><p>Last calls<table><tr>"
        f"{''.join(f'<th>{name}' for name in HEADINGS)}</tr>{cells}</table></body></html>",
        encoding="utf-8",
    )


def as_attributes(path: Path, some: Rows) -> None:
    lines = []
    for row in some:
        values = " ".join(f"{name}={json.dumps(cell)}" for name, cell in zip(HEADINGS, row, strict=True))
        lines.append(f"<call {values}/>\n")
    path.write_text(f'<?xml version="1.0"?>\n<log site="hut">\n{"".join(lines)}</log>\n')


def as_elements(path: Path, some: Rows) -> None:
    calls = "".join(
        f"<call>{''.join(f'<{name}>{cell}</{name}>' for name, cell in zip(HEADINGS, row, strict=True))}</call>" for row in some
    )
    path.write_text(f'<?xml version="1.0"?>\n<log><site>hut</site>{calls}</log>\n')


def as_lines_of_markup(path: Path, some: Rows) -> None:
    path.write_text(
        "".join(f'<c time="{a}" callsign="{b}" id="{c}" talkgroup="{d}" seconds="{e}"/>\n' for a, b, c, d, e in some)
    )


def as_dump(path: Path, some: Rows) -> None:
    values = ",\n".join(f"('{time}', '{sign}', {id}, {tg}, {took})" for time, sign, id, tg, took in some)
    path.write_text(
        "-- of the gateway\nCREATE TABLE `calls` (`time` TEXT, callsign VARCHAR(9), id INT, talkgroup INT, seconds REAL,"
        f" PRIMARY KEY (`time`));\nINSERT INTO `calls` VALUES {values};\nINSERT INTO links VALUES ('north', 'it''s up');\n"
    )


@pytest.mark.parametrize(
    ("name", "write"),
    [
        ("calls.xlsx", as_workbook),
        ("calls.db", as_database),
        ("last.html", as_page),
        ("calls.xml", as_attributes),
        ("calls2.xml", as_elements),
        ("calls.log", as_lines_of_markup),
        ("calls.sql", as_dump),
    ],
)
def test_the_calls_of_a_file_of_tables_are_read_once(tmp_path: Path, name: str, write: Callable[[Path, Rows], None]) -> None:
    path = tmp_path / name
    write(path, rows())
    assert fold(path).account.read == 30
    assert totals_in(tmp_path / "state") == TOTALS
    assert set(weights_in(tmp_path / "state").rows()["id"]) == {2_320_100 + k for k in range(9)}
    assert fold(path).account.read == 0
    write(path, [*rows(), *rows(1)])
    account = fold(path).account
    assert (account.new, account.known) == (30, 30)


def test_what_is_not_read_of_a_file_is_named(tmp_path: Path) -> None:
    as_workbook(tmp_path / "calls.xlsx", rows())
    understanding = fold(tmp_path / "calls.xlsx").understanding
    assert understanding is not None
    assert "not read, because no table of this kind is found there: notes" in understanding.sentence()


def archive(path: Path, members: dict[str, bytes], kind: str) -> None:
    if kind == "zip":
        with zipfile.ZipFile(path, "w") as file:
            for name, data in members.items():
                file.writestr(name, data)
        return
    with tarfile.open(path, "w:gz") as packed:
        for name, data in members.items():
            info = tarfile.TarInfo(name)
            info.size = len(data)
            packed.addfile(info, io.BytesIO(data))


@pytest.mark.parametrize("kind", ["zip", "tar"])
@pytest.mark.parametrize("form", ["csv", "json"])
def test_the_logs_of_an_archive_are_one(tmp_path: Path, kind: str, form: str) -> None:
    def text(some: Rows) -> bytes:
        if form == "csv":
            return csv(some).encode()
        return "\n".join(json.dumps(dict(zip(HEADINGS, row, strict=True))) for row in some).encode()

    days = {f"2026-08-2{day}.{form}": text(rows(day)) for day in range(3)}
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w") as file:
        file.writestr("more.csv", csv(rows(4)))
    archive(tmp_path / "month.bin", days | {"older.zip": inner.getvalue(), "other.csv": b"name;town\nAnna;Graz\n"}, kind)
    result = fold(tmp_path / "month.bin")
    assert result.account.read == 90
    assert totals_in(tmp_path / "state") == (90, 3 * TOTALS[1])
    assert result.understanding is not None
    said = result.understanding.sentence()
    assert "older.zip" in said
    assert "other.csv" in said


def test_the_dates_of_one_member_decide_for_all(tmp_path: Path) -> None:
    def dated(first: int) -> bytes:
        return csv([[f"{first + k % 3:02}/05/2026 {row[0][11:]}", *row[1:]] for k, row in enumerate(rows())]).encode()

    archive(tmp_path / "days.zip", {"a.csv": dated(3), "b.csv": dated(20)}, "zip")
    fold(tmp_path / "days.zip")
    found = weights_in(tmp_path / "state").rows()["day"]
    assert {str(day) for day in found} == {f"2026-05-{day:02}" for day in (3, 4, 5, 20, 21, 22)}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<!doctype html><html><body><h1>Login</h1></body></html>", r"a page \(HTML\)"),
        ("<html><body><table><tr><td>a<td>b<tr><td>c<td>d</table></body></html>", "no column of|no table"),
        ("<?xml version='1.0'?><gpx><trk/></gpx>", "markup without a list of records"),
    ],
)
def test_pages_without_calls_are_refused(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "page.html").write_text(text)
    with pytest.raises(InputRefusedError, match=said) as refused:
        fold(tmp_path / "page.html")
    assert "\n" not in str(refused.value)
