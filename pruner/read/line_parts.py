"""Parts of lines of free text that say more of a call: when it ended, how long it took, that it is a private one.

Receives the texts of parts and what was found of the lines, hands on patterns for these parts.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

from pruner.read.event_columns import LONGEST_CALL, private_words
from pruner.read.event_words import PRIVATE_EVENT, event_of
from pruner.read.group_cells import is_of_station
from pruner.read.heard_meanings import PRIVATE, SECONDS
from pruner.read.line_events import GAP, phrase
from pruner.read.line_evidence import says_duration
from pruner.read.line_tokens import DURATION_TEXT, NUMBER_FORM, durations_form

#: So many lines of events are ends, which alone tell durations.
_ENDS_AT_LEAST: Final = 0.3
_MOST_WORDS: Final = 8
_LABELLED: Final = re.compile(rf"([^\W\d_]+)[\W_]{{1,4}}({NUMBER_FORM})(?![^\W_])")
_WORD: Final = re.compile(r"[^\W\d_]+")


def which_is_end(first: Sequence[int | None], second: Sequence[int | None]) -> int:
    """Of two columns of times (milliseconds, None where a cell is none) 1 where the second tells ends, 0 where the first does,
    -1 where neither is."""
    between = [two - one for one, two in zip(first, second, strict=True) if one is not None and two is not None]
    if len(set(between)) < 2 or len(between) < len(first):
        return -1
    if all(0 <= time <= LONGEST_CALL for time in between):
        return 1
    return 0 if all(-LONGEST_CALL <= time <= 0 for time in between) else -1


def duration_in(texts: Sequence[str]) -> str:
    """The pattern of a duration that a part tells in the lines that tell it, with a group; "" where it tells none."""
    found = [DURATION_TEXT.findall(text) for text in texts]
    single = [one[0] for one in found if len(one) == 1]
    if len(single) > _ENDS_AT_LEAST * len(texts):
        return f"(?P<{SECONDS}>{durations_form(single)})"
    labelled = [match[1] for text in texts if (match := _named_number(text)) is not None]
    if len(labelled) <= _ENDS_AT_LEAST * len(texts):
        return ""
    labels = "|".join(sorted(set(labelled), key=lambda label: (-len(label), label)))
    return rf"(?:{labels})[\W_]{{1,4}}(?P<{SECONDS}>{NUMBER_FORM})"


def _named_number(text: str) -> re.Match[str] | None:
    return next((match for match in _LABELLED.finditer(text) if says_duration(match[1])), None)


def private_in(texts: Sequence[str], talkgroups: Sequence[str], system: str) -> str:
    """The pattern of a part whose words tell private calls, with a group; "" where it tells none."""
    labels = [" ".join(_WORD.findall(text)) for text in texts]
    common = sorted(set(labels))
    if not 2 <= len(common) <= _MOST_WORDS:
        return ""
    known = [label for label in common if event_of(label) == PRIVATE_EVENT]
    stations = [is_of_station(cell, system) for cell in talkgroups]
    found = known or [label for label in private_words(stations, labels, common) if label]
    if not found:
        return ""
    words = "|".join(sorted(map(phrase, found), key=lambda text: (-len(text), text)))
    return f"(?:{GAP}*?(?P<{PRIVATE}>{words})(?:{GAP}.*?)?|.*?)"
