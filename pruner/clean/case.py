"""Easing of shouted names and places: "MARIA VAN DER BERG" to "Maria van der Berg".

Receives one text; hands on the text in normal case, or the same text where it was not shouted.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

_VOWELS: Final = frozenset("AEIOUYØÆŒАЕИОУЫЭЮЯІЄΑΕΗΙΟΥΩ")
_SEPARATORS: Final = re.compile(r"([\s\-/(),&;:\"._+*\[\]]+)")
_ROMAN: Final = re.compile(r"I{1,3}|IV|VI{0,3}|IX|XI{0,3}|XIV|XV")
_TITLES: Final = frozenset({"JR", "SR", "DR", "MR", "MRS", "ST", "STR", "NG"})
_JOINING: Final = re.compile(
    "AL|AM|AND?|AUF|AUX|BEI|D[AEIOU]|D[AEO]S|DEL|DELLA|DE[NR]|E[LN]|I[MN]|LA|LAS|LE|LES|LOS|OB|OF|ON|SUR"
    "|TEN|TER|THE|TO|UND|UNTER|UPON|VAN|VO[MN]|ZU|ZU[MR]"
)


def eased(text: str) -> str:
    """`text` in normal case if it was shouted: all in capitals, at least four letters and a vowel among them.

    Every word gets one capital, with O'Brien, McKay and hyphens; initials, Roman numerals, words with
    digits and short words without a vowel stay; joining words ("van", "de", "am") are lower-cased inside
    the text. The word lists are common practice, no source.
    """
    if not text.isupper() or sum(map(str.isalpha, text)) < 4 or not _has_vowel(text):
        return text
    parts = _SEPARATORS.split(text)
    words = [position for position in range(0, len(parts), 2) if parts[position]]
    for position in words:
        is_inside = words[0] < position < words[-1]
        parts[position] = _eased_word(parts[position], is_first=position == words[0], is_inside=is_inside)
    return "".join(parts)


def _has_vowel(text: str) -> bool:
    return not _VOWELS.isdisjoint(unicodedata.normalize("NFD", text))


def _eased_word(word: str, *, is_first: bool, is_inside: bool) -> str:
    if len(word) == 1:
        return word
    if is_inside and _JOINING.fullmatch(word):
        return word.lower()
    if any(map(str.isdigit, word)) or (not is_first and _ROMAN.fullmatch(word)):
        return word
    if len(word) <= 3 and word not in _TITLES and not _has_vowel(word):
        return word
    for apostrophe in "'’":
        before, found, after = word.partition(apostrophe)
        if found:
            keeps_capital = len(before) <= 2 and len(after) >= 3
            return before.capitalize() + found + (after.capitalize() if keeps_capital else after.lower())
    if word.startswith("MC") and len(word) >= 5:
        return "Mc" + word[2:].capitalize()
    return word.capitalize()
