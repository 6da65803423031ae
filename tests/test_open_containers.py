"""Files of every container open as tables; what is no table is refused with one plain line."""

from __future__ import annotations

import bz2
import datetime
import gzip
import io
import lzma
import random
import sqlite3
import subprocess
import sys
import tarfile
import zipfile
from collections.abc import Callable
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as parquet
import pytest

from pruner.table import open_database, open_text, unpack
from pruner.table.open_file import open_file
from pruner.table.opened import ColumnTable, Table, TextTable
from pruner.words.errors import InputRefusedError, PrunerError, SourceMissingError

TEXT = "id,callsign,name\n2321234,OE1ABC,Zoë\n2321235,OE1ABD,Anna\n"
PLAIN = TEXT.encode()


def text_of(table: Table) -> str:
    assert isinstance(table, TextTable)
    first, second = b"".join(table.blocks()), b"".join(table.blocks())
    assert first == second, "a table can be read twice"
    return first.decode()


def opened(path: Path, data: bytes, encoding: str | None = None) -> list[Table]:
    path.write_bytes(data)
    return open_file(path, encoding)


def texts_of(path: Path, data: bytes) -> list[str]:
    return [text_of(table) for table in opened(path, data)]


def refusal(path: Path, data: bytes) -> str:
    with pytest.raises(InputRefusedError) as caught:
        texts_of(path, data)
    line = str(caught.value)
    assert "\n" not in line
    assert line.isprintable()
    assert line.startswith(str(path))
    assert len(line) < 300 + len(str(path))
    return line


def read_or_refused(path: Path, data: bytes) -> None:
    line = ""
    try:
        for table in opened(path, data):
            text_of(table)
    except PrunerError as error:
        line = str(error)
    assert "\n" not in line


def zipped(*members: tuple[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for name, data in members:
            archive.writestr(name, data)
    return buffer.getvalue()


def tarred(*members: tuple[str, bytes], mode: str = "w") -> bytes:
    buffer = io.BytesIO()
    with tarfile.open(fileobj=buffer, mode=mode) as archive:  # type: ignore[call-overload]
        for name, data in members:
            info = tarfile.TarInfo(name)
            info.size = len(data)
            archive.addfile(info, io.BytesIO(data))
    return buffer.getvalue()


def zstd(data: bytes) -> bytes:
    sink = pa.BufferOutputStream()
    with pa.CompressedOutputStream(sink, "zstd") as stream:
        stream.write(data)
    return bytes(sink.getvalue())


PACKINGS: dict[str, Callable[[bytes], bytes]] = {
    "plain": bytes,
    "gzip": gzip.compress,
    "two gzip members": lambda data: gzip.compress(data[:20]) + gzip.compress(data[20:]),
    "bzip2": bz2.compress,
    "two bzip2 streams": lambda data: bz2.compress(data[:20]) + bz2.compress(data[20:]),
    "xz": lzma.compress,
    "two xz streams": lambda data: lzma.compress(data[:20]) + lzma.compress(data[20:]),
    "zstd": zstd,
    "zip": lambda data: zipped(("list.csv", data)),
    "zip with bzip2": lambda data: zipped(("list.csv", data), method=zipfile.ZIP_BZIP2),
    "zip with lzma": lambda data: zipped(("list.csv", data), method=zipfile.ZIP_LZMA),
    "zip with other members": lambda data: zipped(
        ("README.txt", b"read me, please\n"),
        ("__MACOSX/._list.csv", b"\0\5\26\7"),
        ("folder/", b""),
        ("folder/list.csv", data),
        ("logo.png", b"\x89PNG"),
    ),
    "tar": lambda data: tarred(("LICENSE", b"do as you like\n"), ("./list.csv", data)),
    "tar.gz": lambda data: tarred(("list.csv", data), ("about.txt", b"x,y\n"), mode="w:gz"),
    "tar.bz2": lambda data: tarred(("list.csv", data), mode="w:bz2"),
    "tar.xz": lambda data: tarred(("list.csv", data), mode="w:xz"),
    "tar.zst": lambda data: zstd(tarred(("list.csv", data))),
}


@pytest.mark.parametrize("kind", PACKINGS)
def test_packed_text_is_the_text(tmp_path: Path, kind: str) -> None:
    (table,) = opened(tmp_path / "file.of.any.ending", PACKINGS[kind](PLAIN))
    assert text_of(table) == TEXT


@pytest.mark.parametrize("kind", [kind for kind in PACKINGS if kind not in ("plain", "tar")])
def test_an_archive_that_ends_early_or_is_damaged_is_refused(tmp_path: Path, kind: str) -> None:
    draw = random.Random(7)
    data = PACKINGS[kind]("".join(f"{draw.randrange(10**7)},{draw.randrange(10**9)}\n" for _ in range(400)).encode())
    assert "get the file again" in refusal(tmp_path / "cut", data[: len(data) // 2])
    for _ in range(20):
        place = draw.randrange(12, len(data) - 12)
        damaged = data[:place] + bytes([data[place] ^ (1 << draw.randrange(8))]) + data[place + 1 :]
        read_or_refused(tmp_path / "damaged", damaged)


def test_several_tables_in_an_archive_are_all_handed_on_with_their_names(tmp_path: Path) -> None:
    data = zipped(("a.csv", PLAIN), ("b.csv", b"x,y\n1,2\n"), ("c.csv", gzip.compress(PLAIN)))
    *tables, packed = opened(tmp_path / "x.zip", data)
    assert [(table.label, text_of(table)) for table in tables] == [("a.csv", TEXT), ("b.csv", "x,y\n1,2\n")]
    assert isinstance(packed, TextTable)
    assert (packed.label, packed.is_refused) == ("c.csv", True)
    with pytest.raises(InputRefusedError, match="packed twice"):
        list(packed.blocks())


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-32", "utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_form_of_unicode_and_every_line_end(tmp_path: Path, encoding: str, end: str) -> None:
    (table,) = opened(tmp_path / "list.csv", TEXT.replace("\n", end).encode(encoding))
    assert text_of(table) == TEXT


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32"])
def test_a_named_encoding_needs_no_mark(tmp_path: Path, encoding: str) -> None:
    (table,) = opened(tmp_path / "list.csv", TEXT.encode(f"{encoding}-le"), encoding)
    assert text_of(table) == TEXT
    (table,) = opened(tmp_path / "list.csv", TEXT.encode(f"{encoding}-be"), encoding)
    assert text_of(table) == TEXT


NO_TABLES = {
    "PDF": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj",
    "page": b"\n<!DOCTYPE html>\n<html><body>Log in</body></html>",
    "markup": b'<?xml version="1.0"?><stations/>',
    "settings": b'[home]\ncountry = "AT"\n[[source]]\nname = "world"\n',
    "image": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
    "old binary document": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600),
    "script": b"#!/bin/sh\necho 1,2\n",
    "program": b"\x7fELF\2\1\1\0" + bytes(60),
    "7z": b"7z\xbc\xaf\x27\x1c\0\4",
    "binary data": bytes(range(256)) * 20,
    "packed twice": gzip.compress(gzip.compress(PLAIN)),
    "packed twice ": zipped(("list.csv.gz", gzip.compress(PLAIN))),
    "text document": zipped(("word/document.xml", b"<w/>"), ("[Content_Types].xml", b"<Types/>")),
    "holds nothing": zipped(),
    "none is a table": zipped(("a.png", b"\x89PNG"), ("b.pdf", b"%PDF-")),
    "empty": b"",
}


@pytest.mark.parametrize("word", NO_TABLES)
def test_what_is_no_table_is_named(tmp_path: Path, word: str) -> None:
    assert word.strip() in refusal(tmp_path / "stations.csv", NO_TABLES[word])


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SourceMissingError):
        open_file(tmp_path / "nothing")
    with pytest.raises(SourceMissingError):
        open_file(tmp_path)


def test_an_unknown_version_of_zip_and_a_damaged_lzma_member(tmp_path: Path) -> None:
    whole = bytearray(zipped(("list.csv", PLAIN * 50), method=zipfile.ZIP_LZMA))
    central = whole.rfind(b"PK\1\2")
    unknown = whole[:]
    unknown[central + 6] = 99
    assert "unpack it first" in refusal(tmp_path / "version.zip", bytes(unknown))
    whole[60:70] = b"\xff" * 10
    assert "get the file again" in refusal(tmp_path / "member.zip", bytes(whole))


@pytest.mark.long
def test_a_bomb_and_an_endless_line_end_with_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(unpack, "_SUSPECT_BYTES", 1 << 20)
    monkeypatch.setattr(open_text, "LONGEST_LINE", 4 << 20)
    rows = PLAIN * 100_000
    assert "times its size" in refusal(tmp_path / "rows.gz", gzip.compress(rows))
    assert "times its size" in refusal(tmp_path / "rows.bz2", bz2.compress(rows))
    assert "times its size" in refusal(tmp_path / "rows.zip", zipped(("list.csv", rows)))
    assert "is no row" in refusal(tmp_path / "line", b"id,name\n" + b"x" * (6 << 20))


def workbook(path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Read me"
    stations = book.create_sheet("Stations")
    stations.append(["id", "callsign", "since", "share", "note"])
    stations.append([2321234, "OE1ABC", datetime.datetime(2020, 5, 17), 0.5, "a, b\nc"])
    stations.append([None, None, None, None, None])
    stations.append([2321235.0, "OE1ABD", datetime.datetime(2021, 1, 2, 3, 4, 5), None, True])
    book.save(path)


def test_a_workbook_gives_its_sheets_as_text(tmp_path: Path) -> None:
    path = tmp_path / "stations.bin"
    workbook(path.with_suffix(".xlsx"))
    path.with_suffix(".xlsx").rename(path)
    (table,) = open_file(path)
    assert isinstance(table, TextTable)
    assert table.label == "Stations"
    assert table.is_exact
    assert text_of(table) == (
        'id,callsign,since,share,note\n2321234,OE1ABC,2020-05-17,0.5,"a, b c"\n2321235,OE1ABD,2021-01-02 03:04:05,,true\n'
    )


def test_a_damaged_workbook_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "stations.xlsx"
    workbook(path)
    data = path.read_bytes()
    draw = random.Random(3)
    for _ in range(40):
        place = draw.randrange(len(data))
        damaged = data[:place] + bytes([draw.randrange(256)]) + data[place + 1 :]
        read_or_refused(path, damaged)


def database(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute('CREATE TABLE "the ""stations" (id INTEGER, callsign TEXT, heard REAL, raw BLOB)')
    connection.execute('INSERT INTO "the ""stations" VALUES (2321234, ?, 3.0, ?), (2321235, NULL, 0.5, NULL)', ("Zoë\n", b"ab"))
    connection.execute('CREATE VIEW heard AS SELECT id FROM "the ""stations"')
    connection.execute(
        "CREATE VIEW endless AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x FROM n WHERE x < 0"
    )
    connection.commit()
    connection.close()


@pytest.mark.long
def test_a_database_gives_its_tables_and_is_left_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(open_database, "_MOST_STEPS", 3)
    path = tmp_path / "what? 100%.db"
    database(path)
    before = path.read_bytes()
    heard, stations, endless = open_file(path)  # a view that lacks no rows stands before its table
    assert [heard.label, stations.label] == ["heard", 'the "stations']
    assert text_of(stations) == "id,callsign,heard,raw\n2321234,Zoë ,3,ab\n2321235,,0.5,\n"
    assert text_of(heard) == "id\n2321234\n2321235\n"
    with pytest.raises(InputRefusedError, match="gives no rows"):
        text_of(endless)
    assert path.read_bytes() == before
    assert list(tmp_path.iterdir()) == [path]
    draw = random.Random(5)
    for _ in range(40):
        place = draw.randrange(16, len(before))
        read_or_refused(path, before[:place] + bytes([draw.randrange(256)]) + before[place + 1 :])


def rows_of(table: Table, names: list[str]) -> list[tuple[object, ...]]:
    assert isinstance(table, ColumnTable)
    rows: list[tuple[object, ...]] = []
    for job in table.runs(names):
        run = job()
        assert set(run.columns) == set(names)
        rows += zip(*(run.columns[name].to_pylist() for name in names), strict=True)
        assert run.count == len(run.columns[names[0]])
    return rows


def arrow_table() -> pa.Table:
    return pa.table(
        {
            "id": pa.array([2321234, 2321235, None], pa.uint64()),
            "small": pa.array([1, 2, 3], pa.int8()),
            "callsign": pa.array(["OE1ABC", "OE1ABD", None]).dictionary_encode(),
            "name": pa.array([{"first": "Zoë", "last": "B"}, {"first": "Anna", "last": None}, None]),
            "parts": pa.array([["a", "b"], [], None]),
        }
    )


def as_parquet(table: pa.Table) -> bytes:
    sink = pa.BufferOutputStream()
    parquet.write_table(table, sink)
    return bytes(sink.getvalue())


def as_arrow(table: pa.Table, *, stream: bool) -> bytes:
    sink = pa.BufferOutputStream()
    with (pa.ipc.new_stream if stream else pa.ipc.new_file)(sink, table.schema) as writer:
        writer.write_table(table)
    return bytes(sink.getvalue())


COLUMNAR: dict[str, Callable[[pa.Table], bytes]] = {
    "parquet": as_parquet,
    "arrow file": lambda table: as_arrow(table, stream=False),
    "arrow stream": lambda table: as_arrow(table, stream=True),
}


@pytest.mark.parametrize("kind", COLUMNAR)
def test_parquet_and_arrow_give_columns_by_name(tmp_path: Path, kind: str) -> None:
    (table,) = opened(tmp_path / "stations", COLUMNAR[kind](arrow_table()))
    assert isinstance(table, ColumnTable)
    assert table.names == ["id", "small", "callsign", "name.first", "name.last", "parts"]
    assert table.sample[0] == ["2321234", "1", "OE1ABC", "Zoë", "B", "a b"]
    assert rows_of(table, ["name.first", "id", "callsign"]) == [
        ("Zoë", 2321234, "OE1ABC"),
        ("Anna", 2321235, "OE1ABD"),
        (None, None, None),
    ]


def test_text_in_parquet_that_is_not_utf8_is_a_row_that_cannot_be_read(tmp_path: Path) -> None:
    names = pa.array([b"Zo\xeb", b"Anna", None], pa.binary())
    bad = pa.Array.from_buffers(pa.string(), 3, names.buffers())
    (table,) = opened(tmp_path / "x.parquet", as_parquet(pa.table({"id": [1, 2, 3], "name": bad})))
    assert isinstance(table, ColumnTable)
    (job,) = table.runs(["id", "name"])
    run = job()
    assert run.unreadable == {0: "text that is not UTF-8"}
    assert run.columns["name"].to_pylist() == [None, "Anna", None]


DAMAGE = """
import random, sys
from pathlib import Path
from pruner.words.errors import PrunerError
from pruner.table.open_file import open_file
paths, times = [Path(name) for name in sys.argv[2:]], int(sys.argv[1])
draw, ends = random.Random(11), {path: [0, 0] for path in paths}
for path in (path for path in paths for _ in range(times)):
    whole, other = path.read_bytes(), path.with_suffix(".damaged")
    data = bytearray(whole)
    for _ in range(draw.choice((1, 1, 4, 40))):
        data[draw.randrange(8, len(data))] = draw.choice((0, 1, 127, 128, 255, draw.randrange(256)))
    other.write_bytes(bytes(data[: draw.choice((len(data), draw.randrange(8, len(data))))]))
    try:
        for table in open_file(other):
            for job in table.runs(table.names):
                run = job()
                for column in run.columns.values():
                    column.to_pylist()
        ends[path][0] += 1
    except PrunerError as error:
        assert "\\n" not in str(error)
        ends[path][1] += 1
for pair in ends.values(): print(*pair)
"""


@pytest.mark.long
def test_damaged_columns_never_end_the_process(tmp_path: Path) -> None:
    paths = [tmp_path / kind for kind in COLUMNAR]
    for path, written in zip(paths, COLUMNAR.values(), strict=True):
        path.write_bytes(written(arrow_table()))
    done = subprocess.run([sys.executable, "-c", DAMAGE, "400", *paths], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    ends = [tuple(map(int, line.split())) for line in done.stdout.splitlines()]
    assert [read + refused for read, refused in ends] == [400] * len(COLUMNAR)
    assert min(refused for _, refused in ends) > 50
