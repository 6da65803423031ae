"""The column of the ids, where neither a heading nor the cells have shown it.

Receives the guesses of a sample, changes the likeliest one into the id and says that it is in doubt. A contact without its own
id tells nobody who calls, so a column that stays open is rather the id than empty or the same in every row.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import Final

from pruner.layout.filling import Guess
from pruner.layout.sample import looks_like_id
from pruner.layout.template import constant_text, fields_of
from pruner.words import schema

#: Words of headings that speak for an id, the strongest last.
_WORDS: Final = ("no", "nr", "num", "number", "id")


def find_missing_id(guesses: Sequence[Guess], answered: Collection[int]) -> None:
    """Takes the likeliest open column for the id, where no column holds it. `answered`: columns that somebody has settled.

    Open is what was taken for the same text in every row: the column with most cells like ids, then the one whose heading
    speaks for an id, then the first. A column of rows in which all cells are there and none is like an id stays what it is.
    """
    if any(schema.ID in fields_of(guess.value) for guess in guesses):
        return
    open_places = [place for place, guess in enumerate(guesses) if place not in answered and _is_open(guess)]
    if not open_places:
        return
    guess = guesses[max(open_places, key=lambda place: (_likeness(guesses[place]), _heading(guesses[place]), -place))]
    like, present = sum(map(looks_like_id, guess.texts)), sum(map(bool, guess.texts))
    guess.value, guess.fallback = f"{{{schema.ID}}}", None
    guess.doubt = f"{like} of {present} cells are like ids" if present else "taken for the id, because no other column is"


def _is_open(guess: Guess) -> bool:
    return constant_text(guess.value) is not None and (not any(guess.texts) or _likeness(guess) > 0)


def _likeness(guess: Guess) -> float:
    return sum(map(looks_like_id, guess.texts)) / max(len(guess.texts), 1)


def _heading(guess: Guess) -> int:
    words = re.findall(r"[a-z]+", guess.title.lower())
    return max((_WORDS.index(word) + 1 for word in words if word in _WORDS), default=0)
