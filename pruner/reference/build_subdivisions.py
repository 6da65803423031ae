"""Names of first-level subdivisions for the table of spellings, and how a name is put into it.

Receives the subdivision names of Unicode CLDR and the codes of pycountry (ISO 3166-2: which exist, and which lie in another),
hands on keys with the codes that they may mean.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pycountry

from pruner.reference.names import compact, compact_marked, is_short

#: Debian package unicode-cldr-core 41.
SUBDIVISIONS: Final = Path("/usr/share/unicode/cldr/common/subdivisions")

IN_BRACKETS: Final = re.compile(r"\s*[(（].*?[)）]\s*")
_UMLAUTS: Final = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "ø": "oe", "å": "aa"})
#: "and" between two names, in the languages of CLDR.
_AND: Final = re.compile(r" (?:and|und|et|y|e|en|i|a|och|og|ja|és|și|si|ir|un|ve|dan|и|і|та|και) ")
#: Subdivisions whose country is disputed, and those that are countries of ISO 3166-1.
_DISPUTED: Final = frozenset({"UA-43", "UA-40", "CN-TW", "CN-HK", "CN-MO"})
#: Languages in which the subdivisions of all countries are known, and those of single countries.
_WIDE_LANGUAGES: Final = ("en", "de", "fr", "es", "it")
_OWN_LANGUAGES: Final = {
    **dict.fromkeys(("BR", "PT"), "pt"), **dict.fromkeys(("BE", "NL"), "nl"), **dict.fromkeys(("RU", "BY", "UA"), "ru"),
    "PL": "pl", "CZ": "cs", "SK": "sk", "SE": "sv", "DK": "da", "NO": "no", "FI": "fi", "HU": "hu", "RO": "ro", "TR": "tr",
    "HR": "hr", "RS": "sr", "BG": "bg", "GR": "el", "JP": "ja", "CN": "zh", "KR": "ko", "EG": "ar", "TH": "th", "ID": "id",
    "MY": "ms", "IN": "hi",
}  # fmt: skip
#: Countries whose stations name a state, province or canton (common practice, no source).
_SUBDIVIDED: Final = frozenset(
    "AR AT AU BA BE BG BR BY CA CH CL CN CO CZ DE DK EG ES FI FR GB GR HR HU ID IE IN IT JP KR MX MY NL NO NZ PE PH PL PT "
    "RO RS RU SE SK TH TR UA US VE ZA".split()
)

Spellings = dict[str, set[str]]


def variants_of(name: str) -> Iterator[str]:
    """Other ways to write a name: umlauts in two letters, "&", without what stands in brackets."""
    lower = name.casefold()
    if lower != lower.translate(_UMLAUTS):
        yield lower.translate(_UMLAUTS)
    if len(_AND.findall(name)) == 1:
        yield _AND.sub(" & ", name)
    if IN_BRACKETS.search(name):
        yield IN_BRACKETS.sub(" ", name)


def put(into: Spellings, name: str, place: str) -> None:
    """Adds a place that a name may mean, with and without the name's accents; no name that looks like a code."""
    for key in {compact(name), compact_marked(name)}:
        if not is_short(key):
            into.setdefault(key, set()).add(place)


def subdivisions() -> Spellings:
    """Names of first-level subdivisions; "" stands for a place of lower level in another country."""
    parents = {division.code: division.parent_code for division in pycountry.subdivisions}
    first = {code for code, parent in parents.items() if parent is None}
    taken = {code for code in first if code[:2] in _SUBDIVIDED} - _DISPUTED
    names: Spellings = defaultdict(set)
    elsewhere: Spellings = defaultdict(set)
    for language in dict.fromkeys((*_WIDE_LANGUAGES, *_OWN_LANGUAGES.values())):
        for code, name in _names_in(language):
            if code in taken and (language in _WIDE_LANGUAGES or language == _OWN_LANGUAGES.get(code[:2])):
                for spelling in (name, *variants_of(name)):
                    put(names, spelling, code)
            elif code in first or (code in parents and language == "en"):
                put(elsewhere, name, code)
    for key, places in names.items():
        countries = {place[:2] for place in places}
        places |= {place if place in first else "" for place in elsewhere.get(key, ()) if place[:2] not in countries}
    return names


def _names_in(language: str) -> Iterator[tuple[str, str]]:
    root = ElementTree.parse(SUBDIVISIONS / f"{language}.xml").getroot()
    for entry in root.iter("subdivision"):
        code = entry.attrib["type"].upper()
        yield f"{code[:2]}-{code[2:]}", entry.text or ""
