"""Heard logs on a cluster: pysail (PyPI) stands for one, which needs no Java. Run with: pytest -m cluster."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet as parquet
import pytest

from pruner.cli.boundary import guarded
from pruner.logs.cluster import ClusterLogs, fold_on_cluster
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs
from pruner.sources import cluster as reach
from pruner.words.errors import SourceMissingError

pytestmark = [
    pytest.mark.cluster,
    # The one warning of the client: pandas 3, through which nothing goes here.
    pytest.mark.filterwarnings("ignore:PySpark does not yet fully support pandas:FutureWarning"),
]
START = datetime(2026, 11, 18, tzinfo=UTC)


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    spark = pytest.importorskip("pysail.spark", reason="pysail is not installed")
    pytest.importorskip("pyspark.sql.connect", reason="pyspark-client is not installed (extra: cluster)")
    server = spark.SparkConnectServer(ip="127.0.0.1", port=0)
    server.start(background=True)
    host, port = server.listening_address
    yield f"sc://{host}:{port}"
    server.stop()


def some_log(count: int = 6000, seed: int = 3) -> pa.Table:
    """Invented calls that meet in many ways: fractions of seconds, whole minutes, unknown durations, rows that are none."""
    draw = np.random.default_rng(seed)
    seconds = draw.integers(0, 3 * 86_400, count)
    seconds[::5] = seconds[::5] // 60 * 60
    parts = draw.integers(0, 1000, count).tolist()
    moments = [
        START + timedelta(seconds=second, milliseconds=part) for second, part in zip(seconds.tolist(), parts, strict=True)
    ]
    durations = draw.integers(0, 40, count) / 10
    durations[::97] = -1.0
    durations[::89] = 400_000.0
    table = pa.table(
        {
            "heard at": pa.array(moments, pa.timestamp("ms", "UTC")),
            "Radio ID": pa.array(np.where(draw.random(count) < 0.01, 0, 2_320_001 + draw.integers(0, 4, count)), pa.uint32()),
            "TG": pa.array(draw.choice([91, 232], count), pa.uint16()),
            "Seconds": pc.if_else(pa.array(draw.random(count) < 0.05), None, pa.array(durations, pa.float32())),
            "remark": pa.array([f"line {n}" for n in range(count)]),
        }
    )
    return pa.concat_tables([table, table.slice(0, 500)])


def stored(state: Path) -> dict[str, bytes]:
    folder = state / "heard" / "dmr"
    return {path.name: path.read_bytes() for path in [*folder.glob("*.parquet"), folder / "manifest.json"]}


@pytest.mark.parametrize("kind", ["parquet", "csv", "no zone", "whole minutes in ms"])
def test_the_same_calls_as_a_fold_here(tmp_path: Path, address: str, kind: str) -> None:
    logs = tmp_path / "logs"
    logs.mkdir()
    table = some_log()
    if kind == "no zone":
        table = table.set_column(0, "heard at", table["heard at"].cast(pa.timestamp("us")))
    elif kind == "whole minutes in ms":
        minutes = pc.floor_temporal(table["heard at"], unit="minute")
        table = table.set_column(0, "heard at", minutes)
        table = table.set_column(3, "Seconds", pc.round(pc.multiply(table["Seconds"].cast(pa.float64()), 1000.0)))
        table = table.rename_columns(["heard at", "Radio ID", "TG", "duration ms", "remark"])
    files = []
    for number, part in enumerate((table.slice(0, 4000), table.slice(4000))):
        path = logs / f"{number}.{'csv' if kind == 'csv' else 'parquet'}"
        pyarrow.csv.write_csv(part, path) if kind == "csv" else parquet.write_table(part, path)
        files.append(path)
    how: dict[str, Any] = {"zone": "Europe/Vienna"} if kind == "no zone" else {}
    here = fold_logs(tmp_path / "here", [LogFiles(files, **how)])
    form = "csv" if kind == "csv" else "parquet"
    there = fold_on_cluster(tmp_path / "there", address, ClusterLogs([str(logs)], form, **how))
    assert stored(tmp_path / "there") == stored(tmp_path / "here")
    assert there.rows == here.total.read == 6500
    assert there.brought == there.folded.total.read < there.rows
    assert there.folded.total.new == here.total.new > 4000
    again = fold_on_cluster(tmp_path / "here", address, ClusterLogs([str(logs)], form, **how))
    assert again.folded.total.new == 0


def test_more_rows_than_are_brought_at_once(tmp_path: Path, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pruner.logs.cluster._AT_ONCE", 1000)
    parquet.write_table(some_log(), tmp_path / "log.parquet")
    fold_logs(tmp_path / "here", [LogFiles([tmp_path / "log.parquet"])])
    fold_on_cluster(tmp_path / "there", address, ClusterLogs([str(tmp_path / "log.parquet")]))
    assert stored(tmp_path / "there") == stored(tmp_path / "here")


def told(capsys: pytest.CaptureFixture[str], tmp_path: Path, *arguments: str) -> tuple[int, str]:
    code = guarded(["heard", "cluster", *arguments, "--state", str(tmp_path / "state")])
    err = capsys.readouterr().err
    assert len(err.splitlines()) == 1, err
    assert not list((tmp_path / "state").glob("cluster-*"))
    return int(code), err


def test_what_is_not_there_is_one_line(tmp_path: Path, address: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, line = told(capsys, tmp_path, address, str(tmp_path / "none.parquet"))
    assert (code, f"{tmp_path}/none.parquet: the cluster finds nothing there" in line) == (4, True)
    (tmp_path / "broken.parquet").write_bytes(b"PAR1 is not all of it")
    code, line = told(capsys, tmp_path, address, str(tmp_path / "broken.parquet"))
    assert (code, "broken.parquet: the cluster cannot read it" in line) == (3, True)
    parquet.write_table(pa.table({"plant": ["fern"], "height": [3]}), tmp_path / "plants.parquet")
    code, line = told(capsys, tmp_path, address, str(tmp_path / "plants.parquet"))
    assert (code, "plants.parquet" in line) == (3, True)


def test_an_address_where_nothing_answers_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("pyspark.sql.connect")
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    code, line = told(capsys, tmp_path, f"sc://127.0.0.1:{port}/;token=secret", "/logs")
    assert (code, f"127.0.0.1:{port}: no cluster answers there" in line, "secret" in line) == (4, True, False)
    for wrong in ("http://x.example.org", "sc://", "sc://x:99999"):
        code, line = told(capsys, tmp_path, wrong, "/logs")
        assert (code, "expected the address of a cluster" in line) == (2, True)


def test_something_else_that_answers_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """A port that takes connections and never says a word keeps the client trying for minutes; nobody waits for it."""
    monkeypatch.setattr(reach, "_ANSWER_SECONDS", 0.2)
    never = threading.Event()
    with pytest.raises(SourceMissingError, match=r"^host:15002: does not answer as a cluster does within 0\.2 s$"):
        reach._in_time(lambda: never.wait(5), "host:15002")
    never.set()


def test_an_old_server_is_one_line(
    tmp_path: Path, address: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    session = pytest.importorskip("pyspark.sql.connect.session")
    monkeypatch.setattr(session.SparkSession, "version", property(lambda _: "3.4.1"))
    code, line = told(capsys, tmp_path, address, "/logs")
    assert (code, "speaks version 3.4.1; 4 or newer is needed" in line) == (4, True)
