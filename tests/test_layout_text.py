"""Text in a layout: encodings, widths, cutting, filling up, and letters that an encoding lacks."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.layout.encoding import WidthUnit, clusters, text_encoding
from pruner.layout.letters import spell, spelled, spelling_of
from pruner.layout.template import TemplateError, escaped_constant, fields_of, only_field, parse_template
from pruner.layout.widths import Cut, closed, cut, cut_one, padded

GOLDEN = Path(__file__).parent / "golden" / "layouts"
UNITS: list[WidthUnit] = ["units", "bytes", "characters"]
ANY_TEXT = st.text(
    st.one_of(st.sampled_from("ab Äß´é\u0301\u200d🙂🇦🇹👩한각\u0903𝔸"), st.characters(exclude_categories=["Cs", "Cc"])),
    max_size=24,
)


def samples() -> list[list[str]]:
    lines = (GOLDEN / "grapheme_breaks.txt").read_text(encoding="ascii").splitlines()
    return [["".join(chr(int(c, 16)) for c in part.split()) for part in line.split("/")] for line in lines if line[:1] != "#"]


def test_characters_are_those_of_the_unicode_standard() -> None:
    """GraphemeBreakTest-15.0.0.txt of the Unicode Character Database, for UAX #29."""
    cases = samples()
    assert len(cases) == 601
    for case in cases:
        assert clusters("".join(case)) == case


@pytest.mark.parametrize("name", ["utf-8", "utf-16", "utf-16-be", "utf-32", "gb18030"])
@given(text=ANY_TEXT)
def test_lengths_are_those_of_the_encoding(name: str, text: str) -> None:
    """Counted by Python's codecs, which write the mark with the plain names of UTF-16 and UTF-32."""
    encoding = text_encoding(name)
    size = len(text.encode(name)) - (len("".encode(name)))
    assert encoding.length(text, "bytes") == size
    assert encoding.length(text, "units") * {"utf-8": 1, "gb18030": 1, "utf-32": 4}.get(name, 2) == size
    texts = pl.Series(["plain", text, ""])
    for unit in UNITS:
        assert encoding.lengths(texts, unit).to_list() == [encoding.length(one, unit) for one in texts]


@pytest.mark.parametrize("name", ["cp1252", "iso8859-2", "shift_jis", "koi8-r", "ascii"])
def test_lengths_of_older_encodings(name: str) -> None:
    encoding = text_encoding(name)
    texts = [text for text in ("plain", "Zoë", "Łódź", "東京 Tokyo", "Иван", "") if encoding.holds(text)]
    for unit in ("units", "bytes"):
        assert encoding.lengths(pl.Series(texts), unit).to_list() == [len(text.encode(name)) for text in texts]


@pytest.mark.parametrize(
    "name", ["utf-7", "hz", "iso2022_jp", "punycode", "idna", "unicode_escape", "rot13", "base64", "x", ""]
)
def test_what_is_no_encoding_of_files_is_refused(name: str) -> None:
    with pytest.raises(LookupError, match="expected"):
        text_encoding(name)


def test_marks_are_those_of_the_standard() -> None:
    """The Unicode Standard, table 2-4 and section 23.8 (from memory)."""
    marks = {name: text_encoding(name).mark.hex() for name in ("utf-8", "utf-16-be", "utf-16", "utf-32-be", "utf-32", "ascii")}
    assert marks == {
        "utf-8": "efbbbf",
        "utf-16-be": "feff",
        "utf-16": "fffe",
        "utf-32-be": "0000feff",
        "utf-32": "fffe0000",
        "ascii": "",
    }


@draws(200)
@given(
    text=st.one_of(ANY_TEXT, st.text("ab c.", max_size=24)),
    width=st.integers(1, 20),
    name=st.sampled_from(["utf-8", "utf-16", "utf-32", "gb18030"]),
    unit=st.sampled_from(UNITS),
    where=st.sampled_from(["letter", "word"]),
)
def test_a_cut_text_is_the_longest_that_fits(text: str, width: int, name: str, unit: WidthUnit, where: Cut) -> None:
    encoding = text_encoding(name)
    result, marked = cut(pl.Series([text, ""]), width, encoding, unit, where)
    short = result[0]
    fits = encoding.length(text, unit) <= width
    assert result[1] == ""
    assert (marked is None or not marked[0]) == fits
    if fits:
        assert short == text
        return
    assert text.startswith(short)
    assert encoding.length(short, unit) <= width
    assert not short.endswith(" ")
    whole = clusters(text)
    count = len(clusters(short))
    assert whole[:count] == clusters(short)
    following = whole[count:]
    if where == "letter" or " " not in text:
        spaces = len(following) - len(list(dropped_spaces(following)))
        assert encoding.length("".join([short, *following[: spaces + 1]]), unit) > width
    elif short and following[0] != " ":
        assert " " not in short.strip(" ")  # one word that is too long by itself


def dropped_spaces(following: list[str]) -> list[str]:
    return following[next((at for at, one in enumerate(following) if one != " "), len(following)) :]


@pytest.mark.parametrize(
    ("text", "width", "where", "short"),
    [
        ("Bad Ischl am See", 12, "letter", "Bad Ischl am"),
        ("Bad Ischl am See", 11, "letter", "Bad Ischl a"),
        ("Bad Ischl am See", 11, "word", "Bad Ischl"),
        ("Bad Ischl am See", 9, "word", "Bad Ischl"),
        ("Bad Ischl am See", 4, "letter", "Bad"),
        ("Bartholomew", 5, "word", "Barth"),
        ("Zoë Dvořák", 8, "word", "Zoë"),
        ("Zoë Dvořák", 3, "word", "Zoë"),
    ],
)
def test_where_a_text_is_cut(text: str, width: int, where: Cut, short: str) -> None:
    utf32 = text_encoding("utf-32")
    assert cut(pl.Series([text]), width, utf32, "units", where)[0].to_list() == [short]
    assert cut_one(text, width, utf32, "units", where) == short


def test_widths_in_bytes() -> None:
    assert cut(pl.Series(["abcdef"]), 6, text_encoding("utf-16"), "bytes", "letter")[0].to_list() == ["abc"]
    assert cut(pl.Series(["abcdef"]), 7, text_encoding("utf-16"), "bytes", "letter")[0].to_list() == ["abc"]
    assert cut(pl.Series(["Zoë"]), 3, text_encoding("utf-8"), "bytes", "letter")[0].to_list() == ["Zo"]


def test_a_pair_of_units_is_never_parted() -> None:
    """U+1F642 is D83D DE42 in UTF-16 (RFC 2781, section 2.1, by its rule)."""
    assert cut(pl.Series(["a🙂b"]), 2, text_encoding("utf-16"), "units", "letter")[0].to_list() == ["a"]
    assert cut(pl.Series(["a🙂b"]), 3, text_encoding("utf-16"), "units", "letter")[0].to_list() == ["a🙂"]
    assert cut(pl.Series(["ab\u0301c"]), 2, text_encoding("utf-32"), "units", "letter")[0].to_list() == ["a"]
    assert cut(pl.Series(["ab\u0301c"]), 2, text_encoding("utf-32"), "characters", "letter")[0].to_list() == ["ab\u0301"]


@given(texts=st.lists(ANY_TEXT, min_size=1, max_size=5), unit=st.sampled_from(UNITS), side=st.sampled_from(["left", "right"]))
def test_filled_texts_have_one_length(texts: list[str], unit: WidthUnit, side: str) -> None:
    encoding = text_encoding("utf-16")
    series = pl.Series(texts)
    width = int(encoding.lengths(series, unit).max() or 0) + 4  # type: ignore[arg-type]
    filled = padded(series, width, "left" if side == "left" else "right", ".", encoding, unit)
    if unit != "characters":  # a mark or a joiner may bind a sign that is put before or behind it
        assert encoding.lengths(filled, unit).to_list() == [width] * len(texts)
    for before, after in zip(series, filled, strict=True):
        assert after.endswith(before) if side == "left" else after.startswith(before)
        assert set(after.replace(before, "", 1)) <= {"."}


@pytest.mark.parametrize(
    ("text", "country", "name", "expected"),
    [
        # ICAO Doc 9303 Part 3, section 6, table A (seen as quoted in PyPI mrz 0.6.2): AE OE UE SS AA OE AE.
        ("Müller", "DE", "ascii", "Mueller"),
        ("Ärzte ÄRZTE Ö", "AT", "ascii", "Aerzte AERZTE OE"),
        ("Groß Grüße", "CH", "ascii", "Gross Gruesse"),
        ("Åse Øster Æble", "DK", "ascii", "Aase Oester Aeble"),
        ("Håkon", "SE", "ascii", "Haakon"),
        # Without a spelling of its own: the letters without their marks.
        ("Müller Åse", "US", "ascii", "Muller Ase"),
        ("Łódź", "PL", "ascii", "Lodz"),
        ("Иван", "BG", "ascii", "Ivan"),
        # Kana: Hepburn's spelling; Hangul: Revised Romanization of Korean, its own examples (both from memory).
        ("とうきょう", "JP", "ascii", "Toukyou"),
        ("しゃちょう マッチ にっぽん ファン ジェット", "JP", "ascii", "Shachou Matchi Nippon Fan Jetto"),
        ("ﾀﾛｳ ラーメン", "US", "ascii", "Tarou Ramen"),
        ("부산 제주 합덕 월곶 울릉 설악", "KR", "ascii", "Busan Jeju Hapdeok Wolgot Ulleung Seorak"),
        # Han characters have no reading without their language; Pinyin (ISO 7098) in the countries of Mandarin.
        ("北京", "CN", "ascii", "BeiJing"),
        ("北京", "HK", "ascii", ""),
        ("北京", "", "ascii", ""),
        ("東京", "JP", "ascii", ""),
        ("東京タワー", "JP", "cp1252", ""),
        ("田中 Taro", "JP", "ascii", "Taro"),
        ("김 민수 (金)", "KR", "ascii", "Gim Minsu"),
        ("さくら 花", "CN", "ascii", "Sakura"),
        ("東京", "JP", "shift_jis", "東京"),
        # What the encoding holds stays.
        ("Müller", "DE", "cp1252", "Müller"),
        ("Dvořák Zoë", "CZ", "cp1252", "Dvorák Zoë"),
        ("Dvořák", "CZ", "iso8859-2", "Dvořák"),
        ("Mu\u0308ller", "DE", "cp1252", "Müller"),
        ("Mu\u0308ller", "DE", "ascii", "Mueller"),
        ("Müller", "DE", "utf-8", "Müller"),
    ],
)
def test_letters_that_an_encoding_lacks(text: str, country: str, name: str, expected: str) -> None:
    encoding = text_encoding(name)
    assert spell(text, spelling_of(country), encoding) == expected
    found, changed = spelled(pl.Series(["plain", text, ""]), pl.Series(["", country, ""]), encoding)
    assert found.to_list() == ["plain", expected, ""]
    assert changed.to_list() == [False, expected != text, False]


@given(text=ANY_TEXT, country=st.sampled_from(["AT", "DK", "", "JP"]), name=st.sampled_from(["ascii", "cp1252", "shift_jis"]))
def test_what_is_spelled_can_be_written(text: str, country: str, name: str) -> None:
    encoding = text_encoding(name)
    found, changed = spelled(pl.Series([text]), pl.Series([country]), encoding)
    assert found[0].encode(name).decode(name) == found[0]
    assert changed[0] == (found[0] != text)
    if encoding.holds(text):
        assert found[0] == text


@given(text=st.text(st.characters(exclude_categories=["Cs"])))
def test_a_constant_comes_back_from_its_template(text: str) -> None:
    assert fields_of(escaped_constant(text)) == ()
    assert "".join(piece.text for piece in parse_template(escaped_constant(text))) == text


@pytest.mark.parametrize("text", ["{", "}", "{id", "id}", "{}", "a{b}}", "{{}", "{a{b}"])
def test_single_braces_are_refused(text: str) -> None:
    with pytest.raises(TemplateError, match="expected"):
        parse_template(text)


def test_fields_of_a_template() -> None:
    assert fields_of("{callsign} {{x}} {first_name}") == ("callsign", "first_name")
    assert (only_field("{id}"), only_field(" {id}"), only_field("x")) == ("id", None, None)


def test_a_text_begins_and_ends_with_characters_of_its_own() -> None:
    """Marks that would join what stands before them, and what would join the picture behind it (UAX 29, GB9 and GB11)."""
    woman = "\N{WOMAN}"
    texts = ["\u0301ab", "\u0301\u0302ab", "a\u0301b", "ab\u0301", "ab\u200d", f"{woman}\u200d", "ab", "", "\u0301"]
    assert closed(pl.Series(texts)).to_list() == ["ab", "ab", "a\u0301b", "ab\u0301", "ab\u200d", woman, "ab", "", ""]
