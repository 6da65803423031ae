"""Contacts by name, town or part of a call sign, or by a pattern of these as in lists of rules.

Receives what was loaded and the words that a person typed, hands on the contacts that bear all of them; where none does, those
that come nearest. Names are compared folded (`reference.fold`), once per distinct text.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow.compute as pc

from pruner.job.load import Loaded
from pruner.job.texts import written_contacts
from pruner.read.list_entries import ids_like
from pruner.reference import countries
from pruner.reference.fold import fold
from pruner.reference.names import is_one_off
from pruner.rules.contacts import codes, values
from pruner.rules.matching import like
from pruner.words import schema

#: How well a text answers a word: it has the word, a word that begins so (or a call sign that holds it), one that is alike.
EXACT, BEGINS, ALIKE = 3, 2, 1
_FIELDS: Final = (schema.NAME, schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE)
#: Shorter words are not looked for in likenesses, shorter parts not in call signs.
_LEAST_ALIKE: Final = 4
_LEAST_PART: Final = 2
_CALLSIGN_PART: Final = re.compile(r"[A-Z0-9]+", re.ASCII)
#: More distinct call signs than this are not searched for one that is alike.
_MOST_ALIKE: Final = 1_000_000

#: The signs of patterns, and what they stand for in a word.
_SIGNS: Final = re.compile(r"([*?])")
_ANY: Final = {"*": r"\S*", "?": r"\S"}

Scores = npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Person:
    """A contact that was found; name and town as they would be written, `country` as its ISO 3166-1 code ("" unknown)."""

    system: str
    number: int
    callsign: str
    name: str
    town: str
    country: str


@dataclass(frozen=True, slots=True)
class Found:
    """`persons`: the first of `total` contacts, best first, then by system and id. `is_near`: none bears all words."""

    persons: list[Person]
    total: int
    is_near: bool


def words_of(query: str) -> list[str]:
    """The words of a query; commas and blanks part them. `*` alone is one, which everybody bears."""
    words = (word for part in query.split(",") for word in part.split())
    return list(dict.fromkeys(word for word in words if fold(word) or _SIGNS.search(word)))


def find(loaded: Loaded, query: str, most: int) -> Found:
    """The contacts that bear every word of a query in name, town, state, country or call sign, `most` of them at most."""
    words = words_of(query)
    if not words or not len(loaded.contacts):
        return Found([], 0, False)
    scores = [_scores(loaded, word, alike=False) for word in words]
    whole = np.flatnonzero(np.minimum.reduce(scores) > 0)
    if len(whole):
        return _found(loaded, whole, sum(score.astype(np.int64) for score in scores), most, is_near=False)
    scores = [_scores(loaded, word, alike=not score.any()) for word, score in zip(words, scores, strict=True)]
    total = sum(score.astype(np.int64) for score in scores)
    answered = sum((score > 0).astype(np.int64) for score in scores)
    best = int(np.max(answered, initial=0))
    near = np.flatnonzero(answered == best) if best else np.zeros(0, dtype=np.int64)
    return _found(loaded, near, total, most, is_near=True)


def _found(
    loaded: Loaded, places: npt.NDArray[np.int64], total: npt.NDArray[np.int64] | int, most: int, *, is_near: bool
) -> Found:
    score = np.broadcast_to(np.asarray(total), len(loaded.contacts))[places]
    first = places[np.argsort(-score, kind="stable")][:most]
    return Found(persons_at(loaded, first), len(places), is_near)


def persons_at(loaded: Loaded, places: npt.NDArray[np.int64]) -> list[Person]:
    """The contacts at these positions."""
    if not len(places):
        return []
    contacts = loaded.contacts
    frame, _ = written_contacts(loaded.sources, loaded.records[places], contacts.number[places], contacts.country[places])
    return [
        Person(
            schema.SYSTEM_NAMES[int(system)],
            row[schema.ID],
            row[schema.CALLSIGN],
            " ".join(part for part in (row[schema.FIRST_NAME], row[schema.LAST_NAME]) if part),
            row[schema.TOWN],
            countries.CODES[country],
        )
        for system, country, row in zip(
            contacts.system[places].tolist(), contacts.country[places].tolist(), frame.to_dicts(), strict=True
        )
    ]


def _scores(loaded: Loaded, word: str, *, alike: bool) -> Scores:
    """How well each contact answers a word."""
    if _SIGNS.search(word):
        return _of_pattern(loaded, word)
    contacts, folded = loaded.contacts, fold(word)
    best = np.zeros(len(contacts), dtype=np.uint8)
    for field in _FIELDS:
        column = contacts.text(field)
        of_text = np.append(_of_texts(values(column), folded, alike), np.uint8(0))
        np.maximum(best, of_text[codes(column)], out=best)
    country = countries.find(word) if countries.is_country(word) else 0
    if country:
        best[contacts.country == country] = EXACT
    np.maximum(best, _of_callsigns(loaded, word.upper(), alike), out=best)
    return best


def _of_pattern(loaded: Loaded, pattern: str) -> Scores:
    """Who has a call sign, an id or a word that is as a pattern with `*` and `?`."""
    contacts = loaded.contacts
    found = like(contacts, [pattern])
    ids = ids_like(pattern)
    if ids is not None:
        found |= (contacts.number >= ids[0]) & (contacts.number <= ids[1])
    parts = (_ANY.get(part, re.escape(fold(part))) for part in _SIGNS.split(pattern))
    word = re.compile(f"(?<!\\S){''.join(parts)}(?!\\S)")
    for field in _FIELDS:
        column = contacts.text(field)
        of_text = np.array([*(word.search(fold(text)) is not None for text in values(column)), False])
        found |= of_text[codes(column)]
    return np.where(found, np.uint8(EXACT), np.uint8(0))


def _of_texts(texts: Sequence[str], word: str, alike: bool) -> Scores:
    folded = pl.Series([f" {fold(text)} " for text in texts], dtype=pl.String)
    begins = folded.str.contains(f" {word}", literal=True).to_numpy()
    exact = folded.str.contains(f" {word} ", literal=True).to_numpy()
    scores = np.where(exact, EXACT, np.where(begins, BEGINS, 0)).astype(np.uint8)
    if alike and len(word) >= _LEAST_ALIKE:
        near = _alike(word, {one for text in folded.to_list() for one in text.split()})
        if near:
            found = folded.str.contains_any([f" {one} " for one in near]).to_numpy()
            np.maximum(scores, np.where(found, np.uint8(ALIKE), np.uint8(0)), out=scores)
    return scores


def _of_callsigns(loaded: Loaded, part: str, alike: bool) -> Scores:
    signs = loaded.contacts.callsign
    scores = np.zeros(len(signs), dtype=np.uint8)
    if not _CALLSIGN_PART.fullmatch(part) or len(part) < _LEAST_PART:
        return scores
    scores[pc.match_substring(signs, part).fill_null(False).to_numpy(zero_copy_only=False)] = BEGINS
    scores[pc.equal(signs, part).fill_null(False).to_numpy(zero_copy_only=False)] = EXACT
    if alike and len(part) >= _LEAST_ALIKE and any(map(str.isdigit, part)):
        distinct = pc.unique(signs.drop_null())
        near = _alike(part, distinct.to_pylist()) if len(distinct) <= _MOST_ALIKE else []
        known = pl.Series(pl.from_arrow(signs), dtype=pl.String).is_in(near).fill_null(value=False).to_numpy()
        np.maximum(scores, np.where(known, np.uint8(ALIKE), np.uint8(0)), out=scores)
    return scores


def _alike(word: str, others: Iterable[str]) -> list[str]:
    """The texts that one change of a letter, or of two neighbours, makes of a word."""
    length = len(word)
    return sorted(one for one in others if abs(len(one) - length) <= 1 and is_one_off(word, one))
