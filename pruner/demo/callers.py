"""Who calls when in the demo: invented stations with habits of their own.

Receives draws and the ids of a directory; hands on `Overs`: one entry per time that a station presses its key. Two
worlds: `steady`, where everybody keeps his habits, and `churning`, where stations start and fall silent.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import special

from pruner.demo.draws import Draws, Integers
from pruner.demo.world import COUNTRIES

World = Literal["steady", "churning"]

DAY_SECONDS: Final = 86_400
#: Monday to Sunday: how much is called.
_WEEK: Final = (90, 95, 100, 105, 120, 140, 130)
#: 1970-01-01 was a Thursday.
_FIRST_WEEKDAY: Final = 3
#: Rates vary between stations by a gamma distribution of this shape: a few call much, most hardly ever.
_SHAPE: Final = 0.3
_REPEATER_FACTOR: Final = 0.05
#: In the churning world: how many days a station stays on the average, and since when stations have been starting.
_STAYS: Final = 75.0
_SINCE: Final = 700
#: Callers whom no directory names, as a share of all stations.
UNKNOWN_SHARE: Final = 0.01
_LONGEST: Final = 40
#: Talkgroups that are used the world over, and how much (common practice, no source).
WORLD_WIDE: Final = ((91, 7), (1, 2), (9, 1))
#: By the first digit of a country code (its zone in ITU-T E.212, from memory): when the evening is, in hours UTC.
_EVENING: Final = np.array([18, 18, 18, 1, 13, 10, 17, 22, 18, 18])

Floats = NDArray[np.float64]


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


def country_code(ids: Integers) -> Integers:
    """The first of its country's codes for each id, whose first three digits are a code (common practice, no source)."""
    first = np.arange(1000)
    for country in COUNTRIES:
        first[list(country.id_codes)] = country.id_codes[0]
    code: Integers = first[np.where(ids >= 1_000_000, ids // 10_000, ids // 1_000)]
    return code


def with_unknown(draws: Draws, ids: Integers) -> Integers:
    """The ids and, behind them, a few of the same countries that are not among them."""
    count = max(3, round(UNKNOWN_SHARE * len(ids)))
    near = ids[draws.below("unknown near", len(ids), 4 * count)]
    tried = near - near % 10_000 + 9_999 - draws.below("unknown", 900, 4 * count)
    strangers = np.setdiff1d(tried[near >= 1_000_000], ids)
    return np.concatenate([ids, strangers[np.sort(draws.order("strangers", len(strangers))[:count])]])


def _rates(draws: Draws, ids: Integers) -> Integers:
    """How much each station calls while it is there, in units without meaning (int64)."""
    rates = special.gammaincinv(_SHAPE, draws.shares("habit", len(ids)))
    codes, inverse = np.unique(country_code(ids), return_inverse=True)
    liveliness = np.array([0.1 + 2 * draws.shares(f"country {code}", 1)[0] ** 2 for code in codes.tolist()])
    rates *= liveliness[inverse] * np.where(ids < 1_000_000, _REPEATER_FACTOR, 1.0)
    # Whole numbers from here on: the last bit of a logarithm differs between machines.
    return np.floor(rates * (1 << 20)).astype(np.int64)


def _stays(draws: Draws, count: int, days: int, world: World) -> tuple[Integers, Integers]:
    """First day and day after the last, within the log, on which each station is there."""
    if world == "steady":
        return np.zeros(count, dtype=np.int64), np.full(count, days, dtype=np.int64)
    start = draws.below("start", _SINCE + days, count) - _SINCE
    length = np.floor(-_STAYS * np.log1p(-draws.shares("stay", count))).astype(np.int64) + 1
    return np.clip(start, 0, days), np.clip(start + length, 0, days)


def _talkgroups(draws: Draws, ids: Integers, caller: Integers) -> Integers:
    """The talkgroup of each conversation: national, regional, world-wide or abroad, to each caller's liking."""
    code = country_code(ids)
    count = len(caller)
    worldly = (draws.shares("worldly", len(ids)) ** 3)[caller]
    region = (code * 10 + draws.below("region", 10, len(ids)))[caller]
    abroad = code[draws.below("abroad", len(ids), count)]
    groups = np.repeat([group for group, _ in WORLD_WIDE], [weight for _, weight in WORLD_WIDE])
    world_wide = groups[draws.below("world-wide", len(groups), count)]
    local = draws.shares("local", count)
    at_home = np.where(local < 0.65, code[caller], np.where(local < 0.95, region, abroad))
    return np.where(draws.shares("where", count) < worldly, world_wide, at_home)


def _conversations(
    draws: Draws, ids: Integers, count: int, first_day: int, days: int, world: World
) -> tuple[Integers, Integers]:
    """Caller (position) and beginning (seconds since 1970) of each conversation."""
    weekday = (np.arange(days) + first_day + _FIRST_WEEKDAY) % 7
    elapsed = np.concatenate([[0], np.cumsum(np.array(_WEEK)[weekday])])
    start, end = _stays(draws, len(ids), days, world)
    weight = np.cumsum(_rates(draws, ids).astype(np.float64) * (elapsed[end] - elapsed[start]))
    caller = np.searchsorted(weight, draws.shares("caller", count) * weight[-1], side="right")
    span = elapsed[end] - elapsed[start]
    moment = elapsed[start][caller] + np.floor(draws.shares("day", count) * span[caller]).astype(np.int64)
    day = np.searchsorted(elapsed, moment, side="right") - 1
    # Three draws added up: most is called in the evening.
    hours = sum((draws.shares(f"hour {part}", count) for part in range(3)), np.zeros(count)) * 8 - 12
    evening = _EVENING[country_code(ids)[caller] // 100]
    second = np.floor((hours + evening) * 3600).astype(np.int64) % DAY_SECONDS
    return caller, (first_day + day) * DAY_SECONDS + second


def make_overs(draws: Draws, ids: Integers, about: int, *, first_day: int, days: int, world: World = "churning") -> Overs:
    """About so many calls of these stations (int64, different ids of 6 or 7 digits) in `days` days from `first_day`
    (days since 1970-01-01) on."""
    talkative = 0.4 + 0.45 * draws.shares("talkative", len(ids))
    mean = float(np.mean(1 / (1 - talkative)))
    caller, begin = _conversations(draws, ids, max(1, round(about / mean)), first_day, days, world)
    talkgroup = _talkgroups(draws, ids, caller)
    steps = np.log1p(-draws.shares("overs", len(caller))) / np.log(talkative[caller])
    overs = np.minimum(np.floor(steps + 1e-9).astype(np.int64) + 1, _LONGEST)
    of = np.repeat(np.arange(len(caller)), overs)
    pause = 15 + draws.below("pause", 90, len(of))
    waited = np.cumsum(pause)
    first = np.concatenate([[0], np.cumsum(overs)[:-1]])
    time = begin[of] + waited - waited[first][of]
    tenths = 5 + np.floor(draws.shares("on air", len(of)) ** 3 * 1200).astype(np.int64)
    inside = np.flatnonzero(time < (first_day + days) * DAY_SECONDS)
    id_ = ids[caller[of]]
    order = inside[np.lexsort((inside, id_[inside], time[inside]))]
    return Overs(id_[order], talkgroup[of][order], time[order], tenths[order])
