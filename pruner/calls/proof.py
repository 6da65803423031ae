"""How well an order would have chosen: cut the log at a day, choose with what was known, score on what came after.

Receives the rows of a store and one ranking function per order; hands on coverage per order and limit, with an interval,
beside the best that any choice could have reached.

Interval: whole weeks after the cuts are drawn again with replacement, the same draws for every order and limit (block
bootstrap, percentiles; Efron, Tibshirani, "An Introduction to the Bootstrap", 1993, chapters 8 and 13).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.calls.stations import Floats, Integers, day_number

Mask = npt.NDArray[np.bool_]

#: What was known up to a day (rows of the store), that day -> contacts (positions), best first; it may leave some out.
Ranking = Callable[[pl.DataFrame, int], Integers]
#: A cut -> which contacts may be chosen there.
Choosable = Callable[[int], Mask]

BEST: Final = "best possible"
#: The intervals' share, from how many weeks on there are any, and how often weeks are drawn.
CONFIDENCE: Final = 0.95
FEWEST_WEEKS: Final = 8
RESAMPLES: Final = 2000
SEED: Final = 20_260_614
_WEEK: Final = 7


@dataclass(frozen=True, slots=True)
class Estimate:
    """A share (0 to 1) and the bounds of its interval, None where the log is too short for one."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Proof:
    """`cuts`: the last day known before each (days since 1970), latest first; `weeks` and `calls` that came after, `known`
    of them from contacts that may be chosen; `coverage`: by order and `BEST`, one for each limit; `lead`: by pair of
    orders, how much more the first covers."""

    cuts: tuple[int, ...]
    period_days: int
    limits: tuple[int, ...]
    weeks: int
    calls: int
    known: int
    coverage: dict[str, tuple[Estimate, ...]]
    lead: dict[tuple[str, str], tuple[Estimate, ...]]


def cut_days(first_day: int, last_day: int, cuts: int, period_days: int) -> tuple[int, ...]:
    """Up to `cuts` last days known, latest first. What comes after them does not overlap; a period lies before each."""
    most = (last_day - first_day + 1) // period_days - 1
    return tuple(last_day - period_days * (back + 1) for back in range(max(min(cuts, most), 0)))


def prove(
    rows: pl.DataFrame,
    numbers: npt.NDArray[np.uint32],
    rankings: Mapping[str, Ranking],
    *,
    limits: Sequence[int],
    cuts: Sequence[int],
    period_days: int,
    allowed: Choosable | None = None,
) -> Proof:
    """Coverage of every order at every limit, over the `period_days` days after each of the `cuts`.

    `rows`: rows of a store (`id`, `day`, `calls`, ...) on the talkgroups that count; `numbers`: ids of the contacts,
    ascending; `allowed`: which of them may be chosen at a cut (None: all). Calls of ids that are no contact are never covered.
    Raises ValueError when nothing was called after the cuts.
    """
    bounds = np.array(sorted(set(limits)), dtype=np.int64)
    everybody = np.ones(len(numbers), dtype=bool)
    parts = [_score(rows, numbers, rankings, bounds, cut, period_days, allowed(cut) if allowed else everybody) for cut in cuts]
    totals = np.concatenate([part.total for part in parts]) if parts else np.zeros(0)
    if not totals.sum():
        raise ValueError("no call came after the cuts")
    covered = {name: np.concatenate([part.covered[name] for part in parts]) for name in parts[0].covered}
    draws = _draws(len(totals))
    names = list(rankings)
    return Proof(
        tuple(cuts),
        period_days,
        tuple(bounds.tolist()),
        len(totals),
        int(totals.sum()),
        sum(part.known for part in parts),
        {name: _estimates(values, totals, draws) for name, values in covered.items()},
        {
            (one, other): _estimates(covered[one] - covered[other], totals, draws)
            for one in names
            for other in names
            if one != other
        },
    )


@dataclass(frozen=True, slots=True)
class _Scored:
    """`total`: calls per week; `known`: calls of contacts that may be chosen; `covered`: per order, calls by week and limit."""

    total: Floats
    known: int
    covered: dict[str, Floats]


def _score(
    rows: pl.DataFrame,
    numbers: npt.NDArray[np.uint32],
    rankings: Mapping[str, Ranking],
    bounds: Integers,
    cut: int,
    period_days: int,
    choosable: Mask,
) -> _Scored:
    day = day_number()
    after = rows.filter((day > cut) & (day <= cut + period_days)).select(
        pl.col("id").cast(pl.Int64), ((day - cut - 1) // _WEEK).alias("week"), pl.col("calls").cast(pl.Float64)
    )
    week, calls = after["week"].to_numpy(), after["calls"].to_numpy()
    weeks = -(-period_days // _WEEK)
    total = np.bincount(week, weights=calls, minlength=weeks).astype(np.float64)
    place = np.minimum(np.searchsorted(numbers, after["id"].to_numpy()), max(len(numbers) - 1, 0))
    known = (numbers[place] == after["id"].to_numpy()) & choosable[place] if len(numbers) else np.zeros(len(place), dtype=bool)
    week, place, calls = week[known], place[known], calls[known]
    came = np.bincount(place, weights=calls, minlength=len(numbers))
    before = rows.filter(day <= cut)
    chosen = {name: ranking(before, cut) for name, ranking in rankings.items()}
    chosen[BEST] = np.argsort(-came, kind="stable")  # nobody else may be chosen: `came` has no other calls
    covered = {}
    for name, order in chosen.items():
        rank = np.full(len(numbers), np.iinfo(np.int64).max)
        rank[order] = np.arange(len(order))
        # All limits from one ranking: calls by the first limit that holds their caller, then added up.
        slot = week * (len(bounds) + 1) + np.searchsorted(bounds, rank[place], side="right")
        by_slot = np.bincount(slot, weights=calls, minlength=weeks * (len(bounds) + 1)).astype(np.float64)
        covered[name] = np.cumsum(by_slot.reshape(weeks, -1), axis=1)[:, : len(bounds)]
    return _Scored(total, int(calls.sum()), covered)


def _draws(weeks: int) -> Integers:
    """How often each week is drawn in each resample (resamples x weeks)."""
    drawn = np.random.Generator(np.random.PCG64(SEED)).integers(0, max(weeks, 1), size=(RESAMPLES, weeks))
    counts = np.zeros((RESAMPLES, weeks), dtype=np.int64)
    np.add.at(counts, (np.arange(RESAMPLES)[:, None], drawn), 1)
    return counts


def _estimates(covered: Floats, totals: Floats, draws: Integers) -> tuple[Estimate, ...]:
    """One for each limit, from covered calls by week and limit."""
    values = (covered.sum(axis=0) / totals.sum()).tolist()
    if len(totals) < FEWEST_WEEKS:
        return tuple(Estimate(value, None, None) for value in values)
    weights = draws @ totals
    shares = (draws @ covered)[weights > 0] / weights[weights > 0][:, None]
    tail = (1 - CONFIDENCE) / 2
    low, high = np.quantile(shares, [tail, 1 - tail], axis=0).tolist()
    return tuple(Estimate(*of_limit) for of_limit in zip(values, low, high, strict=True))
