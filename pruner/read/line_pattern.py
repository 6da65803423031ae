"""Lines of free text -> the pattern that explains those that tell calls.

Receives lines, hands on a `Learned`. The commonest forms of line are seeds; what other lines like a seed have in common with
it is the fixed part, everything else varies. Which of the parts that vary is who, talkgroup, time and duration is decided as
for columns (`table.identify`): the word before a part is its heading.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Final

from pruner.read.heard_kind import CLOCK, DATE, HEARD, SECONDS, TALKGROUP
from pruner.read.line_tokens import CALL, DURATION, NUMBER, SIGN, TIME, WORD, Token, tokens_of
from pruner.table.board import Board
from pruner.table.identify import identify

_LINES: Final = 2000
_SEEDS: Final = 6
_ROWS: Final = 200
#: Lines as like as this have one form; what so many of them lack varies.
_LIKE, _LACKING = 0.6, 0.004
#: A word in so many lines is part of a form; rarer ones are names, towns and the like.
_COMMON: Final = 0.02
#: Times of lines are whole ones.
_KIND: Final = replace(HEARD, meanings=tuple(meaning for meaning in HEARD.meanings if meaning.name not in (DATE, CLOCK)))
_SLOTS: Final = frozenset((TIME, DURATION, NUMBER, CALL))


@dataclass(frozen=True, slots=True)
class Learned:
    """A pattern with named groups, the lines that it explains and those that it does not, and an example of each group."""

    pattern: str
    explained: list[str]
    others: list[str]
    examples: dict[str, str]


def learn(lines: Sequence[str], system: str) -> Learned | None:
    """The pattern that explains most calls; None where no form of line tells who called on which talkgroup when."""
    texts = [line for line in lines if line.strip()][:_LINES]
    cut = [tokens_of(line) for line in texts]
    words = Counter(token.text for tokens in cut for token in set(tokens) if token.kind == WORD)
    common = {word for word, count in words.items() if count >= max(3, _COMMON * len(texts))}
    forms = Counter(tuple(_key(token, common) for token in tokens) for tokens in cut)
    best: tuple[int, Learned] | None = None
    for form, _ in sorted(forms.items(), key=lambda entry: (-entry[1], entry[0]))[:_SEEDS]:
        seed = next(tokens for tokens in cut if tuple(_key(token, common) for token in tokens) == form)
        learned = _from_seed(seed, forms, common, texts, system)
        if learned is None:
            continue
        score = len(learned.explained) * (2 if SECONDS in learned.examples else 1)
        if best is None or score > best[0]:
            best = score, learned
    return best[1] if best else None


def _key(token: Token, common: set[str]) -> str:
    return "<word>" if token.kind == WORD and token.text not in common else token.key


def _from_seed(
    seed: list[Token], forms: Counter[tuple[str, ...]], common: set[str], texts: list[str], system: str
) -> Learned | None:
    stays = _fixed([_key(token, common) for token in seed], forms)
    parts = [token if stays[place] else None for place, token in enumerate(seed)]
    slots = [place for place, token in enumerate(parts) if token is not None and token.kind in _SLOTS]
    probe = re.compile(_joined(parts, {place: f"s{place}" for place in slots}))
    rows = [[match[f"s{place}"] for place in slots] for match in map(probe.fullmatch, texts) if match]
    if not rows or not slots:
        return None
    spread = [rows[number * len(rows) // _ROWS] for number in range(_ROWS)] if len(rows) > _ROWS else rows
    found = identify(Board([_label(parts, place) for place in slots], spread, system), _KIND, {})
    if found.trouble or TALKGROUP not in found.positions:
        return None
    names = {slots[position]: meaning for meaning, position in found.positions.items()}
    pattern = _joined(parts, names)
    explains = re.compile(pattern)
    explained = [text for text in texts if explains.fullmatch(text)]
    first = explains.fullmatch(explained[0])
    examples = first.groupdict() if first else {}
    return Learned(pattern, explained, [text for text in texts if not explains.fullmatch(text)], examples)


def _fixed(seed: list[str], forms: Counter[tuple[str, ...]]) -> list[bool]:
    """Which tokens of a seed all lines like it have."""
    lacking = [0] * len(seed)
    alike = 0
    for form, count in forms.items():
        matcher = SequenceMatcher(None, seed, form, autojunk=False)
        if form != tuple(seed) and (matcher.real_quick_ratio() < _LIKE or matcher.ratio() < _LIKE):
            continue
        alike += count
        kept = {place for block in matcher.get_matching_blocks() for place in range(block.a, block.a + block.size)}
        for place in range(len(seed)):
            if place not in kept:
                lacking[place] += count
    return [key != "<word>" and lacking[place] <= _LACKING * alike for place, key in enumerate(seed)]


def _joined(parts: Sequence[Token | None], names: dict[int, str]) -> str:
    """The pattern of a whole line; parts that vary are anything."""
    made = ["^"]
    is_open = False
    for place, token in enumerate(parts):
        if token is None:
            made += [] if is_open else [".*?"]
            is_open = True
            continue
        space = r"\s+" if token.is_apart and not is_open else r"\s*"
        is_open = False
        made.append(f"{space}(?P<{names[place]}>{token.form})" if place in names else f"{space}(?:{token.form})")
    made.append(r".*$" if is_open else r"\s*$")
    return _plain("".join(made))


def _plain(pattern: str) -> str:
    """Without groups around single signs and words."""
    return re.sub(r"\(\?:((?:\\?[^\\()|?*+\[\]{}])+)\)", r"\1", pattern)


def _label(parts: Sequence[Token | None], place: int) -> str:
    """The heading of a part: the word before it, signs left out; a part with a unit is a duration whatever stands there."""
    token = parts[place]
    if token is not None and token.kind == DURATION:
        return "duration"
    for before in range(place - 1, max(place - 4, -1), -1):
        token = parts[before]
        if token is None or token.kind in _SLOTS:
            return ""
        if token.kind == WORD:
            return token.text
        if token.kind == SIGN and token.text in "])}":
            return ""
    return ""
