"""Ids at every edge of the address ranges, and call signs as they are written in directories."""

from __future__ import annotations

import unicodedata

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.clean.callsigns import clean_callsigns
from pruner.clean.ids import parse_ids
from pruner.reference.callsign import LOOK_ALIKES, clean_callsign
from pruner.words import schema
from pruner.words.number import has_exponent, whole_number
from pruner.words.outcomes import Reason

ADDRESS, RESERVED, INVALID = Reason.NONE, Reason.RESERVED_ID, Reason.INVALID_ID


def read_one(text: str | None, system: str = "dmr") -> tuple[int, int, bool]:
    ids = parse_ids(pa.array([text], pa.string()), schema.SYSTEMS[system])
    return int(ids.number[0]), int(ids.reason[0]), bool(ids.suffixed[0])


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("2321234", 2321234),
        ("0002321234", 2321234),
        ("2321234.0", 2321234),
        ("2321234.000", 2321234),
        (" 2321234\t", 2321234),
        ("2 321 234", 2321234),
        ("\u00a02321234\u00a0", 2321234),
        ("2\u202f321\u202f234", 2321234),
        ("0" * 40 + "7", 7),
        ("2321234." + "0" * 32, 2321234),
        ("2321234,0", 2321234),
        ("2,321,234", 2321234),
        ("2.321.234", 2321234),
        ("2'321'234", 2321234),
        ("2.321.234,00", 2321234),
        ("2,321", 2321),
        ("2.321234E+06", 2321234),
        ("232-1234", 2321234),
        ("2321234 (car)", 2321234),
        ("2321234 [at home]", 2321234),
        ("232 – 1234", 2321234),
        ("DMR 232‑1234", 2321234),
        ("2,321234e6", 2321234),
        ("1e0", 1),
        ('="2321234"', 2321234),
        ("'2321234", 2321234),
        ('"2321234"', 2321234),
        ("#2321234", 2321234),
        ("٢٣٢١٢٣٤", 2321234),
        ("２３２１２３４", 2321234),
        ("[2321234]", 2321234),
        ("(2321234)", 2321234),
        ("DMR 2321234", 2321234),
        ("DMR-ID: 2321234", 2321234),
        ("№ 2321234", 2321234),
        ("2321234*", 2321234),
        ("2321234 ¹", 2321234),
        ("\u200b2321234", 2321234),
    ],
)
def test_a_whole_number_is_read_however_it_is_written(text: str, number: int) -> None:
    assert read_one(text) == (number, ADDRESS, False)


@pytest.mark.parametrize("text", ["", " ", "''", '=""', "DMR ID:", "12a", "9" * 16, "1." + "0" * 40])
def test_what_writes_no_number_gives_minus_one(text: str) -> None:
    assert whole_number(text) == -1


@pytest.mark.parametrize(
    ("text", "has"), [("2.321234E+06", True), (" 2e6 ", True), ("2321234", False), ("E6", False), ("", False), ("2e", False)]
)
def test_numbers_with_an_exponent(text: str, has: bool) -> None:
    assert has_exponent(text) is has


@pytest.mark.parametrize("text", ["9" * 15, "00" + "9" * 15, "999,999,999,999,999", "9." + "9" * 14 + "e14", f"({'9' * 15})"])
def test_a_whole_number_has_up_to_fifteen_digits(text: str) -> None:
    assert whole_number(text) == 10**15 - 1


@pytest.mark.parametrize(
    "text",
    [
        None, "", " ", "+1", "-1", "-0", "1e6", "1E6", "0x10", "12a", "HB9", "1.5", "1.", ".0", "1_0", "²",
        "12,34", "1,234,56", "2.32E+06", "=1+1", "2321234." + "0" * 33,
        "1,000,000,000,000,000,000,000", "1.0000000000000000000000e22",
        "2321-234", "232-12345", "23-21234", "232--1234", "-2321234", "232-1234-1", "2321234 (2)", "(car) 2321234", "2321234-5",
        "99999999999999999999", "4294967296", "4294967297", "nan", "2321234567890",
    ],
)  # fmt: skip
@pytest.mark.parametrize("system", schema.SYSTEM_NAMES)
def test_anything_else_is_no_id(text: str | None, system: str) -> None:
    assert read_one(text, system) == (0, INVALID, False)


@pytest.mark.parametrize(
    ("system", "number", "reason"),
    [
        # ETSI TS 102 361-1 V2.7.1, Annex A, Table A.1 (seen only as a quotation): 24 bits, FFFCE0 and above special.
        ("dmr", 0, RESERVED),
        ("dmr", 1, ADDRESS),
        ("dmr", 0xFFFCDF, ADDRESS),
        ("dmr", 0xFFFCE0, RESERVED),
        ("dmr", 0xFFFFFF, RESERVED),
        ("dmr", 0x1000000, INVALID),
        # NXDN Technical Specifications 1-A (seen only as a quotation): 16 bits, 65 520 and above are special.
        ("nxdn", 0, RESERVED),
        ("nxdn", 1, ADDRESS),
        ("nxdn", 65_519, ADDRESS),
        ("nxdn", 65_520, RESERVED),
        ("nxdn", 65_535, RESERVED),
        ("nxdn", 65_536, INVALID),
        # TIA-102.BAAC (seen only as a quotation): 24 bits, in practice up to 9 999 999; the rest from memory.
        ("p25", 0, RESERVED),
        ("p25", 1, ADDRESS),
        ("p25", 9_999_999, ADDRESS),
        ("p25", 10_000_000, RESERVED),
        ("p25", 0xFFFFFF, RESERVED),
        ("p25", 0x1000000, INVALID),
    ],
)
@pytest.mark.parametrize("written", ["{}", "00{}", "{}.0", " {}"])
def test_edges_of_the_address_ranges(system: str, number: int, reason: int, written: str) -> None:
    expected = 0 if reason == INVALID else number
    assert read_one(written.format(number), system) == (expected, reason, False)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("100000000", 1_000_000),
        ("232123401", 2_321_234),
        ("00232123401", 2_321_234),
        ("232123401.0", 2_321_234),
        ("999999999", 9_999_999),
    ],
)
def test_nine_digits_carry_a_device_suffix_for_dmr_only(text: str, number: int) -> None:
    # Common practice, no source.
    assert read_one(text) == (number, ADDRESS, True)
    assert read_one(text, "nxdn") == (0, INVALID, False)
    assert read_one(text, "p25") == (0, INVALID, False)


@pytest.mark.parametrize("text", ["99999999", "1000000000", "001000000000"])
def test_eight_and_ten_digits_are_no_suffixed_id(text: str) -> None:
    assert read_one(text) == (0, INVALID, False)


@given(st.lists(st.one_of(st.none(), st.integers(-5, 1 << 33).map(str), st.text("0123456789. +-e\u00a0", max_size=12))))
def test_a_column_is_read_as_its_cells_are(texts: list[str | None]) -> None:
    ids = parse_ids(pa.array(texts, pa.string()), schema.SYSTEMS["dmr"])
    together = list(zip(ids.number.tolist(), ids.reason.tolist(), ids.suffixed.tolist(), strict=True))
    assert together == [read_one(text) for text in texts]


@given(st.integers(0, 1 << 25), st.sampled_from(schema.SYSTEM_NAMES))
def test_every_number_gets_the_standing_its_range_says(number: int, name: str) -> None:
    system = schema.SYSTEMS[name]
    if number > system.highest:
        expected = (0, INVALID, False)
    else:
        expected = (number, ADDRESS if system.first <= number <= system.last else RESERVED, False)
    assert read_one(str(number), name) == expected


@pytest.mark.parametrize(
    ("written", "cleaned", "odd"),
    [
        # Ordinary forms: ITU Radio Regulations 19.68 (seen only as a quotation). All calls are invented.
        ("HB9ZZZ", "HB9ZZZ", False),
        ("hb9zzz", "HB9ZZZ", False),
        (" HB9 ZZZ ", "HB9ZZZ", False),
        ("HB9ZZZ\u200b", "HB9ZZZ", False),
        ("\u202eHB9ZZZ", "HB9ZZZ", False),
        ("\ufeffHB9ZZZ\u00a0", "HB9ZZZ", False),
        ("HB9ZZZ\x00", "HB9ZZZ", False),
        ("HB9ZZZ/P", "HB9ZZZ", False),
        ("F/HB9ZZZ/M", "HB9ZZZ", False),
        ("HB9ZZZ-7", "HB9ZZZ", False),
        ("HB9ZZZ-15", "HB9ZZZ", False),
        ("hb9zzz-r", "HB9ZZZ", False),
        ("2E0ZZZ", "2E0ZZZ", False),
        ("W1Z", "W1Z", False),
        ("ΗΒ9ΖΖΖ", "HB9ZZZ", False),  # Greek letters
        ("НВ9ТТТ", "HB9TTT", False),  # Cyrillic ones
        ("ＨＢ９ＺＺＺ／Ｐ", "HB9ZZZ", False),
        ("WØZZZ", "W0ZZZ", False),
        ("Søren", "SØREN", True),
        ("wøzzz", "WØZZZ", True),
        ("“HB9ZZZ”", "HB9ZZZ", False),
        ("HB9ZZZ *", "HB9ZZZ", False),
        ("HB9ZZZ (ex HB9YYY)", "HB9ZZZ", False),
        ("HB9ZZZ, HB9YYY", "HB9ZZZ", False),
        ("НВ9ТТЖ", "НВ9ТТЖ", True),  # no Latin letter looks like the last one
        ("Anna (HB9ZZZ)", "ANNA(HB9ZZZ)", True),
        ("HB9ZZZZZ", "HB9ZZZZZ", True),
        ("HB9ZZZ-ABC", "HB9ZZZ-ABC", True),
        ("-7", "-7", True),
        ("NOCALL", "NOCALL", True),
        ("AB/CDE/FGH", "CDE", True),
        ("HB9", "HB9", True),
    ],
)
def test_call_signs_as_written(written: str, cleaned: str, odd: bool) -> None:
    result, odd_forms, changed = clean_callsigns(pa.array([written, "W1Z"], pa.string()))
    assert result.to_pylist() == [cleaned, "W1Z"]
    assert odd_forms.tolist() == [odd, False]
    assert changed.tolist() == [0] * (written != cleaned)


def test_look_alikes_are_those_of_full_width_and_of_unicode_names() -> None:
    """Full width: NFKC (Unicode Standard Annex 15). Greek and Cyrillic: their shapes, by hand from confusables.txt of Unicode
    Technical Standard 39 (from memory); here only that each is a capital of these scripts."""
    for code, letter in LOOK_ALIKES.items():
        name = unicodedata.name(chr(code))
        if "FULLWIDTH" in name:
            assert unicodedata.normalize("NFKC", chr(code)) == chr(letter)
        else:
            assert name.startswith(("GREEK CAPITAL", "CYRILLIC CAPITAL"))


@pytest.mark.parametrize("nothing", [None, "", " ", "\u200b", "/", "//", "\u00a0/\u00a0"])
def test_nothing_visible_is_missing(nothing: str | None) -> None:
    result, odd, changed = clean_callsigns(pa.array(["HB9ZZZ", nothing], pa.string()))
    assert result.to_pylist() == ["HB9ZZZ", None]
    assert odd.tolist() == [False, True]
    assert changed.tolist() == [1] * (nothing not in (None, ""))


@given(st.lists(st.one_of(st.none(), st.text("HB9Zz/- \u200bß", max_size=9), st.text(max_size=6))))
def test_a_column_of_call_signs_is_cleaned_as_its_cells_are(texts: list[str | None]) -> None:
    result, _, changed = clean_callsigns(pa.array(texts, pa.string()))
    assert result.to_pylist() == [clean_callsign(text) or None if text is not None else None for text in texts]
    assert changed.tolist() == [place for place, text in enumerate(texts) if text is not None and clean_callsign(text) != text]


@given(st.text("HB9Z/ \u200b", max_size=12))
def test_cleaning_a_clean_call_sign_changes_nothing(text: str) -> None:
    once = clean_callsign(text)
    assert clean_callsign(once) == once


@pytest.mark.parametrize("end", [0x3100, pytest.param(0x110000, marks=pytest.mark.slow)])
def test_every_character_is_taken_out_or_stays_by_its_unicode_category(end: int) -> None:
    # Unicode Character Database, as the Python standard library holds it.
    for code in range(end):
        character = chr(code)
        taken_out = character.isspace() or unicodedata.category(character) in ("Cc", "Cf", "Zl", "Zp")
        text = "A" if taken_out else f"A{character}".upper().split("/")[0]
        assert clean_callsign(f"A{character}") == text, hex(code)


def test_every_character_in_a_short_text_is_read_as_the_definition_says() -> None:
    """Eight characters are read as one word, in which `:` and `;` stand behind `9`, `/` before `0`, and NUL is no zero."""
    texts = [
        ("12345678"[:at] + chr(code) + "87654321")[:length]
        for length in range(1, 9)
        for at in range(length)
        for code in range(1, 256)
    ]
    numbers = parse_ids(pa.array(texts), schema.SYSTEMS["dmr"]).number.tolist()
    defined = [whole_number(text) for text in texts]
    highest = schema.SYSTEMS["dmr"].highest
    assert numbers == [number if 0 <= number <= highest else 0 for number in defined]
    assert read_one("12;") == (0, INVALID, False)


def test_plain_ids_take_the_quick_way(monkeypatch: pytest.MonkeyPatch) -> None:
    """Texts of up to eight digits are never read one by one, nor by the way for longer ones."""
    for slow in ("_parse_longer", "_parse_one_by_one"):
        monkeypatch.setattr(f"pruner.clean.ids.{slow}", None)
    texts = [str(number) for number in (1, 12, 2321234, 16776415, 99999999)]
    assert parse_ids(pa.array(texts), schema.SYSTEMS["dmr"]).number.tolist() == [1, 12, 2321234, 16776415, 0]
