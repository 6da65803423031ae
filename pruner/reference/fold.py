"""Names folded to a form in which two spellings of one name are equal.

Receives any text, hands on lower-case words with single spaces. The same function makes the tables and reads
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
_NO_SPACE: Final = re.compile(r"[.'’‘ʼʻ`´]")
_SPACE: Final = re.compile(r"[^\w]+|_+")
_SAINT: Final = re.compile(r"\b(?:st|ste)\b\.?(?=\W*\w)")


def fold(text: str) -> str:
    """`text` without case, marks and punctuation; "&" is "and", "St" is "saint", "the" is left out."""
    text = text.strip().casefold()
    if text.isascii() and text.isalpha():
        return "" if text == "the" else text
    if not text.isascii():
        text = unicodedata.normalize("NFKD", text.translate(_LETTERS))
        text = "".join(character for character in text if not unicodedata.combining(character)).casefold()
    text = _SAINT.sub("saint ", text.replace("&", " and "))
    words = _SPACE.sub(" ", _NO_SPACE.sub("", text)).split()
    return " ".join(word for word in words if word != "the")
