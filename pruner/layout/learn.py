"""A sample -> the text of a layout that writes such files.

Receives bytes, hands on commented TOML and the columns that are in doubt. What a sample cannot show is not learned: widths
of delimited files, the way of cutting, how many rows a file takes, quoting where nothing needed it, fallbacks that no
row used, and the difference between a running number over all files and one per file.
"""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from pruner.layout.encoding import text_encoding
from pruner.layout.filling import Guess
from pruner.layout.guess import guess_columns
from pruner.layout.model import layout_of
from pruner.layout.sample import Sample, Understand, read_sample
from pruner.layout.template import fields_of
from pruner.reference import countries
from pruner.table.facts import ID_IN_CELL
from pruner.table.understanding import shown
from pruner.words import schema
from pruner.words.errors import InputRefusedError, SettingsError

#: What one of the columns of an export of contacts holds at least.
_KEYS: Final = frozenset({schema.ID, schema.CALLSIGN})
_SHOWN: Final = 6


@dataclass(frozen=True, slots=True)
class Doubt:
    """A column (from 0) whose meaning is not certain: `value` is the template that was taken, `examples` cells of it, `answer`
    the option that settles it as it is."""

    place: int
    title: str
    value: str
    reason: str
    examples: tuple[str, ...]
    answer: str


@dataclass(frozen=True, slots=True)
class Learned:
    """`text`: the layout as TOML; `doubts`: columns to ask about; `notes`: other things that the sample leaves open."""

    text: str
    doubts: tuple[Doubt, ...]
    notes: tuple[str, ...]


def learn(
    data: bytes,
    where: str,
    ending: str,
    understand: Understand,
    answers: Mapping[int, str] | None = None,
    capitals: bool | None = None,
) -> Learned:
    """Learns a layout from the bytes of a file. `ending` is that of its name; `answers` are templates for columns; `capitals`:
    whether what stands in capitals in the sample always does (None: that stays in doubt).

    Raises InputRefusedError where the bytes are no table of text, SettingsError where an answer is no template.
    """
    sample = read_sample(data, where, understand)
    guesses = guess_columns(sample, understand, answers or {}, capitals)
    if not answers and not any(_KEYS & set(fields_of(guess.value)) or _holds_ids(guess) for guess in guesses):
        raise InputRefusedError(_no_export(where, guesses))
    order, order_note = _order(guesses)
    notes = [*sample.doubts, *([order_note] if order_note else [])]
    notes += _country_notes(guesses)
    if not any(schema.ID in fields_of(guess.value) for guess in guesses):
        notes.append(
            "No column of ids was found; look whether the columns are cut at the right signs, "
            "or say without_ids = true in [file]."
        )
    text = "\n".join([*_file_lines(sample, guesses, ending, order, notes), *_column_lines(sample, guesses)])
    try:
        layout_of(text, where, draft=True)
    except SettingsError as error:
        raise SettingsError([f"this layout would not be legal: {problem}" for problem in error.problems]) from None
    doubts = tuple(
        Doubt(place, guess.title, guess.value, guess.doubt, tuple(dict.fromkeys(guess.texts))[:3], _answer(place, guess))
        for place, guess in enumerate(guesses)
        if guess.doubt
    )
    return Learned(text, doubts, tuple(notes))


def _holds_ids(guess: Guess) -> bool:
    """Whether most cells have an id in them, so that the columns may be cut at the wrong signs."""
    texts = [text for text in guess.texts if text]
    return 2 * sum(re.search(ID_IN_CELL, text, re.ASCII) is not None for text in texts) > len(texts)


def _no_export(where: str, guesses: list[Guess]) -> str:
    named = ", ".join(
        f"{shown(guess.title.strip()) or f'column {place}'} ({shown(next(filter(None, guess.texts), 'empty'))})"
        for place, guess in enumerate(guesses[:_SHOWN], 1)
    )
    return (
        f"{where}: no column of ids or call signs is found (found: {named}); if it is an export of contacts, say what a column "
        "holds, such as --column '1={id}'"
    )


def _country_notes(guesses: list[Guess]) -> Iterator[str]:
    """Where the sample calls a country otherwise than a layout does."""
    for guess in guesses:
        if guess.value == f"{{{schema.COUNTRY}}}":
            names = ((text, countries.NAMES[countries.find(text)]) for text in guess.texts)
            other = next(((text, name) for text, name in names if name and text.upper() != name.upper()), None)
            if other is not None:
                yield f"Countries are written by their English names: {other[1]!r} where the sample says {other[0]!r}."


def _answer(place: int, guess: Guess) -> str:
    return "--capitals" if guess.only_capitals else f"--column {shlex.quote(f'{place + 1}={guess.value}')}"


def _order(guesses: list[Guess]) -> tuple[str, str]:
    by_value = {guess.value: guess.texts for guess in reversed(guesses)}
    ids, callsigns = by_value.get("{id}"), by_value.get("{callsign}")
    rows = len(guesses[0].texts)
    if rows < 3:
        return "id", "Too few rows to tell their order."
    if ids is not None:
        numbers = [int(text) if text.isdigit() else 0 for text in ids]
        if numbers == sorted(numbers):
            return "id", ""
        if callsigns is not None:
            own = ("" if sign == number else sign for sign, number in zip(callsigns, ids, strict=True))
            keys = [(not sign, sign, number) for sign, number in zip(own, numbers, strict=True)]
            if keys == sorted(keys):
                return "callsign", ""
    return "rank", "The rows stand neither by id nor by call sign."


def _text(value: str) -> str:
    """A TOML basic string. JSON's differs only in U+007F, which TOML wants escaped."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _file_lines(sample: Sample, guesses: list[Guess], ending: str, order: str, notes: list[str]) -> Iterator[str]:
    yield f"# A layout for pruner, learned from a sample with {len(sample.rows)} rows. Look through what is marked DOUBTFUL."
    yield from (f"# {note}" for note in notes)
    yield ""
    yield "[file]"
    if sample.widths is None:
        yield f"delimiter = {_text(sample.delimiter)}"
        yield f'quoting = "{sample.quoting}"  # as needed, all, texts or none'
    else:
        yield 'kind = "fixed"'
        yield f'width_unit = "{sample.width_unit}"'
    yield f'encoding = "{sample.encoding}"'
    if sample.mark != (text_encoding(sample.encoding).unit > 1):
        yield f"byte_order_mark = {str(sample.mark).lower()}"
    yield f'line_ending = "{sample.line_ending}"'
    yield f"headings = {str(sample.headings is not None).lower()}"
    if sample.lines_above:
        yield f"lines_above = [{', '.join(map(_text, sample.lines_above))}]"
    yield f'order = "{order}"  # id, callsign or rank'
    start = next((guess.number_from for guess in guesses if guess.number_from is not None), 1)
    if start != 1:
        yield f"number_from = {start}"
    if ending.isascii() and ending.isalnum() and len(ending) <= 8:
        yield f"ending = {_text(ending)}"
    yield "# rows_per_file = 1000  # where the radio takes files of limited length"
    yield '# cut = "word"  # or "letter": where text that is too long is cut'


def _column_lines(sample: Sample, guesses: list[Guess]) -> Iterator[str]:
    encoding = text_encoding(sample.encoding)
    for place, guess in enumerate(guesses):
        yield ""
        yield "[[column]]"
        if guess.doubt:
            said = f"{guess.doubt}. Right as it is: {_answer(place, guess)}"
            yield f"# DOUBTFUL: {''.join(character if character.isprintable() else '?' for character in said)}"
        if sample.headings is not None:
            yield f"title = {_text(guess.title)}"
        yield f"value = {_text(guess.value)}"
        if guess.fallback is not None:
            yield f"fallback = {_text(guess.fallback)}"
        if guess.capitals:
            yield "capitals = true"
        longest = max((encoding.length(text, "units") for text in guess.texts), default=0)
        if guess.width is None:
            yield f"# width = {longest}  # the longest that the sample shows; the radio may hold more"
        else:
            yield f"width = {guess.width}  # the longest text that the sample shows: {longest}"
        if guess.pad == "left" or (guess.pad and sample.widths is None):
            yield f'pad = "{guess.pad}"'
            if guess.pad_with != " ":
                yield f'pad_with = "{guess.pad_with}"'
