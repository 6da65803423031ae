"""A text encoding as files need it: what it can hold, how long a text is in it, its byte-order mark.

Receives the name of an encoding, hands on a `TextEncoding`.
"""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal

import polars as pl
import regex  # type: ignore[import-untyped]

WidthUnit = Literal["units", "bytes", "characters"]

_ASCII: Final = "".join(map(chr, range(0x20, 0x7F))) + "\t\r\n"
#: Encodings whose bytes depend on what stands before, or that are no encodings of files.
_REFUSED: Final = frozenset(
    "utf-7 hz punycode idna unicode-escape raw-unicode-escape undefined mbcs oem charmap "
    "iso2022_jp iso2022_jp_1 iso2022_jp_2 iso2022_jp_2004 iso2022_jp_3 iso2022_jp_ext iso2022_kr".replace("-", "_").split()
)
#: Name -> encoding without a mark, bytes of a unit, mark. Two- and four-byte units: little end first if nothing is said.
_UNICODE: Final[dict[str, tuple[str, int, bytes]]] = {
    "utf_8": ("utf-8", 1, codecs.BOM_UTF8),
    "utf_16": ("utf-16-le", 2, codecs.BOM_UTF16_LE),
    "utf_16_le": ("utf-16-le", 2, codecs.BOM_UTF16_LE),
    "utf_16_be": ("utf-16-be", 2, codecs.BOM_UTF16_BE),
    "utf_32": ("utf-32-le", 4, codecs.BOM_UTF32_LE),
    "utf_32_le": ("utf-32-le", 4, codecs.BOM_UTF32_LE),
    "utf_32_be": ("utf-32-be", 4, codecs.BOM_UTF32_BE),
}
#: Characters that UTF-16 writes as a pair of units.
_TWO_UNITS: Final = r"[\x{10000}-\x{10FFFF}]"
_CLUSTER: Final = regex.compile(r"\X")
_EAST_ASIAN: Final = "語中한あ"


@dataclass(frozen=True, slots=True)
class TextEncoding:
    """`codec`: Python's name, without a mark; `unit`: bytes of the smallest piece that it writes; `mark`: its byte-order
    mark (empty: it has none); `holds_all`: it can write any character; `one_unit`: every character takes one unit."""

    codec: str
    unit: int
    mark: bytes
    holds_all: bool
    one_unit: bool

    def holds(self, text: str) -> bool:
        """Whether a text can be written and read again (Shift JIS writes the yen sign as a backslash)."""
        try:
            return text.encode(self.codec).decode(self.codec) == text
        except UnicodeError:
            return False

    def length(self, text: str, unit: WidthUnit) -> int:
        """Units, bytes or characters (extended grapheme clusters, UAX #29) of a text."""
        if unit == "characters":
            return len(clusters(text))
        size = len(text.encode(self.codec))
        return size if unit == "bytes" else size // self.unit

    def lengths(self, texts: pl.Series, unit: WidthUnit) -> pl.Series:
        """The length of each text; UInt32. Texts that are not ASCII are measured once per distinct value."""
        factor = self.unit if unit == "bytes" else 1
        characters = texts.str.len_chars()
        plain = texts.str.len_bytes() == characters
        if plain.all() or (self.one_unit and unit != "characters"):
            return characters * factor
        if self.codec == "utf-8" and unit != "characters":
            return texts.str.len_bytes()
        if self.unit == 2 and unit != "characters":
            return (characters + texts.str.count_matches(_TWO_UNITS)) * factor
        distinct = texts.filter(~plain).unique(maintain_order=True)
        measured = pl.Series([self.length(text, unit) for text in distinct.to_list()], dtype=pl.UInt32)
        odd = texts.set(plain, None).replace_strict(distinct, measured, default=None, return_dtype=pl.UInt32)
        return odd.fill_null(characters * factor)


@lru_cache(maxsize=64)
def text_encoding(name: str) -> TextEncoding:
    """The encoding of a name that Python knows. Raises LookupError with the reason where files cannot be written in it."""
    try:
        key = codecs.lookup(name).name.replace("-", "_")
        "0".encode(key)
    except (LookupError, ValueError):
        raise LookupError('expected the name of a text encoding, such as "cp1252" or "utf-8"') from None
    if key == "utf_8_sig":
        raise LookupError('expected "utf-8" with byte_order_mark = true')
    if key in _UNICODE:
        codec, unit, mark = _UNICODE[key]
        return TextEncoding(codec, unit, mark, True, unit == 4)
    if key in _REFUSED:
        raise LookupError('expected an encoding in which each character stands for itself, such as "cp1252" or "utf-8"')
    encoding = TextEncoding(key, 1, b"", key == "gb18030", True)
    if not encoding.holds(_ASCII):
        raise LookupError("expected an encoding that holds all of ASCII")
    several = any(encoding.holds(character) and len(character.encode(key)) > 1 for character in _EAST_ASIAN)
    return TextEncoding(key, 1, b"", encoding.holds_all, not several)


def clusters(text: str) -> list[str]:
    """The characters of a text as people see them: extended grapheme clusters (Unicode UAX #29)."""
    return list(text) if text.isascii() and "\r" not in text else _CLUSTER.findall(text)


def first_clusters(text: str) -> Iterator[str]:
    """The same, one by one."""
    return (found[0] for found in _CLUSTER.finditer(text))
