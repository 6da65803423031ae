"""The cells of one column of a sample -> what they are like.

Receives text, hands on `Facts`: nothing of what the column is for, only what its cells could be. Each distinct cell is looked
at once.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import Final

from pruner.reference import callsigns, countries, numbering
from pruner.reference.callsign import callsign_and_rest, clean_callsign, is_ordinary
from pruner.table.words_cells import EMPTY_CELLS
from pruner.words.number import whole_number

#: Steps between neighbours up to this size, always in one direction, are those of a counter.
_COUNTER_STEP: Final = 2
#: Two letters or more, also with a hyphen or an apostrophe in them.
_SHOUTED: Final = re.compile(r"[^\W\d_]{1,40}(?:['’.-]?[^\W\d_]){1,40}")
#: So many names must begin with their surname in capitals.
_MOST_MARKED: Final = 0.6
#: Words before a surname that belong to it, of several languages; from memory.
PARTICLES: Final = frozenset(
    "da dal dalla de degli dei del della den der di do dos du la le lo los mac van vom von zu zum".split()
)
#: Of so many steps or more, so many are alike where numbers count.
_MANY_STEPS, _EVEN = 9, 0.9
#: A dmr id in a cell with other text (six, seven or, with a device suffix, nine digits; common practice, no source).
ID_IN_CELL: Final = r"\b(?:[0-9]{9}|[0-9]{6,7})\b"
#: What stands between several ids of one cell; the words for "and" and "or" are of several languages, from memory.
_AND: Final = "and|und|et|e|y|i|og|och|en|ja|es|si|și|ve|or|oder|ou|o|plus|и|і|та|και"
SEPARATORS: Final = re.compile(rf"[\s,;/|&+]+(?:(?:{_AND})[\s,;/|&+]+)?", re.IGNORECASE)
#: What an id is of, in brackets behind it.
LABELS: Final = re.compile(r"(?<=[0-9])\s*+(?:\([^()0-9]{1,40}\)|\[[^\[\]0-9]{1,40}\])")
_ID: Final = re.compile(ID_IN_CELL, re.ASCII)
_BETWEEN: Final = re.compile(r"[\s(){}\[\]:;,/|#-]+")
#: A word for an empty cell is written so often in a column, or is such a part of it.
OFTEN, OFTEN_SHARE = 3, 0.1
#: Shorter cells hold one id at most.
MOST_DIGITS_ALONE: Final = 9
#: A longer text names no country.
_LONGEST_NAME: Final = 80
#: Digits of dmr ids of repeaters, persons, and persons with a device suffix (common practice, no source).
LENGTHS_OF_IDS: Final = (6, 7, 9)
#: Other ways to cut the same lines give much the same cells: so many of them are looked at once.
_REMEMBERED: Final = 1 << 14
_LETTERS: Final = re.compile(r"[^\W\d_]", re.UNICODE)
_DIGITS: Final = re.compile(r"\d")
_CLOCK: Final = re.compile(r"\d{1,2}[:h]\d{2}([:m]\d{2}([.,]\d+)?)?( ?[ap]\.?m\.?)?", re.IGNORECASE)
_DATE: Final = re.compile(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/. ]{1,2}(\d{1,2}|[^\W\d]{3,9}\.?)[-/. ]{1,2}\d{2,4}")


@dataclass(frozen=True, slots=True)
class _Looks:
    """What one distinct cell could be."""

    number: int
    country_of_id: int
    country_of_call: int
    is_callsign: bool
    has_letters: bool
    has_digits: bool


class Facts:
    """One column: `cells` as they stand in the sample, without white space around them; `heading` is "" where there is none."""

    def __init__(self, cells: list[str], heading: str = "") -> None:
        self.heading = heading
        self.cells = [cell.strip() for cell in cells]
        self.counts = Counter(cell for cell in self.cells if cell)
        self._looks: dict[str, _Looks] = {}
        self._named: dict[str, int] = {}

    @cached_property
    def filled(self) -> int:
        """How many cells hold text."""
        return sum(self.counts.values())

    def looks_of(self, cell: str) -> _Looks:
        """What a cell of the column could be: found out when it is asked for."""
        found = self._looks.get(cell)
        if found is None:
            found = self._looks[cell] = _look(cell)
        return found

    @cached_property
    def _all_looks(self) -> list[tuple[_Looks, int]]:
        """What each distinct cell could be, and how often it stands there."""
        return [(self.looks_of(cell), count) for cell, count in self.counts.items()]

    def share_of_texts(self, test: Callable[[str], bool]) -> float:
        """The share of the filled cells whose text passes; marks of emptiness that do not pass are not counted."""
        return self._share(sum(count for cell, count in self.counts.items() if test(cell)), test)

    def share(self, test: Callable[[_Looks], bool]) -> float:
        """The same of what cells could be."""
        return self._share(
            sum(count for looks, count in self._all_looks if test(looks)), lambda cell: test(self.looks_of(cell))
        )

    def _share(self, passing: int, test: Callable[[str], bool]) -> float:
        if passing == self.filled:
            return 1.0 if passing else 0.0
        marks = sum(count for cell, count in self.marks.items() if not test(cell))
        return passing / max(self.filled - marks, 1)

    @cached_property
    def marks(self) -> dict[str, int]:
        """The cells that stand for nothing, and how often each does: signs, and words that come again and again."""
        return {
            cell: count
            for cell, count in self.counts.items()
            if is_empty_word(cell)
            and (not any(map(str.isalpha, cell)) or (count >= OFTEN and count >= OFTEN_SHARE * self.filled))
        }

    @cached_property
    def legal_share(self) -> float:
        """The share of the filled cells that are as long as dmr ids."""
        return self.share(lambda looks: looks_legal(looks.number))

    @cached_property
    def known_share(self) -> float:
        """The share of the filled cells that are so and begin with the code of a country."""
        return self.share(lambda looks: looks_legal(looks.number) and looks.country_of_id > 0)

    @cached_property
    def numbers(self) -> list[int]:
        """The whole numbers among the cells, in order."""
        return [number for cell in self.cells if cell and (number := self.looks_of(cell).number) >= 0]

    @cached_property
    def distinct_share(self) -> float:
        """Distinct cells among the filled ones."""
        return len(self.counts) / max(self.filled, 1)

    @cached_property
    def is_counter(self) -> bool:
        """Whether the numbers count up or down in small steps, gaps between parts of the sample allowed."""
        steps = [after - before for before, after in zip(self.numbers, self.numbers[1:], strict=False)]
        if len(steps) < 2 or len(self.numbers) < 0.9 * self.filled:
            return False
        small = sum(0 < step <= _COUNTER_STEP for step in steps), sum(-_COUNTER_STEP <= step < 0 for step in steps)
        one_way = all(step > 0 for step in steps) or all(step < 0 for step in steps)
        return max(small) >= 0.8 * len(steps) and (one_way or max(small) >= 0.95 * len(steps))

    @cached_property
    def marks_surnames(self) -> bool:
        """Whether most cells of several words are names that begin with the surname, in capitals ("BERG Anna")."""
        several = {cell: count for cell, count in self.counts.items() if " " in cell and "," not in cell}
        marked = sum(count for cell, count in several.items() if capitals_before(cell))
        return marked >= OFTEN and marked >= _MOST_MARKED * sum(several.values())

    @cached_property
    def has_even_steps(self) -> bool:
        """Whether nearly all numbers are as far from the one before them, as numbers that are handed out are."""
        steps = Counter(after - before for before, after in zip(self.numbers, self.numbers[1:], strict=False))
        return sum(steps.values()) >= _MANY_STEPS and max(steps.values()) >= _EVEN * sum(steps.values())

    @cached_property
    def density(self) -> float:
        """(largest - smallest) / distinct of the numbers: near 1 for keys that were handed out one after the other."""
        distinct = set(self.numbers)
        return (max(distinct) - min(distinct)) / len(distinct) if len(distinct) > 1 else float("inf")

    @cached_property
    def countries_of_ids(self) -> list[int]:
        """Per cell the country of the id that it could be, 0 where unknown."""
        return [self.looks_of(cell).country_of_id if cell else 0 for cell in self.cells]

    @cached_property
    def countries_of_calls(self) -> list[int]:
        """Per cell the country of the call sign that it could be, 0 where unknown."""
        return [self.looks_of(cell).country_of_call if cell else 0 for cell in self.cells]

    @cached_property
    def countries_of_texts(self) -> list[int]:
        """Per cell the country that it names, 0 where unknown."""
        return [self.country_of_text(cell) if cell else 0 for cell in self.cells]

    def country_of_text(self, cell: str) -> int:
        """The country that a cell of the column names, 0 where unknown: looked up when it is asked for."""
        found = self._named.get(cell)
        if found is None:
            is_name = len(cell) <= _LONGEST_NAME and self.looks_of(cell).number < 0
            found = self._named[cell] = countries.find(cell) if is_name else 0
        return found

    def ends_in_country(self, cell: str) -> bool:
        """Whether a cell names a country behind a comma, and something before it."""
        before, comma, last = cell.rpartition(",")
        return bool(comma and before.strip()) and self.country_of_text(last.strip()) > 0

    @cached_property
    def names_countries(self) -> float:
        """The share of cells that name a country."""
        return self.share_of_texts(lambda cell: self.country_of_text(cell) > 0)

    @cached_property
    def is_text(self) -> float:
        """The share of cells that are words: letters and no digits, no call sign, no time."""
        return self.share(lambda looks: looks.has_letters and not looks.has_digits)

    @cached_property
    def may_be_text(self) -> float:
        """The share of cells that are neither numbers nor call signs, nor signs and digits alone."""

        def is_text(cell: str) -> bool:
            if _DIGITS.search(cell) is None:
                return True
            looks = self.looks_of(cell)
            return looks.has_letters and not looks.is_callsign and looks.number < 0

        return self.share_of_texts(is_text)

    @cached_property
    def is_callsign(self) -> float:
        """The share of cells that are call signs of the ordinary form."""
        return self.share(lambda looks: looks.is_callsign)

    @cached_property
    def is_clock(self) -> float:
        """The share of cells that are a time of day."""
        return self.share_of_texts(lambda cell: _CLOCK.fullmatch(cell) is not None)

    @cached_property
    def is_date(self) -> float:
        """The share of cells that are a date alone."""
        return self.share_of_texts(lambda cell: _DATE.fullmatch(cell) is not None)


@cache
def _empty_words() -> frozenset[str]:
    return frozenset(word.replace("_", " ").casefold() for text in EMPTY_CELLS.values() for word in text.split())


def is_empty_word(cell: str) -> bool:
    """Whether a cell is a sign or a word that stands for nothing; a name may be such a word."""
    return cell.casefold() in _empty_words()


@lru_cache(_REMEMBERED)
def _look(cell: str) -> _Looks:
    if cell.isdigit() and cell.isascii() and len(cell) <= MOST_DIGITS_ALONE:
        return _Looks(int(cell), country_of_id(int(cell)), 0, False, False, True)
    has_digits = _DIGITS.search(cell) is not None
    if not has_digits and "Ø" not in cell:  # no number and no call sign is without one; a crossed zero is one
        return _Looks(-1, 0, 0, False, _LETTERS.search(cell) is not None, False)
    number = whole_number(cell)
    if len(cell) > MOST_DIGITS_ALONE and not 0 <= number < 10**MOST_DIGITS_ALONE:
        number = first_of_several(cell)
    cleaned, rest = callsign_and_rest(cell) if len(cell) <= 24 else ("", "")
    is_callsign = len(cleaned) >= 3 and is_ordinary(cleaned) and _LETTERS.search(rest) is None
    return _Looks(
        number,
        country_of_id(number),
        callsigns.country_of(cleaned) if is_callsign else 0,
        is_callsign,
        _LETTERS.search(cell) is not None,
        has_digits,
    )


def first_of_several(cell: str) -> int:
    """The first id of a cell that holds several ids and nothing else, or an id and a call sign; else -1."""
    return int(_ids(cell)[0]) if holds_several(cell) else id_beside_callsign(cell)


def holds_several(cell: str) -> bool:
    """Whether a cell holds several ids and nothing else."""
    return len(cell) > MOST_DIGITS_ALONE and len(_ids(cell)) > 1 and all(_ID.fullmatch(part) for part in _ids(cell))


def _ids(cell: str) -> list[str]:
    return [part for part in SEPARATORS.split(LABELS.sub(" ", cell)) if part]


def id_beside_callsign(cell: str) -> int:
    """The id of a cell that holds one id and one call sign and nothing else, -1 for other cells."""
    ids = _ID.findall(cell)
    if len(ids) != 1:
        return -1
    rest = [part for part in _BETWEEN.split(_ID.sub(" ", cell)) if part]
    return int(ids[0]) if len(rest) == 1 and is_ordinary(clean_callsign(rest[0])) else -1


def names_id_and_callsign(cell: str) -> bool:
    """Whether a cell holds one id, and a call sign among its other words."""
    if len(_ID.findall(cell)) != 1:
        return False
    return any(is_ordinary(clean_callsign(part)) for part in _BETWEEN.split(_ID.sub(" ", cell)) if part)


def call_and_name(cell: str) -> tuple[str, str]:
    """The call sign with which a cell begins or ends, and the text beside it (a sign or brackets between are left out); "" and
    the cell where it is not such a cell."""
    first, _, others = cell.strip().partition(" ")
    before, _, last = cell.strip().rpartition(" ")
    for call, rest in ((first.rstrip(",;:"), others), (last.strip("()[]"), before)):
        text = rest.strip(" ()[]-–,;:/|")
        if call and any(map(str.isalpha, text)) and is_ordinary(clean_callsign(call)):
            return call, text
    return "", cell


def country_of_id(number: int) -> int:
    """The country of a dmr id of 6, 7 or (with a device suffix) 9 digits by its first three (common practice, no source);
    else 0."""
    digits = str(number) if number > 0 else ""
    return int(numbering.country_of_code()[int(digits[:3])]) if len(digits) in LENGTHS_OF_IDS else 0


def capitals_before(name: str) -> int:
    """With how many words in capitals, of letters, a name begins, particles before them included; 0 where it does not, or where
    no word with small letters follows."""
    words = name.split()
    first = next((place for place, word in enumerate(words) if word.isupper() or word.casefold() not in PARTICLES), 0)
    count = first
    while count < len(words) and _SHOUTED.fullmatch(words[count]) and words[count].isupper():
        count += 1
    follows = words[count:]
    return count if count > first and follows and any(map(str.islower, follows[0])) else 0


def looks_legal(number: int) -> bool:
    """Whether a number is as long as dmr ids of persons and repeaters are (common practice, no source), device suffixes
    included."""
    return len(str(number)) in LENGTHS_OF_IDS and 100_000 <= (number // 100 if number >= 100_000_000 else number) <= 9_999_999
