"""Headings and words -> a form in which two spellings of one heading are equal.

Receives any text, hands on lower-case letters and digits. The same function makes the tables of words and reads headings.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from typing import Final

#: Letters that Unicode does not decompose into a base letter and a mark.
_LETTERS: Final = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ħ": "h"})
#: The accents of Latin, Greek and Cyrillic letters; marks of other scripts are vowels or parts of syllables and stay.
_ACCENTS: Final = re.compile("[\u0300-\u036f]+")
_CAMEL: Final = re.compile(r"(?<=[a-zà-ÿ])(?=[A-ZÀ-Þ])|(?<=[A-Z])(?=[A-Z][a-z])")
_SIGNS: Final = re.compile(r"[\W_]+")
_APOSTROPHES: Final = re.compile(r"['’ʼ‘`´]")
_EAST: Final = "\u3040-\u30ff\u31f0-\u31ff\u3400-\u4dbf\u4e00-\u9fff\uac00-\ud7af"
_DIGITS_OR_NOT: Final = re.compile(r"\d+|\D+")


def fold(text: str) -> str:
    """The letters and digits of a text, without case and without the accents of Latin, Greek and Cyrillic letters."""
    return _SIGNS.sub("", text.lower() if text.isascii() else plain(text))


def plain(text: str) -> str:
    """A text without case and accents; everything else stays."""
    text = unicodedata.normalize("NFKC", text).casefold().translate(_LETTERS)
    return unicodedata.normalize("NFC", _ACCENTS.sub("", unicodedata.normalize("NFD", text)))


@lru_cache(maxsize=4096)
def words_of(heading: str) -> tuple[str, ...]:
    """The folded words of a heading: cut at blanks, signs, changes of case and, beside Chinese, Japanese and Korean, of
    script."""
    parts = []
    heading = unicodedata.normalize("NFKC", _APOSTROPHES.sub("", heading))
    if not heading.isascii():  # a mark that is no part of a letter stands within a word (Thai, Arabic, Hindi)
        heading = "".join(letter for letter in heading if not unicodedata.category(letter).startswith("M"))
    for piece in _SIGNS.split(_CAMEL.sub(" ", heading)):
        parts += [fold(part) for part in (_DIGITS_OR_NOT if piece.isascii() else _scripts()).findall(piece)]
    return tuple(part for part in parts if part)


@cache
def _scripts() -> re.Pattern[str]:
    """Runs of one script or of digits: made when the first heading wants it, since it takes as long as hundreds of headings."""
    return re.compile(f"[{_EAST}]+|[^{_EAST}\\d]+|\\d+")
