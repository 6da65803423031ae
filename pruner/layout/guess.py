"""The cells of a sample -> what each column holds.

Receives a `Sample` and what its headings mean, hands on one `Guess` per column: by heading, by content, and, where a
column repeats others, as a template over them.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from pruner.layout.cells import FORMULA_STARTS, loose_ends
from pruner.layout.doubts import find_doubts
from pruner.layout.filling import Guess, Texts, unpadded
from pruner.layout.missing_id import find_missing_id
from pruner.layout.sample import Sample, Understand, looks_like_id
from pruner.layout.template import NUMBER, TemplateError, constant_text, escaped_constant, fields_of, parse_template
from pruner.layout.texts_by_cells import WHOLE_NAME, countries_of_rows, is_first_name, setting, text_by_cells
from pruner.reference import countries
from pruner.reference.callsign import is_ordinary
from pruner.settings.values import shown
from pruner.words import schema
from pruner.words.errors import SettingsError

_FREE_TEXT: Final = (schema.FIRST_NAME, schema.LAST_NAME, schema.TOWN, schema.STATE)
#: A column is taken for call signs where this share of its cells has the ordinary form.
_MOST: Final = 0.6
_ROWS_FOR_TEMPLATES: Final = 40
#: An id with a text before it or behind it.
_MARKED_ID: Final = re.compile(r"([^\d{}]{0,8}?)(\d{6,7})([^\d{}]{0,8})", re.ASCII)


@dataclass(slots=True)
class _Board:
    guesses: list[Guess]
    meaning_at: dict[int, str]
    aside: int = 0
    known: dict[str, Texts] = field(default_factory=dict)
    settled: set[int] = field(default_factory=set)

    def settle(self, place: int, value: str, doubt: str = "") -> None:
        guess = self.guesses[place]
        guess.value, guess.doubt = value, doubt
        self.settled.add(place)
        pieces = parse_template(value)
        if len(pieces) == 1 and pieces[0].is_field and pieces[0].text not in self.known:
            self.known[pieces[0].text] = guess.texts

    def open(self) -> list[int]:
        return [place for place in range(len(self.guesses)) if place not in self.settled]


def guess_columns(
    sample: Sample, understand: Understand, answers: Mapping[int, str], capitals: bool | None = None
) -> list[Guess]:
    """One guess per column. `answers` are templates for columns (positions from 0) that somebody has settled; `capitals`:
    whether what stands in capitals always does.

    Raises SettingsError for an answer that is no template or stands behind the last column.
    """
    guesses = unpadded(sample)
    meanings = understand([guess.title.strip() for guess in guesses], sample.rows) if sample.headings is not None else {}
    board = _Board(guesses, {place: meaning for meaning, place in meanings.items()}, len(sample.groups))
    for place, answer in answers.items():
        if place >= len(guesses):
            raise SettingsError(f"column {place + 1}: the sample has {len(guesses)} columns only")
        try:
            board.settle(place, answer)
        except TemplateError as error:
            raise SettingsError(f"column {place + 1}: {error}, got {shown(answer)}") from None
    for step in _STEPS:
        for place in board.open():
            step(board, place)
    for guess in board.guesses:
        _find_fallback(board, guess)
    find_missing_id(board.guesses, answers)
    find_doubts(board.guesses, sample, answers, capitals)
    return board.guesses


def _by_heading(board: _Board, place: int) -> None:
    meaning = board.meaning_at.get(place)
    texts = _present(board, place)
    empty = bool(board.guesses[place].texts) and not texts
    if meaning is None or (meaning == schema.ID and (empty or (texts and _share(_is_address, texts) < _MOST))):
        return
    if meaning == schema.CALLSIGN and (empty or (texts and _share(is_ordinary, texts) < _MOST)):
        return
    if meaning == schema.NAME:
        board.settle(place, WHOLE_NAME)
    elif meaning == schema.COUNTRY and texts and all(text in countries.NUMBERS for text in texts):
        board.settle(place, "{country_code}")
    elif meaning == schema.ID and board.guesses[place].title and _running(texts, board.aside) and int(texts[0]) <= 1:
        return
    else:
        board.settle(place, f"{{{meaning}}}")


def _by_content(board: _Board, place: int) -> None:
    texts, guess = _present(board, place), board.guesses[place]
    few = "" if len(texts) > 1 else "only one row shows it"
    if not texts and guess.texts:
        board.settle(place, "", "" if len(guess.texts) > 1 else few)
    elif not texts:
        return
    elif len(texts) == len(guess.texts) and _running(texts, board.aside) and int(texts[0]) < 100_000:
        board.settle(place, f"{{{NUMBER}}}", few)
        guess.number_from = int(texts[0])
    elif all(map(looks_like_id, texts)) and len(set(texts)) == len(texts):
        board.settle(place, "{id}", _other_ids(board, place) if schema.ID in board.known else "")
    elif len(texts) > 1 and len(set(texts)) == 1 and len(texts) == len(guess.texts):
        named = countries.is_country(texts[0])
        board.settle(place, escaped_constant(texts[0]), "it is also the name of a country" if named else "")
    elif all(map(is_ordinary, texts)):
        board.settle(place, "{callsign}")
    elif all(text in countries.NUMBERS for text in set(texts)):
        board.settle(place, "{country_code}", few)
    elif all(map(countries.is_country, set(texts))):
        board.settle(place, "{country}", few)
    elif all(text in schema.KINDS for text in texts):
        board.settle(place, "{kind}", few)


def _by_marked_ids(board: _Board, place: int) -> None:
    """Ids with the same text before or behind each."""
    texts = _present(board, place)
    found = [_MARKED_ID.fullmatch(text) for text in texts]
    if schema.ID in board.known or len(texts) < 2 or not all(found) or len(set(texts)) < len(texts):
        return
    around = {(one[1], one[3]) for one in found if one}
    if len(around) == 1:
        before, behind = next(iter(around))
        board.settle(place, f"{escaped_constant(before)}{{{schema.ID}}}{escaped_constant(behind)}")
        board.known[schema.ID] = [one[2] if (one := _MARKED_ID.fullmatch(text)) else "" for text in board.guesses[place].texts]


def _other_ids(board: _Board, place: int) -> str:
    """The doubt of a second column of ids, "" where it repeats the first."""
    same = board.guesses[place].texts == board.known[schema.ID]
    return "" if same and len(board.guesses[place].texts) > 1 else "another column holds ids too, other ones"


def _by_others(board: _Board, place: int) -> None:
    """A template over columns that are already known, if one gives every cell."""
    guess = board.guesses[place]
    for row in _telling_rows(board, place):
        template = _with_fields(guess.texts[row], {name: texts[row] for name, texts in board.known.items()})
        if template and _explains(board, template, guess):
            board.settle(place, template)
            return


def _telling_rows(board: _Board, place: int) -> list[int]:
    """The rows in which the most known fields hold text, and the longest cells, first."""
    texts = board.guesses[place].texts
    rows = [row for row, text in enumerate(texts) if text]
    rows.sort(key=lambda row: (-sum(bool(known[row]) for known in board.known.values()), -len(texts[row]), row))
    return rows[:_ROWS_FOR_TEMPLATES]


def _with_fields(text: str, fields: Mapping[str, str]) -> str | None:
    """The text with every field that stands in it as a whole word put in braces, None where there is none."""
    by_length = sorted((name for name, value in fields.items() if value), key=lambda name: -len(fields[name]))
    words = "|".join(re.escape(fields[name]) for name in by_length)
    name_of = {fields[name]: name for name in reversed(by_length)}
    if not words:
        return None
    found = re.compile(rf"(?<!\w)(?:{words})(?!\w)")
    parts, end = [], 0
    for match in found.finditer(text):
        parts += [escaped_constant(text[end : match.start()]), f"{{{name_of[match[0]]}}}"]
        end = match.end()
    return "".join([*parts, escaped_constant(text[end:])]) if parts else None


def _explains(board: _Board, template: str, guess: Guess) -> bool:
    """Whether a template gives every cell, but for rows in which it holds nothing."""
    made = rendered(template, board.known, len(guess.texts))
    return all(new == old or not new for new, old in zip(made, guess.texts, strict=True)) and any(made)


def rendered(template: str, fields: Mapping[str, Sequence[str]], count: int, *, is_raw: bool = False) -> Texts:
    """The texts of a template, as `cells` makes them; with `is_raw` a sign that begins a formula stays."""
    constant = constant_text(template)
    if constant is not None:
        return [constant] * count
    pieces = parse_template(template)
    begins, ends = loose_ends(template)
    made = []
    for row in range(count):
        values = [fields[piece.text][row] for piece in pieces if piece.is_field]
        text = "".join(fields[piece.text][row] if piece.is_field else piece.text for piece in pieces)
        if not all(values):
            text = re.sub(" {2,}", " ", text).lstrip(begins).rstrip(ends) if any(values) else ""
        if not is_raw and pieces[0].is_field and text[:1] in FORMULA_STARTS:
            text = text.lstrip(FORMULA_STARTS + " ")
        made.append(text)
    return made


def _by_most(board: _Board, place: int) -> None:
    if _share(is_ordinary, _present(board, place)) >= _MOST:
        board.settle(place, "{callsign}")


def _by_call_sign_first(board: _Board, place: int) -> None:
    texts = [text.split(" ", 1) for text in _present(board, place)]
    if texts and sum(len(parts) == 2 and is_ordinary(parts[0]) for parts in texts) >= _MOST * len(texts):
        several = any(" " in parts[1] for parts in texts if len(parts) == 2)
        rest = WHOLE_NAME if several else f"{{{schema.FIRST_NAME}}}"
        behind = [parts[1] if len(parts) == 2 else "" for parts in (text.split(" ", 1) for text in board.guesses[place].texts)]
        is_sure = not several and is_first_name(behind, countries_of_rows(board.known, len(behind)))
        board.settle(place, f"{{{schema.CALLSIGN}}} {rest}", "" if is_sure else "behind the call sign any text could stand")
        if not several:
            board.known.setdefault(schema.FIRST_NAME, behind)


def _by_cells(board: _Board, place: int) -> None:
    """Towns, whole names and settings show in their cells."""
    texts = board.guesses[place].texts
    taken = {name for other in board.settled for name in fields_of(board.guesses[other].value)}
    value = text_by_cells(texts, countries_of_rows(board.known, len(texts)))
    if value is not None and (not {*fields_of(value)} & taken or _hold_first_names(board, texts)):
        board.settle(place, value)
        return
    found = setting(texts)
    if found is not None:
        board.settle(place, *found)


def _hold_first_names(board: _Board, texts: Texts) -> bool:
    """Whether every cell begins with the first name that another column has."""
    first = board.known.get(schema.FIRST_NAME)
    return first is not None and all(text.startswith(f"{name} ") for text, name in zip(texts, first, strict=True))


def _by_nothing(board: _Board, place: int) -> None:
    if not board.guesses[place].texts:
        board.settle(place, "", "neither the heading nor a row says what stands here")
        return
    taken = {name for other in board.settled for name in fields_of(board.guesses[other].value)}
    free = next((name for name in _FREE_TEXT if name not in taken), None)
    if free is None or _share(str.isdigit, _present(board, place)) == 1:
        common = Counter(board.guesses[place].texts).most_common(1)[0][0]
        if looks_like_id(common) and schema.ID in board.known:
            common = ""  # the id of one contact is nobody else's
        board.settle(place, escaped_constant(common), "neither the heading nor the rows say what stands here")
    else:
        board.settle(place, f"{{{free}}}", "taken by its place only")


_STEPS: Final = (
    _by_heading,
    _by_content,
    _by_marked_ids,
    _by_others,
    _by_most,
    _by_call_sign_first,
    _by_others,
    _by_cells,
    _by_nothing,
)


def _find_fallback(board: _Board, guess: Guess) -> None:
    """The call sign or the id, where a column of one field holds it in some rows in place of its own text."""
    if not guess.texts or guess.value in ("{id}", f"{{{NUMBER}}}") or constant_text(guess.value) is not None:
        return
    own = _own_texts(board, guess)
    for name in (schema.CALLSIGN, schema.ID):
        other = board.known.get(name)
        if other is None or guess.value == f"{{{name}}}":
            continue
        same = [bool(a) and a == b for a, b in zip(guess.texts, other, strict=True)]
        if any(same) and sum(same) * 2 < len(same) and not any(own[row] == "" and not same[row] for row in range(len(same))):
            guess.fallback = f"{{{name}}}"
            return


def _own_texts(board: _Board, guess: Guess) -> Texts:
    pieces = parse_template(guess.value)
    if len(pieces) > 1 and all(piece.text in board.known for piece in pieces if piece.is_field):
        return rendered(guess.value, board.known, len(guess.texts))
    return guess.texts


def _present(board: _Board, place: int) -> Texts:
    return [text for text in board.guesses[place].texts if text]


def _share(test: Callable[[str], bool], texts: Texts) -> float:
    return sum(map(test, texts)) / max(len(texts), 1)


def _is_address(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 9


def _running(texts: Texts, aside: int) -> bool:
    """Whether cells count the rows; so many rows were set aside."""
    if not texts or not all(map(_is_address, texts)) or str(int(texts[0])) != texts[0]:
        return False
    numbers = list(map(int, texts))
    if not aside:
        return numbers == list(range(numbers[0], numbers[0] + len(numbers)))
    return numbers == sorted(set(numbers)) and len(numbers) > 1 and numbers[-1] - numbers[0] < len(numbers) + aside
