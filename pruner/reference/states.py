"""States and provinces -> ISO 3166-2 codes.

Receives a country number and the text of a state cell, hands on a code. Reads pycountry's list when first
asked.
"""

from __future__ import annotations

import json
from functools import cache, lru_cache
from pathlib import Path

from pruner.reference.countries import CODES
from pruner.reference.fold import fold
from pruner.reference.names import state_code


@cache
def _divisions() -> dict[str, list[tuple[str, str]]]:
    """Code and name of the subdivisions of each country, as they lie in the package: its own objects take longer to make."""
    import pycountry

    found: dict[str, list[tuple[str, str]]] = {}
    for one in json.loads((Path(pycountry.DATABASE_DIR) / "iso3166-2.json").read_bytes())["3166-2"]:
        found.setdefault(one["code"].partition("-")[0], []).append((one["code"], one["name"]))
    return found


@cache
def _table(code: str) -> dict[str, str]:
    # The list holds each (None: two of this country bear the name); codes go last and win over names.
    divisions = _divisions().get(code, ())
    table: dict[str, str | None] = {}
    for division, full_name in divisions:
        for spelling in {full_name, full_name.split(" [")[0]}:
            name = fold(spelling)
            table[name] = division if table.get(name, division) == division else None
    for division, _ in divisions:
        table[fold(division)] = division
        table[fold(division.partition("-")[2])] = division
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
