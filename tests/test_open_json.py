"""JSON of every shape opens as a table; one bad record is one rejected row."""

from __future__ import annotations

import csv
import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from draws import draws
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from pruner.table import containers, open_json
from pruner.table.json_rows import flat
from pruner.table.open_file import open_file
from pruner.table.opened import ColumnTable, Table, TextTable
from pruner.words.errors import InputRefusedError, PrunerError

RECORDS: list[dict[str, Any]] = [
    {"id": 2321000 + place, "callsign": f"OE1A{chr(65 + place % 26)}{chr(65 + place // 26)}", "name": f"Zoë {{{place}}}"}
    for place in range(60)
]
NAMES = ["id", "callsign", "name"]
ROWS = [[str(record[name]) for name in NAMES] for record in RECORDS]


def rows_of(table: Table, names: list[str] | None = None) -> list[list[str]]:
    if isinstance(table, TextTable):
        lines = list(csv.reader(b"".join(table.blocks()).decode().splitlines()))
        names = names or lines[0]
        places = [lines[0].index(name) for name in names]
        return [[row[place] for place in places] for row in lines[1:]]
    rows: list[list[str]] = []
    names = names or table.names
    for job in table.runs(names):
        run = job()
        rows += [
            ["" if cell is None else cell for cell in row]
            for row in zip(*(run.columns[name].to_pylist() for name in names), strict=True)
        ]
    return rows


def read(table: Table) -> None:
    if isinstance(table, TextTable):
        b"".join(table.blocks()).decode()
    else:
        rows_of(table)


def opened(path: Path, text: str | bytes) -> list[Table]:
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return open_file(path)


def table_of(path: Path, text: str | bytes) -> Table:
    (table,) = opened(path, text)
    return table


SHAPES: dict[str, Callable[[list[dict[str, Any]]], str]] = {
    "array": json.dumps,
    "array, one record a line": lambda records: "[" + ",\n".join(map(json.dumps, records)) + "]",
    "indented": lambda records: json.dumps(records, indent=2),
    "indented by tabs, accents kept": lambda records: json.dumps(records, indent="\t", ensure_ascii=False),
    "no blanks": lambda records: json.dumps(records, separators=(",", ":")),
    "lines": lambda records: "\n".join(map(json.dumps, records)),
    "lines with blank ones": lambda records: "\n\n".join(map(json.dumps, records)) + "\n",
    "concatenated": lambda records: "".join(map(json.dumps, records)),
    "concatenated and indented": lambda records: "\n".join(json.dumps(record, indent=1) for record in records),
    "under a key": lambda records: json.dumps({"count": 60, "stations": records, "next": None}),
    "under keys": lambda records: json.dumps({"answer": {"meta": {"page": [1]}, "data": {"items": records}}}, indent=3),
    "in a list": lambda records: json.dumps([{"results": records}]),
    "columns": lambda records: json.dumps({name: [record[name] for record in records] for name in NAMES}),
    "columns under a key": lambda records: json.dumps({"data": {name: [record[name] for record in records] for name in NAMES}}),
    "split": lambda records: json.dumps({"columns": NAMES, "data": [list(record.values()) for record in records]}),
    "split, columns last": lambda records: json.dumps({"data": [list(record.values()) for record in records], "fields": NAMES}),
    "rows with headings": lambda records: json.dumps([NAMES, *(list(record.values()) for record in records)], indent=1),
    "lines of rows": lambda records: "\n".join(map(json.dumps, [NAMES, *(list(record.values()) for record in records)])),
    "features": lambda records: json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "geometry": {"type": "Point", "coordinates": [14, 48]}, "properties": record}
                for record in records
            ],
        }
    ),
    "JSON as text": lambda records: json.dumps([{"payload": json.dumps(record)} for record in records]).replace(
        "payload", "properties"
    ),
}


@pytest.mark.parametrize("block", [64, 1 << 21])
@pytest.mark.parametrize("shape", SHAPES)
def test_every_shape_gives_the_same_rows(tmp_path: Path, shape: str, block: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(containers, "BLOCK_BYTES", block)
    table = table_of(tmp_path / "stations", SHAPES[shape](RECORDS))
    assert rows_of(table, NAMES) == ROWS
    if isinstance(table, ColumnTable):
        assert set(NAMES) <= set(table.names)
        places = [table.names.index(name) for name in NAMES]
        assert [[row[place] for place in places] for row in table.sample][:1] == ROWS[:1]


def test_records_keyed_by_id(tmp_path: Path) -> None:
    path = tmp_path / "stations"
    keyed = {str(record["id"]): {"callsign": record["callsign"], "name": record["name"]} for record in RECORDS}
    table = table_of(path, json.dumps(keyed))
    assert isinstance(table, ColumnTable)
    assert table.names == ["key", "callsign", "name"]
    assert table.sample[0] == ROWS[0]
    assert rows_of(table) == ROWS
    table = table_of(path, json.dumps({"data": {"stations": {str(record["id"]): record for record in RECORDS}}}, indent=1))
    assert isinstance(table, ColumnTable)
    assert (table.label, table.names) == ("data.stations", NAMES)
    assert rows_of(table) == ROWS


def test_values_by_number(tmp_path: Path) -> None:
    assert rows_of(table_of(tmp_path / "x", '{"91": "World", "232": "Austria"}')) == [["91", "World"], ["232", "Austria"]]


def test_several_lists_are_several_tables(tmp_path: Path) -> None:
    tables = opened(tmp_path / "x", json.dumps({"countries": [{"code": "AT"}, {"code": "DE"}], "stations": RECORDS}))
    assert [table.label for table in tables] == ["countries", "stations"]
    assert rows_of(tables[1]) == ROWS


def test_values_become_text_as_they_are_written(tmp_path: Path) -> None:
    text = """[
      {"id": 2321234, "name": {"first": "Anna", "last": "Berg"}, "parts": ["Anna", "Berg", null], "on": true,
       "payload": "{\\"city\\": \\"Linz\\"}", "long": 12345678901234567890123, "none": NaN, "bad": "\\ud800", "e": 1e400},
      {"id": 2321235, "parts": ["Zo\\u00eb"], "none": null, "text": "a \\"b\\" \\\\", "zero": 48.10}]"""
    table = table_of(tmp_path / "x", text)
    assert isinstance(table, ColumnTable)
    (run,) = [job() for job in table.runs(table.names)]
    first, second = ({name: run.columns[name][row].as_py() for name in table.names} for row in (0, 1))
    assert first == {
        "id": "2321234",
        "name.first": "Anna",
        "name.last": "Berg",
        "parts": "Anna Berg",
        "on": "true",
        "payload.city": "Linz",
        "long": "12345678901234567890123",
        "none": None,
        "bad": "\ufffd",
        "e": "1e400",
        "text": None,
        "zero": None,
    }
    assert (second["parts"], second["text"], second["none"], second["zero"]) == ("Zoë", 'a "b" \\', None, "48.10")
    assert run.origin(__import__("numpy").array([1])) == [(4, text.split("\n")[3].strip().removesuffix("]"))]


BROKEN = [
    '{"id": 2321, "callsign": "OE1',
    '{"id": 2321, "callsign": OE1}',
    '{"id": 2321',
    '"id": 2321}',
    '{"id": [[[}',
    "nonsense",
    "[1, 2]",
]


@pytest.mark.parametrize("broken", BROKEN)
@pytest.mark.parametrize("block", [256, 1 << 21])
@pytest.mark.parametrize("end", ["\n", ",\n"])
def test_a_broken_record_is_one_row_that_cannot_be_read(
    tmp_path: Path, broken: str, end: str, block: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(containers, "BLOCK_BYTES", block)
    lines = [json.dumps(record) for record in RECORDS]
    lines.insert(30, broken)
    text = end.join(lines) if end == "\n" else "[\n" + end.join(lines) + "\n]\n"
    table = table_of(tmp_path / "x", text)
    assert isinstance(table, ColumnTable)
    runs = [job() for job in table.runs(NAMES)]
    found = [cell for run in runs for cell in run.columns["id"].to_pylist()]
    assert [cell for cell in found if cell is not None] == [row[0] for row in ROWS]
    assert sum(len(run.unreadable) for run in runs) == 1
    assert sum(run.count for run in runs) == 61


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"error": "key \\u001b[31m missing"}', "this is an answer, not a table: "),
        ('{"status": 403, "message": "no"}', "this is an answer"),
        ("[]", "holds no records"),
        ("{}", "holds no records"),
        ("[true, null]", "holds no records"),
        ('{"stations": []}', "no records"),
        ('[{"id": 1}, {"id": 2', "ends early"),
        ("[" * 100_000, "ends early"),
        ("[" * 100_000 + "]" * 100_000, ""),
        ('{"a":' * 100_000, "ends early"),
    ],
)
def test_what_holds_no_records_is_refused(tmp_path: Path, text: str, words: str) -> None:
    def read_all() -> None:
        for table in opened(tmp_path / "x", text):
            read(table)

    if not words:
        read_all()
        return
    with pytest.raises(InputRefusedError) as caught:
        read_all()
    assert words in str(caught.value)
    assert str(caught.value).isprintable()


VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.text(max_size=8),
    st.sampled_from(["{", "}", "[", '"', "\\", '\\"', "},{", "a,\nb", "{}"]),
)


@draws(60, HealthCheck.function_scoped_fixture)
@given(
    records=st.lists(
        st.fixed_dictionaries({"id": st.integers(1, 9999999), "x": VALUES, 'y "': VALUES}), min_size=2, max_size=30
    ),
    shape=st.sampled_from(
        [name for name in SHAPES if name.split(",")[0] in ("array", "indented", "no blanks", "lines", "concatenated")]
    ),
    block=st.sampled_from([7, 50, 1 << 20]),
)
def test_any_values_in_any_cut(tmp_path: Path, records: list[dict[str, Any]], shape: str, block: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(containers, "BLOCK_BYTES", block)
        table = table_of(tmp_path / "x", SHAPES[shape](records))
        found = rows_of(table, ["id", "x", 'y "'])

    def text(value: Any) -> str:
        return "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)

    assert found == [[text(value) for value in (record[name] for name in ("id", "x", 'y "'))] for record in records]


INNER = st.fixed_dictionaries({}, optional={"x": VALUES, "y": VALUES})
ODD = st.one_of(INNER, INNER, VALUES, INNER.map(lambda inner: [inner]), INNER.map(json.dumps))


@draws(60, HealthCheck.function_scoped_fixture)
@given(
    plain=st.lists(INNER, min_size=3, max_size=8),
    odd=st.lists(st.one_of(INNER, ODD), max_size=8),
    shape=st.sampled_from(["array", "indented", "lines"]),
    block=st.sampled_from([50, 1 << 20]),
)
def test_inner_objects_give_the_same_cells_whatever_stands_in_other_records(
    tmp_path: Path, plain: list[Any], odd: list[Any], shape: str, block: int
) -> None:
    records = [{"id": place, "p": inner} for place, inner in enumerate([{"x": "a", "y": "b"}, *plain, *odd])]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(containers, "BLOCK_BYTES", block)
        patch.setattr(open_json, "SAMPLE_ROWS", 4)
        found = rows_of(table_of(tmp_path / "x", SHAPES[shape](records)), ["id", "p.x", "p.y"])
    expected = [flat(record) for record in records]
    assert found == [[record.get(name) or "" for name in ("id", "p.x", "p.y")] for record in expected]


def test_noise_never_ends_in_a_fault_of_ours(tmp_path: Path) -> None:
    draw = random.Random(9)
    whole = SHAPES["indented"](RECORDS[:5])
    for _ in range(300):
        text = list(whole)
        for _ in range(draw.choice((1, 1, 3, 20))):
            text[draw.randrange(len(text))] = draw.choice('{}[]",:\\\n0a')
        line = ""
        try:
            for table in opened(tmp_path / "x", "".join(text)):
                read(table)
        except PrunerError as error:
            line = str(error)
        assert "\n" not in line
