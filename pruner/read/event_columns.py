"""A table of calls -> the columns that say which rows are starts, ends, private calls, or no calls at all.

Receives the cells of rows that follow each other, hands on `EventColumn`s. Words that are known (`event_words`) say it by
themselves. Others do where they behave so: a row of one word is followed by a row of the same caller and talkgroup with the
other, within the hour, and the duration that only the second tells is the time between them; private calls go to numbers of
stations where all others go to groups.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

from pruner.read.event_words import END_EVENT, NO_CALL_EVENT, PRIVATE_EVENT, START_EVENT, event_of, is_whole_call
from pruner.table.fold import fold

#: A column of more words tells no events; each of them stands in so many rows.
_MOST_WORDS: Final = 8
_RARE: Final = 0.01
_KNOWN_AT_LEAST: Final = 0.1
#: Rows of both words that stand in pairs: so many are enough where durations agree; without durations more, and more of them.
_PAIRED_TIMED, _PAIRED, _DOUBTFUL = 0.5, 0.8, 0.62
_PAIRS_TIMED, _PAIRS = 2, 8
#: An end comes at most so many milliseconds after its start; its duration is that time, to the seconds of both clocks.
LONGEST_CALL: Final = 3_600_000
_CLOCKS: Final = 2_500
#: Cells that affirm or deny what their column asks (from memory).
_AFFIRMED: Final = frozenset(map(fold, "1 true t yes y ja j oui si sí sim tak ano да так kyllä igen x".split()))
_DENIED: Final = frozenset(map(fold, "0 false f no n nein nee nej non não nie ne нет ні ei nem".split()))
#: So many rows of a word have what all of them should have.
_MOST: Final = 0.8
_FEW: Final = 0.2


@dataclass(frozen=True, slots=True)
class Row:
    """One row: who called on which talkgroup, when (milliseconds; None where no time), for how long (0 where that is not
    told), and whether the talkgroup is a number of stations."""

    caller: tuple[str, ...]
    time: int | None
    milliseconds: int
    goes_to_station: bool = False


@dataclass(frozen=True, slots=True)
class EventColumn:
    """The column at `position`; `words`: what its cells tell, by the cell as it stands. `is_sure`: else its words alternate too
    rarely to be believed."""

    position: int
    words: Mapping[str, str]
    is_sure: bool = True


def find_event_column(
    rows: Sequence[Row], columns: Mapping[int, Sequence[str]], likely: int | None = None
) -> EventColumn | None:
    """The column that tells starts and ends, None where none does; of several the first that is sure. `columns`: the cells of
    those that may, by position; `likely`: the one that settings, heading or words speak for: what is known of its words counts
    although nothing confirms it."""
    order = _in_order(rows)
    doubtful = None
    for position, cells, words in _candidates(rows, columns, likely):
        found = _events_in(rows, order, cells, words, position, is_likely=position == likely)
        if found is not None and found.is_sure:
            return found
        doubtful = doubtful or found
    return doubtful


def find_private_column(rows: Sequence[Row], columns: Mapping[int, Sequence[str]]) -> EventColumn | None:
    """The column whose words separate calls that go to stations from those that go to groups, None where none does."""
    for position, cells, common in _candidates(rows, columns, None):
        words = private_words([row.goes_to_station for row in rows], cells, common)
        if words:
            return EventColumn(position, dict.fromkeys(words, PRIVATE_EVENT))
    return None


def words_of_private_calls(rows: Sequence[Row], cells: Sequence[str]) -> Sequence[str] | None:
    """The words of a column, of which it is known that it tells private calls, that do: those known to, an answer in the
    affirmative where others deny, or those of calls to stations; all, where other rows have none. None where every row has a
    word and nothing tells which are meant."""
    words = sorted({cell.strip() for cell in cells} - {""})
    known = [word for word in words if event_of(word) == PRIVATE_EVENT]
    affirmed = [word for word in words if fold(word) in _AFFIRMED]
    found = known or (affirmed if len(affirmed) < len(words) else [])
    found = found or private_words([row.goes_to_station for row in rows], [cell.strip() for cell in cells], words)
    if found or not words or any(fold(word) in _DENIED for word in words):
        return found
    return words if any(not cell.strip() for cell in cells) else None


def _candidates(
    rows: Sequence[Row], columns: Mapping[int, Sequence[str]], first: int | None
) -> Iterator[tuple[int, list[str], list[str]]]:
    """The columns of few words: position, cells, and the words that are not rare."""
    for position in sorted(columns, key=lambda place: (place != first, place)):
        cells = [cell.strip() for cell in columns[position]]
        counts = Counter(cells)
        common = [word for word, count in sorted(counts.items()) if word and count >= _RARE * len(rows)]
        if (common and len(common) <= _MOST_WORDS and counts[""] <= _FEW * len(rows)) or (position == first and common):
            yield position, cells, common[:_MOST_WORDS]


def _events_in(
    rows: Sequence[Row], order: Sequence[int], cells: Sequence[str], common: Sequence[str], position: int, *, is_likely: bool
) -> EventColumn | None:
    words = sorted(set(cells) - {""})
    known = {word: event for word in words if (event := event_of(word)) is not None}
    tells_calls = sum(is_whole_call(cell) for cell in cells) >= _KNOWN_AT_LEAST * len(rows)
    if not tells_calls and not {START_EVENT, END_EVENT} & set(known.values()):
        known = {word: event for word, event in known.items() if event != NO_CALL_EVENT}
    starts, ends = ([word for word in common if known.get(word) == event] for event in (START_EVENT, END_EVENT))
    shares = [sum(cell in some for cell in cells) / max(len(rows), 1) for some in (starts, ends)]
    if min(shares) >= _KNOWN_AT_LEAST:
        pair = _paired(rows, order, cells, starts, ends)
        if pair.is_whole and pair.share < _PAIRED_TIMED:
            return EventColumn(position, {word: event for word, event in known.items() if event == PRIVATE_EVENT})
        others = {word: NO_CALL_EVENT for word in words if word not in known and not is_whole_call(word)}
        return EventColumn(position, known | others)
    tried = [
        _paired(rows, order, cells, [start], [end])
        for start, end in permutations(common, 2)
        if known.get(start, START_EVENT) == START_EVENT and known.get(end, END_EVENT) == END_EVENT
    ]
    best = max(tried, key=lambda pair: (pair.is_timed, pair.share), default=None)
    if best is None or not best.is_doubtful:
        tells_others = tells_calls and NO_CALL_EVENT in known.values() and all(map(_is_known, common))
        return EventColumn(position, known) if (is_likely and known) or tells_others else None
    found = known | dict.fromkeys(best.starts, START_EVENT) | dict.fromkeys(best.ends, END_EVENT)
    found |= {word: NO_CALL_EVENT for word in common if word not in found and _is_between(rows, order, cells, best, word)}
    return EventColumn(position, found, best.is_sure)


def _is_known(word: str) -> bool:
    return is_whole_call(word) or event_of(word) is not None


@dataclass(frozen=True, slots=True)
class _Pair:
    """How often rows of one word are followed by rows of another: the share of both that stands in pairs; `is_timed`: the
    durations of the second are the times between them, and the first has none; `is_whole`: the first has durations too, as
    rows of whole calls have."""

    starts: Sequence[str]
    ends: Sequence[str]
    pairs: int
    share: float
    is_timed: bool
    is_whole: bool

    @property
    def is_sure(self) -> bool:
        """Whether these words tell starts and ends."""
        if self.is_timed:
            return self.pairs >= _PAIRS_TIMED and self.share >= _PAIRED_TIMED
        return self.pairs >= _PAIRS and self.share >= _PAIRED and not self.is_whole

    @property
    def is_doubtful(self) -> bool:
        """Whether it is sure, or nearly so."""
        return self.is_sure or (self.pairs >= _PAIRS and self.share >= _DOUBTFUL and not self.is_whole)


def _paired(
    rows: Sequence[Row], order: Sequence[int], cells: Sequence[str], starts: Sequence[str], ends: Sequence[str]
) -> _Pair:
    which = (place for place in order if cells[place] in starts or cells[place] in ends)
    events = ((place, rows[place].caller, rows[place].time, cells[place] in starts) for place in which)
    pairs = agreeing = 0
    for place, between in pairs_of(events):
        told = rows[place].milliseconds
        pairs += 0 <= between <= LONGEST_CALL
        agreeing += told > 0 and abs(between - told) <= _CLOCKS
    first, second = (
        [row.milliseconds > 0 for row, cell in zip(rows, cells, strict=True) if cell in some] for some in (starts, ends)
    )
    lasting = [sum(flags) / max(len(flags), 1) for flags in (first, second)]
    is_timed = lasting[0] <= _FEW and lasting[1] >= _MOST and agreeing >= _MOST * pairs > 0
    share = 2 * pairs / max(len(first) + len(second), 1)
    return _Pair(starts, ends, pairs, share, is_timed, lasting[0] > _FEW)


def pairs_of(events: Iterable[tuple[int, Hashable, int | None, bool]]) -> Iterator[tuple[int, int]]:
    """The ends that follow a start of the same caller, and how much later they come. `events` in the order of time: place,
    caller, time (None: not known), whether it is a start."""
    begun: dict[Hashable, int] = {}
    for place, caller, time, is_start in events:
        if time is None:
            continue
        if is_start:
            begun[caller] = time
        elif caller in begun:
            yield place, time - begun.pop(caller)


def _is_between(rows: Sequence[Row], order: Sequence[int], cells: Sequence[str], pair: _Pair, word: str) -> bool:
    """Whether the rows of a word stand between a start and its end: they tell that a call goes on."""
    open_calls: dict[tuple[str, ...], bool] = defaultdict(bool)
    inside = count = 0
    for place in order:
        caller = rows[place].caller
        if cells[place] == word:
            count += 1
            inside += open_calls[caller]
        elif cells[place] in pair.starts or cells[place] in pair.ends:
            open_calls[caller] = cells[place] in pair.starts
    return inside >= _MOST * count


def private_words(stations: Sequence[bool], cells: Sequence[str], common: Sequence[str]) -> list[str]:
    """The words of calls that go to stations, where those of all others go to groups."""
    going: dict[str, list[bool]] = {word: [] for word in common}
    for goes_to_station, cell in zip(stations, cells, strict=True):
        if cell in going:
            going[cell].append(goes_to_station)
    shares = {word: sum(flags) / max(len(flags), 1) for word, flags in going.items()}
    private = [word for word, share in shares.items() if share >= 1 - _FEW / 2]
    others = [share for word, share in shares.items() if word not in private]
    return private if private and others and max(others) <= _FEW / 2 else []


def _in_order(rows: Sequence[Row]) -> list[int]:
    """The rows by time; of one time in the order of the table, or against it where it has the latest first."""
    places = [place for place, row in enumerate(rows) if row.time is not None]
    times = [time for row in rows if (time := row.time) is not None]
    if times and times[0] > times[-1]:
        places.reverse()
    return sorted(places, key=lambda place: rows[place].time or 0)
