"""Text that an encoding cannot hold -> letters that it can, as the contact's country spells them.

Receives texts with countries, hands on texts. Only letters that the encoding lacks are touched, and each distinct text
once.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import polars as pl
from anyascii import anyascii

from pruner.layout.eastern import HAN, has_kana, romanised
from pruner.layout.encoding import TextEncoding

# ICAO Doc 9303 Part 3, section 6, table A, and Unicode CLDR's transforms de-ASCII and da-ASCII (all from memory).
_GERMAN: Final[Mapping[str, str]] = {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss"}
_NORDIC: Final[Mapping[str, str]] = {"å": "aa", "ø": "oe", "æ": "ae"}
_GERMAN_COUNTRIES: Final = ("AT", "CH", "DE", "LI")
_NORDIC_COUNTRIES: Final = ("AX", "DK", "FI", "FO", "GL", "NO", "SE", "SJ")
#: What `anyascii` gives for a picture; nobody wrote these words.
_PICTURE_NAME: Final = re.compile(r"^:\w+:$")
#: Where Han characters are read in Mandarin, the only reading that `anyascii` knows.
_MANDARIN_COUNTRIES: Final = ("CN", "SG", "TW")
_EMPTY_BRACKETS: Final = re.compile(r"[(\[（「]\s*[)\]）」]")
_WORD: Final = re.compile(r"[\w・]+")


@dataclass(frozen=True, slots=True)
class Spelling:
    """How a country writes what an encoding lacks: `letters` in others, and whether Han characters are read in Mandarin."""

    letters: Mapping[str, str]
    mandarin: bool = False


_SPELLINGS: Final = (Spelling({}), Spelling(_GERMAN), Spelling(_NORDIC), Spelling({}, mandarin=True))
_SPELLING: Final = {
    **dict.fromkeys(_GERMAN_COUNTRIES, "1"),
    **dict.fromkeys(_NORDIC_COUNTRIES, "2"),
    **dict.fromkeys(_MANDARIN_COUNTRIES, "3"),
}


def spelled(texts: pl.Series, country_codes: pl.Series | None, encoding: TextEncoding) -> tuple[pl.Series, pl.Series]:
    """The texts with every letter that the encoding lacks written in others, and which texts were changed.

    `country_codes` are ISO 3166-1 alpha-2 codes ("" unknown). Letters that no table knows go through `anyascii`, which
    knows every script; what has no letters at all vanishes. Kana and Hangul are read as Japanese and Korean. Han characters
    are read in Mandarin in its countries; elsewhere their word vanishes: another language reads them otherwise.
    """
    odd = texts.str.len_bytes() != texts.str.len_chars()
    if encoding.holds_all or not odd.any():
        return texts, pl.Series([False]).new_from_index(0, len(texts))
    if country_codes is None:
        country_codes = pl.Series([""], dtype=pl.String).new_from_index(0, len(texts))
    rows = odd.arg_true()
    spelling = country_codes.gather(rows).replace_strict(_SPELLING, default="0", return_dtype=pl.String)
    keys = spelling + texts.gather(rows)
    distinct = keys.unique(maintain_order=True)
    known = [spell(key[1:], _SPELLINGS[int(key[0])], encoding) for key in distinct.to_list()]
    replaced = keys.replace_strict(distinct, pl.Series(known, dtype=pl.String), return_dtype=pl.String)
    result = texts.clone().scatter(rows, replaced)  # scatter writes into its series
    return result, result != texts


def spell(text: str, spelling: Spelling, encoding: TextEncoding) -> str:
    """One text in letters that the encoding holds."""
    text = unicodedata.normalize("NFC", text)
    if encoding.holds(text):
        return text
    given, table = text, spelling.letters
    text = _WORD.sub(lambda found: _eastern(found[0], spelling.mandarin and not has_kana(given), encoding), given)
    if text != given:
        text = re.sub(" {2,}", " ", _EMPTY_BRACKETS.sub("", text)).strip(" ,;/|-")
    parts = []
    for place, character in enumerate(text):
        if encoding.holds(character):
            parts.append(character)
            continue
        own = table.get(character.lower())
        if own is None:
            parts.append(_PICTURE_NAME.sub("", anyascii(character)))
        elif character.islower():
            parts.append(own)
        else:
            parts.append(own.capitalize() if text[place + 1 : place + 2].islower() else own.upper())
    made = "".join(parts)
    return made if all(parts) else re.sub(" {2,}", " ", made).strip(" ")


def _eastern(word: str, mandarin: bool, encoding: TextEncoding) -> str:
    """A word with kana and Hangul in Latin letters, "" where it holds a Han character that cannot be read."""
    if word.isascii() or encoding.holds(word):
        return word
    if HAN.search(word) and not mandarin:
        return ""
    return romanised(word)


def spelling_of(country_code: str) -> Spelling:
    """How a country spells; the plain way where it has none of its own."""
    return _SPELLINGS[int(_SPELLING.get(country_code, "0"))]
