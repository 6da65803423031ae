"""Talkgroup lists: what is read, which numbers are groups, who goes in first, what is written."""

from __future__ import annotations

import csv
import datetime
import json
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from phone_iso3166.e212 import networks

from pruner.account.parts import Cut
from pruner.account.talkgroup_summary import HeardTalkgroups, OwnTalkgroups
from pruner.choose.by_number import fit_by_number
from pruner.demo.calls import invented_calls
from pruner.demo.dirt import make_plan
from pruner.demo.draws import Draws
from pruner.demo.talkgroups import groups, planted_talkgroups, talkgroup_bytes
from pruner.demo.world import COUNTRIES
from pruner.groups import (
    TalkgroupJob,
    TalkgroupResult,
    job_of_settings,
    run_talkgroups,
    run_talkgroups_into,
    short_job,
    wants_talkgroups,
)
from pruner.groups import run as running
from pruner.groups.order import CLASSES, HeardGroups, class_of, queues_of
from pruner.groups.rows import GroupRows, collect_groups
from pruner.publish.lock import locked
from pruner.publish.versions import new_version
from pruner.reference import borders, countries
from pruner.reference.numbering import country_of_talkgroup, country_of_talkgroups
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError, LockedError, SettingsError, SourceMissingError
from pruner.words.outcomes import Reason

LIST = """\
Group,Name,Description,Country
91,World-wide,,
232,Austria,,
2321,Old name,,
2328,"=cmd|'x'!A1",,
262,"Germany, all",,
26212,,Harbour,
310,WESTERN,,
2321,Vienna,,
440,Harbour two,,Österreich
0,Null,,
16777215,All call,,
16777216,Too large,,
seven,Letters,,
8,,,
32,a,b
"""


def run_list(folder: Path, text: str | bytes, limit: int, **options: Any) -> tuple[TalkgroupResult, Path]:
    path = folder / "groups.csv"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    result = run_talkgroups(short_job([path], limit, out=folder / "out", **options))
    return result, result.folders[0]


def written(folder: Path) -> list[tuple[str, str, str]]:
    with (folder / "talkgroups.csv").open(encoding="utf-8", newline="") as file:
        heading, *rows = csv.reader(file)
    assert heading == ["number", "name", "country"]
    return [(number, name, country) for number, name, country in rows]


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def rows_of(folder: Path, text: str | bytes, system: str = "dmr") -> GroupRows:
    path = folder / "groups"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    with ThreadPoolExecutor(2) as pool:
        return collect_groups("groups", system, path, pool, by_number=True)


def usable(rows: GroupRows) -> list[tuple[int, str]]:
    table = zip(rows.number.tolist(), rows.name.to_pylist(), rows.reason.tolist(), strict=True)
    return [(number, name) for number, name, reason in table if reason == Reason.NONE]


def test_a_list_from_end_to_end(tmp_path: Path) -> None:
    result, folder = run_list(tmp_path, LIST, 6, mine=[91, 310, 5], country="AT")
    summary = result.summaries[0]
    assert folder == tmp_path / "out" / "talkgroups" / "radio"
    assert written(folder) == [
        ("91", "World-wide", ""),
        ("232", "Austria", "Austria"),
        ("310", "WESTERN", "United States"),
        ("440", "Harbour two", "Austria"),
        ("2321", "Vienna", "Austria"),
        ("2328", "cmd|'x'!A1", "Austria"),
    ]
    ledger = pl.read_parquet(folder / "ledger.parquet").select(
        "number", "name", "country", "country_from", "reason", "rule", "rank"
    )
    assert ledger.rows() == [
        (91, "World-wide", None, None, None, "mine", 1),
        (232, "Austria", "AT", "number", None, "home country", 3),
        (2321, "Old name", "AT", "number", "duplicate id", None, None),
        (2328, "cmd|'x'!A1", "AT", "number", None, "home country", 6),
        (262, "Germany, all", "DE", "number", "over limit", "neighbour countries", 7),
        (26212, "Harbour", "DE", "number", "over limit", "neighbour countries", 8),
        (310, "WESTERN", "US", "number", None, "mine", 2),
        (2321, "Vienna", "AT", "number", None, "home country", 5),
        (440, "Harbour two", "AT", "text", None, "home country", 4),
        (0, "Null", None, None, "reserved id", None, None),
        (16777215, "All call", None, None, "reserved id", None, None),
        (None, "Too large", None, None, "invalid id", None, None),
        (None, "Letters", None, None, "invalid id", None, None),
        (8, "TG 8", None, None, "over limit", "the rest", 9),
        (None, None, None, None, "unreadable row", None, None),
    ]
    assert (summary.read, summary.kept, summary.rejected) == (15, 6, 3)
    assert summary.dropped == {"reserved id": 2, "duplicate id": 1, "over limit": 3}
    assert summary.cut == Cut(rule="neighbour countries", rank=7, matched=2, kept=0)
    assert summary.mine == OwnTalkgroups(named=3, kept=2, in_no_list=(5,))
    with (folder / "rejected.csv").open(encoding="utf-8", newline="") as file:
        rejected = [(row["line"], row["detail"], json.loads(row["raw"])) for row in csv.DictReader(file)]
    assert rejected == [
        ("13", "the number is not a whole number in the range of group numbers", "16777216,Too large,,"),
        ("14", "the number is not a whole number in the range of group numbers", "seven,Letters,,"),
        ("16", "3 cells where 4 are expected", "32,a,b"),
    ]


# ETSI TS 102 361-1 V2.7.1, Annex A, Table A.1: 000000 null, 000001 to FFFCDF addresses, above reserved, all-call; NXDN
# Technical Specifications 1-A: 16 bits, 0 and 65 520 and above special; TIA-102.BAAC: 16 bits, FFFF all-call (all three seen
# only as quotations; that 0 is no P25 talkgroup: from memory).
@pytest.mark.parametrize(
    ("system", "groups_", "reserved", "invalid"),
    [
        (
            "dmr",
            [1, 65_536, 9_999_999, 0xFFFCDF],
            [0, 0xFFFCE0, 0xFFFEDF, 0xFFFEE0, 0xFFFFFF],
            [0x1000000, 232_123_401, 999_999_999],
        ),
        ("nxdn", [1, 232, 65_519], [0, 65_520, 65_535], [65_536, 2_321_234]),
        ("p25", [1, 232, 65_519, 65_534], [0, 65_535], [65_536, 9_999_999]),
    ],
)
def test_ranges_of_group_numbers(
    tmp_path: Path, system: str, groups_: list[int], reserved: list[int], invalid: list[int]
) -> None:
    numbers = [*groups_, *reserved, *invalid]
    rows = rows_of(tmp_path, "number,name\n" + "".join(f"{number},Group\n" for number in numbers), system)
    expected = [Reason.NONE] * len(groups_) + [Reason.RESERVED_ID] * len(reserved) + [Reason.INVALID_ID] * len(invalid)
    assert rows.reason.tolist() == expected
    assert rows.number.tolist() == [*groups_, *reserved, *[0] * len(invalid)]


@pytest.mark.parametrize(
    "headings",
    [
        "number,name",
        "Talkgroup Number,Talkgroup",
        "ID,Group",
        "TG,Talkgroup",
        "Talkgroup;Name",
        "Nummer\tSprechgruppe",
        "Sprechgruppe;Bezeichnung",
        "Numéro;Groupe de parole",
        "Número de grupo;Nombre",
        "Grupo,Nombre del grupo",
        "Numero gruppo,Gruppo",
        "Número,Nome do grupo",
        "Groepsnummer;Groepsnaam",
        "Numer grupy;Nazwa",
        "Group ID|Description",
    ],
)
def test_headings_in_several_languages(tmp_path: Path, headings: str) -> None:
    delimiter = next(sign for sign in ",;\t|" if sign in headings)
    rows = rows_of(tmp_path, f"{headings}\n91{delimiter}All Passes\n7{delimiter}Straße\n")
    assert usable(rows) == [(91, "All Passes"), (7, "Straße")]


def test_a_list_without_a_heading_line_is_read_by_its_cells(tmp_path: Path) -> None:
    assert usable(rows_of(tmp_path, "91,All Passes\n7,Seven\n")) == [(91, "All Passes"), (7, "Seven")]


@pytest.mark.parametrize("cell", ["TG232", "TG 232", "#232", "232 Austria", "Alps (232)", "2/232"])
def test_what_stands_around_a_number_is_taken_off(tmp_path: Path, cell: str) -> None:
    assert usable(rows_of(tmp_path, f"number,name\n91,World\n{cell},Austria\n"))[-1] == (232, "Austria")


@pytest.mark.parametrize(
    ("heading", "group", "private"),
    [("Type", "Group Call", "Private Call"), ("Rufart", "Gruppenruf", "Einzelruf"), ("Tipo", "Grupo", "Privado")],
)
def test_private_calls_of_an_exported_list_are_no_talkgroups(tmp_path: Path, heading: str, group: str, private: str) -> None:
    text = f"Name;Contact ID;{heading}\nParrot;9990;{private}\nAustria;232;{group}\nAda;2321001;{private}\nWorld;91;{group}\n"
    result, folder = run_list(tmp_path, text + f"Ninety-one;91;{private}\n", 10)
    assert written(folder) == [("91", "World", ""), ("232", "Austria", "Austria")]
    assert result.summaries[0].dropped == {"no talkgroup": 3}


@pytest.mark.parametrize("kinds", ["Regional;National", "Group;Reflector", "Private;Private"])
def test_other_kinds_of_talkgroups_stay(tmp_path: Path, kinds: str) -> None:
    first, second = kinds.split(";")
    result, folder = run_list(tmp_path, f"Name;TG;Type\nAustria;232;{first}\nWorld;91;{second}\nWien;2321;{first}\n", 10)
    assert [number for number, *_ in written(folder)] == ["91", "232", "2321"]
    assert result.summaries[0].dropped == {}


def test_json_parquet_and_packed_lists(tmp_path: Path) -> None:
    table = pl.DataFrame({"number": [91, 7, None], "name": ["All Passes", "Straße", "Nobody"]})
    wanted = [(91, "All Passes"), (7, "Straße")]
    assert usable(rows_of(tmp_path, json.dumps(table.to_dicts()))) == wanted
    assert usable(rows_of(tmp_path, "\n".join(map(json.dumps, table.to_dicts())))) == wanted
    table.write_parquet(tmp_path / "list.parquet")
    rows = rows_of(tmp_path, (tmp_path / "list.parquet").read_bytes())
    assert usable(rows) == wanted
    assert [(row.line, row.reason) for row in rows.rejected] == [(3, "invalid id")]
    assert usable(rows_of(tmp_path, "number;name\r\n91;All Passes\r\n7;Straße\r\n".encode("cp1252"))) == wanted


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "empty"),
        ("number,name\n", "expected a list of talkgroups"),
        ("colour,size\nred,small\n", "no column of group numbers"),
        ("number,size\n91,1\n", "no column of names"),
        ("number,name\nx,a\ny,b\n7,c\n", "2 of 3 rows cannot be read"),
        ("<!DOCTYPE html><html></html>", "this is a page"),
    ],
)
def test_what_is_no_list_is_refused(tmp_path: Path, text: str, problem: str) -> None:
    with pytest.raises(InputRefusedError, match=problem) as raised:
        run_list(tmp_path, text, 5)
    assert "\n" not in str(raised.value)
    assert not (tmp_path / "out" / "talkgroups").exists()


def test_countries_of_codes_against_published_tables() -> None:
    """ITU-T E.212 as in the registry package phone-iso3166, for codes that are not shared; 1 and 2 digits: world-wide."""
    plain = {code: country for code, country in networks.items() if isinstance(country, str)}
    ours = {code: countries.CODES[country_of_talkgroup(code)] for code in plain}
    # 289 is Abkhazia there, whose code E.212 does not assign; 340 is shared by two countries (ITU OB 1117).
    assert {code: ours[code] for code in plain if ours[code] != plain[code]} == dict.fromkeys(plain.keys() & {289, 340}, "")
    for code in plain:
        numbers = np.array([code, code * 10 + 3, code * 100, code * 1000 + 999, code * 10_000 + 1234], dtype=np.uint32)
        assert set(country_of_talkgroups(numbers).tolist()) == {countries.NUMBERS.get(ours[code], 0)}
    nowhere = np.array([0, 1, 9, 10, 91, 99, 10_000_000, 16_776_415, 340, 3401, 901, 999, 9990], dtype=np.uint32)
    assert not country_of_talkgroups(nowhere).any()


@given(st.lists(st.integers(0, 0xFFFFFF), max_size=50))
def test_countries_of_groups_at_once_and_one_by_one(numbers: list[int]) -> None:
    at_once = country_of_talkgroups(np.array(numbers, dtype=np.uint32)).tolist()
    assert at_once == [country_of_talkgroup(number) for number in numbers]


def test_numbers_tell_no_country_where_that_is_turned_off(tmp_path: Path) -> None:
    text = "number,name,country\n2321,A,\n9,B,Austria\n"
    (tmp_path / "groups.csv").write_text(text)
    job = short_job([tmp_path / "groups.csv"], 1, (), "AT", out=tmp_path / "out")
    run_talkgroups(job)
    assert written(job.folder / "talkgroups/radio") == [("9", "B", "Austria")]
    assert run_talkgroups(job).summaries[0].rules[2].matched == 2
    off = run_talkgroups(replace(job, by_number=False)).summaries[0]
    assert [rule.matched for rule in off.rules] == [0, 0, 1, 0, 1]
    nxdn = run_talkgroups(replace(job, system="nxdn")).summaries[0]
    assert [rule.matched for rule in nxdn.rules] == [0, 0, 1, 0, 1]


def test_groups_that_were_heard_come_after_mine_by_calls(tmp_path: Path) -> None:
    (tmp_path / "groups.csv").write_text("number,name\n1,a\n2,b\n3,c\n232,d\n262,e\n")
    heard = HeardGroups(np.array([0, 1, 2, 3, 50], np.uint32), np.array([9, 4, 7, 7, 5], np.uint64), 90)
    job = short_job([tmp_path / "groups.csv"], 3, [262], "AT", out=tmp_path / "out")
    summary = run_talkgroups(replace(job, heard=lambda: heard)).summaries[0]
    ledger = pl.read_parquet(tmp_path / "out/talkgroups/radio/ledger.parquet").sort("rank")
    assert ledger["number"].to_list() == [262, 2, 3, 1, 232]
    assert ledger["rule"].to_list() == ["mine", "heard", "heard", "heard", "home country"]
    assert summary.heard == HeardTalkgroups(window_days=90, talkgroups=5, in_no_list=2, calls=32, calls_on_kept=14)


def test_the_first_list_is_preferred_and_in_it_the_last_row(tmp_path: Path) -> None:
    (tmp_path / "club.csv").write_text("number,name\n91,Club\n91,Club again\n")
    (tmp_path / "world.csv").write_text("number,name\n91,World\n7,Seven\n")
    job = short_job([tmp_path / "club.csv", tmp_path / "world.csv"], 9, out=tmp_path / "out")
    summary = run_talkgroups(job).summaries[0]
    assert written(tmp_path / "out/talkgroups/radio") == [("7", "Seven", ""), ("91", "Club again", "")]
    assert [(one.name, one.account.kept, one.account.reasons) for one in summary.lists] == [
        ("club", 1, {"duplicate id": 1}),
        ("world", 1, {"duplicate id": 1}),
    ]


NUMBER = st.one_of(st.integers(1, 99), st.sampled_from([232, 2321, 2329, 262, 2621, 310, 3101, 208]), st.integers(1, 0xFFFCDF))


@given(
    st.lists(NUMBER, unique=True, max_size=60),
    st.lists(NUMBER, max_size=5),
    st.dictionaries(NUMBER, st.integers(1, 2**40), max_size=8),
    st.sampled_from([0, countries.NUMBERS["AT"], countries.NUMBERS["US"]]),
    st.integers(0, 70),
)
def test_never_above_the_limit_nor_below_while_one_is_left(
    numbers: list[int], mine: list[int], heard: dict[int, int], home: int, limit: int
) -> None:
    number = np.array(numbers, dtype=np.uint32)
    country = country_of_talkgroups(number)
    order = sorted(heard)
    calls = HeardGroups(np.array(order, np.uint32), np.array([heard[one] for one in order], np.uint64)).calls_of(number)
    assert calls.tolist() == [heard.get(one, 0) for one in numbers]
    group_class = class_of(number, country, calls, mine, home)
    fit = fit_by_number(np.zeros(len(number), np.uint8), queues_of(number, group_class, calls), limit)
    kept = fit.reason == Reason.NONE
    assert kept.sum() == min(limit, len(numbers))
    assert sorted(fit.rank.tolist()) == list(range(1, len(numbers) + 1))

    def importance(one: int) -> tuple[int, int, int]:
        where = country_of_talkgroup(one)
        if one in mine:
            return 0, 0, one
        if one in heard:
            return 1, -heard[one], one
        if home and where == home:
            return 2, 0, one
        return 3 if where in borders.neighbours(home) else 4, 0, one

    assert sorted(numbers, key=importance) == number[np.argsort(fit.rank)].tolist()
    assert [CLASSES[k] for k in group_class.tolist()] == [CLASSES[importance(one)[0]] for one in numbers]


def test_the_demo_plants_what_is_found(tmp_path: Path) -> None:
    counts = planted_talkgroups()
    text = talkgroup_bytes(7)
    assert text == talkgroup_bytes(7)
    assert text != talkgroup_bytes(8)
    result, folder = run_list(tmp_path, text, 10_000, country="AT")
    summary = result.summaries[0]
    assert summary.read == counts["rows"]
    assert summary.kept == counts["different numbers"]
    assert summary.dropped == {
        "reserved id": counts["reserved number"],
        "duplicate id": counts["duplicate number"] + counts["nameless"],
    }
    cells, numbers = (
        ("too few cells", "too many cells"),
        ("number too large", "number with letters", "empty number"),
    )
    assert summary.rejected_reasons == {
        "unreadable row": sum(counts[kind] for kind in cells),
        "invalid id": sum(counts[kind] for kind in numbers),
    }
    assert summary.changed["formula start removed"] == counts["hostile name"] // 2
    wanted = {group.number: group.name for group in groups()}
    found = {int(number): name for number, name, _ in written(folder)}
    assert found.keys() == wanted.keys()
    changed = sum(found[number] != wanted[number] for number in wanted)
    assert changed == counts["hostile name"] + counts["duplicate number"]
    assert not any(set(name) & set("\x1b\u202e\u200b\ufeff\n") or name[0] in "=+-@" for name in found.values())


def test_demo_groups_begin_with_the_code_of_their_country() -> None:
    by_name = {country.name: country.code for country in COUNTRIES}
    for group in groups():
        code = countries.CODES[country_of_talkgroup(group.number)]
        assert code == by_name.get(group.country, ""), group
    assert {232, 2320, 2329, 91, 9} <= {group.number for group in groups()}
    assert len({group.name for group in groups()}) == len(groups())


def test_every_talkgroup_of_the_demo_calls_is_in_the_demo_list() -> None:
    stations = make_plan(Draws(3), 2000).stations
    called = np.unique(invented_calls(stations, seed=3).talkgroup)
    assert len(called) > 100
    assert set(called.tolist()) <= {group.number for group in groups()}


SETTINGS = """\
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[talkgroups]
mine = [91, 2328]
list = "groups.csv"
[[radio]]
name = "small"
contacts = 5
talkgroups = 3
[[radio]]
name = "contacts-only"
contacts = 5
[[radio]]
name = "large"
contacts = 5
talkgroups = 10
"""


@pytest.fixture
def job(tmp_path: Path) -> TalkgroupJob:
    (tmp_path / "groups.csv").write_text(LIST, encoding="utf-8")
    (tmp_path / "pruner.toml").write_text(SETTINGS, encoding="utf-8")
    return job_of_settings(load_settings(tmp_path / "pruner.toml"))


def test_a_folder_for_every_radio_that_holds_talkgroups(job: TalkgroupJob) -> None:
    result = run_talkgroups(job)
    assert [(summary.radio, summary.kept) for summary in result.summaries] == [("small", 3), ("large", 9)]
    assert sorted(path.name for path in (job.folder / "talkgroups").iterdir()) == ["large", "small"]
    for folder, summary in zip(result.folders, result.summaries, strict=True):
        assert json.loads((folder / "summary.json").read_bytes()) == summary.document()
        assert {file.name for file in summary.files} == contents(folder).keys() - {"summary.json"}


def test_the_same_bytes_again(job: TalkgroupJob) -> None:
    first = [contents(folder) for folder in run_talkgroups(job).folders]
    assert [contents(folder) for folder in run_talkgroups(job).folders] == first


def test_into_a_folder_that_somebody_else_publishes(tmp_path: Path, job: TalkgroupJob) -> None:
    published = [contents(folder) for folder in run_talkgroups(job).folders]
    result = run_talkgroups_into(job, tmp_path / "making")
    assert result.folders == [tmp_path / "making" / "talkgroups" / radio for radio in ("small", "large")]
    assert [contents(folder) for folder in result.folders] == published


def test_a_version_that_refresh_published_is_never_written_into(tmp_path: Path, job: TalkgroupJob) -> None:
    with new_version(job.folder, job.state) as making:
        run_talkgroups_into(job, making)
    before = sorted(job.folder.rglob("*"))
    with pytest.raises(SettingsError, match="published by refresh"):
        run_talkgroups(job)
    assert sorted(job.folder.rglob("*")) == before


@pytest.mark.parametrize("stage", ["_write_list", "write_ledger", "write_rejected", "summarise"])
def test_a_failure_leaves_all_old_results(job: TalkgroupJob, monkeypatch: pytest.MonkeyPatch, stage: str) -> None:
    before = [contents(folder) for folder in run_talkgroups(job).folders]
    calls = Counter[str]()
    real = getattr(running, stage)

    def fail_second(*arguments: Any, **options: Any) -> Any:
        calls[stage] += 1
        if calls[stage] == 2:
            raise RuntimeError("broken on purpose")
        return real(*arguments, **options)

    monkeypatch.setattr(running, stage, fail_second)
    with pytest.raises(RuntimeError, match="broken on purpose"):
        run_talkgroups(replace(job, mine=()))
    assert [contents(job.folder / "talkgroups" / radio) for radio, _ in job.radios] == before
    assert sorted(path.name for path in (job.folder / "talkgroups").iterdir()) == ["large", "small"]


def test_what_is_not_ours_is_not_replaced(job: TalkgroupJob) -> None:
    foreign = job.folder / "talkgroups" / "large" / "letters.txt"
    foreign.parent.mkdir(parents=True)
    foreign.write_text("mine")
    with pytest.raises(SettingsError, match="not the result of a run"):
        run_talkgroups(job)
    assert foreign.read_text() == "mine"
    assert not (job.folder / "talkgroups" / "small").exists()


def test_one_run_at_a_time(job: TalkgroupJob) -> None:
    with locked(job.state, "fit"), pytest.raises(LockedError):
        run_talkgroups(job)


def test_settings_without_list_or_limit(tmp_path: Path) -> None:
    text = SETTINGS.replace('list = "groups.csv"', "").replace("mine = [91", "mine = [16776416, 91")
    for line in ("talkgroups = 3", "talkgroups = 10"):
        text = text.replace(line, "")
    (tmp_path / "pruner.toml").write_text(text, encoding="utf-8")
    settings = load_settings(tmp_path / "pruner.toml")
    assert not wants_talkgroups(settings)
    with pytest.raises(SettingsError) as raised:
        job_of_settings(settings)
    assert [problem.partition(":")[0] for problem in raised.value.problems] == [
        "talkgroups.mine",
        "talkgroups.list",
        "radio.talkgroups",
    ]


def test_a_list_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SourceMissingError):
        run_talkgroups(short_job([tmp_path / "none.csv"], 5, out=tmp_path / "out"))


def test_heard_logs_of_the_settings_count(tmp_path: Path, job: TalkgroupJob) -> None:
    """Three calls inside the window of 90 days before the last day of the log, one long before it."""
    from pruner.logs.fold import fold_all

    last = datetime.datetime(2026, 6, 30, 12, tzinfo=datetime.UTC)
    calls = [(0, 310), (0, 26212), (89, 26212), (90, 262)]
    lines = [f"{last - datetime.timedelta(days=days):%Y-%m-%dT%H:%M:%SZ},2320001,{group},3.5\n" for days, group in calls]
    (tmp_path / "log.csv").write_text("time,id,talkgroup,seconds\n" + "".join(lines))
    (tmp_path / "pruner.toml").write_text(SETTINGS + '[[heard]]\nlocation = "log.csv"\n')
    settings = load_settings(tmp_path / "pruner.toml")
    assert job.heard() is None
    fold_all(settings)
    summary = run_talkgroups(job_of_settings(settings)).summaries[1]
    ledger = pl.read_parquet(job.folder / "talkgroups/large/ledger.parquet").filter(rule="heard").sort("rank")
    assert ledger["number"].to_list() == [26212, 310]
    assert summary.heard == HeardTalkgroups(window_days=90, talkgroups=2, in_no_list=0, calls=3, calls_on_kept=3)
