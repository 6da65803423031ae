"""Lines that are not UTF-8 -> the code page they are written in, by the countries of their own rows.

Receives bytes, hands on the name of an encoding, or none where the rows do not agree. Which code pages are used where: common
practice, no source; their letters are those of the Unicode mapping tables that Python carries.
"""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from typing import Final

from pruner.reference import callsigns, countries, numbering
from pruner.reference.callsign import clean_callsign, is_ordinary
from pruner.table.facts import country_of_id

WESTERN: Final = "cp1252"
#: Encodings of each part of the world, the usual one first. A text is taken for the first in which it has the most plausible
#: letters.
_FAMILIES: Final = {
    WESTERN: ("cp1252",),
    "central": ("cp1250", "iso8859_2", "cp852"),
    "cyrillic": ("cp1251", "koi8_r", "koi8_u", "cp866", "iso8859_5"),
    "greek": ("cp1253", "iso8859_7"),
    "turkish": ("cp1254",),
    "baltic": ("cp1257",),
    "hebrew": ("cp1255",),
    "arabic": ("cp1256",),
    "thai": ("cp874",),
    "japanese": ("cp932", "euc_jp"),
    "korean": ("cp949",),
    "simplified": ("gb18030",),
    "traditional": ("big5",),
    "vietnamese": ("cp1258",),
}
_COUNTRIES: Final = {
    "central": "CZ SK PL HU HR SI RO BA AL ME",
    "cyrillic": "RU UA BY BG KZ KG MK TJ UZ MN RS",
    "greek": "GR CY",
    "turkish": "TR AZ",
    "baltic": "LT LV EE",
    "hebrew": "IL",
    "arabic": "SA AE EG KW OM QA BH JO LB IQ SY LY TN DZ MA YE",
    "thai": "TH",
    "japanese": "JP",
    "korean": "KR",
    "simplified": "CN SG",
    "traditional": "TW HK MO",
    "vietnamese": "VN",
}
_FAMILY_OF: Final = {countries.NUMBERS[code]: family for family, codes in _COUNTRIES.items() for code in codes.split()}
#: So clear must the vote of the rows be.
_CLEAR: Final = 0.9
_MOST_LINES: Final = 2000
_TOKENS: Final = re.compile(rb"[0-9A-Za-z/]{3,12}")
_WORD: Final = re.compile(r"[^\W\d_]+")


def vote(lines: list[bytes]) -> str | None:
    """The encoding of lines that are not UTF-8, None where the rows' countries do not say which.

    Each line votes for the encodings of its country (by its id, else its call sign); one that reads the same in the encodings
    of the West and of the winner has no vote. Where fewer words come out in the winner than in that of the West, the West's is
    meant (such as "São Tomé" with a Lebanese id).
    """
    votes: Counter[str] = Counter()
    texts: dict[str, list[bytes]] = {}
    for line in lines[:_MOST_LINES]:
        country = _country(line)
        if not country:
            continue
        family = _FAMILY_OF.get(country, WESTERN)
        votes[family] += 1
        texts.setdefault(family, []).append(line)
    if not votes:
        return None
    best = min(votes, key=lambda family: (-votes[family], family))
    encoding = _likeliest(best, texts[best])
    if encoding is None:
        return None
    against = sum(
        _decoded(line, encoding) != _decoded(line, _likeliest(family, texts[family]) or WESTERN)
        for family in votes
        if family != best
        for line in texts[family]
    )
    if _sense(texts[best], encoding) < _sense(texts[best], WESTERN):
        return WESTERN
    return encoding if votes[best] >= _CLEAR * (votes[best] + against) else None


def _sense(lines: list[bytes], encoding: str) -> float:
    """How much of the lines is words in an encoding."""
    return sum(_plausible(text, encoding) for line in lines if (text := _decoded(line, encoding)) is not None)


def is_western(lines: list[bytes]) -> bool:
    """Whether lines whose country nobody knows read like words in the code page of the West: most letters of a word are
    ASCII."""
    foreign = ascii_letters = 0
    for line in lines[:_MOST_LINES]:
        for word in _WORD.findall(line.decode(WESTERN, errors="replace")):
            if not word.isascii():
                foreign += sum(not letter.isascii() for letter in word)
                ascii_letters += sum(letter.isascii() for letter in word)
    return foreign <= ascii_letters


def _country(line: bytes) -> int:
    tokens = [token.decode("ascii") for token in _TOKENS.findall(line)]
    for token in tokens:
        if token.isdigit() and len(token) == 7 and country_of_id(int(token)):
            return country_of_id(int(token))
    for token in tokens:
        cleaned = clean_callsign(token)
        if is_ordinary(cleaned):
            found = callsigns.country_of(cleaned)
            if found:
                return found
    return numbering.country_of_talkgroup(int(tokens[0])) if tokens and tokens[0].isdigit() and len(tokens[0]) <= 6 else 0


def _decoded(line: bytes, encoding: str) -> str | None:
    try:
        return line.decode(encoding)
    except UnicodeDecodeError:
        return None


def _likeliest(family: str, lines: list[bytes]) -> str | None:
    """The encoding of a family in which the lines have the most plausible words; None where none reads them all, or where too
    many read better in another."""
    found: dict[str, list[float]] = {}
    for encoding in _FAMILIES[family]:
        texts = [_decoded(line, encoding) for line in lines]
        if sum(text is None for text in texts) <= (1 - _CLEAR) * len(texts):
            found[encoding] = [_plausible(text, encoding) if text is not None else 0.0 for text in texts]
    if not found:
        return None
    best = max(found, key=lambda encoding: sum(found[encoding]))  # of equal ones the usual one
    better = sum(max(values) > value for value, *values in zip(found[best], *found.values(), strict=True))
    return best if better <= (1 - _CLEAR) * len(lines) else None


def _plausible(text: str, encoding: str) -> float:
    """How many bytes of the words with letters outside ASCII are written as words are: small letters behind the first one,
    letters of one script, no signs between letters."""
    good = 0.0
    for word in _WORD.findall(text):
        if word.isascii():
            continue
        scripts = {unicodedata.name(letter, "?").split(" ", 1)[0] for letter in word}
        cased = word[1:] == word[1:].lower() or word == word.upper()
        weight = 1.0 if len(scripts) == 1 and cased and scripts != {"HALFWIDTH"} else -1.0
        if word[0] != word[0].upper() and word[1:] != word[1:].lower():
            weight -= 1.0
        if cased and word.istitle():
            weight += 0.5
        good += weight * len(word.encode(encoding, errors="replace"))
    odd = sum(1 for character in text if not character.isascii() and not character.isalpha() and not character.isspace())
    return good - odd
