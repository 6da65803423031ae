"""States and provinces -> ISO 3166-2 codes.

Receives a country number and the text of a state cell, hands on a code. Reads pycountry's list when first
asked.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

from pruner.reference.countries import CODES
from pruner.reference.fold import fold
from pruner.reference.names import state_code


@cache
def _table(code: str) -> dict[str, str]:
    import pycountry

    # The list holds each (None: two of this country bear the name); codes go last and win over names.
    subdivisions: Any = pycountry.subdivisions
    divisions = subdivisions.get(country_code=code) or ()
    table: dict[str, str | None] = {}
    for division in divisions:
        for spelling in {division.name, division.name.split(" [")[0]}:
            name = fold(spelling)
            table[name] = division.code if table.get(name, division.code) == division.code else None
    for division in divisions:
        table[fold(division.code)] = division.code
        table[fold(division.code.partition("-")[2])] = division.code
    return {name: found or "" for name, found in table.items() if name}


@lru_cache(maxsize=1 << 16)
def code_of(country: int, text: str) -> str:
    """The ISO 3166-2 code of the state that `text` names in country number `country`, or "".

    `text` is a code (with or without the country) or a name, compared after `fold`; names that two states of
    the country bear are unknown. Names of larger countries' states in other languages ("Sicily") are known too.
    """
    if not text or not CODES[country]:
        return ""
    found = _table(CODES[country]).get(fold(text))
    return state_code(text, CODES[country]) if found is None else found
