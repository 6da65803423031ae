"""Talkgroups against an independent version in SQL (DuckDB), row for row, on dirty random lists.

The SQL is written from the account of talkgroups in DEVELOPERS.md and shares no code with `pruner`; the countries
of texts and of codes, and what cleaning makes of the few names used here, are inputs to it.
"""

from __future__ import annotations

import csv
import json
import tempfile
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

import duckdb
import numpy as np
import pyarrow as pa
import pyarrow.parquet as parquet
import pytest
from draws import draws
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from pruner.groups import load as loading
from pruner.groups import run_talkgroups, short_job
from pruner.groups.order import HeardGroups
from pruner.reference import borders, countries, numbering

#: What each name looks like after cleaning; "" is missing.
CLEANED = {
    "": "",
    " \u00a0": "",
    "\u200b": "",
    "=+": "",
    "World": "World",
    "WORLD": "WORLD",
    "  Valley \t": "Valley",
    "=1+1": "1+1",
    "two\nlines": "two lines",
    'say "hi", Bob': 'say "hi", Bob',
    "T\u0075\u0308rkiye": "Türkiye",
    "\x1b[31mred": "[31mred",
}
COUNTRY_TEXTS = {"": None, " ": None, "Austria": "AT", "deutschland": "DE", "U.S.A.": "US", "Nowhere": None}
#: Group addresses, sources in pruner/read/talkgroup_list.py: system, first, last, highest.
SYSTEMS = {"dmr": (1, 16_776_415, 16_777_215), "nxdn": (1, 65_519, 65_535), "p25": (1, 65_534, 65_535)}

LIKELY = [1, 9, 91, 99, 100, 232, 262, 310, 340, 999, 2321, 2329, 2621, 3101, 23201, 26212]
EDGES = [
    *(0, 65_519, 65_520, 65_534, 65_535, 65_536, 232_123, 2_321_234, 9_999_999, 10_000_000, 23_212_345),
    *(16_776_415, 16_776_416, 16_777_215, 16_777_216, 232_123_401, 2**32 + 91, 10**30),
]
FORMS = st.sampled_from(["{}", "{}", "{}", "0{}", "{}.0", " {}\u00a0", "{}\u2003", "TG{}", "TG {}", "#{}"])
BAD = st.sampled_from(["", " ", "-1", "+91", "X91", "9e1", "91.5", "2,32,1", "²"])
CELLS = st.tuples(
    st.one_of(
        *[st.builds(str.format, FORMS, st.sampled_from(LIKELY))] * 4, st.builds(str.format, FORMS, st.sampled_from(EDGES)), BAD
    ),
    st.sampled_from(list(CLEANED)),
    st.sampled_from(list(CLEANED)),
    st.sampled_from(list(COUNTRY_TEXTS)),
)
LINES = st.lists(st.tuples(CELLS, st.sampled_from(["fits"] * 6 + ["surplus", "short"])), min_size=1, max_size=30)


@dataclass(frozen=True)
class Case:
    system: str
    lists: list[list[tuple[tuple[str, str, str, str], str]]]
    mine: list[int]
    home: str | None
    by_number: bool
    calls: dict[int, int]
    limit: int


def good_line(at: int) -> tuple[str, str, str, str]:
    return str(LIKELY[at % len(LIKELY)]), "World", "WORLD", "Austria"


@st.composite
def cases(draw: st.DrawFn) -> Case:
    lists = draw(st.lists(LINES, min_size=1, max_size=2))
    # The reader expects as many cells as the headings name, and cells that agree with them: half the lines are good.
    lists = [
        [
            *((good_line(at), "fits") for at in range(len(lines))),
            *((cells, fit if at % 3 == 2 else "fits") for at, (cells, fit) in enumerate(lines)),
        ]
        for lines in lists
    ]
    return Case(
        draw(st.sampled_from(["dmr", "dmr", "dmr", "nxdn", "p25"])),
        lists,
        draw(st.lists(st.sampled_from(LIKELY), max_size=4)),
        draw(st.sampled_from([None, "AT", "AT", "US", "IS"])),
        draw(st.booleans()),
        draw(st.dictionaries(st.sampled_from([*LIKELY, 0, 65_520, 7]), st.integers(1, 3), max_size=6)),
        draw(st.integers(0, 14)),
    )


def write_lists(case: Case, folder: Path) -> list[Path]:
    paths = []
    for at, lines in enumerate(case.lists):
        paths.append(folder / f"list{at}.csv")
        with paths[-1].open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["number", "name", "description", "country"])
            for cells, fit in lines:
                writer.writerow({"surplus": [*cells, "x"], "short": cells[:3]}.get(fit, cells))
    return paths


def records_of(case: Case) -> pa.Table:
    rows = []
    for at, lines in enumerate(case.lists):
        # A line of nothing but separators is no record.
        lines = [(cells, fit) for cells, fit in lines if fit != "fits" or any(cell.strip() for cell in cells)]
        for row, ((number, name, description, country), fit) in enumerate(lines, start=1):
            fits = fit == "fits"
            label = CLEANED[name] or CLEANED[description]
            rows.append(
                {
                    "list_at": at,
                    "source": f"list{at}",
                    "row": row,
                    "readable": fits,
                    "text": number if fits else None,
                    "name": (label or None) if fits else None,
                    "code": COUNTRY_TEXTS[country] if fits else None,
                }
            )
    types = [
        *(("list_at", pa.int64()), ("source", pa.string()), ("row", pa.int64()), ("readable", pa.bool_())),
        *(("text", pa.string()), ("name", pa.string()), ("code", pa.string())),
    ]
    return pa.Table.from_pylist(rows, schema=pa.schema(types))


SQL = r"""
WITH squeezed AS (
    SELECT *, regexp_replace(text, '[\t-\r\x85\p{Z}]', '', 'g') AS squeezed FROM records),
digits AS (
    SELECT *, CASE WHEN regexp_full_match(squeezed, '(?:TG|#)?[0-9]+(\.0+)?')
        THEN ltrim(regexp_extract(squeezed, '[0-9]+'), '0') END AS digits FROM squeezed),
numbers AS (
    SELECT *, CASE WHEN length(digits) > 9 THEN NULL WHEN digits = '' THEN 0 ELSE digits::BIGINT END AS parsed FROM digits),
judged AS (
    SELECT *, CASE WHEN NOT readable THEN 'unreadable row'
        WHEN parsed IS NULL OR parsed > $highest THEN 'invalid id'
        WHEN parsed NOT BETWEEN $first AND $last THEN 'reserved id' END AS fault FROM numbers),
placed AS (
    SELECT judged.*,
        CASE WHEN fault IS NULL THEN coalesce(judged.code, by_digits.code) END AS country,
        CASE WHEN fault IS NOT NULL THEN NULL WHEN judged.code IS NOT NULL THEN 'text'
            WHEN by_digits.code IS NOT NULL THEN 'number' END AS country_from
    FROM judged LEFT JOIN by_digits
        ON $by_number AND length(parsed::VARCHAR) BETWEEN 3 AND 7 AND left(parsed::VARCHAR, 3) = by_digits.key),
single AS (
    SELECT *, fault IS NULL AND row_number() OVER (
        PARTITION BY parsed, fault IS NULL ORDER BY list_at, name IS NULL, row DESC) = 1 AS stays FROM placed),
classed AS (
    SELECT single.*, coalesce(heard.calls, 0) AS calls, CASE
        WHEN parsed IN (SELECT unnest($mine)) THEN 'mine'
        WHEN heard.calls > 0 THEN 'heard'
        WHEN country = $home THEN 'home country'
        WHEN country IN (SELECT unnest($around)) THEN 'neighbour countries'
        ELSE 'the rest' END AS class
    FROM single LEFT JOIN heard ON heard.number = parsed),
ranked AS (
    SELECT *, CASE WHEN stays THEN row_number() OVER (PARTITION BY stays ORDER BY
        list_position(['mine', 'heard', 'home country', 'neighbour countries', 'the rest'], class),
        CASE WHEN class = 'heard' THEN -calls ELSE 0 END, parsed) END AS rank
    FROM classed)
SELECT source, row, $system AS system,
    CASE WHEN fault IS NULL OR fault = 'reserved id' THEN parsed END AS number,
    CASE WHEN fault IS NULL THEN coalesce(name, 'TG ' || parsed) ELSE name END AS name,
    country, country_from,
    CASE WHEN fault IN ('unreadable row', 'invalid id') THEN 'rejected' WHEN stays AND rank <= $limit THEN 'kept'
        ELSE 'dropped' END AS outcome,
    CASE WHEN fault IS NOT NULL THEN fault WHEN NOT stays THEN 'duplicate id'
        WHEN rank > $limit THEN 'over limit' END AS reason,
    CASE WHEN stays THEN class END AS rule, rank
FROM ranked ORDER BY list_at, row
"""


def ledger_in_sql(case: Case) -> list[dict[str, object]]:
    codes = countries.CODES
    first, last, highest = SYSTEMS[case.system]
    around = borders.neighbours(countries.NUMBERS[case.home]) if case.home else frozenset()
    table = {str(three): codes[country] for three, country in enumerate(numbering.country_of_code().tolist()) if country}
    with duckdb.connect() as connection:
        connection.register("records", records_of(case))
        connection.register("by_digits", pa.table({"key": list(table), "code": list(table.values())}))
        heard = {"number": pa.array(case.calls, pa.int64()), "calls": pa.array(case.calls.values(), pa.int64())}
        connection.register("heard", pa.table(heard))
        values = {
            **{"first": first, "last": last, "highest": highest, "system": case.system, "limit": case.limit},
            "by_number": case.by_number and case.system == "dmr",
            "mine": case.mine,
            "home": case.home,
            "around": [codes[number] for number in sorted(around)] or [""],
        }
        return connection.sql(SQL, params=values).to_arrow_table().to_pylist()


def heard_of(case: Case) -> HeardGroups:
    numbers = sorted(case.calls)
    return HeardGroups(
        np.array(numbers, dtype=np.uint32), np.array([case.calls[number] for number in numbers], dtype=np.uint64), 90
    )


def compare(case: Case) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        job = short_job(write_lists(case, folder), case.limit, case.mine, case.home, case.system, folder / "out")
        job = replace(job, by_number=case.by_number, heard=lambda: heard_of(case))
        result = run_talkgroups(job)
        found = parquet.read_table(result.folders[0] / "ledger.parquet").to_pylist()
        summary = json.loads((result.folders[0] / "summary.json").read_bytes())
        with (result.folders[0] / "talkgroups.csv").open(encoding="utf-8", newline="") as file:
            written = [(int(row["number"]), row["name"]) for row in csv.DictReader(file)]
    assert found == ledger_in_sql(case)
    outcomes = Counter(row["outcome"] for row in found)
    assert len(found) == len(records_of(case)) == outcomes["kept"] + outcomes["dropped"] + outcomes["rejected"]
    assert summary["read"] == summary["kept"] + sum(summary["dropped"].values()) + summary["rejected"] == len(found)
    for one in summary["lists"]:
        account = one["account"]
        assert account["read"] == account["kept"] + account["dropped"] + account["rejected"] == one["rows"]
    groups = sum(row["rule"] is not None for row in found)
    assert outcomes["kept"] == min(case.limit, groups)
    assert written == sorted((row["number"], row["name"]) for row in found if row["outcome"] == "kept")


CHECKS = [HealthCheck.data_too_large, HealthCheck.function_scoped_fixture]


@draws(15, *CHECKS)
@given(case=cases())
def test_pipeline_and_sql_agree_row_for_row(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "REJECTED_SHARE_AT_MOST", 1.0)
    compare(case)


@pytest.mark.long
@draws(200, *CHECKS)
@given(case=cases())
def test_pipeline_and_sql_agree_on_many_lists(case: Case, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(loading, "REJECTED_SHARE_AT_MOST", 1.0)
    compare(case)
