"""The few contacts on which the best choice really depends: closes the gap that the linear relaxation leaves.

Receives a choice that keeps the limits and the prices of the relaxation, hands on one at least as good.

With a price per byte and per record, each option loses something against the contact's best one (its *loss*), and

    worth of a choice = bound - losses - price * free bytes - record price * free records.

So a choice that beats the present one has losses below the present gap: options that lose more are out, and a contact with only
one option left is settled. The others, the core, are gone through by dynamic programming over (bytes, records), those with
the smallest loss first, in rounds of growing size as the gap shrinks (after Pisinger 1995, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.choose.relaxation import Floats, Levels, Problem, Selection

Integers = npt.NDArray[np.int64]

_ROUNDS: Final = (16, 64, 256)
#: States that are carried on, at most, from one contact to the next; fewer in the last round of a large choice.
_STATES: Final = 20_000
_STATES_OF_MANY: Final = 2_000
#: So many times as many states are compared with each other before the best are carried on.
_COMPARED: Final = 8
#: Contacts with the same sizes of best and second option that a round takes, at most, unless it takes all.
_ALIKE: Final = 4
#: Contacts with the smallest loss among which a round looks for its own, unless it takes all.
_NEAREST: Final = 20_000
#: Shares of the bound below which a gap is rounding, and below which a large choice is good enough.
_ROUNDING: Final = 1e-14
_ENOUGH: Final = 1e-6
_LARGE: Final = 1_000


@dataclass(frozen=True, slots=True)
class Improved:
    """`level` per contact; `proven`: nothing better exists (up to rounding)."""

    level: Levels
    proven: bool


@dataclass(slots=True)
class _States:
    """Bytes, records, losses of partial choices; where each came from and by which level, one pair of arrays per contact."""

    size: Integers
    records: Integers
    loss: Floats


def improve(problem: Problem, level: Levels, prices: Selection) -> Improved:
    """Goes through cores of 16, 64 and 256 contacts until the gap is closed, or until no better choice can exist."""
    level = level.copy()
    best, second = _two_best(problem, prices)
    apart = best - second
    for most in _ROUNDS:
        own = _loss(problem, prices, best, level)
        gap = _gap(problem, prices, level, own)
        if gap <= _ROUNDING * prices.bound:
            return Improved(level, True)
        if len(problem) >= _LARGE and gap <= _ENOUGH * prices.bound:
            return Improved(level, False)
        core = np.flatnonzero(apart <= gap)  # who has not the best option loses at least `apart`
        whole = len(core) <= most
        core = _nearest(apart, core)
        if not whole:
            core = _various(problem, prices, core)[:most]
        complete = _go_through(problem, prices, level, own, best, core, gap)
        if whole and complete:
            return Improved(level, True)
    return Improved(level, False)


def _profits(problem: Problem, prices: Selection) -> list[Floats]:
    return [worth - prices.price * size - prices.record_price for worth, size in zip(problem.worth, problem.size, strict=True)]


def _two_best(problem: Problem, prices: Selection) -> tuple[Floats, Floats]:
    """The greatest and the second greatest profit of each contact, nothing (0) included."""
    best, second = np.zeros(len(problem)), np.full(len(problem), -np.inf)
    for profit in _profits(problem, prices):
        np.maximum(second, np.minimum(best, profit), out=second)
        np.maximum(best, profit, out=best)
    return best, second


def _loss(problem: Problem, prices: Selection, best: Floats, level: Levels) -> Floats:
    profit = np.zeros(len(problem))
    for index, column in enumerate(_profits(problem, prices)):
        np.copyto(profit, column, where=level == index)
    return best - profit


def _gap(problem: Problem, prices: Selection, level: Levels, own: Floats) -> float:
    free = problem.capacity - float(problem.chosen(problem.size, level).sum())
    places = problem.record_limit - int(np.count_nonzero(level >= 0))
    return float(own.sum()) + prices.price * free + prices.record_price * places


def _nearest(apart: Floats, core: Integers) -> Integers:
    """The contacts of the core with the smallest loss, smallest first, earlier ones first among equals."""
    distance = apart[core]
    if len(core) > _NEAREST:
        edge = np.partition(distance, _NEAREST)[_NEAREST]
        nearer, equal = np.flatnonzero(distance < edge), np.flatnonzero(distance == edge)
        among = np.sort(np.concatenate([nearer, equal[: _NEAREST - len(nearer)]]))
        core, distance = core[among], distance[among]
    return core[np.argsort(distance, kind="stable")]


def _various(problem: Problem, prices: Selection, core: Integers) -> Integers:
    """The core without contacts that are like four before them: what fills a gap of odd size is variety."""
    sizes = np.zeros((2, len(core)))
    profit = np.zeros_like(sizes)
    profit[1] = -np.inf
    for column, size in zip(_profits(problem, prices), problem.size, strict=True):
        offer, bytes_ = column[core], size[core]
        for row in range(len(sizes)):
            better = offer > profit[row]
            profit[row], offer = np.where(better, offer, profit[row]), np.where(better, profit[row], offer)
            sizes[row], bytes_ = np.where(better, bytes_, sizes[row]), np.where(better, sizes[row], bytes_)
    kind = np.unique(sizes, axis=1, return_inverse=True)[1]
    order = np.argsort(kind, kind="stable")
    first = np.searchsorted(kind[order], np.arange(int(kind.max()) + 1))
    alike = np.empty(len(core), dtype=np.int64)
    alike[order] = np.arange(len(core)) - first[kind[order]]
    return core[alike < _ALIKE]


def _go_through(
    problem: Problem, prices: Selection, level: Levels, own: Floats, best: Floats, core: Integers, gap: float
) -> bool:
    """Puts the best choice for the core into `level` if it beats the present one; False if states had to be left out."""
    sizes = problem.chosen(problem.size, level)
    room = problem.capacity - int(sizes.sum()) + int(sizes[core].sum())
    inside = level >= 0
    places = problem.record_limit - int(np.count_nonzero(inside)) + int(np.count_nonzero(inside[core]))
    others = np.ones(len(own), dtype=bool)
    others[core] = False
    options = [_options(problem, prices, int(contact), float(best[contact]), gap) for contact in core.tolist()]
    low = np.array([[one[:, 0].min(), one[:, 1].min()] for one in options]).reshape(len(options), 2)
    high = np.array([[one[:, 0].max(), one[:, 1].max()] for one in options]).reshape(len(options), 2)
    low_rest, high_rest = (np.append(np.cumsum(edge[::-1], axis=0)[::-1], [[0, 0]], axis=0) for edge in (low, high))
    most = _most_states(len(core), len(own))
    states = _States(np.zeros(1, np.int64), np.zeros(1, np.int64), np.array([float(own[others].sum())]))
    history: list[tuple[Integers, Levels]] = []
    complete = True
    for index, option in enumerate(options):
        came_from = np.tile(np.arange(len(states.size)), len(option))
        by = np.repeat(np.arange(len(option)), len(states.size))
        size = states.size[came_from] + option[by, 0].astype(np.int64)
        records = states.records[came_from] + option[by, 1].astype(np.int64)
        loss = states.loss[came_from] + option[by, 2]
        lowest, highest = low_rest[index + 1], high_rest[index + 1]
        least = loss + prices.price * np.maximum(room - size - highest[0], 0)
        least += prices.record_price * np.maximum(places - records - highest[1], 0)
        possible = np.flatnonzero(
            (least < gap) & (size + lowest[0] <= room) & (not problem.limited or records + lowest[1] <= places)
        )
        compared = _with_least(possible, least, most * _COMPARED)
        complete &= len(compared) == len(possible)
        worth = prices.price * size[compared] + prices.record_price * records[compared] - loss[compared]
        better = compared[_undominated(size[compared], records[compared] if problem.limited else None, worth)]
        keep = _with_least(better, least, most)
        complete &= len(keep) == len(better)
        states = _States(size[keep], records[keep], loss[keep])
        history.append((came_from[keep], option[by[keep], 3].astype(np.int8)))
        if not len(keep):
            return complete
    total = states.loss + prices.price * (room - states.size) + prices.record_price * (places - states.records)
    state = int(np.argmin(total))  # what is left after the last contact loses less than the gap
    for contact, (came_from, levels) in zip(core[::-1].tolist(), reversed(history), strict=True):
        level[contact] = levels[state]
        state = int(came_from[state])
    return complete


def _most_states(core: int, contacts: int) -> int:
    return _STATES_OF_MANY if contacts >= _LARGE and core > _ROUNDS[1] else _STATES


def _with_least(states: Integers, least: Floats, most: int) -> Integers:
    """The states with the least of what they lose at best, at most so many, in their order; earlier ones among equals."""
    if len(states) <= most:
        return states
    return np.sort(states[np.argsort(least[states], kind="stable")[:most]])


def _options(problem: Problem, prices: Selection, contact: int, best: float, gap: float) -> Floats:
    """Rows of size, records, loss, level: the contact's options that lose less than the gap."""
    rows = [(0.0, 0.0, best, -1.0)]
    for index, (worth, size) in enumerate(zip(problem.worth, problem.size, strict=True)):
        profit = float(worth[contact] - prices.price * size[contact] - prices.record_price)
        rows.append((float(size[contact]), 1.0, best - profit, float(index)))
    return np.array([row for row in rows if row[2] < gap or row[2] <= 0])


def _undominated(size: Integers, records: Integers | None, worth: Floats) -> Integers:
    """States that are worth more than every smaller one (of the same number of records, if these count)."""
    group = np.zeros(len(size), dtype=np.int64) if records is None else records
    order = np.lexsort((-worth, size, group))
    # Whole numbers in the order of the worths, raised from group to group: a running maximum then starts anew in each.
    distinct, place = np.unique(worth[order], return_inverse=True)
    place = group[order] * len(distinct) + place
    highest = np.maximum.accumulate(place)
    return order[np.append(True, place[1:] > highest[:-1])[: len(order)]]
