"""The people of invented worlds: where they talk, when they come and go, on which weekends and in which rounds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from benchmarks.world_calls import DAY, Log, Spells, joined
from benchmarks.world_countries import COUNTRIES, NATIONAL
from benchmarks.world_people import Directory, Floats, Integers, towns

_WORLD_WIDE: Final = (91, 92, 93)


@dataclass(frozen=True, slots=True)
class Nature:
    """What a world has. Strengths are standard deviations of log activity. `lives`: share of talkers who come and go."""

    lives: float = 0.0
    contests: bool = False
    nets: bool = False
    strength: float = 0.0
    publics: bool = False
    further_ids: float = 0.04
    travellers: float = 0.0
    issuing: bool = False


class People:
    """What is lasting about the owners of ids: where they talk and how readily. Arrays are per owner."""

    def __init__(self, random: np.random.Generator, directory: Directory, has: Nature, country: int) -> None:
        self.directory = directory
        self.owner = np.unique(directory.person[~directory.repeater])
        self.country, self.state = directory.country[self.owner], directory.state[self.owner]
        self.issued = directory.issued[self.owner]
        known, count = towns(), len(self.owner)
        home_town = int(known.begin[known.first[country]] + random.integers(4))
        self.home = (float(known.latitude[home_town]), float(known.longitude[home_town]))
        town = directory.town[self.owner]
        self.kilometres = _kilometres(self.home, known.latitude[town], known.longitude[town])
        self.readiness = np.zeros(count)
        if has.strength:
            by_country, by_state = (
                random.normal(0, has.strength, len(COUNTRIES)),
                random.normal(0, has.strength, len(known.states)),
            )
            young = np.exp((self.issued - self.issued.max()) / random.uniform(150, 700))
            self.readiness = by_country[self.country] + by_state[self.state] + random.uniform(0.5, 2.5) * has.strength * young
        self.talkgroups, self.weights = self._where(random, has, country, int(known.state[home_town]))
        publics = self.own_publics
        regional, national = int(self.region), int(NATIONAL[country])
        self.mine = tuple(
            sorted(
                {regional, *publics, 91} if has.publics and not has.lives else {national, regional, 91, *publics[: has.publics]}
            )
        )

    def _where(self, random: np.random.Generator, has: Nature, country: int, home_state: int) -> tuple[Integers, Floats]:
        """Talkgroups [owners, 6] that each uses and how often: national, of the own state, of the home region, two of the whole
        world, one of a public."""
        known, count = towns(), len(self.owner)
        within = self.state - known.first[self.country]
        own_region = NATIONAL[self.country] * 10 + within % 10
        self.region = NATIONAL[country] * 10 + (home_state - known.first[country]) % 10
        self.publics = 70_001 + np.arange(24)
        # People of a country flock to the same publics, though not only they.
        usual = random.integers(len(self.publics), size=(len(COUNTRIES), 3))
        own = int(usual[country, 0])
        self.own_publics = [int(self.publics[place]) for place in (own, (own + 1 + random.integers(4)) % len(self.publics))]
        public = np.where(
            random.random(count) < 0.6,
            usual[self.country, random.integers(3, size=count)],
            (len(self.publics) * random.random(count) ** 2).astype(np.int64),
        )
        wide = np.array(_WORLD_WIDE)
        talkgroups = np.stack(
            [
                NATIONAL[self.country],
                own_region,
                np.full(count, self.region),
                np.full(count, 91),
                wide[random.integers(len(wide), size=count)],
                self.publics[public],
            ],
            axis=1,
        )
        reach = random.uniform(80, 250)
        likings = random.gamma(0.4, size=(count, 6)) * (4.0, 2.0, 1.0, 1.0, 0.7, 5.0 if has.publics else 0.6)
        likings[:, 2] *= 8.0 * np.exp(-self.kilometres / reach)
        return talkgroups, likings / likings.sum(axis=1, keepdims=True)


def _kilometres(home: tuple[float, float], latitude: Floats, longitude: Floats) -> Floats:
    here, there = np.radians(home[0]), np.radians(latitude)
    half = np.sin((there - here) / 2) ** 2
    half += np.cos(here) * np.cos(there) * np.sin(np.radians(longitude - home[1]) / 2) ** 2
    return np.asarray(2 * 6371.0 * np.arcsin(np.sqrt(half)))


def _chosen(random: np.random.Generator, readiness: Floats, count: int) -> Integers:
    """So many different places, each the likelier the larger exp(readiness) is (the k largest of Gumbel keys)."""
    keys = readiness + random.gumbel(size=len(readiness))
    return np.sort(np.argpartition(-keys, count)[:count]) if count < len(keys) else np.arange(len(keys))


def talkers(random: np.random.Generator, people: People, has: Nature, days: int) -> Spells:
    """Those who talk from day to day: some all the time, the others from some day to another."""
    count, end = len(people.owner), float(days)
    lasting = _chosen(random, people.readiness, int(count * 0.16 * (1 - has.lives)))
    rate = random.gamma(random.uniform(0.15, 0.4), size=len(lasting)) * np.exp(0.5 * people.readiness[lasting])
    spells = [Spells(lasting, np.zeros(len(lasting)), np.full(len(lasting), end), rate, *_slots(people, lasting))]
    if has.lives:
        # Who came so long ago that his time is over says nothing any more: 400 days before the log are enough.
        before = 400.0
        per_day = has.lives * random.uniform(0.0004, 0.0011) * count
        coming = int(per_day * (end + before))
        fresh = people.readiness + 1.6 * has.issuing * (people.issued > -before)
        who = _chosen(random, fresh, coming)
        begin = end - (end + before) * random.random(len(who))
        mean = np.array([6.0, 35.0, 500.0])[random.choice(3, len(who), p=random.dirichlet([4.0, 3.0, 3.0]))]
        # Who comes for a short time talks more in it; how much more differs from world to world.
        hurry = (35.0 / mean) ** random.uniform(0.0, 1.2)
        # An id that is young is tried out soon after it was given.
        soon = people.issued[who] + random.exponential(12.0, len(who))
        begin = np.where((people.issued[who] > -before) & (random.random(len(who)) < 0.8), soon, begin)
        stop = begin + random.exponential(mean)
        rate = random.gamma(0.5, size=len(who)) * np.exp(0.5 * people.readiness[who]) * hurry
        spells.append(Spells(who, begin, stop, rate, *_slots(people, who)))
    return joined(spells)


def _slots(people: People, who: Integers) -> tuple[Integers, Integers, Floats]:
    return people.owner[who], people.talkgroups[who], people.weights[who]


def visits(random: np.random.Generator, people: People, talkers: Spells, share: float, days: int) -> Spells:
    """Talkers who stay some days in the home country and use its talkgroups."""
    who = np.unique(talkers.place)[random.random(len(np.unique(talkers.place))) < share]
    begin = random.uniform(-10, days, len(who))
    talkgroups, weights = people.talkgroups[who].copy(), people.weights[who].copy()
    talkgroups[:, 0], talkgroups[:, 1] = people.mine[-1], people.region
    weights[:, :2] += 2.0
    length = random.gamma(2.0, 5.0, len(who))
    rate = random.gamma(0.7, size=len(who)) * 1.5
    return Spells(who, begin, begin + length, rate, people.owner[who], talkgroups, weights / weights.sum(axis=1, keepdims=True))


def contests(random: np.random.Generator, people: People, days: int) -> Spells:
    """Weekends on which a pool of people, half of them heard at no other time, talk much, on a few talkgroups."""
    pool = _chosen(random, people.readiness, int(len(people.owner) * random.uniform(0.01, 0.03)))
    keen = random.beta(0.6, 1.0, len(pool))
    every, spells = int(random.integers(3, 7)) * 7, []
    for saturday in range(5 + 7 * int(random.integers(3)), days - 1, every):
        who = pool[random.random(len(pool)) < keen]
        talkgroups, weights = people.talkgroups[who], people.weights[who] * (1.0, 0.3, 0.5, 3.0, 1.0, 0.3)
        begin = np.full(len(who), float(saturday))
        rate = random.gamma(1.0, size=len(who)) * 6.0
        weights = weights / weights.sum(axis=1, keepdims=True)
        spells.append(Spells(who, begin, begin + 2.0, rate, people.owner[who], talkgroups, weights))
    return joined(spells)


def nets(random: np.random.Generator, people: People, days: int) -> Log:
    """Rounds on fixed weekdays and hours: members come by habit and talk two or three times, guests come once."""
    logs = []
    for _ in range(int(random.integers(4, 10))):
        talkgroup = int(random.choice([*people.mine, *people.publics[:4]]))
        used = people.talkgroups == talkgroup
        fond = np.log(np.where(used.any(axis=1), people.weights[np.arange(len(used)), np.argmax(used, axis=1)], 0.0) + 1e-6)
        size = max(int(len(used) * random.uniform(3e-4, 2e-3)), 3)
        members = _chosen(random, fond + people.readiness, size)
        habit = random.beta(1.2, 1.2, len(members))
        weekday, hour = int(random.integers(7)), random.uniform(17, 21)
        for day in range(weekday, days, 7):
            guests = _chosen(random, fond, max(len(members) // 8, 1))
            there = np.concatenate([members[random.random(len(members)) < habit], guests])
            there = np.repeat(there, random.integers(1, 4, len(there)))
            log = Log(
                people.directory.id[people.owner[there]],
                np.full(len(there), talkgroup, np.uint32),
                (day * DAY + hour * 3_600 + random.uniform(0, 3_600, len(there))).astype(np.int64),
                random.gamma(2.0, 9.0, len(there)).astype(np.float32),
            )
            logs.append(log.part(people.issued[there] < day))
    return Log.together(logs)
