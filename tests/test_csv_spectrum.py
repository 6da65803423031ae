"""Our reader of delimited text against npm csv-spectrum 1.0.0 (public CSV files, each with its cells as JSON)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pruner.read.delimited import parse, whole_records
from pruner.read.dialect import Dialect
from pruner.table.open_file import open_file
from pruner.table.opened import TextTable

FOLDER = Path("/tmp/pruner-csv-spectrum/package")
FILES = sorted(FOLDER.glob("csvs/*.csv"))


@pytest.mark.skipif(not FILES, reason="csv-spectrum is not here; .ci/run fetches it")
@pytest.mark.parametrize("path", FILES or [Path("none")], ids=lambda path: path.stem)
def test_cells_are_those_of_the_published_json(path: Path) -> None:
    expected = json.loads((FOLDER / "json" / f"{path.stem}.json").read_text(encoding="utf-8"))
    (table,) = open_file(path)
    assert isinstance(table, TextTable)
    headings = path.read_text(encoding="utf-8").splitlines()[0].split(",")
    positions = {heading: place for place, heading in enumerate(headings)}
    dialect = Dialect(",", positions, len(headings), 0, len(headings), len(headings), coded=())
    rows = []
    for block in whole_records(table.blocks(), ","):
        records = parse(block, dialect)
        assert not records.unreadable
        columns = [records.columns[heading].to_pylist() for heading in headings]
        rows += [dict(zip(headings, (cell or "" for cell in row), strict=True)) for row in zip(*columns, strict=True)]
    assert rows[0] == dict(zip(headings, headings, strict=True))
    wanted = [{name: cell.replace("\r\n", "\n") for name, cell in record.items()} for record in expected]
    assert rows[1:] == wanted
