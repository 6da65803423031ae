"""What may be wrong with a layout that was learned, beyond a column that neither heading nor cells explain.

Receives the guesses of a sample, marks those in doubt.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from pruner.layout.filling import Guess, Texts
from pruner.layout.sample import Sample
from pruner.layout.template import fields_of
from pruner.words import schema
from pruner.words.nouns import counted

_FIRST, _LAST = f"{{{schema.FIRST_NAME}}}", f"{{{schema.LAST_NAME}}}"
_WHOLE: Final = f"{_FIRST} {_LAST}"
#: Fields whose small letters a sample would show.
_TEXTS: Final = frozenset({schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE, schema.COUNTRY})
#: Shorter words may be codes, which stand in capitals everywhere.
_CODE: Final = 3
_CAPITALS: Final = (
    "all {} stand in capitals, so a written file has capitals too; where the radio shows small letters, say --no-capitals"
)


def find_doubts(guesses: Sequence[Guess], sample: Sample, answered: Collection[int], capitals: bool | None) -> None:
    """Marks capitals, names that may stand twice, and the column that called some rows groups. `answered`: positions of columns
    that somebody has settled; `capitals`: whether what stands in capitals always does (None: nobody said)."""
    for guess in guesses:
        if capitals is not False and {*fields_of(guess.value)} & _TEXTS and _are_capitals(guess.texts):
            guess.capitals = True
            guess.only_capitals = not guess.doubt
            if capitals is None and not guess.doubt:
                guess.doubt = _CAPITALS.format(counted(len(guess.texts), "cell"))
        if guess.number_from is not None:  # groups were counted too
            own = [int(row[guess.column]) for row in sample.groups if row[guess.column].strip().isdigit()]
            guess.number_from = min([guess.number_from, *own])
    _doubt_names(guesses, answered)
    for place, guess in enumerate(guesses):
        if guess.column == sample.kinds and sample.groups and place not in answered:
            rows, every = counted(len(sample.groups), "row"), len(sample.rows) + len(sample.groups)
            cell = sample.groups[0][guess.column].strip()
            aside = "groups, which are no stations and were left aside"
            guess.doubt = guess.doubt or f"{rows} of {every} hold {cell!r} here: {aside}"


def _are_capitals(texts: Texts) -> bool:
    """Whether every word is in capitals, and most are long enough to be no codes."""
    present = [text for text in texts if text]
    long = [text for text in present if sum(map(str.isalpha, text)) > _CODE]
    return len(set(long)) > 1 and 2 * len(long) > len(present) and all(text == text.upper() != text.lower() for text in present)


def _doubt_names(guesses: Sequence[Guess], answered: Collection[int]) -> None:
    """Whole names beside a column of first or of last names: one of the two may be something else, unless each whole name holds
    its part."""
    whole = next((place for place, guess in enumerate(guesses) if guess.value == _WHOLE), None)
    part = next((guess for guess in guesses if guess.value in (_FIRST, _LAST)), None)
    if whole is None or part is None or whole in answered:
        return
    pairs = zip(guesses[whole].texts, part.texts, strict=True)
    if not guesses[whole].texts or any(word and word not in text for text, word in pairs):
        guesses[whole].doubt = f"{part.value} has a column of its own; this one may hold only the other name"
