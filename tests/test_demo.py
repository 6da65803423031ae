"""The demo: the same bytes for the same seed, dirt as counted, nothing of the user's overwritten.

After a wanted change `fixtures/demo` is made anew: `planted.json` put aside, `write_demo` with 1000 stations,
then `planted(1000)` as `planted.json`.
"""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import tomllib
import warnings
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from phone_iso3166.e212 import networks

from pruner.demo import planted, write_demo
from pruner.demo.dirt import KINDS
from pruner.demo.draws import split_mix
from pruner.demo.world import COUNTRIES
from pruner.reference import callsigns, countries
from pruner.reference.numbering import country_of_code
from pruner.settings.load import load_settings
from pruner.words.errors import SettingsError

STATION, NUMBER, FIRST_NAME, _, COUNTRY, _, TOWN = range(7)
CELLS = 7
FIXTURE = Path(__file__).parent.parent / "fixtures" / "demo"
LOGS = [f"heard/calls-2026-{month:02}.csv" for month in range(2, 8)]
FILES = ["stations.csv", "marshals.csv", "left-out.txt", "talkgroups.csv", "tour.gpx", *LOGS, "pruner.toml"]
EARLIER_RUNS = [".pruner/history/runs.jsonl", ".pruner/first-seen/world.parquet", ".pruner/demo.json"]
# ETSI TS 102 361-1 V2.7.1, Annex A, Table A.1 (seen only as a quotation).
LAST_STATION, HIGHEST = 16_776_415, 16_777_215
# ITU RR 19.68.
ORDINARY_FORM = re.compile(r"([A-Z]|[A-Z][A-Z]|[A-Z][0-9]|[0-9][A-Z])[0-9][A-Z0-9]{0,3}[A-Z]")

Record = list[str]


def records_of(path: Path) -> list[Record]:
    """Heading and records as the standard library's csv module reads them (RFC 4180)."""
    return list(csv.reader(io.StringIO(path.read_bytes().decode(), newline="")))


def files_in(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def verdict(record: Record) -> str | int:
    """The id of a record, or why it has none: "What happens to a row" of DEVELOPERS.md, once more."""
    if len(record) != CELLS or not any(cell.strip() for cell in (record[STATION], *record[FIRST_NAME:COUNTRY])):
        return "unreadable row"
    text = re.sub(r"\s", "", record[NUMBER])
    if not re.fullmatch(r"[0-9]+(\.0+)?", text):
        return "invalid id"
    number = int(text.split(".")[0])
    if len(str(number)) == 9:
        number //= 100
    if number > HIGHEST:
        return "invalid id"
    return "reserved id" if number == 0 or number > LAST_STATION else number


def tally(records: list[Record]) -> dict[str, int]:
    verdicts = [verdict(record) for record in records]
    ids = [one for one in verdicts if isinstance(one, int)]
    reasons = Counter(one for one in verdicts if isinstance(one, str))
    return {**reasons, "duplicate id": len(ids) - len(set(ids)), "stays": len(set(ids))}


def expected_tally(counts: dict[str, int]) -> dict[str, int]:
    return {
        "unreadable row": counts["too few cells"] + counts["too many cells"] + counts["names nobody"],
        "invalid id": counts["id too large"] + counts["id with letters"] + counts["empty id"],
        "reserved id": counts["reserved id"],
        "duplicate id": counts["duplicate id"] + counts["device suffix beside the plain id"],
        "stays": counts["different ids"],
    }


@pytest.fixture(scope="module")
def stations() -> list[Record]:
    return records_of(FIXTURE / "stations.csv")[1:]


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo of 1,000 rows, to be copied."""
    folder = tmp_path_factory.mktemp("small")
    write_demo(folder, 1000)
    return folder


def copied(demo: Path, folder: Path) -> None:
    shutil.copytree(demo, folder, dirs_exist_ok=True)


def test_regenerating_the_fixture_gives_identical_bytes(tmp_path: Path) -> None:
    paths = write_demo(tmp_path, stations=1000)
    assert [str(path.relative_to(tmp_path)) for path in paths] == [*FILES, *EARLIER_RUNS]
    for name in FILES:
        assert (tmp_path / name).read_bytes() == (FIXTURE / name).read_bytes(), name
    assert json.loads((FIXTURE / "planted.json").read_text()) == planted(1000)
    assert files_in(tmp_path) == sorted([*FILES, *EARLIER_RUNS])


def test_fixture_is_small() -> None:
    assert sum((FIXTURE / name).stat().st_size for name in files_in(FIXTURE)) < 200_000


@pytest.mark.slow
def test_full_size_has_exact_rows_and_more_contacts_than_the_radio_holds(tmp_path: Path) -> None:
    records = records_of(write_demo(tmp_path)[0])[1:]
    assert len(records) == 330_000
    counts = planted()
    assert tally(records) == expected_tally(counts)
    assert counts["different ids"] > 300_000


@pytest.mark.parametrize("number", [1000, 1777, 20_011])
def test_counts_hold_at_other_sizes_and_seeds(tmp_path: Path, number: int) -> None:
    records = records_of(write_demo(tmp_path, number, seed=number)[0])[1:]
    counts = planted(number, seed=number)
    assert len(records) == counts["rows"] == number
    assert tally(records) == expected_tally(counts)
    assert all(counts[kind] >= 5 for kind in KINDS)


def test_another_seed_gives_other_stations(tmp_path: Path, small: Path) -> None:
    assert write_demo(tmp_path, 1000, seed=2)[0].read_bytes() != (small / "stations.csv").read_bytes()


def test_dirt_can_be_counted_in_the_text(stations: list[Record]) -> None:
    counts = planted(1000)
    whole = [record for record in stations if len(record) == CELLS]
    suffixes = counts["device suffix alone"] + counts["device suffix beside the plain id"]
    assert sum(bool(re.fullmatch(r"\d{9}", record[NUMBER])) for record in whole) == suffixes + sum(
        record[NUMBER].startswith("000") and len(record[NUMBER]) == 9 for record in whole
    )
    assert sum(record[NUMBER].endswith(".0") for record in whole) == counts["id with point and zero"]
    assert sum(record[NUMBER].startswith("000") for record in whole) == counts["id with leading zeros"]
    assert sum(" " in record[NUMBER] for record in whole) == counts["id with spaces"]
    assert sum(record[STATION] != record[STATION].upper() for record in whole) == counts["lower-case call sign"]
    assert sum(bool(re.search("[/-]", record[STATION])) for record in whole) == counts["portable call sign"]
    assert sum(record[COUNTRY].endswith("\t") for record in whole) == counts["padded cells"]
    assert sum("," in record[TOWN] for record in whole) == counts["comma in a quoted cell"]
    assert sum("\n" in record[TOWN] for record in whole) == counts["line break in a quoted cell"]
    assert sum(bool(re.match(r"[=@+<\"\x1b-]", record[TOWN])) for record in whole) == counts["hostile cell"]
    hidden = re.compile("[\u200b\u202e\u2066]")
    assert sum(bool(hidden.search("".join(record))) for record in whole) == counts["invisible character"]
    assert sum(record[COUNTRY].strip() == "" for record in whole) == counts["country empty"]
    assert sum(record[FIRST_NAME].isupper() and record[FIRST_NAME].isalpha() for record in whole) >= counts["shouted name"]


def test_mojibake_is_utf8_read_as_a_western_code_page(stations: list[Record]) -> None:
    garbled = [record[TOWN] for record in stations if len(record) == CELLS and re.search("[ÃÅÄ][^a-z]", record[TOWN])]
    assert len(garbled) == planted(1000)["mojibake"]
    for town in garbled:
        octets = b"".join(letter.encode("latin-1" if ord(letter) < 256 else "cp1252") for letter in town)
        assert not octets.decode("utf-8").isascii()


def test_duplicates_differ_in_the_town(stations: list[Record]) -> None:
    """Of a repeated plain id, the later row names a new town (copies with a device suffix are not seen)."""
    last: dict[str, str] = {}
    moved = 0
    for record in stations:
        if isinstance(verdict(record), int):
            moved += record[NUMBER] in last and last[record[NUMBER]] != record[TOWN]
            last[record[NUMBER]] = record[TOWN]
    assert moved >= planted(1000)["duplicate id"] * 0.6


def test_most_call_signs_have_the_ordinary_form_and_some_have_several_ids(tmp_path: Path) -> None:
    records = records_of(write_demo(tmp_path, 20_000)[0])[1:]
    by_sign: dict[str, set[str]] = {}
    for record in records:
        if len(record) == CELLS and re.fullmatch(r"[0-9]{6,7}", record[NUMBER]) and ORDINARY_FORM.fullmatch(record[STATION]):
            by_sign.setdefault(record[STATION], set()).add(record[NUMBER])
    ids = sum(map(len, by_sign.values()))
    assert ids > 0.9 * len(records)
    assert 0.09 < 1 - len(by_sign) / ids < 0.15
    repeaters = sum(len(one) == 6 for several in by_sign.values() for one in several)
    assert 0.02 < repeaters / ids < 0.04


def test_id_codes_are_those_of_the_country() -> None:
    """ITU-T E.212 as in the registry package phone-iso3166; 263, 264, 317 are not (common practice)."""
    outside = {263: "DE", 264: "DE", 317: "US"}
    for country in COUNTRIES:
        for code in country.id_codes:
            entry = outside.get(code) or networks[code]
            assert country.code in ({entry} if isinstance(entry, str) else set(entry.values())), code


def test_call_sign_beginnings_are_those_of_the_country(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """ITU RR Appendix 42 as in the registry package callsign-regex; three lie inside another's series."""
    monkeypatch.setenv("HOME", str(tmp_path))  # the package writes a cache there
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)  # and leaves it open
        from itu_appendix42 import ItuAppendix42  # type: ignore[import-untyped]

        series = [(re.compile(pattern), entry["cc"]) for pattern, entry in ItuAppendix42().forward().items()]
    inside = {"PR": "US", "LI": "CH", "TW": "CN"}
    for country in COUNTRIES:
        for beginning in country.beginnings:
            filled = (beginning[:-1] + "AAA")[:3]
            found = {country_code for pattern, country_code in series if pattern.fullmatch(filled)}
            assert found == {inside.get(country.code, country.code)}, beginning


def test_the_project_places_every_country_as_the_demo_means_it() -> None:
    """Otherwise the demo would hold contradictions that nobody planted and `planted` does not count."""
    codes = country_of_code()
    for country in COUNTRIES:
        number = countries.NUMBERS[country.code]
        assert countries.find(country.name) == number, country.name
        assert {int(codes[code]) for code in country.id_codes} == {number}, country.code
        assert {callsigns.country_of(f"{begin}ABC") for begin in country.beginnings} == {number}, country.code


def test_generator_gives_the_published_first_outputs() -> None:
    """SplitMix64 from seed 1234567, as published with many reference implementations (values from memory)."""
    assert split_mix(1234567, 5).tolist() == [
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
        4593380528125082431,
        16408922859458223821,
    ]
    assert split_mix(7, 1).dtype == np.uint64


def test_settings_name_the_files_beside_them() -> None:
    settings = tomllib.loads((FIXTURE / "pruner.toml").read_text())
    assert settings["home"] == {"country": "AT", "locator": "JN57"}
    assert settings["source"] == [{"name": "world", "location": "stations.csv", "system": "dmr"}]
    assert settings["heard"] == [{"location": "heard/calls-*.csv"}]
    assert settings["talkgroups"] == {"mine": [232, 2328, 91], "list": "talkgroups.csv"}
    names = ["marshals", "heard on my talkgroups", "along the tour", "home", "neighbours", "the rest"]
    assert [rule["name"] for rule in settings["keep"]] == names
    assert settings["keep"][1]["talkgroups"] == "mine"
    assert settings["keep"][1]["heard_within_days"] == 90
    assert (settings["keep"][2]["route"], settings["keep"][2]["within_km"]) == ("tour.gpx", 30)
    assert {rule["order"] for rule in settings["keep"] if "order" in rule} == {"expected"}
    assert settings["radio"] == [{"name": "loan-handheld", "contacts": 200_000, "talkgroups": 10_000}]
    lists = [rule["list"] for rule in settings["drop"] + settings["keep"] if "list" in rule]
    assert lists == ["left-out.txt", "marshals.csv"]
    assert load_settings(FIXTURE / "pruner.toml").home.country == "AT"


def test_few_enough_rows_are_broken_for_the_settings_to_accept_the_source() -> None:
    source = load_settings(FIXTURE / "pruner.toml").sources[0]
    for number in (1000, 330_000):
        counts = expected_tally(planted(number))
        assert counts["unreadable row"] + counts["invalid id"] < source.rejected_share_at_most * number


def test_marshals_and_left_out_are_in_the_directory_and_apart(stations: list[Record]) -> None:
    pairs = {(record[NUMBER], record[STATION]) for record in stations if len(record) == CELLS}
    heading, *marshals = records_of(FIXTURE / "marshals.csv")
    assert heading == ["Call sign", "Id", "Name", "Post"]
    assert len(marshals) == 60
    assert {(marshal[1], marshal[0]) for marshal in marshals} <= pairs
    assert 0 < sum(bool(marshal[3]) for marshal in marshals) < 60
    lines = (FIXTURE / "left-out.txt").read_text().splitlines()
    left_out = {line for line in lines if line and not line.startswith("#")}
    assert len(left_out) == 12
    known = {cell for pair in pairs for cell in pair}
    assert left_out <= known
    of_left_out = {sign for number, sign in pairs if number in left_out or sign in left_out}
    assert of_left_out.isdisjoint({marshal[0] for marshal in marshals})


def test_rewrites_its_own_folder_and_leaves_the_rest_alone(tmp_path: Path, small: Path) -> None:
    copied(small, tmp_path)
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "contacts.csv").write_text("kept")
    write_demo(tmp_path, 1100)
    assert len(records_of(tmp_path / "stations.csv")) == 1101
    assert (tmp_path / "out" / "contacts.csv").read_text() == "kept"


@pytest.mark.parametrize("name", ["pruner.toml", "left-out.txt", "heard/calls-2026-02.csv"])
def test_what_was_tried_in_a_demo_is_not_lost(tmp_path: Path, small: Path, name: str) -> None:
    copied(small, tmp_path)
    path = tmp_path / name
    original = path.read_bytes()
    path.write_bytes(original + b"\n# tried something\n")
    before = {one: (tmp_path / one).read_bytes() for one in files_in(tmp_path)}
    with pytest.raises(SettingsError, match=f"'{name}' has been changed since the demo was written; name another folder"):
        write_demo(tmp_path, 1100)
    assert {one: (tmp_path / one).read_bytes() for one in files_in(tmp_path)} == before
    path.write_bytes(original)
    write_demo(tmp_path, 1100)


@pytest.mark.parametrize("name", [*FILES, "letters.txt", "heard", "heard/calls-2026-01.csv"])
def test_refuses_a_folder_with_foreign_files(tmp_path: Path, name: str) -> None:
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).write_text("mine\n")
    with pytest.raises(SettingsError, match=re.escape(repr(name))):
        write_demo(tmp_path, 1000)
    assert files_in(tmp_path) == [name]
    assert (tmp_path / name).read_text() == "mine\n"


@pytest.mark.parametrize("name", ["marshals.csv", "heard/calls-2026-05.csv"])
def test_refuses_a_foreign_file_beside_its_own_settings(tmp_path: Path, small: Path, name: str) -> None:
    copied(small, tmp_path)
    (tmp_path / name).write_text("Call sign\nmine\n")
    with pytest.raises(SettingsError, match=re.escape(repr(name))):
        write_demo(tmp_path, 1000)
    assert (tmp_path / name).read_text() == "Call sign\nmine\n"


def test_leaves_later_logs_of_the_user_alone(tmp_path: Path, small: Path) -> None:
    copied(small, tmp_path)
    (tmp_path / "heard" / "calls-2026-08.csv").write_text("mine\n")
    write_demo(tmp_path, 1000)
    assert (tmp_path / "heard" / "calls-2026-08.csv").read_text() == "mine\n"


def test_refuses_a_file_where_a_folder_is_due(tmp_path: Path) -> None:
    (tmp_path / "demo").write_text("mine")
    with pytest.raises(SettingsError, match="expected a folder"):
        write_demo(tmp_path / "demo", 1000)


def test_says_so_when_the_folder_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "letter").write_text("mine")
    with pytest.raises(SettingsError, match="cannot be written"):
        write_demo(tmp_path / "letter" / "demo", 1000)


@pytest.mark.parametrize("number", [-1, 0, 999, 500_001])
def test_refuses_impossible_sizes(tmp_path: Path, number: int) -> None:
    with pytest.raises(SettingsError, match="1000 to 500000"):
        write_demo(tmp_path / "demo", number)
    assert not (tmp_path / "demo").exists()


def test_largest_size_finds_ids_for_all() -> None:
    assert planted(500_000)["different ids"] > 480_000
