"""Lines of a log that tell a call twice, when it begins and when it ends -> which words say so.

Receives lines of one form in their order: who called, when, and the texts in which the lines differ. Hands on `Events`. Words
that are known (`event_words`) say it by themselves; others where they alternate: nearly every line with one of them is followed
by a line of the same caller with the other.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from pruner.read.event_columns import LONGEST_CALL, pairs_of
from pruner.read.event_words import END_EVENT, START_EVENT, event_of
from pruner.read.line_tokens import DURATION_TEXT, escaped

START_GROUP, END_GROUP = "start_event", "end_event"
_MOST_LABELS: Final = 8
#: A label of fewer lines is no part of the form; all labels together cover so many.
_RARE, _COVERED = 0.01, 0.97
#: Each of two known words stands in so many lines at least.
_KNOWN_AT_LEAST: Final = 0.1
#: So many lines stand in pairs where unknown words tell events; from the smaller share on nobody can say.
_ALTERNATING, _DOUBTFUL = 0.8, 0.62
_PAIRS_AT_LEAST: Final = 10
_WORD: Final = re.compile(r"[^\W\d_]+")
#: What stands between words.
GAP: Final = r"[\W\d_]"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: who called on which talkgroup, when (milliseconds), and the texts of the parts that vary."""

    caller: Hashable
    time: int
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Events:
    """In which part that varies words tell events: those that are all of it, its first or its last (`where`); the words of
    starts and of ends ("" where there are none). `is_sure`: else they alternate too rarely to be believed; `is_open`: durations
    stand in the part as well."""

    part: int
    where: str
    starts: tuple[str, ...]
    ends: tuple[str, ...]
    is_sure: bool = True
    is_open: bool = False

    def form(self, duration: str = "") -> str:
        """What stands for the part in a pattern: one group that holds the word of a start, another for that of an end; where
        one of them has no words, lines without those of the other are meant. `duration`: the pattern of one behind the word."""
        groups = [
            f"(?P<{name}>{'|'.join(phrase(label) for label in labels)})" if "" not in labels else _phrases(labels)
            for name, labels in ((START_GROUP, self.starts), (END_GROUP, self.ends))
        ]
        # Alternatives are tried in their order: a text without words fits everywhere.
        groups.sort(key=lambda group: not group.startswith("(?P"))
        either = f"(?:{'|'.join(groups)})"
        rest = f"(?:{GAP}.*?)?"
        if duration:
            rest = rf"(?:{GAP}(?:.*?[^\w.:])?{duration}{rest}|{GAP}.*?)?"
        if self.where == "last":
            return f"(?:.*?{GAP})?{either}{rest if self.is_open else f'{GAP}*?'}"
        return f"{GAP}*?{either}{rest if self.is_open or self.where == 'first' else f'{GAP}*?'}"


def phrase(label: str) -> str:
    """The pattern of words with anything but words between them."""
    return f"{GAP}+".join(map(escaped, label.split()))


def _phrases(labels: Sequence[str]) -> str:
    return "|".join(sorted(map(phrase, labels), key=len, reverse=True))


def _whole(words: list[str]) -> str:
    return " ".join(words)


def _first(words: list[str]) -> str:
    return words[0] if words else ""


def _last(words: list[str]) -> str:
    return words[-1] if words else ""


_LABELS: Final[dict[str, Callable[[list[str]], str]]] = {"all": _whole, "first": _first, "last": _last}


def find_events(lines: Sequence[Line]) -> Events | None:
    """Which words tell events, None where none do."""
    if not lines:
        return None
    doubtful = None
    for part, where, labels in _labelled(lines):
        found = _known(labels, part, where) or _alternating(lines, labels, part, where)
        if found is not None and any(DURATION_TEXT.search(line.parts[part]) for line in lines):
            found = replace(found, is_open=True)
        if found is not None and found.is_sure:
            return found
        doubtful = doubtful or found
    return doubtful


def _words(part: str) -> list[str]:
    """The words of a part but for durations; where it has none, its signs or number."""
    rest = DURATION_TEXT.sub(" ", part)
    return _WORD.findall(rest) or ([rest.strip()] if rest.strip() else [])


def _labelled(lines: Sequence[Line]) -> Iterator[tuple[int, str, list[str]]]:
    """The parts whose words are few, each with the label of every line ("?" where it is rare); known words first."""
    found = []
    for part in range(len(lines[0].parts)):
        words = [_words(line.parts[part]) for line in lines]
        for where, label_of in _LABELS.items():
            labels = [label_of(one) for one in words]
            counts = Counter(labels)
            common = {label for label, count in counts.items() if count >= _RARE * len(lines)}
            if 2 <= len(common) <= _MOST_LABELS and sum(counts[label] for label in common) >= _COVERED * len(lines):
                found.append((part, where, [label if label in common else "?" for label in labels]))
    return iter(sorted(found, key=lambda one: _known(one[2], *one[:2]) is None))


def _known(labels: Sequence[str], part: int, where: str) -> Events | None:
    counts = Counter(labels)
    starts = tuple(sorted(label for label in counts if event_of(label) == START_EVENT))
    ends = tuple(sorted(label for label in counts if event_of(label) == END_EVENT))
    if any(sum(counts[label] for label in some) < _KNOWN_AT_LEAST * len(labels) for some in (starts, ends)):
        return None
    return Events(part, where, starts, ends)


def _alternating(lines: Sequence[Line], labels: Sequence[str], part: int, where: str) -> Events | None:
    """Unknown words that alternate for each caller: one word tells starts, all others tell ends."""
    names = sorted(set(labels) - {"?"})
    order = range(len(lines)) if lines[0].time <= lines[-1].time else range(len(lines) - 1, -1, -1)
    paired = partial(_paired, lines, labels, order)
    pairs, start = max(((paired(name), name) for name in names), key=lambda one: one[0])
    share = 2 * pairs / len(lines)
    if pairs < _PAIRS_AT_LEAST or share < _DOUBTFUL:
        return None
    return Events(part, where, (start,), tuple(name for name in names if name != start), share >= _ALTERNATING)


def _paired(lines: Sequence[Line], labels: Sequence[str], order: Sequence[int], start: str) -> int:
    """How many lines with a word are followed by one of the same caller with another word, within an hour."""
    events = ((place, lines[place].caller, lines[place].time, labels[place] == start) for place in order)
    return sum(0 <= between <= LONGEST_CALL for _, between in pairs_of(events))
