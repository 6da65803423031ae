"""Calls of invented worlds: who talks from when to when, how often and where -> a log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, Final, Self

import numpy as np
import numpy.typing as npt
import polars as pl

from benchmarks.world_people import Directory, Floats, Integers, towns

#: Seconds.
DAY: Final = 86_400
_WEEKDAYS: Final = np.array([0.8, 0.8, 0.8, 0.85, 0.9, 1.0, 1.0])
#: More calls a day than this nobody makes.
_MOST_SESSIONS: Final = 25.0
#: Calls of a session after the first, on average.
_MORE_CALLS: Final = 4.0


@dataclass(frozen=True, slots=True)
class Log:
    """Calls in the order of time: id and talkgroup uint32, `second` int64 from the first day of the log, `duration` float32
    in seconds."""

    id: npt.NDArray[np.uint32]
    talkgroup: npt.NDArray[np.uint32]
    second: Integers
    duration: npt.NDArray[np.float32]

    def __len__(self) -> int:
        return len(self.id)

    @property
    def day(self) -> Integers:
        """The day of each call."""
        return self.second // DAY

    def part(self, rows: Any) -> Log:
        """Some of the calls: a slice, mask or places."""
        return Log(*(getattr(self, field.name)[rows] for field in fields(self)))

    @classmethod
    def together(cls, logs: Sequence[Log]) -> Self:
        """Several logs as one; equal seconds stand by id and talkgroup."""
        columns = [np.concatenate([getattr(log, field.name) for log in logs]) for field in fields(cls)]
        order = np.lexsort((columns[1], columns[0], columns[2]))
        return cls(*(column[order] for column in columns))

    def with_more(self, other: Log) -> Log:
        """This log and another."""
        return Log.together([self, other])

    def frame(self, first_day: int) -> pl.DataFrame:
        """As a table with headings; times are seconds since 1970. `first_day`: the log's, in days since then."""
        return pl.DataFrame(
            {
                "time": self.second + first_day * DAY,
                "id": self.id,
                "talkgroup": self.talkgroup,
                "duration": np.round(self.duration.astype(np.float64), 1),
            }
        )


@dataclass(frozen=True, slots=True)
class Spells:
    """Times in which somebody talks: `place` of a person in the list of owners, `begin` and `end` in days, sessions a day
    (relative), the owner's first row in the directory, talkgroups and their weights [spells, talkgroups]."""

    place: Integers
    begin: Floats
    end: Floats
    rate: Floats
    owner: Integers
    talkgroups: Integers
    weights: Floats


def joined(spells: Sequence[Spells]) -> Spells:
    """Several lists as one."""
    return Spells(*(np.concatenate([getattr(one, field.name) for one in spells]) for field in fields(Spells)))


def calls_of(random: np.random.Generator, spells: Spells, directory: Directory, days: int, per_day: float) -> Log:
    """The calls of spells on the days 0 to `days - 1`. `per_day`: sessions of an average day, to which rates are scaled."""
    begin, end = np.clip(spells.begin, 0, days), np.clip(spells.end, 0, days)
    length = end - begin
    rate = spells.rate * per_day * days / max(float((spells.rate * length).sum()), 1e-9)
    count = random.poisson(np.minimum(rate, _MOST_SESSIONS) * length)
    spell = np.repeat(np.arange(len(count)), count)
    day = np.floor(begin[spell] + length[spell] * random.random(len(spell))).astype(np.int64)
    held = random.random(len(spell)) < _WEEKDAYS[day % 7]
    spell, day = spell[held], day[held]
    at = _row_of_session(random, directory, spells.owner[spell], day)
    spell, day, at = spell[at >= 0], day[at >= 0], at[at >= 0]
    steps = np.cumsum(spells.weights, axis=1)
    column = (random.random(len(spell))[:, None] > steps[spell, :-1]).sum(axis=1)
    # Evening where the person lives, in the time of the log.
    hour = np.where(random.random(len(spell)) < 0.7, random.normal(19.5, 2.5, len(spell)), random.normal(10.5, 3.0, len(spell)))
    hour = (hour - towns().longitude[directory.town[at]] / 15) % 24
    more = random.geometric(1 / (1 + _MORE_CALLS), len(spell))
    session = np.repeat(np.arange(len(spell)), more)
    pause = 20 + random.exponential(70, len(session))
    since = np.cumsum(pause) - np.repeat(np.cumsum(pause)[np.cumsum(more) - more], more)
    second = ((day * 24 + hour)[session] * 3600 + since).astype(np.int64)
    log = Log(
        directory.id[at[session]],
        spells.talkgroups[spell, column][session].astype(np.uint32),
        second,
        random.gamma(1.5, 9.0, len(session)).astype(np.float32),
    )
    return Log.together([log.part(second < days * DAY)])


def _row_of_session(random: np.random.Generator, directory: Directory, owner: Integers, day: Integers) -> Integers:
    """The id that an owner uses on a day: mostly his newest, else any that he has by then; -1 where he has none yet."""
    order = np.lexsort((directory.issued, directory.person))
    begin = np.searchsorted(directory.person[order], owner, side="left")
    count = np.searchsorted(directory.person[order], owner, side="right") - begin
    issued = directory.issued[order]
    known = np.zeros(len(owner), dtype=np.int64)
    for place in range(int(count.max(initial=0))):
        there = np.minimum(begin + place, len(order) - 1)
        known += (place < count) & (issued[there] <= day)
    older = (random.random(len(owner)) * known).astype(np.int64)
    chosen = np.where(random.random(len(owner)) < 0.65, known - 1, older)
    return np.where(known > 0, order[np.minimum(begin + np.maximum(chosen, 0), len(order) - 1)], -1)
