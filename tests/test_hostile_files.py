"""Files that ended a run with a fault of ours: each is a rejected row or a refused source, with one line."""

from __future__ import annotations

import io
import json
import random
import subprocess
import sys
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest

from pruner.read.directory import read_directory
from pruner.read.heard_log import open_log
from pruner.read.records import Records
from pruner.words.errors import InputRefusedError


def records_of(path: Path, encoding: str | None = None) -> list[Records]:
    with ThreadPoolExecutor(1) as pool:
        return [records for _, records in read_directory(path, lambda records: records, pool, encoding=encoding)]


def ids_of(runs: list[Records]) -> list[str | None]:
    return [cell for run in runs for cell in run.columns["id"].to_pylist()]


ROWS = [
    {"id": 2321234 + place, "callsign": f"OE1AB{chr(65 + place)}", "name": "Anna", "country": "Austria"} for place in range(20)
]
LINES = [json.dumps(row) for row in ROWS]


@pytest.mark.parametrize(
    ("hostile", "is_record"),
    [
        ('{"id": 2321999, "callsign": "OE1XYZ", "name": NaN}', True),
        ('{"id": 2321999, "callsign": "OE1XYZ", "height": 1e400}', True),
        ('{"id": 2321999, "callsign": "OE1XYZ", "height": -Infinity}', True),
        ('{"id": 2321999, "callsign": ' + "[" * 1000 + "]" * 1000 + "}", False),
        ("[" * 100_000 + "]" * 100_000, False),
        ('{"id": 2321999, "callsign": ' + "[" * 100_000 + "]" * 100_000 + "}", False),
        ('{"id": 2321999, "callsign": "OE1XYZ", "name": "cut', False),
        ("nonsense", False),
    ],
)
def test_one_hostile_line_of_json_is_one_record(tmp_path: Path, hostile: str, is_record: bool) -> None:
    path = tmp_path / "stations.jsonl"
    path.write_text("\n".join([*LINES[:10], hostile, *LINES[10:]]) + "\n", encoding="utf-8")
    runs = records_of(path)
    assert sum(run.count for run in runs) == 21
    assert len([index for run in runs for index in run.unreadable]) == (0 if is_record else 1)
    found = ids_of(runs)
    assert [found[place] for place in range(21) if place != 10] == [str(row["id"]) for row in ROWS]
    if is_record:
        assert found[10] == "2321999"


def test_utf_16_without_a_mark_is_read(tmp_path: Path) -> None:
    path = tmp_path / "stations.csv"
    text = "id,callsign,name\n" + "".join(f"{row['id']},{row['callsign']},{row['name']}\n" for row in ROWS)
    for encoding in ("utf-16-le", "utf-16-be"):
        path.write_bytes(text.encode(encoding))
        assert ids_of(records_of(path, "utf-16")) == [str(row["id"]) for row in ROWS]


def test_archives_that_no_library_takes_are_refused(tmp_path: Path) -> None:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_LZMA) as archive:
        archive.writestr("stations.csv", "id,callsign\n2321234,OE1ABC\n" * 50)
    data = bytearray(buffer.getvalue())
    path = tmp_path / "stations.zip"
    path.write_bytes(bytes(data[:60]) + b"\xff" * 10 + bytes(data[70:]))
    with pytest.raises(InputRefusedError, match="damaged or ends early"):
        records_of(path)
    data[data.rfind(b"PK\1\2") + 6] = 99
    path.write_bytes(bytes(data))
    with pytest.raises(InputRefusedError, match="unpack it first"):
        records_of(path)


def test_text_in_parquet_that_is_not_utf8_makes_its_row_unreadable(tmp_path: Path) -> None:
    names = pa.array([b"Zo\xeb", b"Anna"], pa.binary())
    bad = pa.Array.from_buffers(pa.string(), 2, names.buffers())
    path = tmp_path / "stations.parquet"
    parquet.write_table(pa.table({"id": [2321234, 2321235], "callsign": ["OE1ABC", "OE1ABD"], "name": bad}), path)
    assert [sorted(run.unreadable) for run in records_of(path)] == [[0]]


@pytest.mark.parametrize("kind", [pa.uint8(), pa.int16(), pa.uint16(), pa.uint32(), pa.uint64(), pa.int32()])
def test_a_log_may_have_integers_of_any_size(tmp_path: Path, kind: pa.DataType) -> None:
    largest = np.iinfo(kind.to_pandas_dtype()).max
    path = tmp_path / "log.parquet"
    times = pa.array([1_700_000_000, 1_700_000_001, None], pa.uint64())
    table = {"id": pa.array([2321234, 2321235, 2321236]), "talkgroup": pa.array([91, largest, None], kind), "time": times}
    parquet.write_table(pa.table(table), path)
    columns = {"id": "id", "talkgroup": "talkgroup", "time": "time"}
    opened = open_log(path, columns, [], is_finished=True)
    assert opened is not None
    with ThreadPoolExecutor(1) as pool:
        runs = [records for _, records in opened.runs(lambda records: records, pool)]
    cells = [cell for run in runs for cell in run.columns["talkgroup"].to_pylist()]
    assert [int(cell) if cell is not None else None for cell in cells] in ([91, largest, None], [91, None, None])


DAMAGE = """
import random, sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from pruner.words.errors import PrunerError
from pruner.read.directory import read_directory
path = Path(sys.argv[1])
whole, draw = path.read_bytes(), random.Random(2)
for _ in range(300):
    data = bytearray(whole)
    for _ in range(draw.choice((1, 4, 40))):
        data[draw.randrange(8, len(data))] = draw.choice((0, 1, 127, 128, 255))
    path.write_bytes(bytes(data))
    try:
        with ThreadPoolExecutor(1) as pool:
            for _, records in read_directory(path, lambda records: records, pool):
                [column.to_pylist() for column in records.columns.values()]
    except PrunerError as error:
        assert "\\n" not in str(error)
"""


@pytest.mark.long
@pytest.mark.parametrize("kind", ["arrow", "parquet"])
def test_a_damaged_arrow_file_does_not_end_the_process(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "stations"
    table = pa.table({"id": [2321234, 2321235], "callsign": ["OE1ABC", "OE1ABD"], "name": ["Anna", "Zoë"]})
    if kind == "parquet":
        parquet.write_table(table, path)
    else:
        with pa.ipc.new_file(path, table.schema) as writer:
            writer.write_table(table)
    done = subprocess.run([sys.executable, "-c", DAMAGE, path], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]


def test_noise_is_never_a_fault_of_ours(tmp_path: Path) -> None:
    draw = random.Random(4)
    path = tmp_path / "noise"
    for _ in range(100):
        path.write_bytes(draw.choice((b"", b"{", b"[", b'[{"id":')) + draw.randbytes(draw.randrange(1, 400)))
        with pytest.raises(InputRefusedError):
            records_of(path)
