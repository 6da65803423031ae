"""A heading that names the parts of whole names ("Nachname, Vorname", "Cognome e Nome") -> which part comes first.

Receives the folded words of a heading, hands on an order.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from pruner.table import lexicon
from pruner.table.lexicon import classes_of

SURNAME_FIRST: Final = "surname first"
FIRST_NAME_FIRST: Final = "first name first"
_LONGEST_ENTRY: Final = 2
#: Parts where the whole name is named before its parts.
_WITH_WHOLE: Final = 3
#: Qualifiers of this kind may be parts of a name: "first".
_FIRST: Final = "ordinal"
#: "And" in the languages of the words, folded.
_AND: Final = frozenset("and und et y e i en a es si och og ja in un ir ve va dan и і та й και".split())


def name_order(words: tuple[str, ...]) -> str:
    """The order of two parts of a name that a heading names and nothing else, "" where it does not.

    A word for whole names stands for the surname beside one for the first name.
    """
    if len(words) < 2:
        return ""
    parts = list(_parts(words))
    if len(parts) == _WITH_WHOLE and "name" in parts[0]:  # "Name (last, first)"
        parts = parts[1:]
    if len(parts) != 2 or not all(parts):
        return ""
    one, other = parts
    if _is_before(one, other):
        return FIRST_NAME_FIRST
    return SURNAME_FIRST if _is_before(other, one) else ""


def _is_before(first: frozenset[str], last: frozenset[str]) -> bool:
    """Whether one part can only be the first name beside another, which can be the surname."""
    return (first == {"first_name"} and bool(last - first)) or ("first_name" in first - last and "last_name" in last - first)


def _parts(words: tuple[str, ...]) -> Iterator[frozenset[str]]:
    """What each entry means as a part of a name, empty for what is none; links and qualifiers are left out."""
    wanted = frozenset({"name", "first_name", "last_name"})
    kinds = lexicon.qualifiers()
    skipped = [word in _AND or kinds.get(word, _FIRST) != _FIRST for word in words]
    place = 0
    while place < len(words):
        longest = min(len(words), place + _LONGEST_ENTRY, place + len(words) - 1)
        found, end = frozenset[str](), place + 1
        for stop in range(longest, place, -1):
            is_link = stop == place + 1 and skipped[place]
            found = frozenset() if is_link else classes_of("".join(words[place:stop])) & wanted
            if found:
                end = stop
                break
        if found or not skipped[place]:
            yield found
        place = end
