"""Each condition of a rule, alone and in its edge cases, on a directory small enough to read.

Countries and their regions: ITU Radio Regulations, article 5 (regions 1 to 3); borders and continents (UN M49) as on any map.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any, cast
from unittest import mock

import numpy as np
import polars as pl
import pyarrow as pa
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

import pruner
from pruner.rules import matching
from pruner.rules.contacts import Contacts
from pruner.rules.matching import Rules
from pruner.settings.models import KeepRule
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.table.listed import Listed

#: id, call sign, country, state, town. All invented but the places.
PEOPLE = [
    (2320001, "OE1AAA", "Austria", "Wien", "Wien"),
    (2320002, "OE5BBB", "Austria", "Oberösterreich", "Linz"),
    (232003, "OE5XXX", "Austria", None, "Linz"),
    (2620004, "DL1AAA", "Germany", "Bayern", "München"),
    (2080005, "F4AAA", "France", None, "Paris"),
    (3100006, "K1AAA", "United States", "Texas", "Houston"),
    (3100007, "W5AAA", "United States", "TX", "Dallas"),
    (3100008, "W6AAA", "United States", "CA", "Fresno"),
    (4400009, "JA1AAA", "Japan", None, "Tokyo"),
    (5050010, "VK2AAA", "Australia", "New South Wales", "Sydney"),
    (2730011, None, None, None, None),
]
COLUMNS = ("DMR ID", "Callsign", "Country", "State", "City")
FRAME = pl.DataFrame(PEOPLE, schema=list(COLUMNS), orient="row").with_columns(Name=pl.lit("Kelmar"))
CLUB = pl.DataFrame({"DMR ID": [2620004, 9990001], "Callsign": ["DL1AAA", "X1AA"], "Name": ["Bela", "Iwo"]})


def numbers(directories: Any = FRAME, **conditions: Any) -> list[int]:
    """The ids that a rule with these conditions keeps, by what stands behind their first digits."""
    fit = pruner.fit(
        directories,
        rules=[pruner.Keep(name="rule", **conditions)],
        radio=pruner.Radio(contacts=99),
        home=pruner.Home("AT", "JN78dh"),  # Linz
    )
    return sorted(number % 10_000 if number > 999_999 else number % 1000 for number in fit.kept["id"].to_list())


@pytest.mark.parametrize(
    ("conditions", "kept"),
    [
        ({}, [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]),
        ({"ids": [2320002, 4400009, 77]}, [2, 9]),
        ({"ids": [2320001]}, [1]),
        ({"ids": [2730011, 16_777_215]}, [11]),
        ({"callsigns": ["OE*"]}, [1, 2, 3]),
        ({"callsigns": ["oe?aaa", "K1AAA"]}, [1, 6]),
        ({"callsigns": ["?1AAA"]}, [6]),
        ({"callsigns": ["E1AAA", "OE1AA"]}, []),
        ({"countries": ["home"]}, [1, 2, 3]),
        ({"countries": ["France", "JP"]}, [5, 9]),
        ({"neighbours_of": ["home"]}, [4]),
        ({"neighbours_of": ["home"], "hops": 2}, [4, 5]),
        ({"neighbours_of": ["AU"]}, []),
        ({"continents": ["Europe"]}, [1, 2, 3, 4, 5]),
        ({"continents": ["Asia", "Oceania"]}, [9, 10]),
        ({"itu_regions": [1]}, [1, 2, 3, 4, 5]),
        ({"itu_regions": [2]}, [6, 7, 8]),
        ({"itu_regions": [3, 2]}, [6, 7, 8, 9, 10]),
        ({"states": ["texas"]}, [6, 7]),
        ({"states": ["US-TX"]}, [6, 7]),
        ({"states": [" wien "]}, [1]),
        ({"states": ["Wien", "Bayern"]}, [1, 4]),
        ({"states": ["nowhere"]}, []),
        ({"within_km": 1}, [2, 3]),
        ({"within_km": 200}, [1, 2, 3]),
        ({"within_km": 250}, [1, 2, 3, 4]),
        ({"within_km": 30, "locators": ["JN88ee", "JN18eu"]}, [1, 5]),
        ({"kind": "person"}, [1, 2, 4, 5, 6, 7, 8, 9, 10, 11]),
        ({"kind": "repeater"}, [3]),
        ({"kind": "other"}, []),
        ({"talkgroups": [262]}, [4]),
        ({"talkgroups": [2321, 208]}, [1, 2, 3, 5]),
        ({"talkgroups": [91]}, []),
        ({"talkgroups": [262], "heard_at_least": 1}, []),
        ({"heard_within_days": 30}, []),
        ({"countries": ["AT"], "kind": "person"}, [1, 2]),
        ({"countries": ["AT"], "callsigns": ["DL*"]}, []),
    ],
)
def test_a_condition(conditions: dict[str, Any], kept: list[int]) -> None:
    assert numbers(**conditions) == kept


@pytest.mark.parametrize("long", [1, 1 << 30])
def test_short_and_long_lists_of_ids_match_alike(long: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(matching, "_LONG_LIST", long)
    assert numbers(ids=[2320001, 2320001, 2730011, 5050010, 1, 16_777_215]) == [1, 10, 11]


def contacts_of(number: list[int], system: list[int] | None = None) -> Contacts:
    some = np.zeros(len(number), dtype=np.uint8)
    systems = some if system is None else np.array(system, dtype=np.uint8)
    return Contacts(np.array(number, dtype=np.uint32), systems, some, some, some, cast("Any", None))


@pytest.mark.parametrize("is_long", [False, True])
def test_ids_at_the_edges_of_what_is_looked_up(is_long: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """The lowest and the highest address there can be; what lies outside is nobody's."""
    monkeypatch.setattr(matching, "_LONG_LIST", 0 if is_long else 9)
    contacts = contacts_of([0, 7, 0xFFFFFF, 7, 0xFFFFFE], [0, 0, 0, 2, 2])
    for ids, expected in (
        ([0], [True, False, False, False, False]),
        ([7], [False, True, False, True, False]),
        ([0xFFFFFF], [False, False, True, False, False]),
        ([-1, 1 << 24, (1 << 32) + 7], [False] * 5),
        ([0xFFFFFF, 0, 0, 0xFFFFFE], [True, False, True, False, True]),
    ):
        assert matching._in_ids(contacts, np.array(ids, dtype=np.int64)).tolist() == expected


@pytest.mark.parametrize(("ids", "is_dense"), [(20_000, False), (20_001, True)])
def test_only_a_long_list_is_looked_up_in_an_array_of_all_addresses(ids: int, is_dense: bool) -> None:
    with mock.patch.object(matching.np, "searchsorted", side_effect=np.searchsorted) as searched:
        assert matching._in_ids(contacts_of([3, 30_000]), np.arange(ids)).tolist() == [True, False]
    assert (searched.call_count == 0) is is_dense


@pytest.mark.parametrize(("first", "last", "kept"), [(5, 7, [5, 6, 7]), (6, 6, [6]), (8, 9, [8]), (1, 4, [])])
def test_both_ends_of_a_range_are_in_it(first: int, last: int, kept: list[int]) -> None:
    listed = Listed(np.zeros(0, dtype=np.uint32), frozenset(), ranges=((first, last),))
    mask = matching._in_list(contacts_of([5, 6, 7, 8]), listed)
    assert np.array([5, 6, 7, 8])[mask].tolist() == kept


@pytest.mark.parametrize(("metres", "is_near"), [(29_999, True), (30_000, True), (30_001, False)])
def test_a_contact_at_the_very_distance_is_within_it(metres: int, is_near: bool, tmp_path: Path) -> None:
    settings = short_settings([tmp_path / "stations.csv"], ShortForm(9, country="AT"))
    rule = KeepRule(name="near", within_km=30)
    contacts = contacts_of([5])
    with mock.patch.object(Contacts, "metres", return_value=np.array([float(metres)])):
        assert Rules(contacts, settings, {}, {}).mask(rule).tolist() == [is_near]


def test_masks_are_made_once_where_they_are_remembered(tmp_path: Path) -> None:
    """With other calls those stay that no call decides."""
    settings = short_settings([tmp_path / "stations.csv"], ShortForm(9, country="AT"))
    ids, heard = KeepRule(name="ids", ids=[5]), KeepRule(name="heard", heard_within_days=9)
    settings = settings.model_copy(update={"keep": (ids, heard)})
    contacts = contacts_of([5, 6])
    for remember in (False, True):
        rules = Rules(contacts, settings, {}, {}, remember=remember)
        masks = {rule.name: rules.mask(rule) for rule in settings.keep}
        other = rules.with_calls(contacts)
        assert [rules.mask(rule) is masks[rule.name] for rule in settings.keep] == [remember] * 2
        assert [other.mask(rule) is masks[rule.name] for rule in settings.keep] == [remember, False]
        assert (other.mask(heard) is other.mask(heard)) is remember


def test_an_id_matches_in_every_system(tmp_path: Path) -> None:
    (tmp_path / "p25.csv").write_text("Radio ID,Callsign,Name\n7,OE1AAA,Kelmar\n2320001,OE1AAA,Kelmar\n9000000,G7AAA,Iwo\n")
    p25 = pruner.Source(name="p25", location=str(tmp_path / "p25.csv"), system="p25", columns={"id": "Radio ID"})
    fit = pruner.fit([FRAME, p25], rules=[pruner.Keep(ids=[2320001, 2620004, 7])], radio=pruner.Radio(contacts=9))
    kept = fit.ledger.filter(pl.col("outcome") == "kept").select(pl.col("system").cast(pl.String), "id")
    assert kept.rows() == [("dmr", 2320001), ("dmr", 2620004), ("p25", 7), ("p25", 2320001)]


def test_a_list_holds_ids_ranges_patterns_and_call_signs(tmp_path: Path) -> None:
    path = tmp_path / "members.txt"
    for text, kept in (
        ("2320001\n", [1]),
        ("JA1AAA\n", [9]),
        ("2620000-2629999\n", [4]),
        ("VK*\n", [10]),
        ("2320001\nF4AAA\nW?AAA\n5050000-5059999\n", [1, 5, 7, 8, 10]),
    ):
        path.write_text(text)
        assert numbers(list=str(path)) == kept


def test_sources() -> None:
    both = {"club": CLUB, "world": FRAME}
    assert numbers(both, sources=["club"]) == [1, 4]
    assert numbers(both, sources=["world"]) == [1, 2, 3, 5, 6, 7, 8, 9, 10, 11]
    assert numbers(both, sources=["world", "club"], countries=["DE"]) == [4]


def test_drop_rules_go_first_and_the_first_keep_rule_owns() -> None:
    fit = pruner.fit(
        FRAME,
        rules=[
            pruner.Keep(name="home", countries=["home"]),
            pruner.Drop(name="repeaters", kind="repeater"),
            pruner.Drop(name="upper", states=["Oberösterreich"]),
            pruner.Keep(name="europe", continents=["Europe"]),
        ],
        radio=pruner.Radio(contacts=99),
        home=pruner.Home("AT"),
    )
    owned = dict(fit.ledger.select("id", pl.col("rule").cast(pl.String)).iter_rows())
    assert owned == {
        2320001: "home",
        2320002: "upper",
        232003: "repeaters",
        2620004: "europe",
        2080005: "europe",
        **dict.fromkeys([3100006, 3100007, 3100008, 4400009, 5050010, 2730011]),
    }
    rules = {rule.name: (rule.matched, rule.owned, rule.kept) for rule in fit.summary.rules}
    assert rules == {"home": (3, 1, 1), "europe": (5, 2, 2)}
    assert [(rule.name, rule.matched) for rule in fit.summary.drop_rules] == [("repeaters", 1), ("upper", 1)]


@pytest.mark.parametrize(
    ("order", "home", "first"),
    [
        ("id", pruner.Home(), [232003, 2080005, 2320001]),
        ("nearest", pruner.Home(locator="PM95uq"), [4400009, 5050010, 3100008]),
        (None, pruner.Home(locator="PM95uq"), [4400009, 5050010, 3100008]),
        (None, pruner.Home("AU"), [5050010, 4400009]),
        (None, pruner.Home(), [232003, 5050010, 2620004, 2080005, 4400009, 3100006, 2730011, 2320001]),
    ],
)
def test_who_stands_first_without_calls(order: Any, home: pruner.Home, first: list[int]) -> None:
    """Tokyo to Sydney 7,800 km, to Fresno 8,500, to München 9,400 (any globe); in turns countries stand by their codes, the
    unknown one last."""
    rule = pruner.Keep() if order is None else pruner.Keep(order=order)
    ledger = pruner.fit(FRAME, rules=[rule], radio=pruner.Radio(contacts=1), home=home).ledger
    assert ledger.sort("rank")["id"].to_list()[: len(first)] == first


SIGNS = ("OE1A", "OE1B", "K1C", "ZZ9Z")


@draws(60)
@given(
    borne=st.lists(
        st.tuples(st.integers(0, 2), st.integers(1, 40), st.sampled_from([None, "OE1A", "OE1B", "K1C"])), max_size=30
    ),
    ids=st.lists(st.integers(1, 40), unique=True, max_size=20),
    signs=st.sets(st.sampled_from(SIGNS)),
)
def test_entries_that_nobody_bears_are_those_outside_of_the_set_of_all(
    borne: list[tuple[int, int, str | None]], ids: list[int], signs: set[str]
) -> None:
    rows = sorted({(system, number): sign for system, number, sign in borne}.items())
    system, number = (np.array([key[place] for key, _ in rows]) for place in (0, 1))
    nothing = np.zeros(len(rows), dtype=np.uint8)
    contacts = Contacts(number.astype(np.uint32), system.astype(np.uint8), nothing, nothing, nothing, texts=None)  # type: ignore[arg-type]
    contacts.callsign = pa.array([sign for _, sign in rows], pa.string())
    listed = Listed(np.array(sorted(ids), dtype=np.uint32), frozenset(signs))
    held = [entry for entry in listed.ids.tolist() if entry not in number.tolist()]
    assert matching.not_borne(contacts, listed) == [*sorted(signs - {sign for _, sign in rows}), *map(str, held)]
