"""The invented worlds by which choices and forecasts are judged: what each nature has, and that the tool reads them so."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from benchmarks.world_countries import COUNTRIES, Country
from benchmarks.world_people import towns
from benchmarks.worlds import FIRST_DAY, LATER_DAYS, NATURES, World, locator_of, make_world
from pruner.job.load import load
from pruner.logs.fold import fold_all
from pruner.reference import callsigns, countries
from pruner.reference.geometry import distance_metres, locator_centre
from pruner.reference.numbering import country_of_code
from pruner.settings.load import load_settings

pytestmark = pytest.mark.long

CONTACTS, DAYS = 12_000, 90


@cache
def world(nature: str, seed: int = 1) -> World:
    return make_world(nature, CONTACTS, DAYS, seed)


@pytest.mark.parametrize("country", COUNTRIES, ids=lambda one: one.code)
def test_codes_and_call_signs_are_those_of_the_country(country: Country) -> None:
    """The tool's tables, which other tests hold to the lists of the ITU."""
    assert {int(country_of_code()[code]) for code in country.id_codes} == {countries.NUMBERS[country.code]}
    for beginning in country.beginnings:
        assert countries.CODES[callsigns.country_of(f"{beginning}1ABC")] == country.code


@pytest.mark.parametrize("nature", NATURES)
def test_the_same_arguments_give_the_same_world_and_another_seed_another(nature: str) -> None:
    again = make_world(nature, CONTACTS, DAYS, 1)
    assert world(nature).log.frame(0).equals(again.log.frame(0))
    assert world(nature).directory.frame().equals(again.directory.frame())
    assert (world(nature).mine, world(nature).home) == (again.mine, again.home)
    assert not world(nature).log.frame(0).equals(world(nature, 2).log.frame(0))


@pytest.mark.parametrize("nature", NATURES)
def test_a_log_has_calls_of_listed_ids_on_all_its_days_and_the_later_ones(nature: str) -> None:
    one = world(nature)
    assert (np.diff(one.log.second) >= 0).all()
    assert set(np.unique(one.log.day)) == set(range(DAYS + LATER_DAYS))
    place = np.searchsorted(one.directory.id, one.log.id)
    assert (one.directory.id[place] == one.log.id).all()
    assert (one.directory.issued[place] <= one.log.day + 1).all()
    assert len(np.unique(one.directory.id)) == len(one.directory)
    assert one.calls(DAYS, DAYS + LATER_DAYS).day.min() == DAYS


def test_activity_is_steep_and_few_of_all_are_heard() -> None:
    for nature in NATURES:
        calls = world(nature).calls(0, DAYS)
        ids, count = np.unique(calls.id, return_counts=True)
        assert 0.01 < len(ids) / CONTACTS < 0.12
        assert np.sort(count)[::-1][: len(ids) // 10].sum() > 0.25 * len(calls)


def test_nobody_leaves_a_steady_world_and_many_leave_where_there_is_churn() -> None:
    def still_there(nature: str) -> float:
        shares = []
        for seed in (1, 2, 3):
            one = world(nature, seed)
            ids, count = np.unique(one.calls(0, 30).id, return_counts=True)
            shares.append(np.isin(ids[count >= 20], one.calls(DAYS, DAYS + LATER_DAYS).id).mean())
        return float(np.mean(shares))

    assert still_there("steady") > 0.85
    assert still_there("churn") < 0.75


def test_ids_are_issued_during_and_after_the_log_only_where_the_nature_says_so() -> None:
    for nature in NATURES:
        one = world(nature)
        later = len(one.directory) - len(one.listed(DAYS))
        assert (later > 0) == (nature in ("churn", "correlated", "everything"))
        future = one.calls(DAYS, DAYS + LATER_DAYS)
        unlisted = ~np.isin(future.id, one.directory.id[one.listed(DAYS)])
        assert unlisted.any() == (later > 0)


def test_ids_rise_with_the_day_on_which_they_were_issued() -> None:
    directory = world("everything").directory
    germany = [one.code for one in COUNTRIES].index("DE")
    block = directory.state[(directory.country == germany) & ~directory.repeater]
    issued = directory.issued[(directory.country == germany) & ~directory.repeater]
    whole = np.corrcoef(np.arange(len(issued)), issued)[0, 1]
    by_state = [np.corrcoef(np.arange((block == one).sum()), issued[block == one])[0, 1] for one in np.unique(block)]
    assert max(whole, min(by_state)) > 0.9


def test_contest_weekends_stand_out_of_the_days() -> None:
    def peak(nature: str) -> float:
        per_week = np.bincount(world(nature).calls(0, DAYS).day // 7)[:12]
        return float(per_week.max() / np.median(per_week))

    assert peak("events") > 1.5
    assert peak("steady") < 1.3


def test_the_publics_of_an_audience_differ() -> None:
    one = world("audience")
    public = [talkgroup for talkgroup in one.mine if talkgroup > 70_000]
    callers = [set(one.log.id[one.log.talkgroup == talkgroup].tolist()) for talkgroup in public]
    assert len(callers[0] | callers[1]) > 50
    assert len(callers[0] & callers[1]) < 0.1 * min(len(ids) for ids in callers)


def test_several_ids_bear_one_call_sign() -> None:
    share = {nature: 1 - len(set(world(nature).directory.callsign)) / len(world(nature).directory) for nature in NATURES}
    assert share["everything"] > 0.15
    assert all(0.02 < value < 0.06 for nature, value in share.items() if nature != "everything")


def test_the_tool_reads_a_world_as_it_is(tmp_path: Path) -> None:
    one = world("everything")
    settings = load_settings(one.write(tmp_path))
    total = fold_all(settings).total.plain()
    log = one.calls(0, DAYS, mine=False)
    assert total["folded"] == total["read"] == len(log)
    loaded = load(settings)
    rows = one.listed(DAYS)
    assert loaded.contacts.number.tolist() == one.directory.id[rows].tolist()
    codes = np.array([countries.NUMBERS[country.code] for country in COUNTRIES])
    assert (loaded.contacts.country == codes[one.directory.country[rows]]).all()
    assert loaded.calls is not None
    assert loaded.calls.stores["dmr"].last_day == FIRST_DAY + DAYS - 1
    # Towns are found where they are, but for some of a name that a larger town of the country bears.
    known, town = towns(), one.directory.town[rows]
    metres = distance_metres(*loaded.contacts.home, known.latitude[town], known.longitude[town])  # type: ignore[misc]
    assert (np.abs(metres - loaded.contacts.metres()) < 1_000).mean() > 0.97


@pytest.mark.parametrize(("latitude", "longitude"), [(48.14666, 11.60833), (-34.91, -56.21166), (38.92, -77.065)])
def test_locators_lie_around_their_place(latitude: float, longitude: float) -> None:
    """Places of the examples of E. T. Tyson, QST January 1989 (JN58td, GF15vc, FM18lw)."""
    there = {48.14666: "JN58td", -34.91: "GF15vc", 38.92: "FM18lw"}[latitude]
    assert locator_of(latitude, longitude) == there
    assert distance_metres(*locator_centre(there), latitude, longitude) < 6_000
