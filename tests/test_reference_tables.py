"""The tables in `data/` against a rebuild, and what stands in them against sources that did not make them."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from pruner.reference import build
from pruner.reference.borders import neighbours, within_hops
from pruner.reference.build_names import CLDR, have_sources
from pruner.reference.countries import CODES, NAMES, NUMBERS, find, nearest_names
from pruner.reference.fold import fold
from pruner.reference.numbering import country_of_code
from pruner.reference.regions import continent_members, continent_names, itu_region


def codes(numbers: frozenset[int]) -> set[str]:
    return {CODES[number] for number in numbers}


def test_built_files_equal_a_rebuild(tmp_path: Path) -> None:
    build.build_texts(tmp_path)
    assert len(list(tmp_path.glob("*.tsv"))) == 4
    assert build.differences(tmp_path) == []
    (tmp_path / "borders.tsv").write_text("one\tother\nAT\tJP\n", encoding="utf-8")
    assert build.differences(tmp_path) == ["borders.tsv"]


@pytest.mark.slow
@pytest.mark.skipif(not have_sources(), reason=f"no names of CLDR at {CLDR} (PRUNER_CLDR) or no unicode-cldr-core")
def test_built_names_equal_a_rebuild(tmp_path: Path) -> None:
    build.build_names(tmp_path)
    assert build.differences(tmp_path) == []


@pytest.mark.slow
def test_all_built_files_equal_a_rebuild() -> None:
    assert build.main(["--check"]) == ""  # the names are compared only where the names of CLDR are at hand


def test_build_refuses_unknown_words() -> None:
    assert build.main(["--chekc"]).startswith("usage:")


def test_import_is_light() -> None:
    modules = ["borders", "callsigns", "countries", "geometry", "numbering", "places", "regions", "states"]
    lines = [f"import pruner.reference.{module}" for module in modules]
    lines += ["import sys", "print([m for m in ('polars', 'pandas', 'pycountry') if m in sys.modules])"]
    ran = subprocess.run([sys.executable, "-c", "\n".join(lines)], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


def test_country_numbers() -> None:
    # ISO 3166-1: 249 codes; XK is user-assigned.
    assert len(CODES) == len(NAMES) == 251
    assert CODES[0] == NAMES[0] == ""
    assert list(CODES[1:]) == sorted(CODES[1:])
    assert {code: number for number, code in enumerate(CODES) if number} == NUMBERS


def test_names_against_countryinfo() -> None:
    """No name in the package countryinfo is taken for another country's."""
    from countryinfo import all_countries

    known = 0
    for country in all_countries():
        code, name = country.iso(2), country.name()
        if code in NUMBERS:
            found = CODES[find(name)]
            assert found in (code, ""), name
            known += found == code
    assert known >= 235


@pytest.mark.parametrize(
    ("text", "code"),
    [  # common practice, no source
        (" austria ", "AT"),
        ("ÖSTERREICH", "AT"),
        ("Autriche", "AT"),
        ("aut", "AT"),
        ("U.S.A.", "US"),
        ("United States of America", "US"),
        ("UK", "GB"),
        ("Scotland", "GB"),
        ("The Netherlands", "NL"),
        ("St. Lucia", "LC"),
        ("St Kitts & Nevis", "KN"),
        ("Trinidad & Tobago", "TT"),
        ("Cape Verde", "CV"),
        ("Turkey", "TR"),
        ("Korea, Republic of", "KR"),
        ("U.S. Virgin Islands", "VI"),
        ("Côte D’Ivoire", "CI"),
        ("Россия", "RU"),
        ("Германия", "DE"),
        ("Kosovo", "XK"),
        ("Nowhere", ""),
        ("Austria Hungary", ""),
        ("Austriaa", ""),
        ("Korea", ""),
        ("-", ""),
        ("", ""),
    ],
)
def test_names_in_cells(text: str, code: str) -> None:
    assert CODES[find(text)] == code


def test_every_display_name_is_found() -> None:
    assert [find(name) for name in NAMES[1:]] == list(range(1, len(NAMES)))
    assert [find(code) for code in CODES[1:]] == list(range(1, len(CODES)))


def test_nearest_names_are_display_names() -> None:
    assert nearest_names("Austra")[0] == "Austria"
    assert nearest_names("Argentinia")[0] == "Argentina"
    assert nearest_names("Deutchland")[0] == "Germany"
    assert nearest_names("Frankreych")[0] == "France"
    assert nearest_names("xqzk") == []


def test_fold_does_not_change_what_is_folded() -> None:
    for name in NAMES[1:]:
        assert fold(fold(name)) == fold(name)


def test_mobile_codes_against_mcc_mnc() -> None:
    """Each code of the package mcc-mnc-p1 (E.212) that means one country means the same here."""
    from mcc_mnc_lut.p1_mcc import P1_MCC

    table = country_of_code()
    assert (table.shape, table.dtype) == ((1000,), np.dtype(np.uint8))
    differing = {}
    for code, entry in P1_MCC.items():
        countries = {row["cc2"] for row in (entry if isinstance(entry, list) else [entry])}
        ours = CODES[table[int(code)]]
        if countries != {ours} and not (countries == {None} and not ours):
            differing[code] = (ours, countries)
    # 289 is Abkhazia there, whose code E.212 does not assign; 995 is not national. The rest names also who
    # uses the networks of the country to which the code is assigned.
    users = {"234": "GB", "310": "US", "311": "US", "425": "IL", "505": "AU"}
    not_national = {"289": "", "340": "", "362": "", "647": "", "995": ""}
    assert {code: ours for code, (ours, _) in differing.items()} == users | not_national


@pytest.mark.parametrize(
    ("code", "country"),
    # ITU Operational Bulletins 1117 and 1252; 263, 264, 317, 535: amateur ids, seen only as a quotation.
    [
        (225, "VA"),
        (423, "PS"),
        (221, "XK"),
        (454, "HK"),
        (263, "DE"),
        (264, "DE"),
        (317, "US"),
        (535, "GU"),
        (901, ""),
    ],
)
def test_mobile_codes_beyond_the_package(code: int, country: str) -> None:
    assert CODES[country_of_code()[code]] == country


def test_neighbours_and_hops() -> None:
    assert codes(neighbours(NUMBERS["AT"])) == {"CH", "CZ", "DE", "HU", "IT", "LI", "SI", "SK"}
    assert neighbours(NUMBERS["IS"]) == frozenset()
    assert within_hops([NUMBERS["AT"]], 0) == frozenset()
    assert within_hops([NUMBERS["AT"]], 1) == neighbours(NUMBERS["AT"])
    assert codes(within_hops([NUMBERS["PT"]], 2)) == {"ES", "FR", "AD", "MA", "GI"}
    assert NUMBERS["PT"] not in within_hops([NUMBERS["PT"]], 9)
    both = [NUMBERS["PT"], NUMBERS["ES"]]
    assert codes(within_hops(both, 1)) == {"FR", "AD", "MA", "GI"}


def test_borders_are_symmetric() -> None:
    for number in range(1, len(CODES)):
        assert all(number in neighbours(other) for other in neighbours(number))


def test_regions() -> None:
    assert NUMBERS["AT"] in continent_members("europe")
    assert NUMBERS["AT"] in continent_members("Western Europe")
    assert NUMBERS["TW"] in continent_members("EASTERN ASIA")
    assert continent_members("Atlantis") == frozenset()
    assert {"Africa", "Americas", "Asia", "Europe", "Oceania"} <= set(continent_names())
    # M49 lists 44 countries of Europe with 7 dependent areas; XK is added here.
    assert len(continent_members("Europe")) == 52
    continents = [continent_members(name) for name in ("Africa", "Americas", "Asia", "Europe", "Oceania")]
    assert sum(map(len, continents)) == len(frozenset().union(*continents)) == len(CODES) - 2  # all but AQ


@pytest.mark.parametrize(
    ("code", "region"),
    # ITU RR Nos. 5.2-5.9; Iran is outside Region 1 by No. 5.3 (from memory).
    [
        ("AT", 1),
        ("RU", 1),
        ("MN", 1),
        ("IQ", 1),
        ("KZ", 1),
        ("EG", 1),
        ("BV", 1),
        ("IR", 3),
        ("JP", 3),
        ("TW", 3),
        ("AU", 3),
        ("IO", 3),
        ("TF", 3),
        ("US", 2),
        ("GL", 2),
        ("BR", 2),
        ("AQ", 0),
    ],
)
def test_itu_regions(code: str, region: int) -> None:
    assert itu_region()[NUMBERS[code]] == region
    assert itu_region()[0] == 0
