"""What kind of entry a row of a radio's export is: a station, or a group that is called as a whole.

Receives columns of cells, hands on the column that tells and which of its cells say that an entry is no station. Groups have
addresses of their own (a talkgroup may bear the number of a station), so they are no contacts.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from pruner.read.event_words import PRIVATE_EVENT, event_of
from pruner.table.facts import looks_legal
from pruner.table.fold import fold, words_of
from pruner.words.number import whole_number

#: Beginnings of words for a group in a cell that says the kind of a call, folded (from memory).
_GROUPS: Final = tuple(
    fold(word)
    for word in (
        *"group grupp grupo gruppo groep groupe grup skupin csoport ryhm talkgroup".split(),
        *"групп група ομάδα ομαδικ グループ 組 群 组 그룹".split(),
    )
)
#: Beginnings and endings of words for a call, folded (from memory).
_CALLS: Final = tuple(
    fold(word)
    for word in (
        *"call ruf anruf appel llamada chiamata chamada oproep wywołan volán hívás apel poziv klic çağrı anrop opkald".split(),
        *"kald puhelu kõne zvan skambut trucada вызов виклик повикван κλήση 呼 호출 panggil".split(),
    )
)
#: Cells that say so as a whole.
_WHOLE: Final = frozenset(fold(words) for words in ("TG", "all", "all call", "broadcast", "alle", "tous", "todos", "tutti"))
#: A column of kinds has so few different cells.
_MOST_KINDS: Final = 6


def is_group(cell: str) -> bool:
    """Whether a cell of a column of kinds says that its entry is a group or an all-call."""
    return fold(cell) in _WHOLE or any(word.startswith(_GROUPS) for word in words_of(cell))


def kind_column(columns: Sequence[Sequence[str]], taken: Collection[int]) -> int | None:
    """The position of the column that says of each row what kind it is, None where there is none.

    It has few different cells, each row has one, and some rows say a group where others do not. `taken`: positions of columns
    that hold something else.
    """
    for place, cells in enumerate(columns):
        kinds = {cell.strip() for cell in cells}
        if place in taken or not 2 <= len(kinds) <= min(_MOST_KINDS, max(len(cells) - 1, 2)) or "" in kinds:
            continue
        if 0 < sum(map(is_group, kinds)) < len(kinds):
            return place
    return None


def calls_column(columns: Sequence[Sequence[str]], taken: Collection[int], ids: Sequence[str]) -> int | None:
    """The column of kinds of a directory, where there may be kinds of other things: its groups are such that are called (the
    cells say a call), or hardly have ids as stations have (`ids`, one for each row)."""
    place = kind_column(columns, taken)
    if place is None:
        return None
    rows = [row for row, cell in enumerate(columns[place]) if is_group(cell)]
    says_calls = all(
        any(word.startswith(_CALLS) or word.endswith(_CALLS) for word in words_of(cell))
        for cell in set(columns[place])
        if is_group(cell)
    )
    as_stations = sum(looks_legal(whole_number(ids[row])) for row in rows)
    return place if says_calls or 2 * as_stations <= len(rows) else None


def private_column(columns: Sequence[Sequence[str]], taken: Collection[int]) -> int | None:
    """The column of kinds of a list of talkgroups that says of some rows that they are private calls, and of others that they
    are groups; None where there is none."""
    place = kind_column(columns, taken)
    return place if place is not None and any(map(is_private, columns[place])) else None


def is_private(cell: str) -> bool:
    """Whether a cell of a column of kinds says that its entry is a private call, so of one station."""
    return not is_group(cell) and event_of(cell) == PRIVATE_EVENT
