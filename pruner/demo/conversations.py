"""When the demo's persons talk, and on which talkgroup: every day, in nets on fixed weekdays, on contest weekends.

Receives draws and `Persons`; hands on `Conversations`. Nets have members who come by habit, and every other of them is heard at
no other time; so has a contest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from pruner.demo.draws import Draws, Integers
from pruner.demo.persons import Persons

DAY_SECONDS: Final = 86_400
#: Monday to Sunday: how much is called.
_WEEK: Final = (90, 95, 100, 105, 120, 140, 130)
#: 1970-01-01 was a Thursday.
FIRST_WEEKDAY: Final = 3
_LONGEST: Final = 40
#: Talkgroups that are used the world over, and how much (common practice, no source).
WORLD_WIDE: Final = ((91, 7), (1, 2), (9, 1))
#: By the first digit of a country code (its zone in ITU-T E.212, from memory): when the evening is, in hours UTC.
_EVENING: Final = np.array([18, 18, 18, 1, 13, 10, 17, 22, 18, 18])

#: Nets: talkgroup, first digits of its members' country codes or 0 for everybody, weekday (Monday is 0), hour UTC. To these
#: come one on the national talkgroup of every country that has so many persons.
_NETS: Final = ((91, 0, 5, 16), (2328, 232, 2, 18))
_NATIONAL_NETS: Final = 500
#: One of so many of a country, and of the whole world, is a member.
_MEMBERS: Final = {True: 160, False: 900}
_FEWEST: Final = 3
#: Contests: the Saturdays on which they begin, counted from the log's first day (a Sunday), one of how many persons takes part
#: in contests at all, and how often one of these talks on such a weekend, on the average.
CONTESTS: Final = (20, 55, 97, 125, 160)
_CONTESTERS: Final = 140
_CONTEST_TALKS: Final = 5


@dataclass(frozen=True, slots=True)
class Conversations:
    """Columns of equal length (int64): `person`, `talkgroup`, `begin` in seconds since 1970, `overs`: how often the key is
    pressed."""

    person: Integers
    talkgroup: Integers
    begin: Integers
    overs: Integers

    @classmethod
    def joined(cls, parts: list[Conversations]) -> Conversations:
        """Several as one."""
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in cls.__slots__))


def everyday(draws: Draws, persons: Persons, about: int, *, first_day: int, days: int) -> Conversations:
    """Conversations with about so many overs in all, by the persons' rates, on the days on which they are there."""
    talkative = 0.4 + 0.45 * draws.shares("talkative", len(persons))
    count = max(1, round(about / float(np.mean(1 / (1 - talkative)))))
    weekday = (np.arange(days) + first_day + FIRST_WEEKDAY) % 7
    elapsed = np.concatenate([[0], np.cumsum(np.array(_WEEK)[weekday])])
    span = elapsed[persons.end] - elapsed[persons.begin]
    weight = np.cumsum(persons.rate.astype(np.float64) * span)
    caller = np.searchsorted(weight, draws.shares("caller", count) * weight[-1], side="right")
    moment = elapsed[persons.begin][caller] + np.floor(draws.shares("day", count) * span[caller]).astype(np.int64)
    day = np.searchsorted(elapsed, moment, side="right") - 1
    begin = (first_day + day) * DAY_SECONDS + _evenings(draws, "hour", persons.code[caller])
    steps = np.log1p(-draws.shares("overs", count)) / np.log(talkative[caller])
    overs = np.minimum(np.floor(steps + 1e-9).astype(np.int64) + 1, _LONGEST)
    return Conversations(caller, _talkgroups(draws, persons, caller), begin, overs)


def _evenings(draws: Draws, stream: str, code: Integers) -> Integers:
    """A second of the day for each, mostly in the evening of the country: three draws added up."""
    hours = sum((draws.shares(f"{stream} {part}", len(code)) for part in range(3)), np.zeros(len(code))) * 8 - 12
    return np.floor((hours + _EVENING[code // 100]) * 3600).astype(np.int64) % DAY_SECONDS


def _talkgroups(draws: Draws, persons: Persons, caller: Integers) -> Integers:
    """The talkgroup of each conversation: national, regional, world-wide or abroad, to each caller's liking."""
    count = len(caller)
    worldly = (draws.shares("worldly", len(persons)) ** 3)[caller]
    abroad = persons.code[draws.below("abroad", len(persons), count)]
    local = draws.shares("local", count)
    at_home = np.where(local < 0.65, persons.code[caller], np.where(local < 0.95, persons.region[caller], abroad))
    return np.where(draws.shares("where", count) < worldly, _world_wide(draws, "world-wide", count), at_home)


def _world_wide(draws: Draws, stream: str, count: int) -> Integers:
    groups = np.repeat([group for group, _ in WORLD_WIDE], [weight for _, weight in WORLD_WIDE])
    return groups[draws.below(stream, len(groups), count)]


def _members(draws: Draws, stream: str, persons: Persons, code: int, one_of: int) -> Integers:
    """One of so many persons of a country (0: of all), half of them from those who call in the log anyway."""
    pool = np.flatnonzero(persons.code == code) if code else np.arange(len(persons))
    pool = pool[draws.order(stream, len(pool))]
    there = (persons.end > persons.begin)[pool] & (persons.rate[pool] > np.median(persons.rate[pool]) if len(pool) else False)
    count = max(len(pool) // one_of, _FEWEST)
    return np.unique(np.concatenate([pool[there][: count // 2], pool[: count - count // 2]]))


def nets(draws: Draws, persons: Persons, *, first_day: int, days: int) -> Conversations:
    """Rounds that meet every week at the same hour: members come by habit, and talk one to three times."""
    found = list(_NETS)
    for code, count in zip(*(column.tolist() for column in np.unique(persons.code, return_counts=True)), strict=True):
        if count >= _NATIONAL_NETS:
            found.append((code, code, int(draws.below(f"net {code}", 7, 1)[0]), int(_EVENING[code // 100])))
    parts = []
    for talkgroup, code, weekday, hour in found:
        stream = f"net {talkgroup}"
        members = _members(draws, f"{stream} members", persons, code, _MEMBERS[code > 0])
        evenings = np.flatnonzero((np.arange(days) + first_day + FIRST_WEEKDAY) % 7 == weekday)
        member, day = np.repeat(members, len(evenings)), np.tile(evenings, len(members))
        habit = np.repeat(draws.shares(f"{stream} habit", len(members)), len(evenings))
        there = np.flatnonzero(draws.shares(f"{stream} comes", len(member)) < 0.1 + 0.8 * habit)
        begin = (first_day + day) * DAY_SECONDS + hour * 3600 + draws.below(f"{stream} second", 3600, len(member))
        overs = 1 + draws.below(f"{stream} overs", 3, len(member))
        parts.append(Conversations(member[there], np.full(len(there), talkgroup), begin[there], overs[there]))
    return Conversations.joined(parts)


def contests(draws: Draws, persons: Persons, *, first_day: int, days: int) -> Conversations:
    """Weekends on which some talk much, on the talkgroups of the world and of their country."""
    parts = []
    pool = _members(draws, "contesters", persons, 0, _CONTESTERS)
    for saturday in (one for one in CONTESTS if one < days):
        stream = f"contest {saturday}"
        talks = np.where(
            draws.shares(f"{stream} comes", len(pool)) < 0.5, draws.below(f"{stream} talks", 2 * _CONTEST_TALKS, len(pool)), 0
        )
        who = np.repeat(pool, talks)
        second = draws.below(f"{stream} second", 2 * DAY_SECONDS, len(who))
        wide = draws.shares(f"{stream} where", len(who)) < 0.6
        where = np.where(wide, _world_wide(draws, f"{stream} world-wide", len(who)), persons.code[who])
        begin, overs = (first_day + saturday) * DAY_SECONDS + second, 1 + draws.below(f"{stream} overs", 3, len(who))
        parts.append(Conversations(who, where, begin, overs))
    return Conversations.joined(parts) if parts else Conversations(*np.zeros((4, 0), dtype=np.int64))
