"""Countries as small numbers.

Receives text out of a country cell, hands on a number: 0 is unknown, 1 to N are the ISO 3166-1 alpha-2 codes
(and XK, user-assigned, for Kosovo) in alphabetical order. Never a guess: a name is in the table or it is
unknown.
"""

from __future__ import annotations

import difflib
from functools import cache
from typing import Final

from pruner.reference.fold import fold
from pruner.reference.tables import DATA, rows

_ROWS: Final = rows("countries.tsv")

#: Alpha-2 code per country number; number 0 is "".
CODES: Final[tuple[str, ...]] = ("", *(row[0] for row in _ROWS))
#: Country number per alpha-2 code; "" is not in it.
NUMBERS: Final[dict[str, int]] = {code: number for number, code in enumerate(CODES) if code}
#: Display name per country number; number 0 is "".
NAMES: Final[tuple[str, ...]] = ("", *(row[2] for row in _ROWS))


@cache
def _codes() -> dict[str, str]:
    cells = iter((DATA / "names.tsv").read_text(encoding="utf-8").replace("\n", "\t").split("\t"))
    return dict(zip(cells, cells, strict=False))


@cache
def _spellings() -> dict[str, str]:
    """Names in all languages, of more letters than a code has, and what is displayed; display names stand first."""
    display = {fold(name): name for name in NAMES[1:]}
    others = {name: NAMES[NUMBERS[code]] for name, code in _codes().items() if len(name) > 3 and code in NUMBERS}
    return {**display, **{name: shown for name, shown in others.items() if name not in display}}


def find(text: str) -> int:
    """The number of the country that `text` names, or 0.

    Known are alpha-2 and alpha-3 codes, ISO names in English and in the languages of pycountry's translations
    (those that mean two countries are left out), and a hand-kept list of common names. Compared after `fold`;
    never fuzzy.
    """
    return NUMBERS.get(_codes().get(fold(text), ""), 0)


def nearest_names(text: str) -> list[str]:
    """Up to three display names that look like `text`, nearest first: for an error's text, never for data."""
    near = difflib.get_close_matches(fold(text), _spellings(), n=12, cutoff=0.6)
    return list(dict.fromkeys(_spellings()[name] for name in near))[:3]
