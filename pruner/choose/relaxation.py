"""The linear relaxation of "one level or nothing for every contact", solved through the price of a byte.

Receives worths and sizes of all options, hands on two selections that enclose the limit and a bound that no choice exceeds.

If a byte costs `price`, each contact by itself takes the option with the greatest profit, worth - price * size, or
nothing. Only options on the upper convex hull of a contact's (size, worth) points ever have the greatest profit, so dominated
options drop out by themselves, and lowering the price takes the steps of all hulls in order of their efficiency. For every
price,

    bound = price * capacity + sum of greatest profits        (with a record limit: of the largest of them)

is at least the worth of any choice that keeps the limits (Lagrangian duality). The least bound, the value of the linear
relaxation, lies where the bound's slope changes sign. References: E. Zemel 1984, M. Dyer 1984 (relaxation in linear time),
D. Pisinger 1995 "A minimal algorithm for the multiple-choice knapsack problem" (all from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.words.pieces import pieces

Floats = npt.NDArray[np.float64]
Levels = npt.NDArray[np.int8]

#: Contacts from which on a sample tells where to look for the price.
_SAMPLED_FROM: Final = 20_000
_TRIES: Final = 80
#: Share of the bound by which it may lie above the least: nothing but rounding for few contacts; for many it is far below what
#: is asked for, and each further price costs a pass over all of them.
_CLOSE: Final = 1e-13
_CLOSE_FOR_MANY: Final = 1e-8


@dataclass(frozen=True, slots=True)
class Problem:
    """One array per level: worth (-inf where the option alone is too large) and size in whole bytes; limits.

    `record_limit` binds those contacts that have worth. It may follow from the bytes (so many of the smallest records
    fit), which makes the bound less; `limited` says that it is a limit of its own.
    """

    worth: list[Floats]
    size: list[Floats]
    capacity: int
    record_limit: int
    limited: bool

    def __len__(self) -> int:
        return len(self.worth[0])

    def chosen(self, values: list[Floats], level: Levels) -> Floats:
        """The value of the chosen option per contact, 0 for nothing."""
        found = np.zeros(len(self))
        for index, column in enumerate(values):
            np.copyto(found, column, where=level == index)
        return found


@dataclass(frozen=True, slots=True)
class Selection:
    """What contacts take at a price: `level` (-1: nothing), their bytes and number, and the bound that holds at this price."""

    price: float
    record_price: float
    level: Levels
    size: int
    records: int
    bound: float


@dataclass(frozen=True, slots=True)
class Relaxation:
    """`lean` keeps the limits; `rich`, at a slightly lower price, does not (None: the best of everything fits); `best` is the
    selection with the least bound."""

    lean: Selection
    rich: Selection | None
    best: Selection


def relax(problem: Problem, guess: float = 0.0) -> Relaxation:
    """Minimises the bound over the price of a byte; for each price the best price of a record is known at once.

    The bound is convex and made of straight pieces. The two pieces at the ends of an interval that encloses the minimum
    cross at the next price to try, and the bound is nowhere less than where they cross. Where it is no more either, both
    ends are best selections. `guess`: a price near which to begin, 0 if none is known.
    """
    rich = select(problem, 0.0)
    if rich.size <= problem.capacity:
        return Relaxation(rich, None, rich)
    rich, lean = _enclosure(problem, rich, guess)
    best = min(rich, lean, key=lambda one: one.bound)
    close = _CLOSE if len(problem) < _SAMPLED_FROM else _CLOSE_FOR_MANY
    for attempt in range(_TRIES):
        crossing = _crossing(problem, rich, lean)
        least = lean.bound + (problem.capacity - lean.size) * (crossing - lean.price)
        if best.bound - least <= close * best.bound:  # also where they cross at an end, or by rounding behind it
            break
        price = 0.5 * (rich.price + lean.price) if attempt % 3 == 2 else crossing
        tried = select(problem, price)
        best = min(best, tried, key=lambda one: one.bound)
        if tried.size <= problem.capacity:
            lean = tried
        else:
            rich = tried
    return Relaxation(lean, rich, best)


def _crossing(problem: Problem, rich: Selection, lean: Selection) -> float:
    slope_rich, slope_lean = problem.capacity - rich.size, problem.capacity - lean.size
    rise = lean.bound - rich.bound + slope_rich * rich.price - slope_lean * lean.price
    return rise / (slope_rich - slope_lean)


def _enclosure(problem: Problem, rich: Selection, guess: float) -> tuple[Selection, Selection]:
    """Prices that enclose the minimum: from a sample where there are many contacts, else up to where nothing pays."""
    stride = len(problem) // (_SAMPLED_FROM // 2)
    if stride > 1 and guess <= 0.0:
        limit = max(problem.record_limit // stride, 1)
        worth, size = ([column[::stride].copy() for column in columns] for columns in (problem.worth, problem.size))
        guess = relax(Problem(worth, size, problem.capacity // stride, limit, True)).best.price
    step = 1.01
    while guess > 0.0:
        tried = select(problem, guess)
        if tried.size <= problem.capacity:
            return _lower(problem, rich, tried, step)
        rich, guess, step = tried, guess * step, step * step
        if step > 1e6:
            break
    return rich, select(problem, 2 * _dearest(problem))


def _lower(problem: Problem, rich: Selection, lean: Selection, step: float) -> tuple[Selection, Selection]:
    while rich.price < lean.price / step and step < 1e6:
        tried = select(problem, lean.price / step)
        if tried.size > problem.capacity:
            return tried, lean
        lean, step = tried, step * step
    return rich, lean


def _dearest(problem: Problem) -> float:
    """The greatest worth per byte of any option: at a higher price nothing that takes room pays."""
    dearest = 0.0
    for worth, size in zip(problem.worth, problem.size, strict=True):
        ratio = np.divide(worth, size, out=np.zeros(len(worth)), where=size > 0)
        dearest = max(dearest, float(ratio.max(initial=0.0)))
    return dearest


def select(problem: Problem, price: float) -> Selection:
    """The best option of each contact at a price; with a record limit the contacts with the greatest profits, earlier ones
    first among equals. Of equal options the later level, of profit 0 nothing is taken."""
    profit = np.zeros(len(problem))
    level = np.full(len(problem), -1, dtype=np.int8)
    taken = np.zeros(len(problem))
    for block in pieces(len(problem)):
        for index in reversed(range(len(problem.worth))):
            size = problem.size[index][block]
            offer = problem.worth[index][block] - price * size
            better = offer > profit[block]
            np.copyto(profit[block], offer, where=better)
            np.copyto(taken[block], size, where=better)
            np.copyto(level[block], index, where=better)
    records = int(np.count_nonzero(level >= 0))
    record_price = 0.0
    limit = problem.record_limit
    if records > limit:
        place = len(profit) - limit
        record_price = float(np.partition(profit, place)[place])
        out = profit < record_price
        equal = np.flatnonzero(profit == record_price)
        out[equal[limit - (len(profit) - int(np.count_nonzero(out)) - len(equal)) :]] = True
        level[out] = -1
        taken[out] = 0.0
        records = limit
        np.maximum(profit - record_price, 0.0, out=profit)
    bound = price * problem.capacity + record_price * limit + float(profit.sum())
    return Selection(price, record_price, level, int(taken.sum()), records, bound)


def mixture(problem: Problem, relaxation: Relaxation) -> Levels:
    """The lean selection with as many changes towards the rich one, in order of position, as bring it closest to the capacity.

    At the best price all these changes cost nothing. A contact that leaves does so together with one that enters.
    """
    lean, rich = relaxation.lean, relaxation.rich
    if rich is None:
        return lean.level
    inside, wanted = lean.level >= 0, rich.level >= 0
    leaving, entering = np.flatnonzero(inside & ~wanted), np.flatnonzero(~inside & wanted)
    change = problem.chosen(problem.size, rich.level) - problem.chosen(problem.size, lean.level)
    weight = change.copy()
    pairs = min(len(leaving), len(entering))
    weight[entering[:pairs]] += change[leaving[:pairs]]
    moving = inside & wanted & (lean.level != rich.level)
    moving[entering] = True
    moves = np.flatnonzero(moving)
    room = problem.capacity - lean.size
    reached = np.concatenate([[0.0], np.cumsum(weight[moves])])
    count = int(np.argmax(np.where(reached <= room, reached, -np.inf)))
    level = lean.level.copy()
    level[moves[:count]] = rich.level[moves[:count]]
    entered = int(np.count_nonzero(~inside[moves[:count]]))
    level[leaving[: min(entered, pairs)]] = -1
    return level
