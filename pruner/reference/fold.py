"""Names folded to a form in which two spellings of one name are equal.

Receives any text, hands on lower-case words with single spaces. The same functions make the tables and read
cells.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

# Letters that Unicode does not decompose into a base letter and a mark.
_LETTERS: Final = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ħ": "h", "ə": "a"}
)
# One letter of the Arabic script under two code points (a keyboard has one of them), and what is not written there.
_ARABIC: Final = str.maketrans(dict(zip("أإآٱيىكةۀ", "ااااییکهه", strict=True)) | dict.fromkeys("ـًٌٍَُِّْ"))
# Joiners, direction and byte-order marks, soft hyphens, variation selectors: nobody sees them.
_UNSEEN: Final = re.compile("[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufe0e\ufe0f\ufeff]")
# Accents are marks of this block behind a Latin, Greek or Cyrillic letter (all of these stand before U+0530). Other
# scripts write vowels with their marks.
_ACCENTS: Final = re.compile("(?<=[A-Za-z\u00aa-\u052f])[\u0300-\u036f]+")
_NO_SPACE: Final = re.compile(r"[.'’‘ʼʻ`´′]")
_SPACE: Final = re.compile(r"[\s_!-/:-@\[-^{-¿×÷‐-⁞、。・〈-〟﹐-﹫]+")
_SAINT: Final = re.compile(r"\b(?:st|ste)\b\.?(?=\W*\w)")


def fold(text: str) -> str:
    """`text` without case, accents and punctuation; "&" is "and", "St" is "saint", "the" is left out.

    Only the accents of Latin, Greek and Cyrillic letters go; the vowel signs of other scripts are letters.
    """
    text = text.strip().casefold()
    if text.isascii() and text.isalpha():
        return "" if text == "the" else text
    if not text.isascii():
        text = unicodedata.normalize("NFKD", _UNSEEN.sub("", text).translate(_LETTERS))
        text = unicodedata.normalize("NFC", _ACCENTS.sub("", text)).casefold().translate(_ARABIC)
    return _words(text)


def fold_marked(text: str) -> str:
    """The same with its accents, letter for letter: tells names apart that differ in nothing else."""
    text = text.strip().casefold()
    if not text.isascii():
        text = unicodedata.normalize("NFKC", _UNSEEN.sub("", text)).casefold()
    return _words(text)


def _words(text: str) -> str:
    text = _SAINT.sub("saint ", text.replace("&", " and "))
    words = _SPACE.sub(" ", _NO_SPACE.sub("", text)).split()
    return " ".join(word for word in words if word != "the")
