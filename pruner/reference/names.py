"""The text of a country cell -> the place that it names.

Receives any text, hands on the alpha-2 code of a country, with the ISO 3166-2 code where the text names a first-level
subdivision. Never a guess: what is not in the table, and what means two countries, is nothing.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Final, NamedTuple

from pruner.reference.fold import fold, fold_marked
from pruner.reference.mending import mended
from pruner.reference.tables import DATA, rows

_CODE: Final = re.compile(r"[A-Za-z]{2,3}")
_BRACKETS: Final = re.compile(r"[()\[\]{}/|;:,（）／、]|\s[-–—]\s")
_CODE_BEHIND: Final = re.compile(r"(.+?)\s*[(\[/|,;:–—-]+\s*([A-Z]{2,3})[)\]]?\s*")
_CODE_BEFORE: Final = re.compile(r"\s*[(\[]?([A-Z]{2,3})\s*[)\]/|,;:–—-]+\s*(.+)")
_REGIONAL: Final = re.compile("[\U0001f1e6-\U0001f1ff]{2}")
_TAGGED: Final = re.compile("\U0001f3f4([\U000e0061-\U000e007a]{4,6})\U000e007f")
_LONGEST: Final = 100
_SHORTEST_WITH_A_MISTAKE: Final = 5
_ONE_CHARACTER_A_WORD: Final = "\u3000"
#: The same texts stand in table after table: so many of them are looked up once.
_REMEMBERED: Final = 1 << 14


class Place(NamedTuple):
    """`country`: alpha-2 code, "" unknown; `state`: ISO 3166-2 code where the text names one, else ""."""

    country: str
    state: str = ""


NOWHERE: Final = Place("")


def compact(text: str) -> str:
    """The folded text without spaces: a key of the table."""
    return fold(text).replace(" ", "")


def compact_marked(text: str) -> str:
    """The same with accents."""
    return fold_marked(text).replace(" ", "")


def is_short(key: str) -> bool:
    """Whether a key looks like a code: no name is known by so few letters but by hand."""
    return (len(key) <= 3 and key.isascii()) or (len(key) < 2 and key < _ONE_CHARACTER_A_WORD)


@cache
def _codes() -> dict[str, str]:
    return {spelling.casefold(): row[0] for row in rows("countries.tsv") for spelling in row[:2]}


@cache
def table() -> dict[str, str]:
    """Key -> places of every known spelling."""
    cells = iter((DATA / "names.tsv").read_text(encoding="utf-8").replace("\n", "\t").split("\t"))
    return dict(zip(cells, cells, strict=False))


@lru_cache(_REMEMBERED)
def place_of(text: str) -> Place:
    """The place that a country cell names.

    Known are alpha-2 and alpha-3 codes (in plain ASCII letters), the names of CLDR and ISO 3166-1 that mean one country,
    hand-kept names, first-level subdivisions, flags, several of these that agree ("Austria (AT)"), and all of them in
    HTML entities or as UTF-8 taken for another encoding.
    """
    found = _written(text)
    if found.country or len(text) > _LONGEST:
        return found
    for better in mended(text):
        found = _written(better)
        if found.country:
            return found
    return NOWHERE


def _written(text: str) -> Place:
    places = _candidates(text)
    if places:
        return _certain(places)
    return _agreed(text) if len(text) <= _LONGEST else NOWHERE


def _candidates(text: str) -> tuple[str, ...]:
    """The places that a text may mean; a country stands first, "?" where none is certain."""
    text = text.strip()
    code = _codes().get(text.casefold()) if _CODE.fullmatch(text) else None
    if code is not None and text in (text.upper(), text.lower()):
        return (code,)
    known = table()
    exact = known.get(text, code)
    if exact is None:
        exact = known.get(compact_marked(text))
    if exact is None:
        key = compact(text)
        exact = None if is_short(key) else known.get(key)
    return tuple(exact.split(" ")) if exact else ()


def _certain(places: tuple[str, ...]) -> Place:
    if len(places[0]) == 2:
        return Place(places[0])
    return _of_subdivision(places[0]) if len(places) == 1 and places[0] != "?" else NOWHERE


def _of_subdivision(code: str) -> Place:
    return Place(code[:2], code)


def _agreed(text: str) -> Place:
    """The country of which all parts of a text speak."""
    flags: list[tuple[str, ...]] = [(_flag(letters),) for letters in _REGIONAL.findall(text)]
    flags += [(_tagged(tags),) for tags in _TAGGED.findall(text)]
    rest = _TAGGED.sub(" ", _REGIONAL.sub(" ", text))
    for words in _parts(rest):
        place = _agreement([*flags, *(_candidates(part) for part in words if part.strip(" .\"'"))])
        if place.country:
            return place
    return NOWHERE


def _parts(text: str) -> Iterator[list[str]]:
    """Ways to take a text apart: not at all, a code off its end or its beginning, at every sign between names."""
    yield [text]
    if found := _CODE_BEHIND.fullmatch(text) or _CODE_BEFORE.fullmatch(text):
        yield list(found.groups())
    yield _BRACKETS.split(text)


def _agreement(parts: list[tuple[str, ...]]) -> Place:
    certain = {place.country for place in (_certain(part) if part and part[0] else NOWHERE for part in parts)} - {""}
    fitting = [country for country in certain if all(_may_mean(part, country) for part in parts)]
    if len(fitting) != 1:  # Georgia, USA: one name is a country's and a subdivision's
        return NOWHERE
    states = {code for part in parts for code in part if len(code) > 2 and code[:2] == fitting[0] != part[0]}
    return Place(fitting[0], states.pop() if len(states) == 1 else "")


def _may_mean(part: tuple[str, ...], country: str) -> bool:
    return any(code[:2] == country for code in part)


def state_in(text: str, country: str) -> str:
    """The words of a country cell that name a first-level subdivision of `country` (alpha-2), "" where none do.

    "Mexico" names the country, though a state bears the name too.
    """
    place = place_of(text)
    wanted = place.state if place.country == country else country
    return next((words for words, code in _divisions(text) if wanted and code.startswith(wanted)), "")


def state_code(text: str, country: str) -> str:
    """The ISO 3166-2 code of the subdivision of `country` that a text names, "" where it names none."""
    found = {code for _, code in _divisions(text) if code[:2] == country}
    return found.pop() if len(found) == 1 else ""


def may_name_state(text: str) -> bool:
    """Whether a country cell may name a subdivision of some country."""
    return next(_divisions(text), None) is not None


def _divisions(text: str) -> Iterator[tuple[str, str]]:
    """Words of a text with each subdivision that they may mean."""
    if len(text) > _LONGEST or _CODE.fullmatch(text.strip()):
        return
    for read in (text, *mended(text)):
        for words in dict.fromkeys((read, *_BRACKETS.split(_REGIONAL.sub(" ", read)))):
            for code in _candidates(words):
                if len(code) > 2:
                    yield words.strip(), code


def _flag(letters: str) -> str:
    return _codes().get("".join(chr(ord(letter) - 0x1F1E6 + ord("a")) for letter in letters), "")


def _tagged(tags: str) -> str:
    code = "".join(chr(ord(tag) - 0xE0000) for tag in tags).upper()
    return f"{code[:2]}-{code[2:]}" if _codes().get(code[:2].lower()) else ""


@cache
def _names_of_countries() -> dict[str, list[str]]:
    """The names of each country, and those that mean it first."""
    found: dict[str, list[str]] = defaultdict(list)
    for name, places in table().items():
        if places[2:3] in ("", " "):
            found[places[:2]].append(name)
    return dict(found)


def _can_err(key: str) -> bool:
    return len(key) >= _SHORTEST_WITH_A_MISTAKE and key.isalpha() and max(key) < _ONE_CHARACTER_A_WORD


def nearly_names(text: str, country: str) -> bool:
    """Whether a text is a name of the country but for one wrong, missing, surplus or exchanged letter.

    Names of fewer than five letters and those of one character a word are no names with a mistake; neither is a text that
    `place_of` knows or that means several countries.
    """
    if len(text) > _LONGEST or not country or any(map(str.isdigit, text)):
        return False
    key = compact(text)
    if not _can_err(key):
        return False
    half = (len(key) - 2) // 2  # one change leaves so many letters at the beginning, or at the end, as they are
    first, last = key[:half], key[-half:]
    if not any(
        is_one_off(key, name) and _can_err(name)
        for name in _names_of_countries().get(country, ())
        if -1 <= len(name) - len(key) <= 1 and (name.startswith(first) or name.endswith(last))
    ):
        return False
    return not _candidates(text) and not place_of(text).country


def is_one_off(one: str, other: str) -> bool:
    """Whether one change of a letter, or of two neighbours, turns one text into the other."""
    start = 0
    while start < min(len(one), len(other)) and one[start] == other[start]:
        start += 1
    mine, theirs = one[start:], other[start:]
    return (
        mine[1:] == theirs[1:]
        or mine[1:] == theirs
        or mine == theirs[1:]
        or (mine[:2] == theirs[1::-1] and mine[2:] == theirs[2:])
    )
