"""Call sign series against an independent prefix list, and the vectorised look-up against a plain one."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.reference.callsigns import country_of, country_of_callsigns
from pruner.reference.countries import CODES, NUMBERS, find
from pruner.reference.tables import rows

PREFIX_LIST = Path("/usr/share/hamradio-files/cty.dat")

# Entities of the prefix list that are no country of ISO 3166-1 by that name: what their prefixes mean here.
ENTITIES = {
    "Agalega & St. Brandon": "MU", "Rodriguez Island": "MU", "Annobon Island": "GQ", "West Malaysia": "MY",
    "East Malaysia": "MY", "Dem. Rep. of the Congo": "CD", "Pratas Island": "TW",
    "San Felix & San Ambrosio": "CL", "Easter Island": "CL", "Juan Fernandez Islands": "CL",
    "Madeira Islands": "PT", "Sable Island": "CA", "St. Paul Island": "CA", "Fed. Rep. of Germany": "DE",
    "South Cook Islands": "CK", "Ceuta & Melilla": "ES", "Glorioso Islands": "TF",
    "Juan de Nova, Europa": "TF", "Tromelin Island": "TF", "Crozet Island": "TF", "Kerguelen Islands": "TF",
    "Amsterdam & St. Paul Is.": "TF", "Temotu Province": "SB", "Galapagos Islands": "EC",
    "San Andres & Providencia": "CO", "Malpelo Island": "CO", "Republic of Korea": "KR",
    "African Italy": "IT", "Sardinia": "IT", "Sicily": "IT", "Ogasawara": "JP", "Guantanamo Bay": "US",
    "Baker & Howland Islands": "UM", "Johnston Island": "UM", "Midway Island": "UM",
    "Palmyra & Jarvis Islands": "UM", "Hawaii": "US", "Kure Island": "US", "Wake Island": "UM",
    "Alaska": "US", "Navassa Island": "UM", "Desecheo Island": "PR", "Market Reef": "AX",
    "DPR of Korea": "KP", "Saba & St. Eustatius": "BQ", "Fernando de Noronha": "BR",
    "St. Peter & St. Paul": "BR", "Trindade & Martim Vaz": "BR", "Franz Josef Land": "RU",
    "Dodecanese": "GR", "Crete": "GR", "Western Kiribati": "KI", "Central Kiribati": "KI",
    "Eastern Kiribati": "KI", "Banaba Island": "KI", "Asiatic Turkey": "TR", "European Turkey": "TR",
    "Cocos Island": "CR", "Corsica": "FR", "European Russia": "RU", "Kaliningrad": "RU",
    "Asiatic Russia": "RU", "Lord Howe Island": "AU", "Mellish Reef": "AU", "Willis Island": "AU",
    "South Georgia Island": "GS", "South Sandwich Islands": "GS", "Chagos Islands": "IO",
    "Andaman & Nicobar Is.": "IN", "Lakshadweep Islands": "IN", "Revillagigedo": "MX", "Aves Island": "VE",
    "UK Base Areas on Cyprus": "GB", "Tristan da Cunha & Gough": "SH", "Tokelau Islands": "TK",
    "Chatham Islands": "NZ", "Kermadec Islands": "NZ", "N.Z. Subantarctic Is.": "NZ",
    "Pr. Edward & Marion Is.": "ZA",
}  # fmt: skip

# Entities without one country: an order, disputed reefs, the Antarctic (stations use the prefixes of their
# own country).
NO_COUNTRY = {"Sov Mil Order of Malta", "Spratly Islands", "Antarctica", "South Shetland Islands"}

# Prefixes on which the list and the table differ, by kind.
DIFFERENT = {
    "outside any series of ITU RR Appendix 42, or taken out of use: unknown here": "S0 Z6 H5 S4 V9 23C L1 4U".split(),
    "a letter that is shared by four states says nothing without what follows it": ["U"],
    "split at the third character (SSA-SSM Egypt, SSN-SSZ Sudan): the bare two mean neither": ["SS"],
    "series of the state, which the list gives to one station or territory": ["NLD", "KL9K", "TW"],
    "Australia tells its external territories apart by the letter behind the digit; any other letter is Australia": [
        *("AX9", "VI9", "VK9"),
    ],
    "prefixes of five characters: four are looked at": ["VK9FC", "VK9FX", "VK9KC", "VK9KX", "VK9ZY"],
}


def listed_prefixes() -> list[tuple[str, str]]:
    """Entity and prefix of each entry that is no single call sign."""
    found = []
    for entry in filter(str.strip, PREFIX_LIST.read_text(encoding="ascii").split(";")):
        fields = [field.strip() for field in entry.split(":")]
        for alias in re.sub(r"\s", "", fields[8]).split(","):
            if not alias.startswith("="):
                found.append((fields[0], re.sub(r"[(\[<{~].*", "", alias)))
    return found


def differences(signs: list[tuple[str, str, str]]) -> dict[str, list[str]]:
    """Prefix -> what is unlike the list, of triples of prefix, call sign and country in the list."""
    found: dict[str, list[str]] = {}
    for prefix, sign, country in signs:
        if CODES[country_of(sign)] != country:
            found.setdefault(prefix, []).append(sign)
    return found


def listed_countries() -> dict[str, str]:
    return {
        prefix: ENTITIES.get(entity) or CODES[find(entity)] for entity, prefix in listed_prefixes() if entity not in NO_COUNTRY
    }


@pytest.mark.skipif(not PREFIX_LIST.is_file(), reason=f"{PREFIX_LIST} is not there (Debian package hamradio-files)")
def test_series_against_the_prefix_list() -> None:
    listed = listed_countries()
    found = differences([(prefix, prefix, country) for prefix, country in listed.items()])
    assert set(found) == {prefix for kind in DIFFERENT.values() for prefix in kind}
    assert len(listed) > 5_000


@pytest.mark.skipif(not PREFIX_LIST.is_file(), reason=f"{PREFIX_LIST} is not there (Debian package hamradio-files)")
def test_call_signs_against_the_prefix_list() -> None:
    """Call signs made of each prefix; the list means the country of the longest prefix that a call sign begins with."""
    listed = listed_countries()
    no_country = {prefix for entity, prefix in listed_prefixes() if entity in NO_COUNTRY}
    signs = []
    for prefix in listed:
        for ending in ("AB", "QRZ") if prefix[-1].isdigit() else ("1AB", "9QR"):
            sign = prefix + ending
            longest = max(
                (sign[:end] for end in range(1, len(sign)) if sign[:end] in listed or sign[:end] in no_country), key=len
            )
            if longest in listed:
                signs.append((longest, sign, listed[longest]))
    found = differences(signs)
    explained = {prefix for kind in DIFFERENT.values() for prefix in kind}
    assert set(found) <= explained, {prefix: found[prefix] for prefix in set(found) - explained}
    assert len(signs) > 10_000
    assert sum(map(len, found.values())) < 0.005 * len(signs)


@pytest.mark.parametrize(
    ("callsign", "code"),
    # ITU RR Appendix 42; territories: common practice, no source.
    [
        ("OE1XYZ", "AT"),
        ("G4ABC", "GB"),
        ("2E0ABC", "GB"),
        ("GM4ABC", "GB"),
        ("GW4ABC", "GB"),
        ("GI4ABC", "GB"),
        ("GD4ABC", "IM"),
        ("MT0ABC", "IM"),
        ("GJ4ABC", "JE"),
        ("GU4ABC", "GG"),
        ("GP4ABC", "GG"),
        ("K1A", "US"),
        ("KH6AB", "US"),
        ("KP4AB", "PR"),
        ("VP8ABC", "FK"),
        ("OH0AB", "AX"),
        ("OH2AB", "FI"),
        ("CT3AB", "PT"),
        ("3DA0AB", "SZ"),
        ("3D2AB", "FJ"),
        ("SSA1A", "EG"),
        ("SSN1A", "SD"),
        ("BV2AB", "TW"),
        ("B1AB", "CN"),
        ("PJ2AB", "CW"),
        ("PJ4AB", "BQ"),
        ("XX9AB", "MO"),
        ("VR2AB", "HK"),
        ("HB0AB", "LI"),
        ("HB9AB", "CH"),
        ("U1AB", "RU"),
        ("U5AB", "UA"),
        ("UT5AB", "UA"),
        ("UN7AB", "KZ"),
        ("VZ9YAB", "CC"),
        ("1A0AB", ""),
        ("4U1UN", ""),
        ("Q1AB", ""),
        ("Z61AB", ""),
        ("", ""),
        ("É1AB", ""),
        ("oe1xyz", ""),
    ],
)
def test_known_call_signs(callsign: str, code: str) -> None:
    assert CODES[country_of(callsign)] == code


def plain_country(callsign: str | None) -> int:
    """The look-up in words: the longest range in the table that the call sign begins with."""
    found = (0, 0)
    for first, last, code in rows("callsigns.tsv"):
        start = (callsign or "")[: len(first)]
        inside = len(start) == len(first) and start[:-1] == first[:-1] and first[-1] <= start[-1] <= last[-1]
        if inside and len(first) > found[0]:
            found = (len(first), NUMBERS[code])
    return found[1]


@given(
    st.lists(st.none() | st.text("ABDGHKPVX0289é/-", max_size=7), max_size=12),
    st.integers(0, 3),
    st.sampled_from([pa.string(), pa.large_string()]),
)
def test_look_up_equals_a_plain_one(callsigns: list[str | None], skipped: int, kind: pa.DataType) -> None:
    values = pa.array(callsigns, kind).slice(skipped)
    numbers = country_of_callsigns(values)
    assert numbers.dtype == np.uint8
    assert numbers.tolist() == [plain_country(callsign) for callsign in callsigns[skipped:]]


def test_pieces_join() -> None:
    callsigns = [f"{prefix}{digit}AB"[: 2 + digit] for prefix in ("OE", "G", "KP", "VP", "3D") for digit in range(5)]
    values = pa.array(callsigns * 6_000)
    expected = np.tile([plain_country(callsign) for callsign in callsigns], 6_000)
    assert np.array_equal(country_of_callsigns(values), expected)


def test_null_with_bytes_behind_it() -> None:
    offsets, text = pa.py_buffer(np.array([0, 5, 10], dtype=np.int32)), pa.py_buffer(b"OE1ABDL1AB")
    values = pa.StringArray.from_buffers(2, offsets, text, pa.py_buffer(b"\x02"))
    assert country_of_callsigns(values).tolist() == [0, NUMBERS["DE"]]
