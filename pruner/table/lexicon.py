"""The words that head columns, folded: what `lexicon_build` makes of the lists in `words_*`.

Hands on look-ups. The lists are thousands of words in 36 languages; a run reads the finished file instead of folding them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from string import ascii_lowercase
from typing import Final

#: Shorter words are not taken for misspelt ones, and shorter than this not for such with a wrong letter.
_SHORTEST: Final = 4
_SHORTEST_WRONG: Final = 6
#: What a short word with a wrong letter may stand for.
_CHIEF: Final = frozenset({"callsign", "country", "state", "town"})
_SHORTEST_ABBREVIATION: Final = 4
FILE: Final = Path(__file__).parent / "data" / "lexicon.tsv"


@cache
def _parts() -> dict[str, dict[str, str]]:
    """Name of each part of the file -> its words -> what each is."""
    found = {}
    for part in FILE.read_text(encoding="utf-8").split("\n\n"):
        name, _, lines = part.strip("\n").partition("\n")
        cells = iter(lines.replace("\n", "\t").split("\t"))
        found[name] = dict(zip(cells, cells, strict=True))
    return found


def classes_of(entry: str) -> frozenset[str]:
    """The classes of words (`table.words.WORDS`) of a folded entry, none where it is no entry."""
    return frozenset(_parts()["entries"].get(entry, "").split())


def nearly(entry: str) -> frozenset[str]:
    """The classes of the entries that a folded word is but for one letter: missing, surplus or exchanged with its neighbour;
    where it is none of these, wrong. The first letter is right; none where entries of several classes are as near, or a letter
    of a short word is wrong that would head no column of texts or stations."""
    if len(entry) < _SHORTEST or not (entry.isascii() and entry.isalpha()):
        return frozenset()
    places = range(1, len(entry))
    exchanged = {entry[:at] + entry[at + 1] + entry[at] + entry[at + 2 :] for at in places[:-1]}
    surplus = {entry[:at] + entry[at + 1 :] for at in places}
    missing = {entry[:at] + letter + entry[at:] for at in (*places, len(entry)) for letter in ascii_lowercase}
    wrong = {entry[:at] + letter + entry[at + 1 :] for at in places for letter in ascii_lowercase}
    for near in (exchanged, surplus | missing, wrong):
        found = {classes_of(word) for word in near if len(word) >= _SHORTEST} - {frozenset()}
        if found:
            only = found.pop() if len(found) == 1 else frozenset[str]()
            return only if near is not wrong or len(entry) >= _SHORTEST_WRONG or only <= _CHIEF else frozenset()
    return frozenset()


def abbreviated(stem: str) -> frozenset[str]:
    """The classes of the entries that begin with the letters of an abbreviation; none where they are of several."""
    if len(stem) < _SHORTEST_ABBREVIATION:
        return frozenset()
    found = {classes for word, classes in _parts()["entries"].items() if word.startswith(stem)}
    return frozenset(found.pop().split()) if len(found) == 1 else frozenset()


def qualifiers() -> dict[str, str]:
    """Kind of qualifier per folded word; words that only link others have the kind "link"."""
    return _parts()["qualifiers"]


def endings() -> dict[str, str]:
    """Folded endings of fused compounds with their class, the longest first."""
    return _parts()["endings"]


def beginnings() -> dict[str, str]:
    """The same of languages that put the head first."""
    return _parts()["beginnings"]


@cache
def joining_letters() -> tuple[str, ...]:
    """Letters that join the parts of a fused compound, no letter first."""
    return ("", *_parts()["joining letters"])
