"""What contradicts a part of lines of free text: it is no id, no caller, no duration, or nothing of ours at all.

Receives the tokens of a form of line and a `Board` of those that vary, hands on which of them a meaning is barred from. What
stands beside a number is evidence, and so are the call signs of the same lines.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from pruner.read.heard_meanings import SECONDS
from pruner.read.line_tokens import CALL, DURATION, NUMBER, SIGN, TIME, WORD, Token
from pruner.reference.callsign import clean_callsign
from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.facts import Facts
from pruner.table.headings import KNOWN, sense_of
from pruner.table.kinds import Kind, Meaning
from pruner.words import schema

Parts = Sequence[Token | None]
SLOTS: Final = frozenset((TIME, DURATION, NUMBER, CALL))
#: Units behind a number that is no id, no group and no duration.
_OTHER_UNITS: Final = frozenset(
    "% ‰ ° db dbm dbi dbuv dbµv hz khz mhz ghz km kb mb bytes byte bit bits kbit baud v mv mw w".split()
)
#: Words before a duration besides those that head a column of durations.
_LASTING: Final = frozenset(
    "for during took lasted lasts elapsed len pendant durant durante mentre während lang gedurende duurde przez trwa "
    "trwało trwała under varade varede kestää durou duró durò".split()
)
#: Words before times that no call lasts, whatever their unit.
_OTHER_TIMES: Final = frozenset("latency delay jitter rtt ping timeout uptime lag latenz verzögerung latence latencia".split())
_IDS: Final = (("id", 1.0), ("caller", 1.0), ("station", 1.0))
_CALLSIGNS: Final = 0.6
#: More rows than this whose id is another call sign's, or whose call sign has another id: no id. People have two radios.
_SHARED, _SEVERAL = 0.3, 0.6
#: So many ids have the code of a country, and that of their call sign, at least.
_KNOWN_COUNTRY, _AGREEING = 0.5, 0.5


def label_of(parts: Parts, place: int) -> str:
    """The word before a part, signs left out; "" where another part that varies or a bracket closes before it."""
    for before in range(place - 1, max(place - 4, -1), -1):
        token = parts[before]
        if token is None or token.kind in SLOTS:
            return ""
        if token.kind == WORD:
            return token.text
        if token.kind == SIGN and token.text in "])}":
            return ""
    return ""


def heading_of(parts: Parts, place: int) -> str:
    """The heading of a part: its label; a part with a unit of time is a duration whatever stands there."""
    token = parts[place]
    return "duration" if is_kind(token, DURATION) else label_of(parts, place)


def is_other_unit(parts: Parts, place: int) -> bool:
    """Whether the unit behind a number says that it is none of ours (a frequency, a level, a share)."""
    token = parts[place]
    unit = parts[place + 1] if place + 1 < len(parts) else None
    return is_kind(token, NUMBER) and unit is not None and unit.text.casefold() in _OTHER_UNITS


def barred(kind: Kind, board: Board, parts: Parts, slots: Sequence[int]) -> tuple[Kind, Mapping[str, set[int]]]:
    """A kind that takes no column for what evidence contradicts, and the positions that each meaning is barred from."""
    signs = [place for place, column in enumerate(board.columns) if column.filled and column.is_callsign >= _CALLSIGNS]
    calls = [board.columns[position] for position in signs]
    no_ids = {position for position in range(len(slots)) if not _may_be_ids(board, position, calls)}
    found = {
        schema.ID: no_ids,
        schema.CALLSIGN: _no_callers(board, signs, set(range(len(slots))) - no_ids - set(signs)),
        SECONDS: _no_durations(parts, slots),
    }
    meanings = tuple(
        replace(meaning, cells=_without(meaning, found[meaning.name])) if meaning.name in found else meaning
        for meaning in kind.meanings
    )
    return replace(kind, meanings=meanings), found


def _without(meaning: Meaning, positions: set[int]) -> Callable[[Board, int], float]:
    cells = meaning.cells
    return lambda board, place: 0.0 if place in positions or cells is None else cells(board, place)


def _may_be_ids(board: Board, position: int, calls: Sequence[Facts]) -> bool:
    """Whether nothing contradicts that a column holds the ids of callers."""
    column = board.columns[position]
    if column.filled < ENOUGH_ROWS:
        return True
    is_headed = board.senses[position].weight(_IDS) >= KNOWN
    if len(column.counts) == 1 and (not is_headed or any(len(call.counts) > 1 for call in calls)):
        return False
    if board.system == "dmr" and not is_headed and column.known_share < _KNOWN_COUNTRY:
        return False
    return not calls or any(_go_together(column, call, board.system) for call in calls)


def _no_callers(board: Board, signs: Sequence[int], ids: set[int]) -> set[int]:
    """The call signs of other stations than the caller (a gateway): those that never vary beside others that do, and those
    that do not go with the ids where others do."""
    varied = {position for position in signs if len(board.columns[position].counts) > 1}
    likely = [board.columns[place] for place in ids if board.columns[place].legal_share > 0.5]
    together = {
        position for position in varied if any(_go_together(column, board.columns[position], board.system) for column in likely)
    }
    return set(signs) - (together or varied or set(signs))


def _go_together(ids: Facts, calls: Facts, system: str) -> bool:
    """Whether ids and call signs of the same lines name the same stations."""
    pairs = Counter(
        (number, clean_callsign(sign)) for number, sign in zip(ids.cells, calls.cells, strict=True) if number and sign
    )
    rows = pairs.total()
    if rows < ENOUGH_ROWS:
        return True
    if 1 - _of_commonest(pairs, 0) / rows > _SHARED or 1 - _of_commonest(pairs, 1) / rows > _SEVERAL:
        return False
    if system != "dmr":
        return True
    countries = zip(ids.countries_of_ids, calls.countries_of_calls, strict=True)
    agreeing = [number == sign for number, sign in countries if number and sign]
    return len(agreeing) < ENOUGH_ROWS or sum(agreeing) >= _AGREEING * len(agreeing)


def _of_commonest(pairs: Counter[tuple[str, str]], side: int) -> int:
    """The rows of each id (side 0) or call sign (side 1) with the one that it has most often."""
    best: dict[str, int] = {}
    for pair, count in pairs.items():
        best[pair[side]] = max(best.get(pair[side], 0), count)
    return sum(best.values())


def _no_durations(parts: Parts, slots: Sequence[int]) -> set[int]:
    """The positions of numbers that stand beside a word of another kind; where a word names one duration, of all others."""
    named = {position for position, place in enumerate(slots) if says_duration(label_of(parts, place))}
    timed = {position for position, place in enumerate(slots) if is_kind(parts[place], DURATION)}
    found = {position for position, place in enumerate(slots) if _is_of_other_kind(parts, place)}
    sure = (named & timed or named) - found
    return found | (set(range(len(slots))) - sure if sure else set())


def is_kind(token: Token | None, kind: str) -> bool:
    """Whether a part is a token of a kind, and not one that varies."""
    return token is not None and token.kind == kind


def says_duration(label: str) -> bool:
    """Whether the word before a number says that it is a duration."""
    return label.casefold() in _LASTING or sense_of(label).weight((("seconds", 1.0),)) > 0.5


def _is_of_other_kind(parts: Parts, place: int) -> bool:
    """Whether the label or the sign of a number says that it is no duration."""
    label = label_of(parts, place)
    if is_kind(parts[place], DURATION):
        return label.casefold() in _OTHER_TIMES
    is_time = says_duration(label) or sense_of(label).weight((("time", 1.0),)) > 0.5
    return bool(label and not is_time) or _is_negative(parts, place)


def _is_negative(parts: Parts, place: int) -> bool:
    token = parts[place]
    sign = parts[place - 1] if place else None
    if token is None or sign is None or sign.text != "-" or token.is_apart:
        return False
    before = parts[place - 2] if place > 1 else None
    return sign.is_apart or (before is not None and before.text in "=:")
