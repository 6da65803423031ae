"""What the rules of a radio would hold at other limits, all from one queue.

Receives the queue of a radio (whose first so many ranks are what any limit keeps) and its calls to come, hands on rows.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from pruner.account.coverage import Ahead, CallsToCome
from pruner.account.limits import COMMON_SIZES, LimitHolds
from pruner.job.choose import Choice, whole_queue
from pruner.job.load import Loaded
from pruner.reference import countries
from pruner.settings.models import Radio

#: Whether a country's number is that of a known one.
KNOWN = np.array([bool(code) for code in countries.CODES])


def sizes_of(radio: Radio, asked: Collection[int] = ()) -> list[int]:
    """The limits to look at: those in common practice, the radio's own, those asked for."""
    own = () if radio.memory or radio.contacts is None else (radio.contacts,)
    return sorted({*COMMON_SIZES, *own, *asked})


def rooms_of(radio: Radio, sizes: Collection[int]) -> list[int]:
    """The same less what the radio keeps free."""
    return [max(size - radio.keep_free, 0) for size in sizes]


def queue_behind(loaded: Loaded, choice: Choice) -> Choice:
    """A choice whose ranks hold for any limit: the one that was made, unless its limit decided who bears a call sign first, or
    is one of bytes."""
    settings = loaded.settings
    single = any(settings.one_per_callsign(rule) for rule in choice.rules)
    return whole_queue(loaded, choice.radio) if single or choice.radio.memory else choice


def asked_for(queue: Choice) -> int:
    """Contacts in a queue, entries that the radio carries included."""
    return int(np.count_nonzero(queue.fit.rank)) + (len(queue.carried.number) if queue.carried else 0)


def held_at(
    loaded: Loaded, radio: Radio, queue: Choice, sizes: Collection[int], ahead: CallsToCome | None
) -> tuple[LimitHolds, ...]:
    """A row for each size. `queue`: that of the radio, its ranks good for any limit; `ahead`: the calls to come at `rooms_of`
    these sizes, None without logs."""
    rank, most = queue.fit.rank, asked_for(queue)
    waiting = np.flatnonzero(rank)
    # A country is there from the first rank on that one of its contacts has.
    first = np.full(len(countries.CODES), np.iinfo(rank.dtype).max, dtype=rank.dtype)
    np.minimum.at(first, loaded.contacts.country[waiting], rank[waiting])
    return tuple(
        LimitHolds(
            contacts=size,
            kept=min(room, most),
            countries=int(np.count_nonzero((first <= room) & KNOWN)),
            to_come=ahead.at(room) if ahead else Ahead(),
        )
        for size, room in zip(sizes, rooms_of(radio, sizes), strict=True)
    )
