"""Lines of free text -> the pattern that explains those that tell calls.

Receives lines, hands on a `Learned`. The commonest forms of line are seeds; what other lines like a seed have in common with
it is the fixed part, everything else varies. Which of the parts that vary is who, talkgroup, time and duration is decided as
for columns (`table.identify`): the word before a part is its heading.
"""

from __future__ import annotations

import re
import time
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from pruner.read.heard_gate import goes_with_countries, judge_line
from pruner.read.heard_kind import HEARD
from pruner.read.heard_meanings import CLOCK, DATE, END, SECONDS, TALKGROUP
from pruner.read.heard_meanings import TIME as TIME_COLUMN
from pruner.read.heard_times import moments
from pruner.read.line_events import Events, Line, find_events
from pruner.read.line_evidence import SLOTS, barred, heading_of, is_kind, is_other_unit, label_of
from pruner.read.line_form import fixed, joined, probed, varying_from
from pruner.read.line_parts import duration_in, private_in, which_is_end
from pruner.read.line_tokens import TIME, WORD, Token, tokens_of
from pruner.table.board import Board
from pruner.table.choices import Identified
from pruner.table.identify import identify
from pruner.words import schema

_LINES: Final = 2000
_SEEDS: Final = 6
_ROWS: Final = 200
#: Lines as like as this have one form (tried in turn).
_LIKE: Final = (0.6, 0.8, 1.0)
#: A line of more words, numbers and signs is no seed, nor is it compared with one.
_MOST_TOKENS: Final = 150
#: A word in so many lines is part of a form; rarer ones are names, towns and the like.
_COMMON: Final = 0.02
#: Times of lines are whole ones.
_KIND: Final = replace(
    HEARD, meanings=tuple(meaning for meaning in HEARD.meanings if meaning.name not in (DATE, CLOCK)), judge=judge_line
)
#: Numbers that tell events are so few.
_MOST_NUMBERS: Final = 4
_NO_TIME: Final = "no time found (date and time of day)"
_NO_CALLER: Final = "no caller found (an id or a call sign)"
_NO_TALKGROUP: Final = "no talkgroup found (a number with a word for it beside it)"


@dataclass(frozen=True, slots=True)
class Learned:
    """A pattern with named groups, the lines that it explains and those that it does not, and an example of each group.
    `events`: which words say that calls begin and end; where they are not sure the pattern leaves them out. `unused`: an
    example, with the word before it, of each part that varies and has no group."""

    pattern: str
    explained: list[str]
    others: list[str]
    examples: dict[str, str]
    events: Events | None = None
    unused: tuple[str, ...] = ()


def learn(lines: Sequence[str], system: str) -> Learned | None:
    """The pattern that explains most calls; None where no form of line tells who called on which talkgroup when."""
    found = [one for one in _attempts(lines, system) if isinstance(one, Learned)]
    return max(found, key=lambda one: len(one.explained) * (2 if {SECONDS, END} & set(one.examples) else 1), default=None)


def lacking(lines: Sequence[str], system: str) -> tuple[str, ...]:
    """What the form of line that is nearest to a call lacks, in words, where `learn` finds none."""
    found = [one for one in _attempts(lines, system) if not isinstance(one, Learned)]
    return min(found, key=len, default=(_NO_TIME, _NO_CALLER, _NO_TALKGROUP))


def _attempts(lines: Sequence[str], system: str) -> Iterator[Learned | tuple[str, ...]]:
    """What comes of every likeness and seed: what was learned, or what is lacking."""
    texts = [line for line in lines if line.strip()][:_LINES]
    cut = [tokens_of(line) for line in texts]
    words = Counter(token.text for tokens in cut for token in set(tokens) if token.kind == WORD)
    common = {word for word, count in words.items() if count >= max(3, _COMMON * len(texts))}
    forms = Counter(tuple(_key(token, common) for token in tokens) for tokens in cut if len(tokens) <= _MOST_TOKENS)
    seeds = []
    for form, _ in sorted(forms.items(), key=lambda entry: (-entry[1], entry[0]))[:_SEEDS]:
        seeds.append(next(tokens for tokens in cut if tuple(_key(token, common) for token in tokens) == form))
    tried = dict.fromkeys(_parts_of(seed, forms, common, like) for like in _LIKE for seed in seeds)
    yield from (_from_parts(list(parts), texts, system) for parts in tried)


def _key(token: Token, common: set[str]) -> str:
    return "<word>" if token.kind == WORD and token.text not in common else token.key


def _parts_of(seed: list[Token], forms: Counter[tuple[str, ...]], common: set[str], like: float) -> tuple[Token | None, ...]:
    """What of a seed stays in all lines that are as like it."""
    stays = fixed([_key(token, common) for token in seed], forms, like)
    return tuple(token if stays[place] else None for place, token in enumerate(seed))


def _from_parts(parts: list[Token | None], texts: list[str], system: str) -> Learned | tuple[str, ...]:
    slots = [
        place
        for place, token in enumerate(parts)
        if token is not None and token.kind in SLOTS and not is_other_unit(parts, place)
    ]
    probe = re.compile(joined(parts, {place: f"s{place}" for place in slots}))
    rows = [[match[f"s{place}"] for place in slots] for match in map(probe.fullmatch, texts) if match]
    if not rows or not slots:
        return _NO_TIME, _NO_CALLER, _NO_TALKGROUP
    spread = [rows[number * len(rows) // _ROWS] for number in range(_ROWS)] if len(rows) > _ROWS else rows
    board = Board([heading_of(parts, place) for place in slots], spread, system)
    kind, contradicted = barred(_KIND, board, parts, slots)
    found = identify(board, kind, {})
    taken = {name for name, position in found.positions.items() if position not in contradicted.get(name, ())}
    missing = _missing(found, taken) or ((_NO_TALKGROUP,) if _is_of_others(board, found) else ())
    if missing:
        return missing
    names = {slots[position]: meaning for meaning, position in found.positions.items()}
    _take_end(slots, names, rows, parts)
    parts, events = _with_events(
        parts, names, texts, {place: {row[number] for row in rows} for number, place in enumerate(slots)}
    )
    varying = _varying(parts, names, texts, events, system)
    pattern = joined(parts, names, varying)
    explains = re.compile(pattern)
    matches = list(map(explains.fullmatch, texts))
    examples: dict[str, str] = {}
    for match in filter(None, matches):
        examples = {name: examples.get(name) or text or "" for name, text in match.groupdict().items()}
    explained = [text for text, match in zip(texts, matches, strict=True) if match]
    others = [text for text, match in zip(texts, matches, strict=True) if not match]
    return Learned(pattern, explained, others, examples, events, _unused(parts, names, explained, set(varying)))


def _unused(parts: Sequence[Token | None], names: dict[int, str], lines: Sequence[str], used: set[int]) -> tuple[str, ...]:
    """An example of each part that differs between lines and has no group, in their order."""
    free = [place for place, token in enumerate(parts) if token is not None and token.kind in SLOTS and place not in names]
    begins = varying_from(parts)
    varying = {number: f"(?P<part{number}>.*?)" for number in range(len(begins)) if number not in used}
    probe = re.compile(joined(parts, names | {place: f"s{place}" for place in free}, varying))
    matches = [match for match in map(probe.fullmatch, lines) if match]
    groups = [(place, f"s{place}") for place in free] + [(begins[number], f"part{number}") for number in varying]
    found = []
    for place, group in sorted(groups):
        texts = dict.fromkeys(match[group].strip() for match in matches)
        if len(texts) > 1:
            found.append(f"{label_of(parts, place)} {next(filter(None, texts))}".strip())
    return tuple(found)


def _missing(found: Identified, taken: set[str]) -> tuple[str, ...]:
    """What is not among the meanings that were taken, in words."""
    has_caller, has_group = {schema.ID, schema.CALLSIGN} & taken, TALKGROUP in taken
    missing = [*([] if TIME_COLUMN in taken else [_NO_TIME]), *([] if has_caller else [_NO_CALLER])]
    missing += [] if has_group else [_NO_TALKGROUP]
    if missing or (taken == set(found.positions) and not found.trouble):
        return tuple(missing)
    return (f"more than one number may be the {min(found.rivals)}" if found.rivals else _NO_TALKGROUP,)


def _take_end(
    slots: Sequence[int], names: dict[int, str], rows: Sequence[Sequence[str]], parts: Sequence[Token | None]
) -> None:
    """Names the second time of lines that tell no duration, where it is that of the end."""
    begin = next(place for place, name in names.items() if name == TIME_COLUMN)
    others = [place for place in slots if place not in names and is_kind(parts[place], TIME)]
    if SECONDS in names.values() or END in names.values() or len(others) != 1:
        return
    first, second = (_moments([row[slots.index(place)] for row in rows]) for place in (begin, others[0]))
    end = which_is_end(first, second)
    if end >= 0:
        names[(begin, others[0])[end]] = END
        names[(others[0], begin)[end]] = TIME_COLUMN


def _is_of_others(board: Board, found: Identified) -> bool:
    """Whether both numbers, of who and of the talkgroup, stand behind words of which nothing is known, and nothing else speaks
    for them: no call sign, and no talkgroup of a caller's country."""
    places = [found.positions[name] for name in (schema.ID, TALKGROUP) if name in found.positions]
    are_unknown = all(board.headings[place] and not board.senses[place].classes for place in places)
    return schema.CALLSIGN not in found.positions and are_unknown and not goes_with_countries(board, found.positions)


def _with_events(
    parts: list[Token | None], names: dict[int, str], texts: Sequence[str], cells: Mapping[int, set[str]]
) -> tuple[list[Token | None], Events | None]:
    """Which words, signs or numbers tell that calls begin and end; the parts, of which such a number is one that varies."""
    found = _events_of(parts, names, texts)
    if found is not None and found.is_sure:
        return parts, found
    for place, texts_of_slot in cells.items():
        if place not in names and 2 <= len(texts_of_slot) <= _MOST_NUMBERS:
            varied = [None if number == place else token for number, token in enumerate(parts)]
            events = _events_of(varied, names, texts)
            if events is not None and events.is_sure:
                return varied, events
    return parts, found


def _events_of(parts: Sequence[Token | None], names: dict[int, str], texts: Sequence[str]) -> Events | None:
    """Which of the words that vary tell that calls begin and end."""
    count, matches = probed(parts, names, texts)
    times = _moments([match[TIME_COLUMN] for match in matches])
    who = [name for name in (schema.ID, schema.CALLSIGN, TALKGROUP) if name in names.values()]
    return find_events(
        [
            Line(tuple(match[name] for name in who), moment or 0, tuple(match[f"part{part}"] for part in range(count)))
            for match, moment in zip(matches, times, strict=True)
        ]
    )


def _moments(cells: Sequence[str]) -> list[int | None]:
    return moments(cells, int(time.time() * 1000))


def _varying(
    parts: Sequence[Token | None], names: dict[int, str], texts: Sequence[str], events: Events | None, system: str
) -> dict[int, str]:
    """What stands for the parts that vary where one tells events, and another, or the same, the duration, which only ends tell;
    or private calls."""
    count, matches = probed(parts, names, texts)
    cells = [[match[f"part{part}"] for match in matches] for part in range(count)]
    found = {}
    if events is not None and events.is_sure:
        found[events.part] = events.form()
        order = () if SECONDS in names.values() else (*(part for part in range(count) if part != events.part), events.part)
        part, duration = next(((part, form) for part in order if (form := duration_in(cells[part]))), (0, ""))
        if duration:
            found[part] = events.form(duration) if part == events.part else rf"(?:.*?[^\w.:]{duration})?.*?"
    groups = [match[TALKGROUP] for match in matches]
    private = next(
        ((part, form) for part in range(count) if part not in found and (form := private_in(cells[part], groups, system))), None
    )
    return found if private is None else found | {private[0]: private[1]}
