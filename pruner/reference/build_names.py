"""Makes the table of spellings in `data/names.tsv`: what a country cell may say, and which place that is.

Receives territory and subdivision names of Unicode CLDR and the hand-kept spellings, hands on rows of key and places.
A key is a compact folded name; one with a capital letter is a cell as it is written. Places are alpha-2 codes of
countries and ISO 3166-2 codes of their first-level subdivisions. No key means two countries.
"""

from __future__ import annotations

import json
import os
import re
from collections import defaultdict
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Final

import pycountry

from pruner.reference.build_subdivisions import SUBDIVISIONS, Spellings, put, subdivisions, variants_of
from pruner.reference.names import compact, compact_marked, is_short
from pruner.reference.tables import DATA, rows

HAND: Final = DATA / "hand"
#: npm package cldr-localenames-full 48.2.0, unpacked.
CLDR: Final = Path(os.environ.get("PRUNER_CLDR", "/tmp/pruner-cldr/package"))

#: Territories of CLDR that ISO 3166-1 counts to another.
_PART_OF: Final = {"AC": "SH-AC", "TA": "SH-TA", "IC": "ES-CN", "EA": "ES", "DG": "IO", "CQ": "GG", "CP": "FR-CP"}
#: Countries of one name, told apart by what stands in brackets behind it or before it.
_TOLD_APART: Final = {**dict.fromkeys(("CD", "CG"), ("CD", "CG")), **dict.fromkeys(("KP", "KR"), ("KP", "KR"))}


def have_sources() -> bool:
    """Whether the names of CLDR lie on this machine."""
    return (CLDR / "main").is_dir() and SUBDIVISIONS.is_dir()


@cache
def territories() -> tuple[tuple[str, str, str, bool], ...]:
    """Locale, territory, name and whether it is an abbreviation, of all locales of CLDR."""
    found = []
    for path in sorted((CLDR / "main").glob("*/territories.json")):
        for locale, content in json.loads(path.read_text(encoding="utf-8"))["main"].items():
            for territory, name in content["localeDisplayNames"]["territories"].items():
                found.append((locale, territory.partition("-alt-")[0], name, territory.endswith("-alt-short")))
    assert len(found) > 100_000, f"no names of CLDR in {CLDR}: npm pack cldr-localenames-full@48.2.0"
    return tuple(found)


def english_names() -> dict[str, str]:
    """Name in English of each territory of CLDR, written out: no "&", no "St."."""
    path = CLDR / "main" / "en" / "territories.json"
    found = json.loads(path.read_text(encoding="utf-8"))["main"]["en"]["localeDisplayNames"]["territories"]
    return {code: name.replace(" & ", " and ").replace("St. ", "Saint ") for code, name in found.items() if len(code) == 2}


def _kept(table: str) -> list[tuple[str, str]]:
    """Name and code of the rows of a hand-kept table."""
    return [(name, code) for name, code, _ in rows(table, HAND)]


def _cldr(known: set[str]) -> tuple[Spellings, Spellings, Spellings]:
    """Names, variants of names, and cells as they are written, of the territories of CLDR."""
    names: Spellings = defaultdict(set)
    variants: Spellings = defaultdict(set)
    exact: Spellings = defaultdict(set)
    countries: Spellings = defaultdict(set)
    regions: Spellings = defaultdict(set)
    for locale, territory, name, short in territories():
        code = _PART_OF.get(territory, territory)
        for key in (compact(name), compact_marked(name)):
            (countries if code[:2] in known else regions)[key].add(locale.partition("-")[0])
        if code[:2] not in known:
            continue
        if is_short(compact_marked(name)):
            exact[name].add(code if short else f"{code} by its full name")
            continue
        put(names, name, code)
        for variant in variants_of(name):
            for place in _TOLD_APART.get(code, (code,)):
                put(variants, variant, place)
        if code == "MM" and (inside := re.search(r"[(（](.*?)[)）]", name)):
            put(names, inside[1], code)
    for key, languages in regions.items():  # a region of as many languages as those in which a country bears its name
        if len(languages) >= len(countries.get(key, ())):
            names[key].add("")
    return names, variants, exact


def names(countries: Iterable[tuple[str, ...]]) -> list[tuple[str, str]]:
    """Key and places of each spelling: displayed and hand-kept names first, then CLDR, then what agrees with it."""
    countries = list(countries)
    own_names = [*((name, code) for code, _, name, _ in countries), *_kept("official.tsv")]
    english = [*own_names, *_kept("aliases.tsv")]
    codes = {spelling.casefold(): row[0] for row in countries for spelling in row[:2]}
    known = set(codes.values())
    strong: Spellings = defaultdict(set)
    for name, code in english:
        for key in {compact_marked(name), compact(name)}:
            if name.isascii() or not is_short(key):
                strong[key].add(code)
    doubtful = {key: found for key, found in strong.items() if len(found) > 1}
    assert not doubtful, f"hand-kept or English names of two countries: {doubtful}"
    for name, both, _ in rows("ambiguous.tsv", HAND):
        strong[compact_marked(name)] = {"" if code == "?" else code for code in both.split(" ")}
    for key in filter(is_short, strong):
        assert codes.get(key, min(strong[key])) in strong[key], f"{key} is a code of another country"
    cldr, variants, exact = _cldr(known)
    table: Spellings = dict(strong)
    for name, code in english:
        for key in (compact(name), compact_marked(name)):
            if cldr.get(key, set()) - {"", code} and len(strong[key]) == 1:
                table[key] = cldr[key]
                exact[name] = {code}
    table = {**cldr, **table}
    table |= {key: found for key, found in variants.items() if key not in table and table.get(compact(key), found) == found}
    own = {key for key, found in cldr.items() if any(len(place) == 2 for place in found)}
    own |= {key for name, _ in own_names for key in (compact(name), compact_marked(name))}
    for key, places in subdivisions().items():
        countries_of_name = table.get(key, set())
        stands_for = {place[:2] for place in places} == {place[:2] for place in countries_of_name}
        if stands_for and key not in own:
            table[key] = places
        else:
            table[key] = countries_of_name | places - ({""} if countries_of_name else set())
    for name, code, _ in rows("subdivisions.tsv", HAND):
        table[compact(name)] = table[compact_marked(name)] = {code}
    divisions = {division.code for division in pycountry.subdivisions}
    unknown = {place for found in table.values() for place in found} - known - divisions - {""}
    assert not unknown, f"places that ISO 3166 does not know: {sorted(unknown)}"
    made = {key: _cell(found) for key, found in table.items()}
    made |= {key: _cell(found) for key, found in _exact(exact, codes).items()}
    return sorted((key, cell) for key, cell in made.items() if _is_needed(key, cell, made))


def _is_needed(key: str, cell: str, made: dict[str, str]) -> bool:
    """Whether a look-up without this key would say something else."""
    if not key or (cell == "?" and key == key.casefold()):
        return False
    plain = compact(key)
    return plain == key or is_short(plain) or key != key.casefold() or made.get(plain) != cell


def _exact(written: Spellings, codes: dict[str, str]) -> Spellings:
    """Names that only count as they are written: abbreviations, and names that look like another country's code."""
    result = {}
    for name, found in written.items():
        code = codes.get(name.casefold())
        places = {place for place in found if " " not in place}
        if places == found and len(found) == 1 and code is None and len(name) > 2 and name != name.casefold():
            result[name] = found
        elif code not in (None, *(place.partition(" ")[0] for place in found)) and places != found and name.istitle():
            result[name] = {""}
    return result


def _cell(places: set[str]) -> str:
    """Places as a cell of the table: the certain one first, or "?" before those that a name may mean."""
    countries = sorted(place for place in places if len(place) == 2)
    divisions = sorted(place for place in places if len(place) > 2)
    if len(countries) == 1 and "" not in places:
        return " ".join(countries + divisions)
    if not countries and "" not in places and len({place[:2] for place in divisions}) == 1:
        return divisions[0] if len(divisions) == 1 else divisions[0][:2]
    return " ".join(["?", *countries, *divisions])
