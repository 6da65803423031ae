"""A line of free text -> tokens: times, numbers, durations, call signs, words and signs.

Receives one line, hands on tokens in order. What a token could be is read off its text alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from pruner.read.durations import UNITS
from pruner.reference.callsign import clean_callsign, is_ordinary

_CLOCK: Final = r"\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?(?:\s?[AaPp]\.?[Mm]\b\.?)?"
_ZONE: Final = r"(?:\s?(?:Z|UTC|GMT|[+-]\d{2}:?\d{2})\b)?"
_NAME: Final = r"[^\W\d_]{3,14}\.?"
_DAY_OF_MONTH: Final = r"\d{1,2}(?:[.º]|st|nd|rd|th)?"
#: Forms of times, the longest first; in a pattern each stands for itself.
TIMES: Final = (
    rf"\d{{4}}[-/.]\d{{1,2}}[-/.]\d{{1,2}}\.?[T _,]+{_CLOCK}{_ZONE}",
    rf"\d{{1,2}}[-/.]\d{{1,2}}[-/.]\d{{2,4}}[T _,:]+{_CLOCK}{_ZONE}",
    rf"(?:{_NAME},?\s+)?{_DAY_OF_MONTH}[-/. ](?:de )?{_NAME}[-/., ]{{1,2}}(?:de )?\d{{2,4}}[ ,:]+{_CLOCK}{_ZONE}",
    rf"(?:{_NAME}\s+)?{_NAME}\s+\d{{1,2}}\s+{_CLOCK}\s+\d{{4}}",
    rf"{_NAME}\s+\d{{1,2}},?\s+(?:\d{{4}},?\s+)?{_CLOCK}{_ZONE}",
    rf"{_CLOCK}[ ,]+(?:\d{{1,2}}[-/.]\d{{1,2}}[-/.]\d{{2,4}}|\d{{4}}[-/.]\d{{1,2}}[-/.]\d{{1,2}})",
    rf"\d{{1,2}}[-/.]\d{{1,2}}\.?[T _,]+{_CLOCK}",
    rf"\d{{4}}年\s?\d{{1,2}}月\s?\d{{1,2}}日\s*{_CLOCK}",
    r"\d{8}[T_-]?\d{6}Z?\b",
    r"\b1\d{9}(?:\d{3}|\d{6}|\d{9})?(?:\.\d+)?\b",
)
_DURATION: Final = r"\d+(?:[.,]\d+)?\s?(?:ms|msec|seconds|secs?|sek|s)\b|\d{1,2}:\d{2}(?::\d{2})?(?:[.,]\d+)?|PT[\d.HMS]+S\b"
_NUMBER: Final = r"\d+(?:[.,]\d+)?"
#: Units of a letter or two are words of other kinds too: they stand right behind their number.
_SHORT: Final = 2
_LONG_UNITS: Final = sorted((unit for unit in UNITS if len(unit) > _SHORT), key=lambda unit: (-len(unit), unit))
_SHORT_UNITS: Final = sorted(unit for unit in UNITS if len(unit) <= _SHORT and unit not in ("m", "h"))
_UNIT: Final = rf"\s?(?:{'|'.join(_LONG_UNITS)})|{'|'.join(_SHORT_UNITS)}"
_NEXT_UNIT: Final = rf"\s?(?:{'|'.join(_LONG_UNITS)}|{'|'.join(_SHORT_UNITS)})"
_WORDED: Final = rf"(?i:{_NUMBER}(?:{_UNIT})(?![^\W_])(?:\s?{_NUMBER}{_NEXT_UNIT}(?![^\W_]))*)"
#: A number and a unit, singular and plural alike, and seconds behind minutes.
_WORDED_FORM: Final = rf"{_NUMBER}\s?[^\W\d_]+\.?(?:\s?{_NUMBER}\s?(?:s|secs?|sek|сек|с|秒|초)\b)?"
#: A duration as it stands in a line.
DURATION_TEXT: Final = re.compile(rf"(?<![\w.:])(?:{_DURATION}|{_WORDED})")
#: Letters that stand right before a number, and any other word.
_WORD: Final = r"(?:TG|TS|ID|GRP|SLOT)(?=\d)|[^\W_]+"
TIME, DURATION, NUMBER, CALL, WORD, SIGN = "time", "duration", "number", "call", "word", "sign"
_TOKEN: Final = re.compile(
    "|".join(f"(?P<t{place}>{form})" for place, form in enumerate(TIMES))
    + rf"|(?P<duration>{DURATION_TEXT.pattern})|(?P<number>{_NUMBER}(?![^\W_]))|(?P<word>{_WORD})|(?P<sign>[^\w\s]|_)"
)
#: What stands for each kind in a pattern.
FORMS: Final = {NUMBER: _NUMBER, CALL: r"[A-Za-z0-9/-]+"}


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


def duration_form(text: str) -> str:
    """The pattern that stands for durations written like a text."""
    return _DURATION if re.fullmatch(_DURATION, text) else _WORDED_FORM


def durations_form(texts: Iterable[str]) -> str:
    """The pattern that stands for durations anywhere in a text, with no other units than some durations have."""
    units = sorted({text.lstrip("0123456789., ") for text in texts if not re.fullmatch(_DURATION, text)})
    return rf"(?:{_DURATION}|{_NUMBER}\s?(?:{'|'.join(map(re.escape, units))})\b)" if units else rf"(?:{_DURATION})"


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
            found.append(Token(kind, text, re.escape(text), is_apart))
    return found
