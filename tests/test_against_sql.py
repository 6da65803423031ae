"""The pipeline against an independent SQL version of the same job (benchmarks/duckdb_job.py), row for row."""

from __future__ import annotations

import ast
import datetime
import json
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from unittest import mock

import pyarrow.parquet as parquet
import pytest
from draws import draws
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st
from sql_reference import STATES_OF_RULES, origin_of, reference
from sql_sources import COLUMNS, FITS, GOOD, GOOD_LINE, NO_RECORDS, SEVERAL_IDS, SHAPES, Source, exports, source_lists

from benchmarks import duckdb_job, duckdb_records, duckdb_rules
from benchmarks.duckdb_job import CARRIED, Radio, Result, Tables
from benchmarks.duckdb_records import Cells
from benchmarks.duckdb_rules import Rule
from pruner.job import run
from pruner.reference import borders, countries, numbering
from pruner.reference.tables import rows
from pruner.settings.load import load_settings
from pruner.words.outcomes import REASON_WORDS, Reason


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
    files = [
        Cells("world", "dmr", ["id", "callsign", "name", "country"], {"id": 1, "callsign": 2, "name": 3, "country": 4}, cells)
    ]
    tables = Tables({"Austria": "AT", "Germany": "DE"}, {232: "AT", 262: "DE"}, {"OE": "AT", "D": "DE"})
    drop = [Rule("asked", list_ids=[1], list_callsigns=["OE9ZZZ"])]
    keep = [
        Rule("home", countries=["AT"], one_per_callsign=True, order="id"),
        Rule("near", neighbours=["DE"], at_most=1, one_per_callsign=True, order="id"),
    ]
    ledger = duckdb_job.run(files, tables, drop, keep, Radio(1)).ledger.to_pylist()
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
        "states": some(STATES_OF_RULES),
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
        if has_calls and rule.get("order") != "nearest":  # expected calls are tested elsewhere
            rule["order"] = draw(st.sampled_from(["id", "recent", "often"]))
    return rule


@dataclass(frozen=True)
class Device:
    """A radio as it stands in the settings, and the export that it carries."""

    contacts: int
    keep_free: int = 0
    carried: Source | None = None
    rules: list[str] | None = None
    orders: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Case:
    sources: list[Source]
    drop: list[dict[str, Any]]
    keep: list[dict[str, Any]]
    radios: list[Device]
    home: dict[str, str] = field(default_factory=lambda: {"country": "AT"})
    calls: list[tuple[int, int, int]] = field(default_factory=list)
    mine: list[int] = field(default_factory=list)
    long_list: int = 20_000

    @property
    def knows_calls(self) -> bool:
        """Whether there are calls of a system that a source is of; all calls are of dmr."""
        return bool(self.calls) and any(source.system == "dmr" for source in self.sources)

    def keep_of(self, radio: Device) -> list[dict[str, Any]]:
        """The keep rules of a radio, in its order and with its orders."""
        by_name = {rule["name"]: rule for rule in self.keep}
        wanted = list(by_name) if radio.rules is None else radio.rules
        return [by_name[name] | ({"order": radio.orders[name]} if name in radio.orders else {}) for name in wanted]


#: Id, talkgroup and day of calls; a system that is not dmr has none.
CALLS = st.tuples(
    st.sampled_from([2320001, 2320002, 2321234, 262001, 2621234, 12]), st.sampled_from([232, 2328, 91, 262]), st.integers(0, 30)
)


FIRST_CALL = datetime.datetime(2026, 3, 1, 12, 0, 7)


@st.composite
def devices(draw: st.DrawFn, contacts: int, names: list[str], system: str, has_calls: bool) -> Device:
    carried = draw(exports("carried", system)) if draw(st.integers(0, 2)) == 0 else None
    rules = draw(st.permutations(names))[: draw(st.integers(1, len(names)))] if draw(st.booleans()) else None
    orders = draw(
        st.dictionaries(st.sampled_from(names), st.sampled_from(["id", "often"] if has_calls else ["id"]), max_size=1)
    )
    return Device(contacts, draw(st.sampled_from([0, 0, *range(1, min(contacts, 4))])), carried, rules, orders)


@st.composite
def cases(draw: st.DrawFn, shape: str | None = None) -> Case:
    sources = draw(source_lists(shape))
    names = [source.name for source in sources]
    home = draw(st.sampled_from([{"country": "AT"}, {"country": "AT", "locator": "JN88"}, {"country": "AQ"}]))
    calls = draw(st.one_of(st.just([]), st.lists(CALLS, max_size=20)))
    about = ("locator" in home, bool(calls))
    drop = [draw(rule_tables(f"drop {at}", names, False, *about)) for at in range(draw(st.integers(0, 1)))]
    keep = [draw(rule_tables(f"keep {at}", names, True, *about)) for at in range(draw(st.integers(1, 3)))]
    of_rules = [rule["name"] for rule in keep]
    small, large = draw(st.integers(0, 6)), draw(st.integers(4, 40))
    radios = [draw(devices(contacts, of_rules, sources[0].system, bool(calls))) for contacts in (small, large)]
    mine = draw(st.sampled_from([[], [], [232, 91]]))
    return Case(sources, drop, keep, radios, home, calls, mine, draw(st.sampled_from([0, 20_000])))


def write_case(case: Case, folder: Path) -> Path:
    """The case as CSV files, list files and a settings file."""
    home = "".join(f'{key} = "{value}"\n' for key, value in case.home.items())
    blocks = [f'[home]\n{home}[output]\nfolder = "out"']
    for source in case.sources:
        source.write(folder / f"{source.name}.csv")
        columns = f"columns = {_table(dict(zip(COLUMNS, COLUMNS, strict=True)))}" if source.is_named else ""
        blocks.append(
            f'[[source]]\nname = "{source.name}"\nlocation = "{source.name}.csv"\n'
            f'system = "{source.system}"\nrejected_share_at_most = 1.0\n{columns}'
        )
    for kind, rules in (("drop", case.drop), ("keep", case.keep)):
        for rule in rules:
            table = dict(rule)
            if "list" in table:
                table["list"] = f"{rule['name']}.txt"
                (folder / table["list"]).write_text("".join(f"{member}\n" for member in rule["list"]))
            blocks.append(f"[[{kind}]]\n" + "\n".join(f"{key} = {json.dumps(value)}" for key, value in table.items()))
    for at, radio in enumerate(case.radios):
        block = f'[[radio]]\nname = "{at}"\ncontacts = {radio.contacts}\nkeep_free = {radio.keep_free}\n'
        if radio.carried is not None:
            radio.carried.write(folder / f"carried-{at}.csv")
            named = {meaning: place for meaning, place in radio.carried.meanings.items() if meaning != "kind"}
            block += f'carried = "carried-{at}.csv"\ncarried_columns = {_table(named)}\n'
        block += f"rules = {json.dumps(radio.rules)}\n" if radio.rules is not None else ""
        blocks.append(block + (f"orders = {_table(radio.orders)}" if radio.orders else ""))
    (folder / "tour.gpx").write_text(TOUR)
    if case.mine:
        blocks.append(f"[talkgroups]\nmine = {case.mine}")
    if case.calls:
        lines = [
            f"{number},{talkgroup},{FIRST_CALL + datetime.timedelta(seconds=second):%Y-%m-%dT%H:%M:%SZ},5\n"
            for number, talkgroup, _, second in timed(case)
        ]
        (folder / "log.csv").write_text("id,talkgroup,time,seconds\n" + "".join(lines))
        blocks.append('[[heard]]\nlocation = "log.csv"')
    path = folder / "pruner.toml"
    path.write_text("\n".join(blocks), encoding="utf-8")
    return path


def _table(values: dict[str, Any]) -> str:
    return f"{{ {', '.join(f'{json.dumps(key)} = {json.dumps(value)}' for key, value in values.items())} }}"


def timed(case: Case) -> list[tuple[int, int, int, int]]:
    """The calls with the second at which each begins: a minute apart, so that each is a call of its own."""
    return [(*call, call[2] * 86_400 + at * 60) for at, call in enumerate(case.calls)]


def sql_rule(rule: dict[str, Any], case: Case) -> Rule:
    home = case.home

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
    if options.get("order") == "expected":  # without calls
        del options["order"]
    if not case.knows_calls and options.get("order") in ("recent", "often"):
        del options["order"]
    return Rule(**options, order_talkgroups=rule.get("talkgroups", case.mine or None))


def by_sql(case: Case, radio: Device) -> Result:
    """What the SQL version makes of a case, for one radio of it."""
    drop, keep = ([sql_rule(rule, case) for rule in rules] for rules in (case.drop, case.keep_of(radio)))
    carried = None if radio.carried is None else replace(radio.carried.cells(), name=CARRIED)
    device = Radio(radio.contacts, radio.keep_free, carried)
    return duckdb_job.run([source.cells() for source in case.sources], reference(case.home, timed(case)), drop, keep, device)


def compare(case: Case) -> None:
    """Both engines on one case, for every radio of it."""
    with tempfile.TemporaryDirectory() as folder:
        with mock.patch("pruner.rules.matching._LONG_LIST", case.long_list):
            run(load_settings(write_case(case, Path(folder))))
        for at, radio in enumerate(case.radios):
            ledger = parquet.read_table(Path(folder) / "out" / str(at) / "ledger.parquet")
            by_calls = {"calls", "calls_on_mine", "expected", "expected_from"} if case.knows_calls else set()
            assert tuple(name for name in ledger.column_names if name not in by_calls) == duckdb_job.LEDGER_COLUMNS
            found, expected = ledger.select(duckdb_job.LEDGER_COLUMNS).to_pylist(), by_sql(case, radio)
            assert found == expected.ledger.to_pylist()
            outcomes = Counter(row["outcome"] for row in found)
            assert len(found) == outcomes["kept"] + outcomes["dropped"] + outcomes["rejected"]
            assert outcomes["kept"] <= max(radio.contacts - radio.keep_free, 0)
            summary = json.loads((Path(folder) / "out" / str(at) / "summary.json").read_text())
            changed = summary["changed"].items()
            assert {word: count for word, count in changed if word.startswith(COUNTED) or word.endswith(", no rows")} == (
                expected.counts
            )


#: What the summary says of lines and records; the rest is about texts, of which the SQL version says nothing.
COUNTED = ("disagreement", "device suffixes", "country names", "records out of cells")


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
    [Device(1), Device(9)],
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
    [Device(4), Device(40)],
)
CHECKS = [HealthCheck.too_slow, HealthCheck.data_too_large]
#: A case takes a second: shrinking one would take minutes.
WITHOUT_SHRINKING = [Phase.explicit, Phase.reuse, Phase.generate]


#: Calls of another system than that of the sources are no calls: contacts wait by distance, as without a log.
CALLS_OF_ANOTHER_SYSTEM = Case(
    [Source("world", "p25", COLUMNS, [((number, sign, "Anna", "", "", "", ""), "fits") for number, sign, _ in GOOD])],
    [],
    [{"name": "all", "order": "recent"}],
    [Device(3), Device(40, orders={"all": "often"})],
    {"country": "AQ"},
    [(int(GOOD[0][0]), 262, 0), (int(GOOD[1][0]), 262, 3)],
)


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
    [Device(1), Device(4)],
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
    [Device(1), Device(4)],
)


#: What stands in two columns of ids is not read as one number: not "No" before an id, not few digits before six or seven.
IDS_IN_COLUMNS = Case(
    [
        Source(
            "world",
            "dmr",
            ("DMR ID 1", "DMR ID 2", "Call sign", "Name", "Country"),
            [
                *[
                    ((number, f"{number[:3]}{at}777", sign, "Anna", country), "fits")
                    for at, (number, sign, country) in enumerate(GOOD[:8])
                ],
                (("No", "2327777", "9A1A", "", ""), "fits"),
                (("DMR", "2327778", "9A1B", "", ""), "fits"),
                (("12", "2327779", "9A1C", "", ""), "fits"),
                (("1", "232777", "9A1D", "", ""), "fits"),
                (("232", "0005", "9A1E", "", ""), "fits"),
                (("", "2327776", "9A1F", "", ""), "fits"),
                (("2327775", " ", "9A1G", "", ""), "fits"),
                (("232 1777", "7", "", "Total", ""), "fits"),
            ],
            {"id": 1, "callsign": 3, "name": 4, "country": 5},
            (2,),
            shape="columns of ids",
        )
    ],
    [],
    [{"name": "all"}],
    [Device(4), Device(40)],
)


def test_lines_of_nothing() -> None:
    compare(NOTHING)


def test_the_sql_version_shares_no_code_with_the_pipeline() -> None:
    names = {name for module in (duckdb_job, duckdb_records, duckdb_rules) for name in _imported(Path(module.__file__))}
    assert "duckdb" in names
    assert not any(name.partition(".")[0] == "pruner" for name in names)
    ours = {name for name in names if name.startswith("benchmarks")}
    assert ours == {"benchmarks.duckdb_records", "benchmarks.duckdb_rules"}


def _imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            yield node.module or ""
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)


def test_calls_of_another_system_than_that_of_the_sources() -> None:
    compare(CALLS_OF_ANOTHER_SYSTEM)


def test_a_country_cell_that_names_a_state() -> None:
    compare(STATE_AS_COUNTRY)


@draws(4, *CHECKS)
@given(cases())
@example(FINE_POINTS)
@example(TRIP)
@example(IDS_IN_COLUMNS)
def test_pipeline_and_sql_agree_row_for_row(case: Case) -> None:
    compare(case)


@pytest.mark.long
@pytest.mark.parametrize("shape", SHAPES)
def test_pipeline_and_sql_agree_on_many_cases(shape: str) -> None:
    """Cases whose first source is of a shape; in the default suite the shape is drawn too."""

    @settings(max_examples=40, deadline=None, suppress_health_check=CHECKS, phases=WITHOUT_SHRINKING)
    @given(cases(shape))
    def of_shape(case: Case) -> None:
        compare(case)

    of_shape()


def kinds_in(case: Case) -> set[str]:
    """What a case holds of what the contract speaks of."""
    exported = [radio.carried for radio in case.radios if radio.carried is not None]
    lines = [line for source in [*case.sources, *exported] for line in source.lines]
    cells = {cell.strip() for row, fit in lines if fit == "fits" for cell in row}
    rules = [rule for radio in case.radios for rule in case.keep_of(radio)]
    found = {source.shape for source in [*case.sources, *exported]} | {fit for _, fit in lines}
    found |= {f"order {rule.get('order')}" for rule in rules if case.calls or rule.get("order") == "nearest"}
    found |= {key for rule in [*case.drop, *rules] for key in rule}
    found |= {name for name in ("keep_free", "carried", "rules", "orders") if any(getattr(one, name) for one in case.radios)}
    words = {
        "sum of a table": {"SUMME", "Total: 12", "Sum 1"},
        "end of names": {"Total"},
        "nothing": {"-"},
        "word": {"unknown"},
    }
    words["several ids"] = set(SEVERAL_IDS)
    return found | {kind for kind, of_kind in words.items() if cells & of_kind}


@pytest.mark.long
def test_every_kind_is_drawn() -> None:
    drawn: set[str] = set()

    @settings(
        max_examples=400, derandomize=True, suppress_health_check=list(HealthCheck), phases=[Phase.generate], deadline=None
    )
    @given(cases())
    def draw(case: Case) -> None:
        drawn.update(kinds_in(case))

    draw()
    conditions = "ids callsigns countries neighbours_of hops continents itu_regions states kind list talkgroups sources".split()
    conditions += "heard_within_days heard_at_least within_km route locators at_most one_per_callsign".split()
    wanted = {*SHAPES, *NO_RECORDS, *FITS, "ragged", "export", *conditions}
    wanted |= {"order id", "order recent", "order often", "order nearest", "keep_free", "carried", "rules", "orders"}
    wanted |= {"sum of a table", "end of names", "nothing", "word", "several ids"}
    assert wanted <= drawn


@pytest.mark.long
def test_every_outcome_comes_of_what_is_drawn() -> None:
    found: set[str | None] = set()

    @settings(max_examples=60, derandomize=True, suppress_health_check=CHECKS, phases=[Phase.generate], deadline=None)
    @given(cases())
    def draw(case: Case) -> None:
        for radio in case.radios:
            result = by_sql(case, radio)
            found.update(result.ledger["reason"].to_pylist(), result.ledger["rule"].to_pylist(), result.counts)

    draw()
    wanted = {word for reason, word in REASON_WORDS.items() if reason not in (Reason.NONE, Reason.NO_TALKGROUP)}
    wanted |= {CARRIED, "device suffixes taken off ids", "country names with one wrong letter, forgiven"}
    wanted |= {f"disagreement: {pair}" for pair in ("text against id", "text against call sign", "id against call sign")}
    wanted |= {f"{word}, no rows" for word in ("comments", "repeated headings", "end marks", "blank lines")}
    assert wanted <= found
