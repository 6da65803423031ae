"""Numbers of things as people write them.

Receives a text, hands on a whole number, or says why it is none. What could be read in two ways is refused.
"""

from __future__ import annotations

import itertools
import re
from typing import Final

#: What stands between groups of three digits: comma, point, low line, apostrophes, and blanks (ordinary, no-break, figure,
#: thin and narrow no-break). The sign hangs on the country; the blanks as in the SI Brochure, 5.4.4 (from memory).
GROUP_SIGNS: Final = ",._'\u2019 \u00a0\u2007\u2009\u202f"
_PLAIN: Final = re.compile(r"0|[1-9][0-9]{0,17}", re.ASCII)
_GROUPED: Final = re.compile(rf"[1-9][0-9]{{0,2}}([{GROUP_SIGNS}])[0-9]{{3}}(?:\1[0-9]{{3}}){{0,4}}", re.ASCII)
#: Three digits behind the sign could be a group or a fraction, so at most two are read as a fraction.
_SHORT: Final = re.compile(r"(0|[1-9][0-9]{0,8})(?:[.,]([0-9]{1,2}))?([kKM])", re.ASCII)
_FACTORS: Final = {"k": 1000, "K": 1000, "M": 1_000_000}
_EXPECTED: Final = "expected a whole number such as 200000, 200,000, 200 000 or 200k"


def count_of(text: str) -> int:
    """The number of things that a text names.

    `200000`, `200,000`, `200.000`, `200 000`, `200_000`, `200'000` (groups of three digits, one sign throughout) and `200k` are
    the same; `k` and `K` are thousands, `M` is millions, and one or two digits may stand behind a point or comma before them
    (`0.5M`, `1,5k`). Raises ValueError with a sentence for everything else: fractions (`1.5`), short groups (`20.00`), zeros
    at the front (`000`), signs, mixed groups.
    """
    text = text.strip()
    if _PLAIN.fullmatch(text):
        return int(text)
    if _GROUPED.fullmatch(text):
        return int(re.sub(f"[{GROUP_SIGNS}]", "", text))
    short = _SHORT.fullmatch(text)
    if short is None:
        raise ValueError(f"{_EXPECTED}, got {_shown(text)}")
    whole, fraction, factor = short[1], short[2] or "", _FACTORS[short[3]]
    return int(whole + fraction) * factor // 10 ** len(fraction)


def count_between(text: str, least: int, most: int) -> int:
    """The same within a range, both ends included. Raises ValueError with a sentence."""
    number = count_of(text)
    if number < least:
        raise ValueError(f"expected {least:,} or more, got {_shown(text)}")
    if number > most:
        raise ValueError(f"expected at most {most:,}, got {_shown(text)}")
    return number


def counts_of(text: str, least: int, most: int) -> list[int]:
    """Numbers with commas between, none smaller than the one before it. A comma never stands inside a number here.

    Raises ValueError with a sentence, also for what looks like a number in groups that was cut at its commas.
    """
    items = [item.strip() for item in text.split(",")]
    hint = "a comma stands between numbers only; write 50000,100000 or 50k,100k"
    for place, item in enumerate(items, 1):
        if not item or not item.strip("0"):
            raise ValueError(f"item {place} of {_shown(text)} is {item or 'empty'}; {hint}")
    numbers = [count_between(item, least, most) for item in items]
    for before, after in itertools.pairwise(numbers):
        if after < before:
            raise ValueError(f"{after:,} stands behind {before:,} in {_shown(text)}, expected rising numbers; {hint}")
    return numbers


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else f"{text[:39]}…")
