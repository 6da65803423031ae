"""A heading -> what it can mean, with weights.

Receives the text of a heading, hands on a `Sense`. A heading that stands in the lists of words as a whole counts fully; else
its words are looked at: a word that says what stands in the column (a town, a call sign) goes before general words (number,
name), and words that only qualify (the system, the station, its holder) or that nobody knows lower the weight but do not hide
it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final

from pruner.table import lexicon
from pruner.table.fold import words_of
from pruner.table.lexicon import abbreviated, classes_of, nearly
from pruner.table.name_order import SURNAME_FIRST, name_order
from pruner.table.never_taken import NEVER_TAKEN

#: Weights of a heading that is an entry as a whole, of known words in any order, of known words beside unknown ones, and of an
#: ending of a compound word.
WHOLE, KNOWN, PARTLY, ENDING = 1.0, 0.9, 0.75, 0.7
#: General words: beside a word of another meaning they only say how it is written.
GENERAL: Final = frozenset({"id", "number", "name", "description", "station"})
#: The name of a value inside another: "address.country" is a country, not an address.
_INSIDE: Final = re.compile(r"\w[\w -]*(?:\.\w[\w -]*)*\.(\w[\w -]*)")
#: Endings of so many letters are the head of a compound whatever stands before them.
_LONG_ENDING: Final = 5
#: Entries of fewer letters are no part of a compound: "pa" in "paid".
_SHORTEST_STEM: Final = 3
#: A longer text is no heading; all that its words may be together are tried.
_LONGEST: Final = 300
#: A misspelt heading has no more words than this.
_MOST_WORDS: Final = 3
SYSTEM_WORDS: Final = {"dmr": "dmr", "nxdn": "nxdn", "p25": "p25"}
#: Milliseconds of the classes of words that name a unit; in them a column of durations is written.
_UNITS: Final = {"milliseconds": 1, "seconds": 1000, "minutes": 60_000}
_UNIT_WORDS: Final = {"ms": 1, "msec": 1, "s": 1000, "sec": 1000, "sek": 1000, "min": 60_000}
#: What a general word becomes beside a word that says whose it is.
_WHOSE: Final = {"group": ("talkgroup", "talkgroup_name"), "record": ("database_key", "database_key")}
#: What is held no longer beside a word that says so.
_HELD: Final = frozenset({"id", "number", "callsign", "station", "caller"})


@dataclass(frozen=True, slots=True)
class Sense:
    """What a heading can mean.

    `classes`: class of words (`table.words.WORDS`) -> weight from 0 to 1;
    `systems`: the systems it names; `milliseconds`: what one of the unit of its durations is, 0 where it names none;
    `is_turned`: it is of whole names that begin with the surname.
    """

    classes: Mapping[str, float] = field(default_factory=dict)
    systems: frozenset[str] = frozenset()
    milliseconds: int = 0
    is_turned: bool = False

    @property
    def is_other(self) -> bool:
        """Whether it names a column that is none of ours."""
        return bool(self.classes) and all(name in NEVER_TAKEN for name in self.classes)

    @property
    def best(self) -> float:
        """How much it says of what it can mean, 0 where nothing."""
        return max(self.classes.values(), default=0.0)

    def weight(self, wanted: Iterable[tuple[str, float]]) -> float:
        """The best weight among classes of words that speak for a meaning, each with its own weight."""
        return max((self.classes.get(name, 0.0) * weight for name, weight in wanted), default=0.0)


@lru_cache(maxsize=4096)
def sense_of(heading: str) -> Sense:
    """What a heading can mean; an empty `Sense` where nothing is known of it."""
    if len(heading) > _LONGEST:
        return Sense({}, frozenset(), 0)
    inner = _INSIDE.fullmatch(heading)
    if inner and not classes_of("".join(words_of(heading))):
        found = sense_of(inner[1])
        if found.classes and not found.classes.keys() <= GENERAL:
            weights = {name: min(weight, KNOWN) for name, weight in found.classes.items()}
            return Sense(weights, found.systems, found.milliseconds)
    words = words_of(heading)
    systems = frozenset(SYSTEM_WORDS[word] for word in words if word in SYSTEM_WORDS)
    milliseconds = next((_UNIT_WORDS[word] for word in reversed(words) if word in _UNIT_WORDS and len(words) > 1), 0)
    whole = classes_of("".join(words))
    order = name_order(words)
    if order and not whole:
        return Sense({"name": KNOWN}, systems, 0, order == SURNAME_FIRST)
    classes = dict.fromkeys(sorted(whole), WHOLE) if whole else _composed(words if not milliseconds else _without_units(words))
    unit = next((name for name in _UNITS if name in classes), "")
    if unit:
        milliseconds = milliseconds or _UNITS[unit]
        classes["seconds"] = max(classes.get("seconds", 0.0), classes[unit])
    is_known = bool(classes) and max(classes.values()) >= (PARTLY if classes.keys() - GENERAL else KNOWN)
    if not is_known and len(words) <= _MOST_WORDS:
        classes = _misspelt(words) or classes
    if not classes and "." in heading:
        classes = dict.fromkeys(sorted(abbreviated("".join(words))), ENDING)
    is_turned = "name" in classes and (order == SURNAME_FIRST or "surname_first" in classes)
    return Sense(classes, systems, milliseconds if "seconds" in classes else 0, is_turned)


def _misspelt(words: tuple[str, ...]) -> dict[str, float]:
    """What a heading means that is an entry but for one letter wrong, missing, surplus or exchanged with its neighbour."""
    return dict.fromkeys(sorted(nearly("".join(words)) - (GENERAL - {"name"})), ENDING)


def _without_units(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(word for word in words if word not in _UNIT_WORDS)


def _composed(words: tuple[str, ...]) -> dict[str, float]:
    groups, whose, unknown = _parts(words)
    if not groups:
        return {}
    weight = PARTLY if unknown else KNOWN
    if len(words) == 1:
        weight = ENDING
    if "previous" in whose and any(group <= _HELD for group in groups):
        return {"previous_callsign": weight}
    others = [name for group in groups for name in sorted(group) if group <= NEVER_TAKEN.keys()]
    if others:
        return {others[0]: weight}
    special = [group - GENERAL for group in groups if not group & GENERAL]
    general = frozenset[str]().union(*(group & GENERAL for group in groups if group & GENERAL))
    if special:
        chosen = frozenset[str]().union(*special) - NEVER_TAKEN.keys()
        if "talkgroup" in chosen and general & {"name", "description"}:
            return {"talkgroup_name": weight}
        return dict.fromkeys(sorted(chosen), weight if len(special) == 1 else weight * 0.7)
    for kind, (number, name) in _WHOSE.items():
        if kind in whose:
            return {name if general <= {"name", "description"} else number: weight}
    if len(general) > 1 and "station" in general and len(groups) > 1:
        general -= {"station"}
    return dict.fromkeys(sorted(general), weight)


def _parts(words: tuple[str, ...]) -> tuple[list[frozenset[str]], set[str], int]:
    """The classes of the longest entries that the words are made of, the kinds of the qualifiers, how many words are
    unknown."""
    qualifiers = lexicon.qualifiers()
    groups: list[frozenset[str]] = []
    whose: set[str] = set()
    unknown = place = 0
    while place < len(words):
        end = next((end for end in range(len(words), place, -1) if classes_of("".join(words[place:end]))), place)
        word = words[place]
        kind = qualifiers.get(word, "")
        is_alone = end == place + 1 and len(words) > 1 and (kind == "link" or (kind and _is_weak(word)))
        if end > place and not is_alone:
            groups.append(classes_of("".join(words[place:end])))
            place = end
            continue
        if kind:
            whose.add(kind)
        elif not word.isdigit():
            group, before = _ending(word)
            groups += [group] if group else []
            whose |= {before} - {""}
            unknown += not group
        place += 1
    if not groups and whose:  # nothing but qualifiers: the last of them that means something
        last_first = [*reversed(words)]
        last_first.sort(key=lambda word: qualifiers.get(word) == "link")  # "il" is a province too
        groups = [classes for word in last_first if (classes := classes_of(word))][:1]
    if not groups and "person" in whose:  # the holder, the licensee: who it is
        groups = [frozenset({"name"})]
    return groups, whose, unknown


def _is_weak(word: str) -> bool:
    """Whether a word that qualifies has no other meaning than a general one."""
    if lexicon.qualifiers()[word] == "ordinal":
        return classes_of(word) <= {"seconds"}
    return classes_of(word) <= GENERAL | {"caller", "callsign", "talkgroup", "talkgroup_name"}


def _ending(word: str) -> tuple[frozenset[str], str]:
    """The class of the head of a compound word, and the kind of what stands before it; empty where it is none.

    Before the head stands a qualifier, another entry of some letters, or (a head of several letters) anything.
    """
    qualifiers = lexicon.qualifiers()
    for ending, name in lexicon.endings().items():
        before = word[: -len(ending)]
        if not before or not word.endswith(ending):
            continue
        for joining in lexicon.joining_letters():
            stem = before[: -len(joining)] if joining and before.endswith(joining) else before
            if stem in qualifiers:
                return frozenset({name}), qualifiers[stem]
            classes = classes_of(stem) if len(stem) >= _SHORTEST_STEM or not stem.isascii() else frozenset()
            if classes:
                return (classes, "") if name in GENERAL and not classes & GENERAL else (frozenset({name}), "")
        if len(ending) >= _LONG_ENDING:
            return frozenset({name}), ""
    if word.isascii():
        return frozenset(), ""
    for beginning, name in lexicon.beginnings().items():
        behind = word[len(beginning) :]
        if word.startswith(beginning) and (behind in qualifiers or classes_of(behind)):
            return frozenset({name}), qualifiers.get(behind, "")
    if any("\u3040" <= letter <= "\u9fff" or "\uac00" <= letter <= "\ud7af" for letter in word):
        for start in range(1, len(word)):
            if classes_of(word[start:]):
                return classes_of(word[start:]), qualifiers.get(word[:start], "")
    return frozenset(), ""
