"""One whole number as people and spreadsheets write it -> its value: used for ids, groups and lists.

Receives a text, hands on a number. The contract stands in DEVELOPERS.md, "Id".
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

#: Longer digit strings are no number of ours.
_MOST_DIGITS: Final = 15
_PLAIN: Final = re.compile(r"0*([0-9]{1,15})(?:[.,]0+)?", re.ASCII)
_GROUPED: Final = re.compile(r"([0-9]{1,3}([.,' ’_])[0-9]{3}(?:\2[0-9]{3})*)(?:[.,]0{1,2})?", re.ASCII)
#: The code of a country and the number in it, or an id and its device suffix, a dash between: common practice, no source.
_DASHED: Final = re.compile(r"([0-9]{3})\s?[-‐‑–]\s?([0-9]{4})|([0-9]{7})\s?[-‐‑–]\s?([0-9]{2})", re.ASCII)
_EXPONENT: Final = re.compile(r"([0-9])(?:[.,]([0-9]+))?[eE]\+?([0-9]{1,2})", re.ASCII)
_WRAPPED: Final = re.compile(r"=\s*\"([^\"]*)\"|'([^']*)'?|\"([^\"]*)\"|#([0-9]+)|\[([^\[\]]*)\]|\(([^()]*)\)")
#: Words for a number before it, and marks of footnotes behind it; an asterisk behind fewer digits is a wildcard of lists.
_LABEL: Final = re.compile(r"(?:(?:dmr|radio|id|nr|no|n°|№)[\s.:#_-]*)+", re.IGNORECASE)
_MARKS: Final = re.compile(r"(?<![\s†‡§¹²³])[\s†‡§¹²³]+$|(?<=[0-9]{7})[\s*]+$")
#: What a number is of, in brackets behind it.
_BEHIND: Final = re.compile(r"(?<=[0-9])\s*+(?:\([^()0-9]{1,40}\)|\[[^\[\]0-9]{1,40}\])$")


def whole_number(text: str) -> int:
    """The number that a text writes, -1 where it writes none.

    Understood are digits of any script, with white space and leading zeros; a point or comma and zeros behind them (but
    three zeros behind one to three digits are thousands); thousands in groups of three, one mark throughout; a dash behind the
    first three of seven digits, or the first seven of nine; an exponent where no digit is lost (2.321234E+06, not 2.32E+06);
    what spreadsheets put around a text that is to stay one (="2321234", '2321234, #2321234), brackets, a word for a number
    before it (DMR ID: 2321234), and what stands behind it: marks of footnotes (2321234*), brackets without a digit (2321234
    (car)).
    """
    if text.isascii() and text.isdigit():
        return _limited(text)
    text = _MARKS.sub("", text.strip())
    if not text.isascii():
        text = "".join(character for character in text if unicodedata.category(character) != "Cf").strip()
    text = _BEHIND.sub("", text)
    label = _LABEL.match(text)
    if label:
        text = text[label.end() :]
    wrapped = _WRAPPED.fullmatch(text)
    if wrapped:
        text = next(group for group in wrapped.groups() if group is not None).strip()
    if len(text) > 40:
        return -1
    if not text.isascii():
        text = with_ascii_digits(text)
    grouped = _GROUPED.fullmatch(text)
    if grouped:
        return _limited(grouped[1].replace(grouped[2], ""))
    plain = _PLAIN.fullmatch("".join(text.split()))
    if plain:
        return int(plain[1])
    dashed = _DASHED.fullmatch(text)
    if dashed:
        return int("".join(part for part in dashed.groups() if part))
    exponent = _EXPONENT.fullmatch(text)
    if exponent:
        decimals, power = exponent[2] or "", int(exponent[3])
        if len(decimals) >= power and not decimals[power:].strip("0"):
            return _limited(exponent[1] + decimals[:power])
    return -1


def has_exponent(text: str) -> bool:
    """Whether a text is a number with an exponent, as spreadsheets write long ones."""
    return _EXPONENT.fullmatch(text.strip()) is not None


def _limited(digits: str) -> int:
    return int(digits) if len(digits.lstrip("0")) <= _MOST_DIGITS else -1


def with_ascii_digits(text: str) -> str:
    """A text with digits of other scripts as ASCII ones, and blanks for white space."""
    return "".join(map(_ascii, text))


def _ascii(character: str) -> str:
    digit = unicodedata.decimal(character, None)
    if digit is not None:
        return str(digit)
    return " " if character.isspace() else character
