"""Calls of an invented world in which talking is catching: a fourth world of `benchmarks.worlds_apart`.

People belong to clubs of some towns. Who hears others of the club, or of the towns around, on the air may take it up
himself (an epidemic with susceptible, infected and recovered: Kermack, McKendrick, Proc. R. Soc. A 115, 1927), tires of it
after weeks, months or years, and may take it up again much later. Whoever talks does so in bursts: the pauses between his
calls follow a power law (Barabasi, Nature 435, 2005), so that long silence says little. A club has rooms of its own and moves
from one to another when most of it does. A few stations are machines that call by timetable. Nothing depends on the age of
an id. Both sources are cited from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from benchmarks.world_calls import DAY, Log
from benchmarks.world_countries import NATIONAL
from benchmarks.world_draws import kilometres_from, log_of
from benchmarks.world_people import Directory, Floats, Integers, towns

#: Days that an epidemic has run before the log begins.
_BEFORE: Final = 400
#: Mean days until somebody tires, by temper, and the shares of the tempers.
_TIRES_AFTER: Final = np.array([15.0, 90.0, 900.0])
#: Mean days until whoever tired may be infected again.
_RESTS: Final = 250.0
#: Pauses are at least so many seconds and at most so many days.
_SHORTEST: Final = 25.0
_LONGEST: Final = 45.0
#: After a longer pause (seconds) somebody chooses his talkgroup anew.
_SAME_ROOM: Final = 900.0
_ROOMS: Final = 5


@dataclass(frozen=True, slots=True)
class _Spells:
    """Times in which somebody talks: place among the people, first and last day (float)."""

    who: Integers
    begin: Floats
    end: Floats


def contagion(
    random: np.random.Generator, directory: Directory, days: int, country: int, home: tuple[float, float], mine: tuple[int, ...]
) -> Log:
    """The calls of the days 0 to `days - 1`, and some beyond."""
    people = np.flatnonzero(~directory.repeater)
    club = _clubs(random, directory, people)
    spells = _epidemic(random, directory, people, club, days)
    who, second = _bursts(random, spells, len(people))
    near = kilometres_from(directory, home)[people] < random.uniform(60, 160)
    rooms, taste = _rooms(random, directory, people, club, near, country, mine)
    talkgroup = _where(random, who, second, club, rooms, taste)
    talking = log_of(random, directory, people[who], talkgroup, second)
    return Log.together([talking, _machines(random, directory, days, mine)])


def _clubs(random: np.random.Generator, directory: Directory, people: Integers) -> Integers:
    """The club of each of the people: neighbours in one town, or in some towns of the state for the small ones."""
    town = directory.town[people]
    size = np.maximum(random.lognormal(3.0, 0.8, len(towns().name)), 4)
    of_town = np.bincount(town, minlength=len(size))
    club_of = (random.random(len(people)) * np.maximum(of_town[town] / size[town], 1)).astype(np.int64)
    lonely = of_town[town] < 4
    key = np.where(lonely, -1 - directory.state[people], town * 10_000 + club_of)
    return np.asarray(np.unique(key, return_inverse=True)[1].reshape(-1), dtype=np.int64)


def _epidemic(random: np.random.Generator, directory: Directory, people: Integers, club: Integers, days: int) -> _Spells:
    """Day by day: who takes it up, by how many of his club and state talk; who tires; who has rested."""
    count, clubs, state = len(people), int(club.max()) + 1, directory.state[people]
    issued = directory.issued[people]
    catching = random.gamma(0.8, 1.0, clubs) * random.uniform(0.02, 0.06)
    openness = random.lognormal(0.0, 1.0, count)
    temper = 1 / _TIRES_AFTER[random.choice(3, count, p=random.dirichlet([5.0, 4.0, 2.0]))]
    members, inhabitants = np.bincount(club), np.maximum(np.bincount(state, minlength=len(towns().states)), 1)
    talks = random.random(count) < 0.015
    rests = np.zeros(count, dtype=np.bool_)
    since = np.where(talks, -float(_BEFORE), np.nan)
    found: list[tuple[Integers, Floats, Floats]] = []
    for day in range(-_BEFORE, days):
        pressure = catching[club] * (np.bincount(club[talks], minlength=clubs) / members**0.8)[club]
        pressure += 0.004 * (np.bincount(state[talks], minlength=len(inhabitants)) / inhabitants)[state] + 2e-5
        takes_up = ~talks & ~rests & (issued <= day) & (random.random(count) < 1 - np.exp(-pressure * openness))
        tires = talks & (random.random(count) < temper)
        if day >= 0:
            found.append(_ended(tires, since, day + random.random(count)))
        rests = (rests & (random.random(count) > 1 / _RESTS)) | tires
        talks = (talks & ~tires) | takes_up
        since[takes_up] = day + random.random(int(takes_up.sum()))
    found.append(_ended(talks, since, np.full(count, float(days))))
    who, begin, end = (np.concatenate(column) for column in zip(*found, strict=True))
    return _Spells(who, np.maximum(begin, -_LONGEST), end)


def _ended(which: npt.NDArray[np.bool_], since: Floats, end: Floats) -> tuple[Integers, Floats, Floats]:
    who = np.flatnonzero(which)
    return who, since[who], end[who]


def _bursts(random: np.random.Generator, spells: _Spells, people: int) -> tuple[Integers, Floats]:
    """Calls: who, and when in seconds. Each has an exponent of his own for his pauses; the world has its usual one."""
    exponent = np.clip(random.normal(random.uniform(0.22, 0.34), 0.07, people), 0.12, 0.6)
    place = np.arange(len(spells.who))
    now = spells.begin * DAY
    who, when = [], []
    while len(place):
        pause = np.minimum(_SHORTEST * random.random(len(place)) ** (-1 / exponent[spells.who[place]]), _LONGEST * DAY)
        now = now + pause
        goes_on = now < spells.end[place] * DAY
        place, now = place[goes_on], now[goes_on]
        who.append(spells.who[place])
        when.append(now)
    callers, seconds = np.concatenate(who), np.concatenate(when)
    return callers[seconds >= 0], seconds[seconds >= 0]


def _rooms(
    random: np.random.Generator,
    directory: Directory,
    people: Integers,
    club: Integers,
    near: npt.NDArray[np.bool_],
    country: int,
    mine: tuple[int, ...],
) -> tuple[Integers, Floats]:
    """Per club the talkgroups that it uses [clubs, rooms]: national, of its state, the region at home where it lies near, of
    the whole world, and one of its own; and how it likes them in each quarter of a year [clubs, quarters, rooms]."""
    first = np.unique(club, return_index=True)[1]
    of_country = directory.country[people[first]]
    national = NATIONAL[of_country]
    own_state = national * 10 + 2 + (directory.state[people[first]] - towns().first[of_country]) % 8
    regional = np.where(near[first] & (of_country == country), mine[2], own_state)
    wide = np.where(random.random(len(first)) < 0.4, 91, 92)
    rooms = np.stack([national, own_state, regional, wide, 900_000 + np.arange(len(first)) % 5_000], axis=1)
    liking = random.gamma(0.35, size=(len(first), 4, _ROOMS)) * (3.0, 2.0, 2.0, 0.8, 2.0) + 1e-6
    liking[:, 1:] = np.where(random.random((len(first), 3, 1)) < 0.7, liking[:, :1], liking[:, 1:])
    return rooms, liking / liking.sum(axis=2, keepdims=True)


def _where(
    random: np.random.Generator, who: Integers, second: Floats, club: Integers, rooms: Integers, taste: Floats
) -> Integers:
    """The talkgroup of each call: that of the last call of the same person after a short pause, else one of the club's."""
    order = np.lexsort((second, who))
    person, when = who[order], second[order]
    anew = np.r_[True, (np.diff(person) != 0) | (np.diff(when) > _SAME_ROOM)]
    of_club = club[person]
    quarter = np.minimum((when / (91 * DAY)).astype(np.int64), taste.shape[1] - 1)
    steps = np.cumsum(taste[of_club, quarter], axis=1)[:, :-1]
    room = (random.random(len(person))[:, None] > steps).sum(axis=1)
    drawn = rooms[of_club, room][np.maximum.accumulate(np.where(anew, np.arange(len(anew)), 0))]
    talkgroup = np.empty_like(drawn)
    talkgroup[order] = drawn
    return talkgroup


def _machines(random: np.random.Generator, directory: Directory, days: int, mine: tuple[int, ...]) -> Log:
    """Stations that call by timetable, repeaters among them, each on one talkgroup from some day to another."""
    who = random.choice(len(directory), max(len(directory) // 4_000, 3), replace=False)
    every = random.choice([0.5, 1.0, 3.0, 6.0, 24.0], len(who)) * 3_600
    begin = random.uniform(-days, days, len(who)) * DAY
    end = begin + random.exponential(90.0, len(who)) * DAY
    codes = NATIONAL[directory.country[who]]
    where = np.where(random.random(len(who)) < 0.15, np.array(mine)[random.integers(len(mine), size=len(who))], codes * 10 + 9)
    first, last = np.maximum(begin, 0.0), np.minimum(end, days * DAY)
    number = np.maximum((last - first) / every, 0).astype(np.int64)
    row = np.repeat(np.arange(len(who)), number)
    turn = np.arange(len(row)) - np.repeat(np.cumsum(number) - number, number)
    return log_of(random, directory, who[row], where[row], first[row] + turn * every[row])
