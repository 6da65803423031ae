"""Four invented worlds of another make than `benchmarks.worlds`: for a single score, after all constants were fixed.

    conversations  agents in circles of friends meet in rounds on a talkgroup; friends and passers-by take turns
    echoes         self-exciting calls (Hawkes, Biometrika 58, 1971): every call may set off others; who answers is drawn by
                   how often he was heard before, or is somebody new (Pitman, Yor, Annals of Probability 25, 1997)
    seasons        the year's and the week's tides, commuters, holiday guests, ids that are given out mostly in winter
    contagion      talking is catching within clubs, comes in bursts, and does not depend on the age of an id

The directories are those of `benchmarks.world_people`; nothing else is shared.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np

from benchmarks.world_calls import DAY, Log
from benchmarks.world_contagion import contagion
from benchmarks.world_countries import COUNTRIES, NATIONAL
from benchmarks.world_draws import drawn, kilometres_from, log_of
from benchmarks.world_people import Directory, Floats, Integers, make_directory, towns
from benchmarks.worlds import LATER_DAYS, World

APART: Final = ("conversations", "echoes", "seasons", "contagion")
_HOMES: Final = ("FR", "ES", "JP", "CA", "SE", "CZ", "AT", "US")


def make_apart(kind: str, contacts: int = 120_000, days: int = 150, seed: int = 1) -> World:
    """A world of a kind (of `APART`); the same arguments give the same world. As `benchmarks.worlds.make_world`."""
    random = np.random.default_rng([100 + APART.index(kind), contacts, days, seed])
    directory = make_directory(random, contacts, days=days, later_days=LATER_DAYS, issuing=True, further_ids=0.1)
    country = [one.code for one in COUNTRIES].index(_HOMES[random.integers(len(_HOMES))])
    known = towns()
    town = int(known.begin[known.first[country] + random.integers(3)])
    national, region = COUNTRIES[country].id_codes[0], COUNTRIES[country].id_codes[0] * 10 + 1
    mine = (91, national, region)
    home = (float(known.latitude[town]), float(known.longitude[town]))
    log = _MAKERS[kind](random, directory, days + LATER_DAYS, country, home, mine)
    place = np.searchsorted(directory.id, log.id)
    log = log.part((directory.issued[place] <= log.day) & (log.second < (days + LATER_DAYS) * DAY))
    return World(f"{kind} {seed}", directory, Log.together([log]), days, mine, country, home)


def _conversations(
    random: np.random.Generator, directory: Directory, days: int, country: int, home: tuple[float, float], mine: tuple[int, ...]
) -> Log:
    """Circles of 4 to 40 friends form among people of one country (a few of many), last for some months, and meet on one
    talkgroup; sociable people are in several. Each meeting gathers some of the circle and passers-by."""
    people = np.flatnonzero(~directory.repeater)
    near = np.exp(-kilometres_from(directory, home)[people] / 120.0)
    sociable = random.pareto(1.3, len(people)) + 0.02
    circles = max(int(len(people) * 0.012), 30)
    at_home = random.random(circles) < 0.2
    countries = np.where(at_home, country, directory.country[people[random.integers(len(people), size=circles)]])
    of_country = {int(one): np.flatnonzero(directory.country[people] == one) for one in np.unique(countries)}
    born, life = random.uniform(-300, days, circles), random.gamma(0.8, 150.0, circles)
    who, where, when = [], [], []
    for circle in range(circles):
        begin, end = max(born[circle], 0.0), min(born[circle] + life[circle], days)
        if end <= begin:
            continue
        pool = of_country[int(countries[circle])]
        roll = random.random()
        if at_home[circle]:
            talkgroup = mine[2] if roll < 0.35 else mine[1] if roll < 0.8 else mine[0]
        else:
            talkgroup = 91 if roll < 0.12 else int(NATIONAL[countries[circle]]) * 10 + int(roll * 9) if roll < 0.6 else 950
            talkgroup = int(NATIONAL[countries[circle]]) if roll > 0.8 else talkgroup
        weight = sociable[pool] * (near[pool] + 1e-4 if talkgroup == mine[2] else 1.0)
        size = int(random.integers(4, 41))
        friends = people[pool[drawn(random, weight, size)]]
        meetings = int(random.poisson((end - begin) * random.gamma(0.7, 0.35)))
        hour = random.normal(19.0, 3.0)
        day = np.floor(random.uniform(begin, end, meetings))
        passers = people[pool[drawn(random, sociable[pool], meetings)]]
        coming = random.beta(0.8, 1.6, size)
        for meeting in range(meetings):
            there = np.append(friends[random.random(size) < coming], passers[meeting])
            turns = np.tile(there, int(random.integers(1, 5)))
            who.append(turns)
            where.append(np.full(len(turns), talkgroup))
            start = day[meeting] * DAY + (hour % 24) * 3_600 + random.uniform(-1_800, 1_800)
            when.append(np.maximum(start, day[meeting] * DAY) + np.cumsum(15 + random.exponential(30, len(turns))))
    return log_of(random, directory, np.concatenate(who), np.concatenate(where), np.concatenate(when))


def _echoes(
    random: np.random.Generator, directory: Directory, days: int, country: int, home: tuple[float, float], mine: tuple[int, ...]
) -> Log:
    """On each talkgroup calls come by themselves and set off others. Callers follow a Pitman-Yor process whose memory fades: an
    earlier caller is drawn from the last calls on the talkgroup; who is new is drawn from its own part of the world."""
    people = np.flatnonzero(~directory.repeater)
    kilometres = kilometres_from(directory, home)[people]
    age = (directory.issued.max() - directory.issued[people]) / 365
    liveliness = random.lognormal(0, 1.2, len(people)) * np.exp(-age / 4)
    same = (directory.country[people] == country).astype(np.float64)
    groups = {
        mine[0]: (3.0, liveliness),
        mine[1]: (3.0, liveliness * (same + 0.002)),
        mine[2]: (1.5, liveliness * np.exp(-kilometres / random.uniform(60, 200))),
    }
    for _ in range(12):
        other = int(random.integers(len(COUNTRIES)))
        number = COUNTRIES[other].id_codes[0] * 10 + int(random.integers(2, 9))
        groups[number] = (2.0, liveliness * ((directory.country[people] == other) + 0.01))
    logs = []
    for talkgroup, (share, weight) in groups.items():
        count = int(len(people) * days * 0.00045 * share)
        when = random.uniform(0, days * DAY, count)
        generation = when
        while len(generation):
            children = random.poisson(0.75, len(generation))
            generation = np.repeat(generation, children) + random.exponential(240, int(children.sum()))
            when = np.append(when, generation)
        when = np.sort(when)
        logs.append(log_of(random, directory, people[_callers(random, weight, len(when))], np.full(len(when), talkgroup), when))
    return Log.together(logs)


def _callers(random: np.random.Generator, weight: Floats, count: int) -> Integers:
    """Callers of `count` calls in turn: each repeats an earlier call's, mostly a late one's, or is drawn by `weight`."""
    fresh = random.random(count) < np.maximum(0.08, 0.6 / (1 + np.arange(count) / 400) ** 0.5)
    fresh[0] = True
    back = np.where(random.random(count) < 0.5, random.exponential(12, count), random.exponential(count / 5, count))
    points = np.where(fresh, np.arange(count), np.maximum(np.arange(count) - 1 - back.astype(np.int64), 0))
    while (points != points[points]).any():
        points = points[points]
    return drawn(random, weight, count)[points]


def _seasons(
    random: np.random.Generator, directory: Directory, days: int, country: int, home: tuple[float, float], mine: tuple[int, ...]
) -> Log:
    """Everybody has a rate that swells and ebbs with the year; commuters call on working days on the way, on the talkgroup of
    their region; guests come for a fortnight in their holidays, and beginners call for some weeks after they got their id."""
    people = np.flatnonzero(~directory.repeater)
    owner_country, kilometres = directory.country[people], kilometres_from(directory, home)[people]
    nationals = NATIONAL[owner_country]
    rate = random.gamma(0.035, 1.6, len(people))
    phase, depth = random.normal(0.0, 40.0, len(people)), random.beta(2, 2, len(people))
    beginner = random.random(len(people)) < 0.5
    start, length = directory.issued[people] + random.exponential(5, len(people)), random.gamma(1.5, 12.0, len(people))
    eager = random.gamma(0.8, 0.9, len(people))
    holiday, guest = random.normal(60, 45, len(people)), random.random(len(people)) < 0.02
    commuter = (kilometres < 150) & (random.random(len(people)) < 0.03)
    wide = random.beta(0.3, 0.8, len(people))
    offset = float(random.integers(365))
    logs = []
    for day in range(days):
        season = 1 + depth * np.cos(2 * np.pi * (day + offset - phase) / 365.25)
        fresh = beginner & (day >= start) & (day < start + length)
        away = guest & (np.abs((day + offset) % 365 - holiday % 365) < 7)
        working = day % 7 < 5
        expected = rate * season * (0.8 if working else 1.3) + eager * fresh * 0.4 + 1.5 * away + 1.2 * (commuter & working)
        expected *= directory.issued[people] <= day
        count = random.poisson(np.minimum(expected, 40.0))
        who = np.repeat(np.arange(len(people)), count)
        roll = random.random(len(who))
        where = np.where(roll < wide[who], mine[0], nationals[who])
        near = random.random(len(who)) < 0.5 * np.exp(-kilometres[who] / 130)
        where = np.where(near | away[who], np.where(roll < 0.5, mine[2], mine[1]), where)
        drives = commuter[who] & working & (roll < 0.8)
        where = np.where(drives, mine[2], where)
        hour = np.where(drives, np.where(roll < 0.4, 7.4, 17.3), 19.0) + random.normal(0, 1.2, len(who))
        second = day * DAY + np.clip(hour, 0, 23.9) * 3_600 + random.uniform(0, 300, len(who))
        logs.append(log_of(random, directory, people[who], where, second))
    return Log.together(logs)


_MAKERS: Final[dict[str, Callable[..., Log]]] = {
    "conversations": _conversations,
    "echoes": _echoes,
    "seasons": _seasons,
    "contagion": contagion,
}
