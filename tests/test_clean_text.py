"""Cleaning of written text: no forbidden character survives, clean text stays, marks are true."""

from __future__ import annotations

import unicodedata

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pruner.clean.text import CHANGE_WORDS, clean_texts, clean_values

FLAWS = st.sampled_from(
    [
        "\x1b[31m",
        "\u202e",
        "\u200b",
        "\u2028",
        "\u00a0",
        "\t",
        "=",
        "+",
        "-",
        "@",
        "\ufffd",
        "Ã©",
        "Ã\x9f",
        "e\u0301",
        "＝",
        "\ud800",
    ]
)
TEXTS = st.lists(st.one_of(FLAWS, st.text(max_size=6), st.text("ABCDEIO'- ÄÉ", max_size=8)), max_size=5).map("".join)


def clean_one(text: str | None, name_like: bool = True) -> tuple[str, set[str]]:
    texts, marks = clean_values([text], name_like=name_like)
    return texts[0], {word for bit, word in enumerate(CHANGE_WORDS) if marks[0] >> bit & 1}


@given(st.lists(TEXTS, max_size=8), st.booleans())
def test_clean_text_is_harmless_and_stays_as_it_is(texts: list[str], name_like: bool) -> None:
    once, _ = clean_values(texts, name_like=name_like)
    again, marks = clean_values(once, name_like=name_like)
    assert again == once
    assert not marks.any()
    for text in once:
        assert unicodedata.is_normalized("NFC", text)
        assert not {unicodedata.category(character) for character in text} & {"Cc", "Cf", "Zl", "Zp", "Cs"}
        assert "\ufffd" not in text
        assert text == " ".join(text.split())
        assert not text.startswith(tuple("=+-@＝＋－＠"))


@given(
    st.text(st.characters(codec="cp1252", exclude_categories=["Cc", "Cf", "Zs"]), min_size=1),
    st.integers(1, 3),
)
def test_double_encoding_is_undone(text: str, times: int) -> None:
    """RFC 3629 bytes shown through Windows-1252 come back, once or three times over."""
    broken = text
    for _ in range(times):
        broken = "".join(
            bytes([byte]).decode("cp1252") if byte not in (0x81, 0x8D, 0x8F, 0x90, 0x9D) else chr(byte)
            for byte in broken.encode()
        )
    assert clean_values([broken], name_like=False)[0] == clean_values([text], name_like=False)[0]


@pytest.mark.parametrize("text", ["São Tomé", "Ã", "Côté", "Łódź", "Ελλάδα", "Åre", "Öztürk Â", "naïve—½"])
def test_text_that_only_looks_foreign_is_left_alone(text: str) -> None:
    assert clean_one(text) == (text, set())


@pytest.mark.parametrize(
    ("text", "wanted", "words"),
    [
        (None, "", set()),
        ("", "", set()),
        ("Anna Berg", "Anna Berg", set()),
        ("  Anna \u00a0 Berg\n", "Anna Berg", {"white space trimmed"}),
        ("Bad\u200bIschl", "BadIschl", {"invisible characters removed"}),
        ("\x1b[31mAnna", "[31mAnna", {"invisible characters removed"}),
        ("MÃ¼ller", "Müller", {"double encoding repaired"}),
        ("=1+1", "1+1", {"formula start removed"}),
        ("\u202e=1+1", "1+1", {"invisible characters removed", "formula start removed"}),
        ("An\ufffda", "An?a", {"unreadable characters replaced"}),
        ("WIEN", "Wien", {"shouted text eased"}),
    ],
)
def test_changes_and_their_marks(text: str | None, wanted: str, words: set[str]) -> None:
    assert clean_one(text) == (wanted, words)


@pytest.mark.parametrize(
    ("shouted", "wanted"),
    [
        ("MARIA VAN DER BERG", "Maria van der Berg"),
        ("SHANE O'BRIEN", "Shane O'Brien"),
        ("ST. JOHN'S", "St. John's"),
        ("IAN MCKAY", "Ian McKay"),
        ("JEAN-PIERRE", "Jean-Pierre"),
        ("STOKE-ON-TRENT", "Stoke-on-Trent"),
        ("HENRY VIII", "Henry VIII"),
        ("J.R. EWALD", "J.R. Ewald"),
        ("JOHN Q PUBLIC III", "John Q Public III"),
        ("GARMISCH (BAYERN)", "Garmisch (Bayern)"),
        ("LINZ/TRAUN", "Linz/Traun"),
        ("ΝΙΚΟΣ", "Νικος"),
        ("ÖSTERREICH", "Österreich"),
        ("USA", "USA"),
        ("BCDFG", "BCDFG"),
        ("Anna BERG", "Anna BERG"),
    ],
)
def test_shouted_names_are_eased(shouted: str, wanted: str) -> None:
    assert clean_one(shouted)[0] == wanted
    assert clean_one(shouted, name_like=False)[0] == shouted


COLUMN_TEXTS = st.one_of(
    st.none(),
    TEXTS.filter(lambda text: "\ud800" not in text),
    st.text(" !*+,-./0=?@AZaz~\0\x7f\nÄß", max_size=8),
)


@given(st.lists(COLUMN_TEXTS, max_size=20), st.booleans())
def test_a_column_is_cleaned_as_its_texts_are(texts: list[str | None], name_like: bool) -> None:
    column, marks = clean_texts(pa.array(texts, pa.string()), name_like=name_like)
    expected, expected_marks = clean_values(texts, name_like=name_like)
    assert column.to_pylist() == expected
    assert marks.tolist() == expected_marks.tolist()
