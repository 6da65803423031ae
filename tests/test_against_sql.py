"""The pipeline against an independent SQL version of the same job (benchmarks/duckdb_job.py), row for row."""

from __future__ import annotations

import ast
import csv
import datetime
import json
import tempfile
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

import pyarrow.parquet as parquet
import pytest
from draws import draws
from hypothesis import HealthCheck, example, given
from hypothesis import strategies as st

from benchmarks import duckdb_job
from benchmarks.duckdb_job import Cells, Rule, Tables
from pruner.job import run
from pruner.reference import borders, countries, geometry, names, numbering, places, states
from pruner.reference.tables import rows
from pruner.settings.load import load_settings


def test_the_sql_version_by_hand() -> None:
    """Every reason once, worked out by hand from DEVELOPERS.md."""
    lines = [
        (" 2321234 ", "oe1abc/p", "Anna", "Austria"),
        ("232123405", "OE1ABC-7", "Anna", None),
        ("0", "DL1ABC", "Bert", None),
        ("2621234.0", "DL/OE1XYZ/p", "Carl", " "),
        ("12a", "DL1ABC", "Dora", None),
        ("5", " ", "\u00a0", None),
        ("2320001", "OE1\u200bABC", "Emil", "Germany"),
        ("2320002", "OE1ABC", "Fritz", None),
        ("00262001", "DB0ABC", "", None),
        ("2320003", "OE1ABC"),
        ("2329999", "OE9ZZZ", "", None),
        ("16776416", "OE9ZZZ", "", None),
        ("16777216", "OE9ZZZ", "", None),
        ("7", "Q0QQ", "", None),
    ]
    cells = [[cell or "" for cell in line] for line in lines]
    files = [Cells("world", "dmr", 4, {"id": 1, "callsign": 2, "name": 3, "country": 4}, cells)]
    tables = Tables({"Austria": "AT", "Germany": "DE"}, {232: "AT", 262: "DE"}, {"OE": "AT", "D": "DE"})
    drop = [Rule("asked", list_ids=[1], list_callsigns=["OE9ZZZ"])]
    keep = [
        Rule("home", countries=["AT"], one_per_callsign=True, order="id"),
        Rule("near", neighbours=["DE"], at_most=1, one_per_callsign=True, order="id"),
    ]
    ledger = duckdb_job.run(files, tables, drop, keep, 1).to_pylist()
    names = ("id", "callsign", "country", "country_from", "reason", "rule", "rank")
    assert [tuple(row[name] for name in names) for row in ledger] == [
        (2321234, "OE1ABC", "AT", "text", "duplicate call sign", "home", None),
        (2321234, "OE1ABC", "AT", "id", "duplicate id", None, None),
        (0, "DL1ABC", None, None, "reserved id", None, None),
        (2621234, "OE1XYZ", "DE", "id", "rule full", "near", None),
        (None, "DL1ABC", None, None, "invalid id", None, None),
        (None, None, None, None, "unreadable row", None, None),
        (2320001, "OE1ABC", "DE", "text", "duplicate call sign", "near", None),
        (2320002, "OE1ABC", "AT", "id", None, "home", 1),
        (262001, "DB0ABC", "DE", "id", "over limit", "near", 2),
        (None, None, None, None, "unreadable row", None, None),
        (2329999, "OE9ZZZ", "AT", "id", "left out", "asked", None),
        (16776416, "OE9ZZZ", None, None, "reserved id", None, None),
        (None, "OE9ZZZ", None, None, "invalid id", None, None),
        (7, "Q0QQ", None, None, "no rule", None, None),
    ]
    assert [row["outcome"] for row in ledger].count("rejected") == 4


NUMBERS = [
    *(
        1,
        12,
        99999,
        100000,
        232123,
        262001,
        310123,
        999999,
        2320001,
        2320002,
        2321234,
        2329999,
        2621234,
        2649999,
    ),
    *(
        3101234,
        3401234,
        9999999,
        10000000,
        16776415,
        16776416,
        16777215,
        16777216,
        65519,
        65520,
        65535,
        65536,
        0,
    ),
    *(100000000, 232000101, 232000102, 232123407, 262123499, 999999999, 1000000000, 2**32 + 2321234, 10**30),
]
STATIONS = [232123, 262001, 2320001, 2320002, 2321234, 2329999, 2621234, 2649999, 3101234, 232123407]
ID_FORMS = st.sampled_from(
    [
        *("{}", "{}", "{}", "{}", "0{}", "000{}", "{}.0", "{}.000", " {}", "{} ", "\u00a0{}", "\t{}", "{}\u2003"),
        *("{:,}", "{:_}", '="{}"', "'{}", "#{}", "{},0", "{:.6E}", "{:,}.00"),
    ]
)
BAD_IDS = st.sampled_from(
    ["", " ", "-1", "+2321234", "1e6", "2321234.5", "2.32.1234", "2.32E+06", "0x10", "OE1ABC", "²", ".0", "1.0.0"]
)
IDS = st.one_of(
    *[st.builds(str.format, ID_FORMS, st.one_of(*[st.sampled_from(STATIONS)] * 2, st.sampled_from(NUMBERS)))] * 5,
    BAD_IDS,
    st.sampled_from(
        [
            "[2320001]",
            "DMR 2320001",
            "dmr-id: 2 320 001",
            "Nr. 232",
            "2320001*",
            "2320001 ¹",
            "\u200b2320001",
            "(2321234)",
            "No",
            "ID",
            *(
                "232 0001",
                "2 321 234",
                "2.321.234",
                "2’321’234",
                "２３２１２３４",
                "٢٣٢١٢٣٤",
                "2.321234e+6",
                "1e0",
                ' "2320002" ',
            ),
        ]
    ),
)

SIGNS = [
    "OE1ABC",
    "OE1ABC",
    "OE9ZZ",
    "DB0ABC",
    "K1AB",
    "4U1ITU",
    "VP8XYZ",
    "VK9NA",
    "9A1A",
    "HB0ABC",
    "N0CALL",
    "Q0QQ",
    "SU9ABC",
    "É1A",
    "\u041e\u04151\u0410\u0412\u0421",  # OE1ABC in Cyrillic letters
    "\u039f\u03951\u0391\u0392\u03a7",  # OE1ABX in Greek ones
    "\u041e\u04151\u0410\u0412\u0416",  # no Latin letter looks like the last one
    "WØABC",
    "ＯＥ１ＡＢＣ／Ｐ",
]
SIGN_FORMS = st.sampled_from(
    [
        "{}",
        "{}",
        "{}",
        "{}",
        "{}/P",
        "{}/MM",
        "DL/{}",
        "F/{}/P",
        "LONGER99/{}",
        "{}-7",
        "{}-15",
        "{}-L",
        "{}-123",
        "-{}",
        "{}-",
        '"{}"',
        "{} (ex OE9OLD)",
        "{} *",
        "({})",
        "{}ж",
        "{}, DL1XYZ",
        "\u0415\u0410{}",
    ]
)
SIGN_NOISE = st.sampled_from(["{}", "{}", "{}", " {}", "{}\u200b", "\ufeff{}", "{}\u00a0", "{}\u202e"])


@st.composite
def callsigns(draw: st.DrawFn) -> str:
    if draw(st.integers(0, 9)) == 0:
        return draw(st.sampled_from(["", " ", "\u200b", "\u00a0", "/", "-7", "/P", "A/B/CC/DD"]))
    text = draw(SIGN_NOISE).format(draw(SIGN_FORMS).format(draw(st.sampled_from(SIGNS))))
    if draw(st.booleans()):
        text = text.lower()
    return text[:3] + " " + text[3:] if draw(st.integers(0, 9)) == 0 else text


NAMES = st.sampled_from(["", "", " ", "\u00a0", "Anna", "Zoë", 'say "hi", Bob', "=1+1", "two\nlines", "\u200b"])
COUNTRY_TEXTS = st.sampled_from(
    [
        "",
        "",
        "",
        " ",
        "Austria",
        "AUSTRIA ",
        "Österreich",
        "Germany",
        "deutschland",
        "U.S.A.",
        "Nowhere",
        "Guadeloupe",
        "at",
        "Germnay",
        "Austira",
        "Bayern",
        "Illinois",
        "Congo",
    ]
)
TOWNS = st.sampled_from(
    ["", "", "Graz", "WIEN", "Linz ", "Salzburg", "Innsbruck", "Passau", "Berlin", "Springfield", "Nowhere"]
)
STATES = st.sampled_from(["", "", "Illinois", "MO", "Tirol"])
COLUMNS = ("id", "callsign", "first_name", "last_name", "country", "town", "state")
LINES = st.tuples(
    st.tuples(IDS, callsigns(), NAMES, NAMES, COUNTRY_TEXTS, TOWNS, STATES),
    st.sampled_from(["fits"] * 3 + ["surplus empty", "surplus", "short"]),
)


#: Its id is one of every system.
GOOD_LINE = (("12", "OE1ABC", "Anna", "", "", "", ""), "fits")


@dataclass(frozen=True)
class Source:
    """One CSV file: the order of its columns, and lines of (cells as in `COLUMNS`, how they fit)."""

    name: str
    system: str
    columns: tuple[str, ...]
    lines: list[tuple[tuple[str, ...], str]]


@st.composite
def source_lists(draw: st.DrawFn) -> list[Source]:
    """One or two sources. Most lines fit and are good: the reader refuses other files."""
    sources = []
    for name in ["world", "club"][: draw(st.integers(1, 2))]:
        lines = draw(st.lists(LINES, min_size=1, max_size=25))
        lines = [
            *[GOOD_LINE] * (len(lines) + 1),
            *((cells, fit if at % 3 == 2 else "fits") for at, (cells, fit) in enumerate(lines)),
        ]
        system = draw(st.sampled_from(["dmr", "dmr", "dmr", "nxdn", "p25"]))
        sources.append(Source(name, system, tuple(draw(st.permutations(COLUMNS))), lines))
    return sources


def some(values: list[Any]) -> st.SearchStrategy[list[Any]]:
    return st.lists(st.sampled_from(values), min_size=1, max_size=4, unique=True)


#: A tour and a single place, and the middles of two locators (JN58td as in E. T. Tyson, QST January 1989).
LINES_OF_TOUR = [[(48.2, 16.37), (47.07, 15.44), (47.8, 13.04)], [(47.27, 11.39)]]
_SEGMENTS = ["".join(f'<trkpt lat="{north}" lon="{east}"/>' for north, east in line) for line in LINES_OF_TOUR]
TOUR = f"<gpx><trk>{''.join(f'<trkseg>{segment}</trkseg>' for segment in _SEGMENTS)}</trk></gpx>"
CENTRES = {"JN67": (47.5, 13.0), "JN58td": (48 + 7 / 48, 11 + 5 / 8)}
TOURED = {"route": "tour.gpx"}


@st.composite
def rule_tables(
    draw: st.DrawFn, name: str, sources: list[str], is_keep: bool, has_locator: bool = False, has_calls: bool = False
) -> dict[str, Any]:
    """A rule as it stands in the settings; the members of a list file under "list"."""
    choices: dict[str, st.SearchStrategy[Any]] = {
        "continents": some(["Europe", "Northern America", "Western Asia", "North America"]),
        "itu_regions": some([1, 2, 3]),
        "states": some(["AT-7", "Tirol", "Illinois", "mo", "US-IL", "Nowhere"]),
        "talkgroups": some([232, 262, 91, 310]),
        "heard_within_days": st.sampled_from([1, 2, 7, 40]),
        "heard_at_least": st.integers(1, 3),
        "ids": some([2320001, 2321234, 262001, 12, 65519]),
        "callsigns": some(["OE*", "*ABC", "K1A?", "D??ABC"]),
        "countries": some(["home", "DE", "US", "Croatia"]),
        "neighbours_of": some(["home", "US"]),
        "kind": st.sampled_from(["person", "repeater", "other"]),
        "sources": some(sources),
        "list": some([2320002, 2329999, "OE1ABC", "DB0ABC", "*9ZZ", "2320001-2320002"]),
        "within_km": st.sampled_from([30.0, 120.0, 200.0, 9000.0]),
    }
    counts = [0, 1, 1, 2] if is_keep else [1, 1, 2]
    chosen = draw(st.lists(st.sampled_from(sorted(choices)), unique=True, max_size=draw(st.sampled_from(counts))))
    rule: dict[str, Any] = {"name": name} | {key: draw(choices[key]) for key in chosen}
    if "neighbours_of" in rule and draw(st.booleans()):
        rule["hops"] = 2
    from_home = "within_km" in rule and has_locator and draw(st.booleans())
    if ("within_km" in rule and not from_home) or (is_keep and draw(st.integers(0, 3)) == 0):
        rule |= draw(st.sampled_from([TOURED, {"locators": ["JN67", "JN58td"]}, {**TOURED, "locators": ["JN67"]}]))
    has_route = "route" in rule or "locators" in rule
    if is_keep:
        rule |= draw(
            st.fixed_dictionaries(
                {},
                optional={
                    "at_most": st.integers(0, 4),
                    "one_per_callsign": st.sampled_from([True, True, False]),
                    "order": st.sampled_from(["id", "recent", "expected", *(["nearest"] if has_route else [])]),
                },
            )
        )
        if has_calls and rule.get("order") != "nearest":  # orders by calls are tested elsewhere
            rule["order"] = "id"
    return rule


@dataclass(frozen=True)
class Case:
    sources: list[Source]
    drop: list[dict[str, Any]]
    keep: list[dict[str, Any]]
    limits: dict[str, int]
    home: dict[str, str] = field(default_factory=lambda: {"country": "AT"})
    calls: list[tuple[int, int, int]] = field(default_factory=list)
    long_list: int = 20_000


#: Id, talkgroup and day of calls; a system that is not dmr has none.
CALLS = st.tuples(
    st.sampled_from([2320001, 2320002, 2321234, 262001, 2621234, 12]), st.sampled_from([232, 2328, 91, 262]), st.integers(0, 30)
)


@st.composite
def cases(draw: st.DrawFn) -> Case:
    sources = draw(source_lists())
    names = [source.name for source in sources]
    home = draw(st.sampled_from([{"country": "AT"}, {"country": "AT", "locator": "JN88"}, {"country": "AQ"}]))
    calls = draw(st.one_of(st.just([]), st.lists(CALLS, max_size=20)))
    about = ("locator" in home, bool(calls))
    drop = [draw(rule_tables(f"drop {at}", names, False, *about)) for at in range(draw(st.integers(0, 1)))]
    keep = [draw(rule_tables(f"keep {at}", names, True, *about)) for at in range(draw(st.integers(1, 3)))]
    limits = {"small": draw(st.integers(0, 6)), "large": draw(st.integers(4, 40))}
    return Case(sources, drop, keep, limits, home, calls, draw(st.sampled_from([0, 20_000])))


def write_case(case: Case, folder: Path) -> Path:
    """The case as CSV files, list files and a settings file."""
    home = "".join(f'{key} = "{value}"\n' for key, value in case.home.items())
    blocks = [f'[home]\n{home}[output]\nfolder = "out"']
    for source in case.sources:
        with (folder / f"{source.name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(source.columns)
            writer.writerows(lines_of(source))
        blocks.append(
            f'[[source]]\nname = "{source.name}"\nlocation = "{source.name}.csv"\n'
            f'system = "{source.system}"\n'
            "rejected_share_at_most = 1.0\n"
            f"columns = {{ {', '.join(f'{column} = {json.dumps(column)}' for column in COLUMNS)} }}"
        )
    for kind, rules in (("drop", case.drop), ("keep", case.keep)):
        for rule in rules:
            table = dict(rule)
            if "list" in table:
                table["list"] = f"{rule['name']}.txt"
                (folder / table["list"]).write_text("".join(f"{member}\n" for member in rule["list"]))
            blocks.append(f"[[{kind}]]\n" + "\n".join(f"{key} = {json.dumps(value)}" for key, value in table.items()))
    blocks += [f'[[radio]]\nname = "{name}"\ncontacts = {limit}' for name, limit in case.limits.items()]
    (folder / "tour.gpx").write_text(TOUR)
    if case.calls:  # seconds apart, so that each is a call of its own
        first = datetime.datetime(2026, 3, 1, 12, 0, 7)
        times = [first + datetime.timedelta(day, minutes=at) for at, (_, _, day) in enumerate(case.calls)]
        lines = [f"{call[0]},{call[1]},{time:%Y-%m-%dT%H:%M:%SZ},5\n" for call, time in zip(case.calls, times, strict=True)]
        (folder / "log.csv").write_text("id,talkgroup,time,seconds\n" + "".join(lines))
        blocks.append('[[heard]]\nlocation = "log.csv"')
    path = folder / "pruner.toml"
    path.write_text("\n".join(blocks), encoding="utf-8")
    return path


def lines_of(source: Source) -> list[list[str]]:
    """The cells of each line of a source, as they stand in its file."""
    lines = []
    for cells, fit in source.lines:
        line = [cells[COLUMNS.index(column)] for column in source.columns]
        lines.append({"surplus empty": [*line, ""], "surplus": [*line, "x"], "short": line[:-1]}.get(fit, line))
    return lines


def cells_of(case: Case) -> list[Cells]:
    """The case as text cells, with which column holds what."""
    return [
        Cells(
            source.name,
            source.system,
            len(source.columns),
            {column: place for place, column in enumerate(source.columns, start=1)},
            lines_of(source),
        )
        for source in case.sources
    ]


def reference_of(case: Case) -> Tables:
    """The reference tables as inputs: what each text, each three digits and each prefix stand for."""
    texts = {cells[4] for source in case.sources for cells, _ in source.lines}
    codes = [code or None for code in countries.CODES]
    return Tables(
        {text: codes[countries.find(text)] for text in texts},
        {digits: codes[number] for digits, number in enumerate(numbering.country_of_code().tolist())},
        prefixes(),
        [(text, code) for text in texts for code in nearly(text)],
        located(case),
        {code: (float(latitude), float(longitude)) for code, latitude, longitude in rows("middles.tsv")},
        origin_of(case.home),
        states_of(texts),
        state_codes(case),
        case.calls,
    )


def state_codes(case: Case) -> dict[tuple[str, str], str]:
    """The code of each state text of the case and of its rules, in every country that knows it."""
    texts = {cells[6] for source in case.sources for cells, _ in source.lines}
    texts |= set(states_of({cells[4] for source in case.sources for cells, _ in source.lines}).values())
    texts |= {name for rule in [*case.drop, *case.keep] for name in rule.get("states", ())}
    return {(code, text): found for text in texts for code, found in codes_of_state(text)}


# The texts are few, and drawn again and again.
@cache
def nearly(text: str) -> tuple[str, ...]:
    return tuple(code for code, number in countries.NUMBERS.items() if countries.is_nearly(text, number))


@cache
def codes_of_state(text: str) -> tuple[tuple[str, str], ...]:
    found = ((code, states.code_of(number, text)) for code, number in countries.NUMBERS.items())
    return tuple((code, state) for code, state in found if state)


@cache
def words_of_states(text: str) -> tuple[tuple[str, str], ...]:
    found = ((code, names.state_in(text, code)) for code in countries.CODES[1:])
    return tuple((code, words) for code, words in found if words)


@cache
def places_named(town: str, state: str) -> tuple[tuple[str, tuple[float, float]], ...]:
    numbers = list(range(1, len(countries.CODES)))
    points = zip(*places.locate(numbers, [town] * len(numbers), [state] * len(numbers)), strict=True)
    return tuple((countries.CODES[n], point) for n, point in zip(numbers, points, strict=True) if point[0] == point[0])


def located(case: Case) -> dict[tuple[str, str | None, str | None], tuple[float, float]]:
    """Every country with the towns and states of the case, where the table of places knows the town."""
    texts = {cells[5:7] for source in case.sources for cells, _ in source.lines}
    words = set(states_of({cells[4] for source in case.sources for cells, _ in source.lines}).values())
    texts |= {(town, state) for town, _ in texts for state in words}
    return {(code, town, state): point for town, state in texts for code, point in places_named(town, state)}


def states_of(texts: Iterable[str]) -> dict[tuple[str, str], str]:
    """The words of country cells that name a state, by text and country."""
    return {(text, code): words for text in texts for code, words in words_of_states(text)}


def origin_of(home: dict[str, str]) -> tuple[float, float] | None:
    if "locator" in home:
        return geometry.locator_centre(home["locator"])
    middles = {code: (float(latitude), float(longitude)) for code, latitude, longitude in rows("middles.tsv")}
    return middles.get(home["country"])


@cache
def prefixes() -> dict[str, str | None]:
    """Every prefix in the table of call sign series; its lines are ranges of the last character."""
    characters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
    table: dict[str, str | None] = {}
    for first, last, country in rows("callsigns.tsv"):
        for character in characters[characters.index(first[-1]) : characters.index(last[-1]) + 1]:
            table[first[:-1] + character] = country if country in countries.NUMBERS else None
    return table


def sql_rule(rule: dict[str, Any], home: dict[str, str]) -> Rule:
    def code(name: str) -> str:
        return home["country"] if name == "home" else countries.CODES[countries.find(name)]

    others = ("neighbours_of", "hops", "list", "route", "locators", "talkgroups", "heard_within_days", "heard_at_least")
    options = {key: value for key, value in rule.items() if key not in others}
    options["lines"] = [*(LINES_OF_TOUR if "route" in rule else ()), *([CENTRES[one]] for one in rule.get("locators", ()))]
    options["nearest"] = bool(options["lines"]) and rule.get("order", "nearest") == "nearest"
    if "within_km" in rule and not options["lines"]:
        options["lines"] = [[origin_of(home)]]
    if "countries" in rule:
        options["countries"] = [code(name) for name in rule["countries"]]
    if "neighbours_of" in rule:
        start = [countries.NUMBERS[code(name)] for name in rule["neighbours_of"]]
        options["neighbours"] = [countries.CODES[number] for number in borders.within_hops(start, rule.get("hops", 1))]
    if "list" in rule:
        texts = [member for member in rule["list"] if isinstance(member, str)]
        options["list_ids"] = [member for member in rule["list"] if isinstance(member, int)]
        options["list_callsigns"] = [text for text in texts if text.isalnum()]
        options["list_globs"] = [text for text in texts if "*" in text]
        options["list_ranges"] = [tuple(map(int, text.split("-"))) for text in texts if "-" in text]
    of_regions = rows("regions.tsv")
    if "continents" in rule:  # M49 code 003 is three sub-regions (from memory)
        wanted = set(rule["continents"])
        wanted |= {"Northern America", "Central America", "Caribbean"} if "North America" in wanted else set()
        options["continents"] = [code for code, _, *found in of_regions if wanted & set(found)]
    if "itu_regions" in rule:
        options["itu_regions"] = [code for code, region, *_ in of_regions if int(region) in rule["itu_regions"]]
    by_days = "heard_within_days" in rule or "heard_at_least" in rule
    if "talkgroups" in rule or by_days:
        options["heard"] = (rule.get("talkgroups"), rule.get("heard_within_days"), rule.get("heard_at_least", 1))
    if "talkgroups" in rule and not by_days:
        found = [countries.CODES[numbering.country_of_talkgroup(number)] for number in rule["talkgroups"]]
        options["talkgroup_countries"] = [code for code in found if code]
    return Rule(**options)


def compare(case: Case) -> None:
    """Both engines on one case, for every radio of it."""
    tables, files = reference_of(case), cells_of(case)
    drop, keep = ([sql_rule(rule, case.home) for rule in rules] for rules in (case.drop, case.keep))
    with tempfile.TemporaryDirectory() as folder:
        with mock.patch("pruner.rules.matching._LONG_LIST", case.long_list):
            run(load_settings(write_case(case, Path(folder))))
        for radio, limit in case.limits.items():
            ledger = parquet.read_table(Path(folder) / "out" / radio / "ledger.parquet")
            by_calls = {"calls", "calls_on_mine", "expected", "expected_from"} if case.calls else set()
            assert tuple(name for name in ledger.column_names if name not in by_calls) == duckdb_job.LEDGER_COLUMNS
            rows_found = ledger.select(duckdb_job.LEDGER_COLUMNS).to_pylist()
            assert rows_found == duckdb_job.run(files, tables, drop, keep, limit).to_pylist()
            outcomes = Counter(row["outcome"] for row in rows_found)
            assert len(rows_found) == outcomes["kept"] + outcomes["dropped"] + outcomes["rejected"]
            assert outcomes["kept"] <= limit


#: Two fine points: a plain id before a later suffixed one; a call sign that an earlier rule took but could not keep.
FINE_POINTS = Case(
    [
        Source(
            "world",
            "dmr",
            COLUMNS,
            [
                (("2320001", "OE1ABC", "Anna", "", "", "", ""), "fits"),
                (("232000107", "OE1ABC", "Bert", "", "", "", ""), "fits"),
                (("2320002", "OE9ZZ", "Carl", "", "", "", ""), "fits"),
                (("262001", "OE9ZZ", "Dora", "", "", "", ""), "fits"),
            ],
        )
    ],
    [],
    [{"name": "persons", "kind": "person"}, {"name": "others", "one_per_callsign": True}],
    {"small": 1, "large": 9},
)
#: Towns near a route and far from it, some of them unknown; two of one town stand by id.
TRIP = Case(
    [
        Source(
            "world",
            "dmr",
            COLUMNS,
            [
                ((str(2320001 + at), f"OE{at % 9 + 1}AB{'ABCDEFGHIJKLMNOP'[at]}", "Anna", "", country, town, ""), "fits")
                for at, (town, country) in enumerate(
                    [("Salzburg", ""), ("Wien", ""), ("", ""), ("Passau", "Germany"), ("Graz", ""), ("Innsbruck", "")] * 2
                )
            ],
        )
    ],
    [{"name": "too near", "within_km": 5, "locators": ["JN58td"]}],
    [
        {"name": "along", "within_km": 120, "at_most": 5, **TOURED},
        {"name": "others", "order": "nearest", "locators": ["JN67"]},
    ],
    {"small": 4, "large": 40},
)
CHECKS = [HealthCheck.data_too_large]


#: A country cell that names a state, where no state is written, says which Springfield is meant.
STATE_AS_COUNTRY = Case(
    [
        Source(
            "world",
            "dmr",
            COLUMNS,
            [
                (("3101001", "K1AA", "Anna", "", "Illinois", "Springfield", ""), "fits"),
                (("3101002", "K1AB", "Bert", "", "USA", "Springfield", "MO"), "fits"),
                (("3101003", "K1AC", "Carl", "", "USA", "Springfield", ""), "fits"),
            ],
        )
    ],
    [],
    [{"name": "all"}],
    {"small": 1, "large": 4},
    {"country": "US", "locator": "EM37"},
)


#: Lines of nothing but separators and blanks are no records, however many cells they have.
NOTHING = Case(
    [
        Source(
            "world",
            "dmr",
            COLUMNS,
            [
                GOOD_LINE,
                (("", "", "", "", "", "", ""), "fits"),
                ((" ", "", "", "", "", "", "  "), "fits"),
                (("", "", " ", "", "", "", ""), "short"),
                (("", "", "", "", "", "", ""), "surplus empty"),
                (("", "", "", "", "", "Linz", ""), "fits"),
                GOOD_LINE,
            ],
        )
    ],
    [],
    [{"name": "all"}],
    {"small": 1, "large": 4},
)


def test_lines_of_nothing() -> None:
    compare(NOTHING)


def test_the_sql_version_shares_no_code_with_the_pipeline() -> None:
    tree = ast.parse(Path(duckdb_job.__file__).read_text(encoding="utf-8"))
    modules = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    modules += [name.name for node in ast.walk(tree) if isinstance(node, ast.Import) for name in node.names]
    assert "duckdb" in modules
    assert not any(module.partition(".")[0] == "pruner" for module in modules)


def test_a_country_cell_that_names_a_state() -> None:
    compare(STATE_AS_COUNTRY)


@draws(6, *CHECKS)
@given(cases())
@example(FINE_POINTS)
@example(TRIP)
def test_pipeline_and_sql_agree_row_for_row(case: Case) -> None:
    compare(case)


@pytest.mark.long
@draws(100, *CHECKS)
@given(cases())
def test_pipeline_and_sql_agree_on_many_cases(case: Case) -> None:
    compare(case)
