"""A line of free text -> tokens: times, numbers, durations, call signs, words and signs.

Receives one line, hands on tokens in order. What a token could be is read off its text alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from pruner.read.date_texts import ZONE_MINUTES
from pruner.read.durations import UNITS
from pruner.reference.callsign import clean_callsign, is_ordinary

_CLOCK: Final = r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?:\s?[AaPp]\.?[Mm]\b\.?)?"
#: Hours and minutes with a point or a word between them.
_WORDED_CLOCK: Final = (
    r"\d{1,2}\.\d{2}(?:\.\d{2})?\s?(?:uur|uhr|Uhr|hrs?|h)\b|\d{1,2}\.\d{2}\.\d{2}"
    r"|\d{1,2}\s?[hH時點点시]\s?\d{2}(?:\s?(?:min|[m分분])?\s?\d{2}\s?[s秒초]?|\s?[m分분])?"
)
_ZONE: Final = rf"(?:\s?(?:{'|'.join(sorted(ZONE_MINUTES, key=lambda name: (-len(name), name)))}|[+-]\d{{2}}:?\d{{2}})\b)?"
_NAME: Final = r"[^\W\d_]{3,14}\.?"
_WEEKDAY: Final = r"(?:[^\W\d_]{2,14}\.?,?\s+)?"
_DAY_OF_MONTH: Final = r"\d{1,2}(?:[.º]|st|nd|rd|th)?"
#: What may stand between a date and a clock: `at`, `om`, `alle ore`.
_LINK: Final = r"(?:[^\W\d_]{1,5}\.?\s+){0,2}"
_DATE: Final = (
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}\.?|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})\b"
    rf"|{_WEEKDAY}{_DAY_OF_MONTH}[-/. ](?:de |of )?{_NAME}[-/., ]{{1,2}}(?:de )?(?:\d{{4}}|\d{{2}})\b"
    rf"|{_WEEKDAY}{_NAME}\s+{_DAY_OF_MONTH},?\s+\d{{4}}|\d{{4}}\.?\s+{_NAME}\s+\d{{1,2}}\.?"
    r"|\d{4}[年년]\s?\d{1,2}[月월]\s?\d{1,2}[日일]"
)
#: Forms of times, the longest first; in a pattern each stands for itself.
TIMES: Final = (
    rf"\d{{4}}[-/.]\d{{1,2}}[-/.]\d{{1,2}}\.?[T _,]+{_CLOCK}{_ZONE}",
    rf"\d{{1,2}}[-/.]\d{{1,2}}[-/.]\d{{2,4}}[T _,:]+{_CLOCK}{_ZONE}",
    rf"{_WEEKDAY}{_DAY_OF_MONTH}[-/. ](?:de )?{_NAME}[-/., ]{{1,2}}(?:de )?\d{{2,4}}[ ,:]+{_CLOCK}{_ZONE}",
    rf"(?:{_NAME}\s+)?{_NAME}\s+\d{{1,2}}\s+{_CLOCK}\s+\d{{4}}",
    rf"{_NAME}\s+\d{{1,2}},?\s+(?:\d{{4}},?\s+)?{_CLOCK}{_ZONE}",
    rf"(?:{_DATE})[T _,:]*\s{_LINK}(?:{_CLOCK}{_ZONE}|{_WORDED_CLOCK})",
    rf"{_CLOCK}{_ZONE}[ ,]+(?:{_DATE})",
    rf"\d{{1,2}}[-/.]\d{{1,2}}\.?[T _,]+{_CLOCK}",
    rf"\d{{4}}[年년]\s?\d{{1,2}}[月월]\s?\d{{1,2}}[日일]\s*{_CLOCK}",
    r"\d{8}[T_-]?\d{6}Z?\b",
    r"\b1\d{9}(?:\d{3}|\d{6}|\d{9})?(?:\.\d+)?\b",
)
_DURATION: Final = r"\d+(?:[.,]\d+)?\s?(?:ms|msec|seconds|secs?|sek|s)\b|\d{1,2}:\d{2}(?::\d{2})?(?:[.,]\d+)?|PT[\d.HMS]+S\b"
NUMBER_FORM: Final = r"\d+(?:[.,]\d+)?"
#: Units of a letter or two are words of other kinds too: they stand right behind their number.
_SHORT: Final = 2
_LONG_UNITS: Final = sorted((unit for unit in UNITS if len(unit) > _SHORT), key=lambda unit: (-len(unit), unit))
_SHORT_UNITS: Final = sorted(unit for unit in UNITS if len(unit) <= _SHORT and unit not in ("m", "h"))
_UNIT: Final = rf"\s?(?:{'|'.join(_LONG_UNITS)})|{'|'.join(_SHORT_UNITS)}"
_NEXT_UNIT: Final = rf"\s?(?:{'|'.join(_LONG_UNITS)}|{'|'.join(_SHORT_UNITS)})"
_WORDED: Final = rf"(?i:{NUMBER_FORM}(?:{_UNIT})(?![^\W_])(?:\s?{NUMBER_FORM}{_NEXT_UNIT}(?![^\W_]))*)"
#: A number and a unit, singular and plural alike, and seconds behind minutes.
_WORDED_FORM: Final = rf"{NUMBER_FORM}\s?[^\W\d_]+\.?(?:\s?{NUMBER_FORM}\s?(?:s|secs?|sek|сек|с|秒|초)\b)?"
#: A duration as it stands in a line.
DURATION_TEXT: Final = re.compile(rf"(?<![\w.:])(?:{_DURATION}|{_WORDED})")
#: Letters that stand right before a number, and any other word.
_WORD: Final = r"(?:TG|TS|ID|GRP|SLOT)(?=\d)|[^\W_]+"
TIME, DURATION, NUMBER, CALL, WORD, SIGN, ADDRESS = "time", "duration", "number", "call", "word", "sign", "address"
#: An address of the Internet, with a port or without.
_ADDRESS: Final = r"\d{1,3}(?:\.\d{1,3}){3}(?::\d{1,5})?\b"
#: Signs that stand repeated are one: arrows, rules.
_SIGN: Final = r"[<>=*~#!+.-]{2,}|[^\w\s]|_"
_TOKEN: Final = re.compile(
    "|".join(f"(?P<t{place}>{form})" for place, form in enumerate(TIMES))
    + rf"|(?P<address>{_ADDRESS})|(?P<duration>{DURATION_TEXT.pattern})|(?P<number>{NUMBER_FORM}(?![^\W_]))"
    + rf"|(?P<word>{_WORD})|(?P<sign>{_SIGN})"
)
#: What stands for each kind in a pattern.
FORMS: Final = {NUMBER: NUMBER_FORM, CALL: r"[A-Za-z0-9/-]+", ADDRESS: _ADDRESS}


@dataclass(frozen=True, slots=True)
class Token:
    """`kind` and text; `form`: the pattern that stands for it; `is_apart`: white space stands before it."""

    kind: str
    text: str
    form: str
    is_apart: bool

    @property
    def key(self) -> str:
        """What two lines are compared by: the kind of what varies, the text of words and signs."""
        return self.text if self.kind in (WORD, SIGN) else f"<{self.kind}>"


def escaped(text: str) -> str:
    """The pattern of a text, with nothing in it that a literal string of TOML may not hold."""
    return "".join(f"\\x{ord(sign):02x}" if sign < " " or sign in "'\x7f" else re.escape(sign) for sign in text)


def duration_form(text: str) -> str:
    """The pattern that stands for durations written like a text."""
    return _DURATION if re.fullmatch(_DURATION, text) else _WORDED_FORM


def durations_form(texts: Iterable[str]) -> str:
    """The pattern that stands for durations anywhere in a text, with no other units than some durations have."""
    units = sorted({text.lstrip("0123456789., ") for text in texts if not re.fullmatch(_DURATION, text)})
    return rf"(?:{_DURATION}|{NUMBER_FORM}\s?(?:{'|'.join(map(re.escape, units))})\b)" if units else rf"(?:{_DURATION})"


def tokens_of(line: str) -> list[Token]:
    """The tokens of a line."""
    found = []
    for match in _TOKEN.finditer(line):
        kind, text = match.lastgroup or "", match[0]
        is_apart = match.start() > 0 and line[match.start() - 1].isspace()
        if kind.startswith("t") and kind[1:].isdigit():
            found.append(Token(TIME, text, TIMES[int(kind[1:])], is_apart))
        elif kind == WORD and any(map(str.isdigit, text)) and is_ordinary(clean_callsign(text)):
            found.append(Token(CALL, text, FORMS[CALL], is_apart))
        elif kind == DURATION:
            found.append(Token(kind, text, duration_form(text), is_apart))
        elif kind in FORMS:
            found.append(Token(kind, text, FORMS[kind], is_apart))
        else:
            found.append(Token(kind, text, escaped(text), is_apart))
    return found
