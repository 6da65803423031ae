"""Program code around a list, as pages load their data: the list is read, or the file is refused in one line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import pruner
from pruner.words.errors import InputRefusedError

STATIONS = [
    {"call": f"OE{place + 1}KAA", "ids": [2321001 + 57 * place], "person": {"given": "Ann", "family": "Kelm"}, "town": "Graz"}
    for place in range(6)
]
BY_KEY = {str(station["call"]): {name: value for name, value in station.items() if name != "call"} for station in STATIONS}

CODE = {
    "a variable": ("var stations = ", ";\n"),
    "comments and others before": (
        "/* made (by hand) = [1] */\nconst VERSION = [1, 2];\nwindow.crew = ",
        ";\ninit(crew);\n",
    ),
    "a call": ("load(", ");"),
    "a module": ("'use strict';\nmodule.exports = ", ""),
    "an export": ("// crew\nexport default ", ";"),
}


@pytest.mark.parametrize("indent", [None, 1])
@pytest.mark.parametrize("value", [STATIONS, BY_KEY], ids=["list", "by key"])
@pytest.mark.parametrize("shape", CODE)
def test_the_list_in_code_is_read(tmp_path: Path, shape: str, value: object, indent: int | None) -> None:
    before, behind = CODE[shape]
    path = tmp_path / "crew.js"
    path.write_text(before + json.dumps(value, indent=indent) + behind)
    found = pruner.stations(path).contacts
    assert found["id"].to_list() == [2321001 + 57 * place for place in range(6)]
    assert set(found["last_name"]) == {"Kelm"}


def test_a_list_that_is_no_json_is_refused_in_one_line(tmp_path: Path) -> None:
    path = tmp_path / "crew.js"
    rows = ",\n".join(f"{{call: 'OE{n}KAA', id: {2321001 + 57 * n}}}" for n in range(1, 7))
    path.write_text(f"var crew = [\n{rows},\n];\n")
    with pytest.raises(InputRefusedError, match="program code whose list is no JSON"):
        pruner.stations(path)


def test_a_table_with_brackets_in_its_cells_is_one(tmp_path: Path) -> None:
    path = tmp_path / "crew.csv"
    rows = [f"OE{n}KAA,{2321001 + 57 * n},Ann ([x]),a=[1]" for n in range(1, 7)]
    path.write_text("\n".join(["call,dmr_id,name,note ([a])", *rows]) + "\n")
    assert len(pruner.stations(path).contacts) == 6
