"""Directories of every dialect: what is read, what is rejected and where it stood, what is refused."""

from __future__ import annotations

import codecs
import csv
import gzip
import io
import json
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest
from draws import draws
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from pruner.cli.boundary import guarded
from pruner.job.collect import SourceRows, collect
from pruner.job.texts import fetch_text, written_contacts
from pruner.read.delimited import recode_lines
from pruner.table import containers, open_columnar
from pruner.words import schema
from pruner.words.errors import ExitCode, InputRefusedError, SourceMissingError
from pruner.words.outcomes import Reason

HEAD = "id,callsign,first_name,town\n"
PLAIN = HEAD + "2281001,HB9ZZA,Ada,Alpstadt\n2281002,HB9ZZB,Ben,Zürich\n"
TWO = [(2281001, "HB9ZZA", "Ada", "Alpstadt"), (2281002, "HB9ZZB", "Ben", "Zürich")]


@pytest.fixture(scope="module")
def pool() -> Iterator[ThreadPoolExecutor]:
    with ThreadPoolExecutor(2) as made:
        yield made


class Reader:
    """Writes a text or bytes to a file and reads it as a source."""

    def __init__(self, folder: Path, pool: ThreadPoolExecutor) -> None:
        self.path, self.pool = folder / "stations", pool

    def __call__(self, content: str | bytes, **options: Any) -> SourceRows:
        self.path.write_bytes(content.encode() if isinstance(content, str) else content)
        return self.again(**options)

    def again(self, **options: Any) -> SourceRows:
        return collect("list", schema.SYSTEMS["dmr"], [self.path], self.pool, **options)


@pytest.fixture
def read(tmp_path: Path, pool: ThreadPoolExecutor) -> Reader:
    return Reader(tmp_path, pool)


def cells(rows: SourceRows, *names: str) -> list[tuple[Any, ...]]:
    """Id, call sign and the named text columns of every record that was not rejected."""
    texts = [[value for run in rows.texts for value in run[name].to_pylist()] for name in names]
    table = zip(rows.number.tolist(), rows.callsign.to_pylist(), *texts, strict=True)
    return [row for row, usable in zip(table, rows.reason == Reason.NONE, strict=True) if usable]


def people(rows: SourceRows) -> list[tuple[Any, ...]]:
    return cells(rows, "first_name", "town")


def rejected(rows: SourceRows) -> list[tuple[int, str, str]]:
    return [(row.line, row.reason, row.raw) for row in rows.rejected]


def zstd(data: bytes) -> bytes:
    return pa.compress(data, codec="zstd", asbytes=True)  # type: ignore[no-any-return]


def zstd_stream(data: bytes) -> bytes:
    sink = pa.BufferOutputStream()
    with pa.CompressedOutputStream(sink, "zstd") as out:
        out.write(data)
    return sink.getvalue().to_pybytes()  # type: ignore[no-any-return]


def zipped(data: bytes, *names: str) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in names or ("stations.csv",):
            archive.writestr(name, data)
    return made.getvalue()


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("block", [7, 64, 4 << 20])
def test_delimiters_and_line_endings(
    read: Reader, monkeypatch: pytest.MonkeyPatch, delimiter: str, ending: str, block: int
) -> None:
    monkeypatch.setattr(containers, "BLOCK_BYTES", block)
    rows = read(PLAIN.replace(",", delimiter).replace("\n", ending))
    assert people(rows) == TWO
    assert not rows.rejected


@pytest.mark.parametrize(
    "content",
    [
        codecs.BOM_UTF8 + PLAIN.encode(),
        codecs.BOM_UTF16_LE + PLAIN.encode("utf-16-le"),
        codecs.BOM_UTF16_BE + PLAIN.encode("utf-16-be"),
        PLAIN.encode("utf-16-le"),
        PLAIN.encode("utf-16-be"),
        PLAIN.encode("cp1252"),
        gzip.compress(PLAIN.encode(), mtime=0),
        gzip.compress(HEAD.encode(), mtime=0) + gzip.compress(PLAIN[len(HEAD) :].encode(), mtime=0),
        zstd(PLAIN.encode()),
        zstd_stream(PLAIN.encode()),
        zstd(HEAD.encode()) + zstd(PLAIN[len(HEAD) :].encode()),
        zipped(PLAIN.encode()),
        PLAIN.rstrip("\n").encode(),
        ("\n\n" + PLAIN.replace("\n", "\n\n")).encode(),
        (" \n" + PLAIN).encode(),
        PLAIN.replace("\n", ",\n").encode(),
        PLAIN.replace("Alpstadt", "Alpstadt,,").encode(),
        ("sep=,\n" + PLAIN).encode(),
        ("sep=\t\n" + PLAIN.replace(",", "\t")).encode(),
        PLAIN.replace(",", '","').replace("\n", '"\n"').rstrip('"').encode().join([b'"', b""]),
    ],
)
def test_encodings_and_packings_give_the_same_records(read: Reader, content: bytes) -> None:
    rows = read(content)
    assert people(rows) == TWO
    assert not rows.rejected


def test_one_line_in_another_encoding_is_read_in_it(read: Reader) -> None:
    rows = read(PLAIN.encode() + "2281003,HB9ZZC,Zoë,Köniz\n".encode("cp1252"))
    assert people(rows) == [*TWO, (2281003, "HB9ZZC", "Zoë", "Köniz")]
    assert rows.counts["lines that were not UTF-8"] == 1


def test_an_encoding_from_the_settings_is_used(read: Reader) -> None:
    assert people(read(PLAIN.replace("Zürich", "Łódź").encode("cp1250"), encoding="cp1250"))[1][3] == "Łódź"


MIXED = (
    HEAD
    + '2281001,HB9ZZA,"Ada\nthe ""first""","Alp, stadt"\n\n'
    + "bad,HB9ZZB,Ben,Bern\n"
    + '2281003,HB9ZZC,"Cleo,Chur\n'
    + "2281004,HB9ZZD,Dora,Davos\n\n"
    + '-5,HB9ZZE,"Emil\n\nx","E"\n'
    + "2281006,HB9ZZF\n"
    + "2281007,,,Genf\n"
    + "2281008,HB9ZZH,Hugo\u2028,Horgen\n"
)


@pytest.mark.parametrize("block", [1, 16, 64, 100, 4 << 20])
def test_lines_and_raw_text_of_rejected_rows(read: Reader, monkeypatch: pytest.MonkeyPatch, block: int) -> None:
    monkeypatch.setattr(containers, "BLOCK_BYTES", block)
    rows = read(MIXED)
    assert people(rows) == [
        (2281001, "HB9ZZA", 'Ada\nthe "first"', "Alp, stadt"),
        (2281004, "HB9ZZD", "Dora", "Davos"),
        (2281008, "HB9ZZH", "Hugo\u2028", "Horgen"),
    ]
    assert rejected(rows) == [
        (5, "invalid id", "bad,HB9ZZB,Ben,Bern"),
        (6, "unreadable row", '2281003,HB9ZZC,"Cleo,Chur'),
        (9, "invalid id", '-5,HB9ZZE,"Emil\n\nx","E"'),
        (12, "unreadable row", "2281006,HB9ZZF"),
        (13, "unreadable row", "2281007,,,Genf"),
    ]


def test_a_quote_open_at_the_end_costs_one_line(read: Reader) -> None:
    rows = read(PLAIN + '2281003,HB9ZZC,"Cleo,Chur')
    assert people(rows) == TWO
    assert rejected(rows) == [(4, "unreadable row", '2281003,HB9ZZC,"Cleo,Chur')]


def test_separators_of_other_scripts_inside_cells_end_no_line(read: Reader) -> None:
    odd = '2281003,HB9ZZC,"C\u2028\n\x85leo",Ch\x0bur\n2281004,HB9ZZD,D\x1cora,Davos,,\n'
    rows = read(PLAIN + odd)
    assert people(rows)[2:] == [
        (2281003, "HB9ZZC", "C\u2028\n\x85leo", "Ch\x0bur"),
        (2281004, "HB9ZZD", "D\x1cora", "Davos"),
    ]
    assert not rows.rejected


def test_text_under_no_heading_makes_a_row_unreadable(read: Reader) -> None:
    rows = read("id,callsign\n2281001,HB9ZZA,\n2281002,HB9ZZB\n2281003,HB9ZZC,x\n2281004,HB9ZZD,\n")
    assert [row[0] for row in cells(rows)] == [2281001, 2281002, 2281004]
    assert rejected(rows) == [(4, "unreadable row", "2281003,HB9ZZC,x")]


CELL = st.text(st.sampled_from('ab,;"\n \té'), max_size=6)


@draws(120, HealthCheck.function_scoped_fixture)
@given(
    st.lists(st.tuples(CELL, CELL), min_size=1, max_size=12),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    st.sampled_from(["\n", "\r\n"]),
    st.sampled_from([16, 64, 200]),
)
def test_any_table_is_read_as_written_whatever_the_blocks(
    read: Reader, texts: list[tuple[str, str]], quoting: int, ending: str, block: int
) -> None:
    # Outside reference: the csv module of Python as a writer of RFC 4180.
    made = io.StringIO(newline="")
    writer = csv.writer(made, quoting=quoting, lineterminator=ending)  # type: ignore[arg-type]
    writer.writerow(["id", "callsign", "first_name", "town"])
    writer.writerows([str(2281000 + i), f"HB9ZZ{chr(65 + i)}", *pair] for i, pair in enumerate(texts))
    expected = [(2281000 + i, f"HB9ZZ{chr(65 + i)}", pair[0] or None, pair[1] or None) for i, pair in enumerate(texts)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(containers, "BLOCK_BYTES", block)
        rows = read(made.getvalue())
    assert people(rows) == expected
    assert not rows.rejected
    assert people(read.again()) == expected


RECORDS = [
    {"id": 2281001, "callsign": "HB9ZZA", "first_name": "Ada", "town": 'Alp {"x": [1}\\'},
    {"id": "2281002", "callsign": "HB9ZZB", "first_name": 'B\\"en', "town": "]}"},
]
JSON_ROWS = [(2281001, "HB9ZZA", "Ada", 'Alp {"x": [1}\\'), (2281002, "HB9ZZB", 'B\\"en', "]}")]


@pytest.mark.parametrize(
    "content",
    [
        json.dumps(RECORDS),
        json.dumps(RECORDS, indent=2),
        json.dumps({"made": "2026", "stations": RECORDS}),
        json.dumps({"stations": RECORDS, "count": 2}, indent=4),
        "\n".join(json.dumps(record) for record in RECORDS),
        "\n\n".join(json.dumps({**record, "tags": ["a"]}) for record in RECORDS) + "\n",
    ],
)
def test_json(read: Reader, monkeypatch: pytest.MonkeyPatch, content: str) -> None:
    assert people(read(content)) == JSON_ROWS
    monkeypatch.setattr(containers, "BLOCK_BYTES", 16)
    assert people(read.again()) == JSON_ROWS


def test_a_broken_json_line_is_rejected_alone(read: Reader) -> None:
    lines = [json.dumps(record) for record in RECORDS]
    rows = read("\n".join([lines[0], '{"id": 2281009, "callsign": ', "", lines[1], "7", ""]))
    assert people(rows) == JSON_ROWS
    assert rejected(rows) == [
        (2, "unreadable row", '{"id": 2281009, "callsign": '),
        (5, "unreadable row", "7"),
    ]


@pytest.mark.parametrize("ids", [pa.int64(), pa.uint32(), pa.float64(), pa.string(), pa.large_string()])
@pytest.mark.parametrize("kind", ["parquet", "arrow"])
def test_columnar_files(read: Reader, monkeypatch: pytest.MonkeyPatch, ids: pa.DataType, kind: str) -> None:
    monkeypatch.setattr(open_columnar, "ROWS", 2)
    numbers = pa.array([2281001, 2281002, None, 99, 16777216, 2281003]).cast(ids)
    table = pa.table(
        {
            "town": pa.array(["Alpstadt", "Zürich", "x", "y", "z", ""]),
            "first_name": pa.array(["Ada", "Ben", "c", "d", "e", "f"]).dictionary_encode(),
            "Call Sign": ["HB9ZZA", "HB9ZZB", "HB9ZZC", "HB9ZZD", "HB9ZZE", "HB9ZZF"],
            "ID": numbers,
        }
    )
    if kind == "parquet":
        parquet.write_table(table, read.path)
    else:
        with pa.ipc.new_file(str(read.path), table.schema) as writer:
            writer.write_table(table, max_chunksize=2)
    rows = read.again()
    assert people(rows) == [*TWO, (99, "HB9ZZD", "d", "y"), (2281003, "HB9ZZF", "f", None)]
    assert [(row.line, row.reason) for row in rows.rejected] == [(3, "invalid id"), (5, "invalid id")]


@pytest.mark.parametrize(
    "heading",
    [
        "DMR ID,Call Sign,First Name,City",
        "Kennung,Rufzeichen,Vorname,Ort",
        "Identifiant,Indicatif,Prénom,Ville",
        "Número,Indicativo,Nombre de pila,Ciudad",
        "Identificativo,Nominativo,Nome di battesimo,Località",
    ],
)
def test_headings_in_several_languages_and_any_order(read: Reader, heading: str) -> None:
    lines = [heading, *PLAIN.splitlines()[1:]]
    assert people(read("\n".join(lines))) == TWO
    assert people(read("\n".join(",".join(reversed(line.split(","))) for line in lines))) == TWO


def test_one_column_of_whole_names(read: Reader) -> None:
    rows = read("name,id\nAda Alp,2281001\n,2281002\n")
    assert cells(rows, "name") == [(2281001, None, "Ada Alp")]
    assert rejected(rows) == [(3, "unreadable row", ",2281002")]


def test_columns_named_in_the_settings(read: Reader) -> None:
    columns = {"id": "Zahl", "callsign": "Zeichen"}
    assert cells(read("Zeichen;Farbe;Zahl\nHB9ZZA;rot;2281001\n", columns=columns)) == [(2281001, "HB9ZZA")]


def test_columns_by_position_without_a_heading_line(read: Reader) -> None:
    columns = {"id": 3, "callsign": 1}
    rows = read("\nHB9ZZA;rot;2281001\nHB9ZZB;blau;x\n", columns=columns)
    assert cells(rows) == [(2281001, "HB9ZZA")]
    assert rejected(rows) == [(3, "invalid id", "HB9ZZB;blau;x")]


def test_a_list_without_a_heading_line_is_read_by_its_cells(read: Reader) -> None:
    assert cells(read("2281001,HB9ZZA\n2281002,HB9ZZB\n")) == [(2281001, "HB9ZZA"), (2281002, "HB9ZZB")]


def test_a_heading_over_several_lines(read: Reader) -> None:
    rows = read('"i\nd","call\nsign"\n2281001,HB9ZZA\nx,HB9ZZB\n')
    assert cells(rows) == [(2281001, "HB9ZZA")]
    assert rejected(rows) == [(5, "invalid id", "x,HB9ZZB")]


LONG = HEAD + "".join(f"{2280000 + n},HB9Z{n % 97},N{n * 7919 % 9973},T{n * 31 % 977}\n" for n in range(4000))


@pytest.mark.parametrize("pack", [gzip.compress, zstd, zstd_stream, zipped])
@pytest.mark.parametrize("lost", [1, 3, 5, 9, 500])
def test_truncated_archives_are_refused(read: Reader, pack: Any, lost: int) -> None:
    whole = pack(LONG.encode())
    assert len(read(whole).number) == 4000
    with pytest.raises(InputRefusedError, match="damaged or ends early"):
        read(whole[:-lost])


@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.9])
def test_truncation_of_a_zstd_file_of_many_frames(read: Reader, share: float) -> None:
    whole = zstd(LONG.encode()) + zstd(LONG[len(HEAD) :].encode())
    assert len(read(whole).number) == 8000
    with pytest.raises(InputRefusedError, match="damaged or ends early"):
        read(whole[: 4 + int(share * (len(whole) - 5))])


def corrupt_parquet() -> bytes:
    sink = pa.BufferOutputStream()
    parquet.write_table(pa.table({"id": list(range(1000))}), sink)
    data: bytes = sink.getvalue().to_pybytes()
    return data


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "empty"),
        (b" \n\t\r\n", "empty"),
        (codecs.BOM_UTF8, "empty"),
        (gzip.compress(b"", mtime=0), "nothing"),
        (b"\n <!DOCTYPE html>\n<html><body>moved, id, callsign</body></html>\n", "page"),
        (b"colour,size\nred,1\n", "the column 'size' does not look like ids"),
        (b"2281001,DL9ZZA\n2281002,DL9ZZB\n2621003,HB9ZZC\n2281004,DL9ZZD\n", "of other countries than the rest of their rows"),
        (HEAD.encode(), "no rows"),
        (HEAD.encode() + b"\n\n", "no rows"),
        (b"[]", "no records"),
        (b'[{"id": 2281001', "ends early"),
        (b'{"a": [{"id": 1}], "b": [{"id": 2}]}', "does not look like ids"),
        (b'[{"colour": "red"}]', "no column of ids"),
        (corrupt_parquet()[:-20], "damaged"),
        (b"PAR1" + b"x" * 50, "damaged"),
        (b"ARROW1\0\0" + b"x" * 50, "damaged"),
    ],
)
def test_what_is_no_directory_is_refused_in_one_line(read: Reader, content: bytes, says: str) -> None:
    with pytest.raises(InputRefusedError) as caught:
        read(content)
    message = str(caught.value)
    assert caught.value.exit_code == ExitCode.INPUT_REFUSED == 3
    assert message.startswith(f"{read.path}: ")
    assert says in message
    assert message.isprintable()


def test_a_missing_file(read: Reader) -> None:
    with pytest.raises(SourceMissingError) as caught:
        read.again()
    assert caught.value.exit_code == ExitCode.SOURCE_MISSING == 4
    assert "\n" not in str(caught.value)


def test_a_heading_from_the_settings_that_is_not_there(read: Reader) -> None:
    with pytest.raises(InputRefusedError, match="no column is headed 'Zahl'"):
        read(PLAIN, columns={"id": "Zahl"})


def test_two_meanings_in_one_column_are_refused(read: Reader) -> None:
    with pytest.raises(InputRefusedError, match="the same column twice"):
        read("2281001,HB9ZZA\n", columns={"id": 1, "callsign": 1})


def test_a_column_of_ids_that_is_neither_number_nor_text(read: Reader) -> None:
    parquet.write_table(pa.table({"id": [[1], [2]], "callsign": ["HB9ZZA", "HB9ZZB"]}), read.path)
    with pytest.raises(InputRefusedError, match="does not look like ids"):
        read.again()


def test_numbers_that_are_not_whole_are_no_ids(read: Reader) -> None:
    good = [2281001.0 + place for place in range(6)]
    ids = [*good, 2281001.5, float("nan"), float("inf"), 1e300, -1.0]
    parquet.write_table(pa.table({"id": ids, "callsign": ["HB9ZZA"] * 11}), read.path)
    rows = read.again()
    assert cells(rows) == [(int(number), "HB9ZZA") for number in good]
    assert [row.line for row in rows.rejected] == [7, 8, 9, 10, 11]


@pytest.mark.parametrize(("surplus", "lines"), [("", []), (",x", [4])])
def test_a_very_long_cell_costs_at_most_its_row(read: Reader, surplus: str, lines: list[int]) -> None:
    rows = read(PLAIN + f"2281003,HB9ZZC,{'x' * 200_000},Chur{surplus}\n2281004,HB9ZZD,Dora,Davos\n")
    assert cells(rows)[-1] == (2281004, "HB9ZZD")
    assert len(rows.number) == 4
    assert [row.line for row in rows.rejected] == lines


def test_an_archive_with_a_password_is_refused(read: Reader) -> None:
    # The first flag bit of both headers says "encrypted": APPNOTE of the zip format, section 4.4.4 (from memory).
    data = bytearray(zipped(PLAIN.encode()))
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(InputRefusedError, match="password"):
        read(bytes(data))


def test_a_folder_in_place_of_a_file(read: Reader) -> None:
    read.path.mkdir()
    with pytest.raises(SourceMissingError, match="cannot be read"):
        read.again()


def test_malformed_quotes_in_even_number_cost_their_lines_only(read: Reader) -> None:
    rows = read(PLAIN + '22"81003,"HB9ZZC,Cleo,Chur\n2281004,HB9ZZD,Dora,Davos\nx,HB9ZZE,Emil,E\n')
    assert people(rows) == [*TWO, (2281004, "HB9ZZD", "Dora", "Davos")]
    assert [row[0] for row in rejected(rows)] == [4, 6]


@given(st.binary(max_size=40))
def test_lines_that_are_not_utf_8_are_found_as_python_finds_them(text: bytes) -> None:
    def is_utf8(line: bytes) -> bool:
        try:
            line.decode()
        except UnicodeDecodeError:
            return False
        return True

    recoded, count = recode_lines(text)
    assert count == sum(not is_utf8(line) for line in text.split(b"\n"))
    assert recoded == text if not count else is_utf8(recoded)


@pytest.mark.parametrize("block", [1 << 12, containers.BLOCK_BYTES])
def test_text_of_long_files_is_coded_later_to_the_same_end(read: Reader, monkeypatch: pytest.MonkeyPatch, block: int) -> None:
    content = (Path(__file__).parents[1] / "fixtures" / "demo" / "stations.csv").read_bytes()
    monkeypatch.setattr(containers, "BLOCK_BYTES", block)
    soon = read(content)
    monkeypatch.setattr("pruner.job.collect._LONG_FILE", 0)
    late = read.again()
    assert late.texts[0][schema.TOWN].type == pa.string()
    assert people(soon) == people(late)
    assert rejected(soon) == rejected(late)
    records = np.random.default_rng(1).permutation(np.flatnonzero(soon.station))
    for column in schema.REPEATED_TEXT:
        expected = fetch_text([soon], records, column).to_pylist()
        assert fetch_text([late], records, column).to_pylist() == expected
        twice = np.append(records, records + len(soon.number))
        assert fetch_text([soon, late], twice, column).to_pylist() == expected * 2
    frames = [written_contacts([rows], records, rows.number[records], rows.country[records]) for rows in (soon, late)]
    assert frames[0][0].equals(frames[1][0])
    assert frames[0][1] == frames[1][1]


PLACES = [
    ('"Graz, Österreich"', ("Graz", "", "AT")),
    ('"Wien, Wien, Austria"', ("Wien", "Wien", "AT")),
    ("Villach", ("Villach", "", "AT")),
    ('"Hauptstr. 1, 8010 Graz, Austria"', ("", "", "AT")),
    ('"Prague, Czechia"', ("Prague", "", "CZ")),
]


@pytest.mark.parametrize("heading", ["Where", "Location", "QTH"])
def test_town_and_country_in_one_cell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, heading: str) -> None:
    monkeypatch.chdir(tmp_path)
    rows = [f"{2320001 + place},OE1AA{chr(65 + place)},Ada,{cell}" for place, (cell, _) in enumerate(PLACES)]
    Path("stations.csv").write_text("\n".join([f"DMR ID,Call,Name,{heading}", *rows]) + "\n", encoding="utf-8")
    assert guarded(["fit", "stations.csv", "--contacts", "9", "--out", "out"]) == ExitCode.DONE
    with Path("out/radio/contacts.csv").open(encoding="utf-8", newline="") as file:
        found = [(row["town"], row["state"], row["country"]) for row in csv.DictReader(file)]
    assert [(town, state) for town, state, _ in found] == [(town, state) for _, (town, state, _) in PLACES]
    names = {"AT": "Austria", "CZ": "Czechia"}
    assert [country for *_, country in found] == [names[code] for _, (*_, code) in PLACES]
    summary = json.loads(Path("out/radio/summary.json").read_text())
    assert f"from '{heading}' (by its cells)" in summary["sources"][0]["understood"][0]["sentence"]


def test_a_town_with_a_comma_beside_a_country_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    rows = [f'{2320001 + place},OE1AA{place},"Graz, Austria",Austria' for place in range(4)]
    Path("stations.csv").write_text("\n".join(["DMR ID,Call,Town,Country", *rows]) + "\n")
    assert guarded(["fit", "stations.csv", "--contacts", "9", "--out", "out"]) == ExitCode.DONE
    assert Path("out/radio/contacts.csv").read_text().count('Austria,,"Graz, Austria"') == 4
