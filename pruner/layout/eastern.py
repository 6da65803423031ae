"""Japanese kana and Korean Hangul -> Latin letters; which characters are Han, whose reading depends on the language.

Receives words, hands on words. Kana and Hangul each belong to one language. Han characters are read in one way in Chinese,
in others in Japanese, Korean and Cantonese, so nothing here reads them.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from anyascii import anyascii

#: Han characters with their iteration mark and zero (Unicode property Script=Han, the blocks in use).
HAN: Final = re.compile("[々〇〡-〩\u2e80-\u2fd5㐀-䶿一-鿿\uf900-\ufaff\U00020000-\U000323af]")
_KANA: Final = re.compile("[\u3041-\u309f\u30a1-\u30ff\u31f0-\u31ff\uff66-\uff9f]+")
_HANGUL: Final = re.compile("[가-힣]+")

# Hepburn's spelling (from memory): a small letter changes the syllable before it, ッ doubles the consonant behind it.
_SMALL_Y: Final = re.compile("(?:([sc]h|j)i|([a-z])i)(ゃ|ゅ|ょ)")
_SMALL_VOWEL: Final = re.compile("([a-z])[aeiou](ぁ|ぃ|ぅ|ぇ|ぉ)")
_DOUBLED: Final = re.compile("っ+(?=([a-z])|$)")
_KEPT: Final = frozenset("ぁぃぅぇぉゃゅょっ")

# Revised Romanization of Korean, 2000 (from memory): the letters that begin a syllable, its vowel, the letters that end it,
# and the same before a vowel.
_FIRST: Final = "g kk n d tt r m b pp s ss - j jj ch k t p h".replace("-", "").split(" ")
_VOWEL: Final = "a ae ya yae eo e yeo ye o wa wae oe yo u wo we wi yu eu ui i".split()
_LAST: Final = "- k k k n n n t l k m l l l p l m p p t t ng t t k t p t".replace("-", "").split(" ")
_LINKED: Final = "- g kk ks n nj n d r lg lm lb ls lt lp r m b ps s ss ng j ch k t p -".replace("-", "").split(" ")
_SILENT, _RIEUL, _FINAL_RIEUL = 11, 5, 8


def has_kana(text: str) -> bool:
    """Whether a text holds kana: its Han characters are then Japanese."""
    return _KANA.search(text) is not None


def romanised(text: str) -> str:
    """The text with its kana and Hangul in Latin letters, each run with a capital; all else as it is."""
    text = _KANA.sub(lambda found: _of_kana(found[0]).capitalize(), text)
    return _HANGUL.sub(lambda found: _of_hangul(found[0]).capitalize(), text)


def _of_kana(text: str) -> str:
    text = "".join(map(_as_hiragana, unicodedata.normalize("NFKC", text)))
    spelled = "".join(character if character in _KEPT else anyascii(character) for character in text)
    spelled = _SMALL_Y.sub(lambda found: (found[1] or f"{found[2]}y") + anyascii(found[3])[-1], spelled)
    spelled = _SMALL_VOWEL.sub(lambda found: found[1] + anyascii(found[2]), spelled)
    spelled = _DOUBLED.sub(lambda found: "t" if found[1] == "c" else found[1] or "", spelled)
    return "".join(anyascii(character) for character in spelled)


def _as_hiragana(character: str) -> str:
    return chr(ord(character) - 0x60) if "ァ" <= character <= "ヶ" else character


def _of_hangul(text: str) -> str:
    syllables = [ord(character) - 0xAC00 for character in text]
    spelled = []
    for place, syllable in enumerate(syllables):
        first, vowel, last = syllable // 588, syllable % 588 // 28, syllable % 28
        following = syllables[place + 1] // 588 if place + 1 < len(syllables) else -1
        doubled = place > 0 and first == _RIEUL and syllables[place - 1] % 28 == _FINAL_RIEUL
        spelled += ["l" if doubled else _FIRST[first], _VOWEL[vowel], (_LINKED if following == _SILENT else _LAST)[last]]
    return "".join(spelled)
