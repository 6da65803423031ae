"""What is called in the demo: one entry per time that a station presses its key.

Receives draws and the stations of a directory; hands on `Overs`. Who calls: `persons`; when and where: `conversations`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from pruner.demo.conversations import DAY_SECONDS, Conversations, contests, everyday, nets
from pruner.demo.draws import Draws, Integers
from pruner.demo.persons import World, make_persons
from pruner.demo.stations import Stations

#: Days, counted from the first, on which the receiver of the varied world was off, from and until.
SILENT: Final = ((37, 42), (86, 88))


@dataclass(frozen=True, slots=True)
class Overs:
    """Columns of equal length (int64): `id`; `talkgroup`; `time` in seconds since 1970; `tenths` of a second on air.
    Ordered by time, then id."""

    id: Integers
    talkgroup: Integers
    time: Integers
    tenths: Integers

    def __len__(self) -> int:
        return len(self.id)


def make_overs(draws: Draws, stations: Stations, about: int, *, first_day: int, days: int, world: World = "varied") -> Overs:
    """About so many calls of these stations in `days` days from `first_day` (days since 1970-01-01) on."""
    persons = make_persons(draws, stations, days, world)
    gathered: list[Conversations] = []
    if world == "varied":
        gathered = [make(draws, persons, first_day=first_day, days=days) for make in (nets, contests)]
    left = max(about - sum(int(one.overs.sum()) for one in gathered), about // 2)
    talks = Conversations.joined([everyday(draws, persons, left, first_day=first_day, days=days), *gathered])
    number = persons.ids_used(draws, talks.person, talks.begin // DAY_SECONDS - first_day)
    return _heard(_pressed(draws, talks, number), first_day, days, SILENT if world == "varied" else ())


def _pressed(draws: Draws, talks: Conversations, number: Integers) -> Overs:
    """Every time that the key is pressed, those of a conversation some seconds apart; `number`: the id of each conversation."""
    of = np.repeat(np.arange(len(talks.begin)), talks.overs)
    pause = 15 + draws.below("pause", 90, len(of))
    waited = np.cumsum(pause)
    first = np.concatenate([[0], np.cumsum(talks.overs)[:-1]])
    time = talks.begin[of] + waited - waited[first][of]
    tenths = 5 + np.floor(draws.shares("on air", len(of)) ** 3 * 1200).astype(np.int64)
    return Overs(number[of], talks.talkgroup[of], time, tenths)


def _heard(overs: Overs, first_day: int, days: int, silent: tuple[tuple[int, int], ...]) -> Overs:
    """What the receiver noted, in the order of time; whoever has no id yet is not heard."""
    day = overs.time // DAY_SECONDS - first_day
    heard = (day < days) & (overs.id >= 0)
    for begin, end in silent:
        heard &= (day < begin) | (day >= end)
    inside = np.flatnonzero(heard)
    order = inside[np.lexsort((inside, overs.id[inside], overs.time[inside]))]
    return Overs(overs.id[order], overs.talkgroup[order], overs.time[order], overs.tenths[order])
