"""Invented worlds of six natures, to judge choices and forecasts by: a directory, a log of calls, the calls that came after.

    steady      activity is gamma distributed; nobody leaves
    churn       arrivals and lasting silence
    events      contest weekends, and nets on fixed weekdays
    correlated  activity by country, state, distance of the town, age of the id
    audience    each talkgroup has its own public
    everything  all of these, several ids per person, travellers, ids issued all the time, also after the last known day

Written without a look at what it judges: it draws persons who come, talk and go, and knows nothing of rates in cells.
`make_world` gives the same world for the same arguments. All people in it are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from benchmarks.world_calls import DAY, Log, calls_of, joined
from benchmarks.world_countries import COUNTRIES
from benchmarks.world_people import Directory, Integers, make_directory
from benchmarks.world_talkers import Nature, People, contests, nets, talkers, visits

NATURES: Final = ("steady", "churn", "events", "correlated", "audience", "everything")
#: Days that are held back after the log.
LATER_DAYS: Final = 28
#: The first day of every log, 2024-01-01, a Monday, in days since 1970-01-01.
FIRST_DAY: Final = 19_723
#: Limits of contact memories in a world of 120,000 contacts and more; in smaller ones the same shares of it.
LIMITS: Final = (10_000, 50_000, 100_000, 200_000)
_HOMES: Final = ("AT", "DE", "GB", "IT", "PL", "NL", "CH", "US", "BR", "AU")
#: Sessions a day and contact, of all talkgroups.
_SESSIONS: Final = 0.011


@dataclass(frozen=True, slots=True)
class World:
    """`log` holds the calls of `days` and of the later days; `mine` are the talkgroups that count; `home` is in degrees and
    in the country `country` (index in `COUNTRIES`). Days are counted from the first day of the log."""

    name: str
    directory: Directory
    log: Log
    days: int
    mine: tuple[int, ...]
    country: int
    home: tuple[float, float]

    def listed(self, day: float) -> Integers:
        """The rows of the directory as it was on the morning of a day."""
        return np.flatnonzero(self.directory.issued < day)

    def calls(self, begin: int, end: int, *, mine: bool = True) -> Log:
        """The calls of the days `begin` to `end - 1`; `mine`: on the talkgroups that count only."""
        low, high = np.searchsorted(self.log.second, (begin * DAY, end * DAY))
        part = self.log.part(slice(int(low), int(high)))
        return part.part(np.isin(part.talkgroup, self.mine)) if mine else part

    def limits(self) -> list[int]:
        """The limits that leave somebody out."""
        listed = len(self.listed(self.days))
        share = min(1.0, len(self.directory) / 120_000)
        return [int(limit * share) for limit in LIMITS if limit * share < listed]

    def write(self, folder: Path, *, until: int | None = None, listed: int | None = None, limits: Sequence[int] = ()) -> Path:
        """Writes directory, log and settings; the calls before day `until` and the directory of day `listed` (default: the
        last known); one radio for each limit. Returns the path of the settings."""
        until = self.days if until is None else until
        folder.mkdir(parents=True, exist_ok=True)
        self.directory.frame(self.listed(until if listed is None else listed)).write_csv(folder / "stations.csv")
        self.calls(0, until, mine=False).frame(FIRST_DAY).write_csv(folder / "calls.csv")
        path = folder / "pruner.toml"
        path.write_text(self._settings(limits or self.limits()), encoding="utf-8")
        return path

    def _settings(self, limits: Sequence[int]) -> str:
        common = (
            f'[home]\ncountry = "{COUNTRIES[self.country].code}"\nlocator = "{locator_of(*self.home)}"\n'
            '[output]\nfolder = "out"\nstate = "state"\n'
            '[[source]]\nname = "world"\nlocation = "stations.csv"\n'
            '[[heard]]\nlocation = "calls.csv"\n'
            f"[talkgroups]\nmine = {list(self.mine)}\ncountries = false\n"
            '[[keep]]\nname = "everybody"\n'
        )
        return common + "".join(f'[[radio]]\nname = "{limit}"\ncontacts = {limit}\n' for limit in limits)


def locator_of(latitude: float, longitude: float) -> str:
    """The Maidenhead square of six characters around a place."""
    east, north = longitude + 180, latitude + 90
    pairs = [(int(east // 20), int(north // 10)), (int(east % 20 // 2), int(north % 10))]
    small = (int(east % 2 * 12), int(north % 1 * 24))
    (a, b), (c, d) = pairs
    return f"{chr(65 + a)}{chr(65 + b)}{c}{d}{chr(97 + small[0])}{chr(97 + small[1])}"


_NATURES: Final = {
    "steady": Nature(),
    "churn": Nature(lives=0.8, issuing=True),
    "events": Nature(contests=True, nets=True),
    "correlated": Nature(strength=0.9, issuing=True, lives=0.2),
    "audience": Nature(publics=True),
    "everything": Nature(0.75, True, True, 0.7, True, 0.2, 0.15, True),
}


def make_world(nature: str, contacts: int = 120_000, days: int = 150, seed: int = 1) -> World:
    """A world of a nature (of `NATURES`): so many contacts in its last directory, so many days of log and 28 more."""
    random = np.random.default_rng([NATURES.index(nature), contacts, days, seed])
    has = _NATURES[nature]
    directory = make_directory(
        random, contacts, days=days, later_days=LATER_DAYS, issuing=has.issuing, further_ids=has.further_ids
    )
    country = [one.code for one in COUNTRIES].index(_HOMES[random.integers(len(_HOMES))])
    end = days + LATER_DAYS
    people = People(random, directory, has, country)
    spells = [talkers(random, people, has, end)]
    if has.travellers:
        spells.append(visits(random, people, spells[0], has.travellers, end))
    if has.contests:
        spells.append(contests(random, people, end))
    log = calls_of(random, joined(spells), directory, end, _SESSIONS * contacts)
    if has.nets:
        log = log.with_more(nets(random, people, end))
    return World(f"{nature} {seed}", directory, log, days, people.mine, country, people.home)
