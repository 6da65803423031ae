"""Country cells: a list of spellings, the names of CLDR in all languages, states, mended text, one wrong letter."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pyarrow as pa
import pycountry
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.place.country import TEXT, place, states
from pruner.reference import countries, names
from pruner.reference.build_names import _PART_OF, CLDR, territories
from pruner.reference.fold import fold, fold_marked
from pruner.reference.states import code_of

SPELLINGS = Path(__file__).parent / "golden" / "countries" / "spellings.tsv"

#: Abbreviations of CLDR that are the ISO 3166-1 code of another country: the code is meant.
CODES_MEANT = {"GT", "RU", "SA", "AS", "KM", "SJ"}


def code(text: str) -> str:
    return countries.CODES[countries.find(text)]


def test_spellings_in_many_languages() -> None:
    """Common practice, no source: 880 spellings, most of them in 60 languages, and cells that name no country."""
    lines = [line.split("\t") for line in SPELLINGS.read_text(encoding="utf-8").split("\n")[1:-1]]
    outcome: Counter[str] = Counter()
    for text, wanted, _ in lines:
        number, state = countries.read(text)
        found = state or countries.CODES[number]
        outcome["right" if found == wanted else "unknown" if not found else f"wrong: {text} is {found}"] += 1
    assert set(outcome) <= {"right", "unknown"}
    assert len(lines) > 850
    assert outcome["right"] >= 0.99 * len(lines)


@pytest.mark.skipif(not (CLDR / "main").is_dir(), reason=f"no names of CLDR at {CLDR} (PRUNER_CLDR)")
def test_names_of_cldr() -> None:
    """Unicode CLDR 48.2.0, npm package cldr-localenames-full: no name is taken for another country's."""
    named = {(_PART_OF.get(territory, territory)[:2], name) for _, territory, name, _ in territories()}
    named = {(wanted, name) for wanted, name in named if wanted in countries.NUMBERS}
    found = {name: code(name) for _, name in named}
    assert {name for wanted, name in named if found[name] not in ("", wanted)} <= CODES_MEANT
    unknown = Counter(wanted for wanted, name in named if not found[name])
    assert sum(unknown.values()) < 0.003 * len(named), unknown


@pytest.mark.parametrize("text", ["Áo", "Bỉ", "Mỹ", "ÄT", "ĐE", "Ít"])
def test_codes_are_plain_letters(text: str) -> None:
    """Vietnamese names of Austria, Belgium and the United States (CLDR 48), and codes with accents."""
    assert code(text) == {"Áo": "AT", "Bỉ": "BE", "Mỹ": "US"}.get(text, "")


def test_accents_are_no_vowel_signs() -> None:
    assert fold("Ελλάδα É ё ạ̈") == "ελλαδα e е a"
    for text in ("ශ්රී", "ប្រទេស", "ਟੋਂਗਾ", "ไทย", "ガーナ", "한국", "ভারত"):  # Unicode: marks that are vowels or voicing
        assert fold(text) == fold_marked(text) == text
    assert code("ටොංගා") == "TO"  # CLDR 48, si: Tonga; without its signs it would be Togo


@given(st.text(max_size=12))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@pytest.mark.parametrize("text", ["Congo", "Kongo", "Korea", "Virgin Islands", "Конго", "Limburg", "Florida", "Nga"])
def test_names_of_two_countries_are_none(text: str) -> None:
    assert countries.find(text) == 0


@given(st.sampled_from(sorted(countries.NAMES[1:])), st.sampled_from(["cp1252", "cp1251", "cp437", "mac_roman"]))
def test_any_mistaken_utf_8_is_mended(name: str, encoding: str) -> None:
    try:
        mistaken = name.encode("utf-8").decode(encoding)
    except UnicodeError:
        return
    assert countries.NAMES[countries.find(mistaken)] == name


def test_any_flag_is_a_country() -> None:
    """UTS #51: two regional indicators; for England, Scotland and Wales a black flag with tags."""
    for alpha_2, number in countries.NUMBERS.items():
        flag = "".join(chr(0x1F1E6 + ord(letter) - ord("A")) for letter in alpha_2)
        assert countries.find(flag) == countries.find(f"{flag} {countries.NAMES[number]}") == number
    assert code("🇿🇿") == ""


def test_numeric_codes() -> None:
    """ISO 3166-1: 040 is Austria, 840 the United States; 232 is Eritrea and, as a mobile country code, Austria."""
    found = [countries.CODES[countries.of_numeric(text)] for text in ("040", " 840 ", "232", "40", "", "999")]
    assert found == ["AT", "US", "ER", "", "", ""]
    assert countries.find("040") == 0


@pytest.mark.parametrize("text", ["x" * 100_000, "(" * 100_000, "Ã" * 100_000, "🇦" * 9_999, "&;" * 50_000])
def test_long_cells_are_unknown_at_once(text: str) -> None:
    assert countries.find(text) == 0
    assert not names.nearly_names(text, "AT")


def test_states_by_names_of_other_languages() -> None:
    found = [
        code_of(countries.NUMBERS[alpha_2], text) for alpha_2, text in (("IT", "Sicily"), ("DE", "Bavaria"), ("FR", "Sicily"))
    ]
    assert found == ["IT-82", "DE-BY", ""]


def test_states_are_no_countries() -> None:
    assert [countries.is_country(text) for text in ("Austria", "AT", "Tirol", "Bavaria, Germany", "Congo", "")] == [
        *(True, True, False, False, False, False)
    ]


def coded(*texts: str | None) -> pa.DictionaryArray:
    return pa.array(texts, pa.string()).dictionary_encode()


def test_one_wrong_letter_is_forgiven_where_other_evidence_agrees() -> None:
    text = coded("Germnay", "Germnay", "Germnay", "Gernany", "Germny", "Gemrnay", "Germany", None, "Irak ", "Conga")
    number = np.array([2621234, 3101234, 3101234, 2621234, 2621234, 2621234, 3101234, 2621234, 4321234, 6291234], np.uint32)
    callsign = pa.array(["OE1ABC", "DL1ABC", "K1ABC", None, None, None, None, None, None, None], pa.string())
    placed = place(text, number, callsign, np.ones(10, dtype=bool), "dmr")
    found = [countries.CODES[number] for number in placed.country]
    assert found == ["DE", "DE", "US", "DE", "DE", "DE", "DE", "DE", "IQ", "CG"]
    assert [evidence == TEXT for evidence in placed.evidence] == [
        True,
        True,
        False,
        True,
        True,
        False,
        True,
        False,
        True,
        False,
    ]
    assert placed.forgiven == 4


def test_the_country_cell_fills_an_empty_state() -> None:
    text = coded("Alaska", "Alaska", "Bavaria, Germany", "Florida", "Florida", "Austria", None)
    country = np.array([countries.NUMBERS[c] for c in ("US", "US", "DE", "US", "UY", "AT", "AT")], dtype=np.uint8)
    state = states(coded(None, "Kept", " ", None, None, None, "Tirol"), text, country)
    assert state is not None
    assert state.to_pylist() == ["Alaska", "Kept", "Bavaria", "Florida", "Florida", None, "Tirol"]
    alone = states(None, coded("Sicily", "Austria"), np.array([countries.NUMBERS["IT"], 0], dtype=np.uint8))
    assert alone is not None
    assert alone.to_pylist() == ["Sicily", None]
    assert states(None, coded("Austria"), country[:1]) is None


def test_no_name_of_a_country_names_a_state() -> None:
    """Mexico and Luxembourg are also names of their own parts (ISO 3166-2)."""
    for number, name in enumerate(countries.NAMES[1:], start=1):
        alpha_2 = countries.CODES[number]
        for text in (name, f"{name} ({alpha_2})", f"{alpha_2} - {name}", alpha_2):
            assert countries.read(text) == (number, "")
            assert names.state_in(text, alpha_2) == ""


def test_no_english_name_of_iso_3166_is_another_countrys() -> None:
    """pycountry (Debian's iso-codes): names, common and formal names of ISO 3166-1, which the table was not made from."""
    kinds = ("name", "common_name", "official_name")
    named = [(c.alpha_2, getattr(c, kind)) for c in pycountry.countries for kind in kinds if hasattr(c, kind)]
    assert len(named) > 400
    assert {(wanted, name) for wanted, name in named if code(name) != wanted} == {("CG", "Congo")}  # two bear it
