"""The same stations as CSV and as JSON of every shape give the same ledger, row for row."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.parquet as parquet
import pytest

from pruner.demo.write import write_demo
from pruner.job import run
from pruner.settings.load import load_settings

Records = list[dict[str, str]]


def nested(record: dict[str, str]) -> dict[str, Any]:
    number, station, first, last, *rest = record.items()
    return dict([number, station]) | {"person": dict([first, last]), "place": dict(rest)}


SHAPES: dict[str, Callable[[Records], Any]] = {
    "array": lambda records: records,
    "under a key": lambda records: {"meta": {"count": len(records)}, "stations": records},
    "keyed": lambda records: {f"k{place}": record for place, record in enumerate(records)},
    "nested": lambda records: list(map(nested, records)),
    "features": lambda records: {"type": "FeatureCollection", "features": [{"properties": record} for record in records]},
}


@pytest.fixture(scope="module")
def directory(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Records]:
    """A dirty directory without rows that only CSV can have, and its records."""
    folder = tmp_path_factory.mktemp("directory")
    write_demo(folder, 3000)
    head, *rows = csv.reader(io.StringIO((folder / "stations.csv").read_bytes().decode(errors="replace")))
    records = [dict(zip(head, row, strict=True)) for row in rows if len(row) == len(head) and row != head]
    records = [record for record in records if not record[head[0]].startswith("#") and any(record.values())]
    with (folder / "plain.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, head)
        writer.writeheader()
        writer.writerows(records)
    return folder / "plain.csv", records


def ledger_of(folder: Path, location: Path) -> pa.Table:
    (folder / "pruner.toml").write_text(
        f'[home]\ncountry = "AT"\n[[source]]\nname = "world"\nlocation = "{location}"\nrejected_share_at_most = 1.0\n'
        '[[keep]]\nname = "home"\ncountries = ["home"]\n[[keep]]\nname = "near"\nneighbours_of = ["home"]\n'
        '[[radio]]\nname = "one"\ncontacts = 500\n[output]\nfolder = "out"\n'
    )
    run(load_settings(folder / "pruner.toml"))
    return parquet.read_table(folder / "out" / "one" / "ledger.parquet")


@pytest.fixture(scope="module")
def of_the_csv(tmp_path_factory: pytest.TempPathFactory, directory: tuple[Path, Records]) -> pa.Table:
    return ledger_of(tmp_path_factory.mktemp("csv"), directory[0])


@pytest.mark.parametrize("shape", SHAPES)
def test_the_ledger_is_that_of_the_csv(
    tmp_path: Path, directory: tuple[Path, Records], of_the_csv: pa.Table, shape: str
) -> None:
    _, records = directory
    (tmp_path / "stations.json").write_text(json.dumps(SHAPES[shape](records)), encoding="utf-8")
    ours = ledger_of(tmp_path, tmp_path / "stations.json")
    assert ours.num_rows == len(records)
    assert ours.equals(of_the_csv)
