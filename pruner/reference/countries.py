"""Countries as small numbers.

Receives text out of a country cell, hands on a number: 0 is unknown, 1 to N are the ISO 3166-1 alpha-2 codes
(and XK, user-assigned, for Kosovo) in alphabetical order. Never a guess: a name is in the table or it is
unknown.
"""

from __future__ import annotations

import difflib
from functools import cache
from typing import Final

from pruner.reference import names
from pruner.reference.tables import rows

_ROWS: Final = rows("countries.tsv")

#: Alpha-2 code per country number; number 0 is "".
CODES: Final[tuple[str, ...]] = ("", *(row[0] for row in _ROWS))
#: Country number per alpha-2 code; "" is not in it.
NUMBERS: Final[dict[str, int]] = {code: number for number, code in enumerate(CODES) if code}
#: Display name per country number; number 0 is "".
NAMES: Final[tuple[str, ...]] = ("", *(row[2] for row in _ROWS))


@cache
def _spellings() -> dict[str, str]:
    """Names in all languages, of more letters than a code has, and what is displayed; display names stand first."""
    display = {names.compact(name): name for name in NAMES[1:]}
    others = {key: NAMES[NUMBERS[place]] for key, place in names.table().items() if len(key) > 3 and place in NUMBERS}
    return {**display, **{name: shown for name, shown in others.items() if name not in display}}


def find(text: str) -> int:
    """The number of the country that `text` names, or 0; of a first-level subdivision ("Alaska") its country.

    `names.place_of` says what is known. Never fuzzy.
    """
    return NUMBERS.get(names.place_of(text).country, 0)


def read(text: str) -> tuple[int, str]:
    """The same with the ISO 3166-2 code of the subdivision that `text` names, "" where it names none."""
    place = names.place_of(text)
    return NUMBERS.get(place.country, 0), place.state


def is_country(text: str) -> bool:
    """Whether `text` names a country itself: columns of states name countries too, in the sense of `find`."""
    number, state = read(text)
    return number > 0 and not state


def is_nearly(text: str, number: int) -> bool:
    """Whether `text` names country `number` but for one wrong letter: for rows of which another column says the same."""
    return names.nearly_names(text, CODES[number])


@cache
def _numeric() -> dict[str, int]:
    return {row[3]: NUMBERS[row[0]] for row in _ROWS if row[3]}


def of_numeric(text: str) -> int:
    """The number of the country with this ISO 3166-1 numeric code (three digits), or 0.

    For columns that are known to hold such codes: a cell alone could be a mobile country code as well.
    """
    return _numeric().get(text.strip(), 0)


def nearest_names(text: str) -> list[str]:
    """Up to three display names that look like `text`, nearest first: for an error's text, never for data."""
    near = difflib.get_close_matches(names.compact(text), _spellings(), n=12, cutoff=0.6)
    return list(dict.fromkeys(_spellings()[name] for name in near))[:3]


def name_of_code(code: str | None) -> str:
    """The display name of a country's code; empty where the code is unknown."""
    return NAMES[NUMBERS[code]] if code in NUMBERS else ""
