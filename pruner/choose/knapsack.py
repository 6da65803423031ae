"""Chooses for every contact a level of detail or nothing, so that the worth is greatest under a limit of bytes.

Receives worth and size of every level of every contact, hands on the choice, its worth and a proven upper bound. This is the
multiple-choice knapsack problem, optionally with a limit of records beside that of bytes. Its linear relaxation gives
the bound and a choice near it (`choose.relaxation`), the few contacts that remain open are gone through (`choose.core`), and
what is still free is filled up.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.choose.core import improve
from pruner.choose.relaxation import Floats, Levels, Problem, mixture, relax

Integers = npt.NDArray[np.int64]
_FILL_STEPS: Final = 200


@dataclass(frozen=True, slots=True)
class Choice:
    """`level`: int8 per contact, -1 = left out. `value`: worth of the choice. `upper_bound`: no choice that keeps the limits is
    worth more; equal to `value` where the choice is proven best, up to rounding. `gap`: 1 - value / upper_bound."""

    level: Levels
    value: float
    upper_bound: float
    gap: float


def choose_levels(
    worth: Floats, sizes: Integers, capacity: int, record_limit: int | None = None, order: Integers | None = None
) -> Choice:
    """Chooses one level or nothing per contact.

    `worth`: float64 [contacts, levels], none negative, a level's expected worth; `sizes`: int64 [contacts, levels] bytes;
    levels from the richest to the leanest; `capacity`: bytes for all records; `order`: positions, first in line first
    (default: as they stand). Ties fall to the contact that stands first, so contacts should stand by system and id.

    What has no worth comes last: as long as a contact that was left out fits at its smallest level, the first in line is taken
    so. Once none fits, those without worth get, in line, the richest level that still fits. Raises ValueError
    for negative or unknown worth, negative sizes, shapes that differ.
    """
    _check(worth, sizes, capacity, record_limit)
    order = np.arange(len(worth)) if order is None else order
    level = np.full(len(worth), -1, dtype=np.int8)
    if not worth.size or record_limit == 0:
        return Choice(level, 0.0, 0.0, 0.0)
    problem = make_problem(worth, sizes, capacity, record_limit)
    relaxation = relax(problem)
    improved = improve(problem, mixture(problem, relaxation), relaxation.best)
    level = improved.level
    if not improved.proven:
        _fill_with_worth(problem, level)
    fill_up(sizes, level, capacity, record_limit, order, worth)
    value = worth_of(worth, level)
    bound = relaxation.best.bound + _rounding(problem, relaxation.best.bound)
    bound = value if improved.proven else max(bound, value)
    return Choice(level, value, bound, (bound - value) / bound if bound > 0 else 0.0)


def worth_of(worth: Floats, level: Levels) -> float:
    """The sum of the worths of the chosen levels."""
    taken = np.flatnonzero(level >= 0)
    return float(worth[taken, level[taken]].sum())


def bytes_of(sizes: Integers, level: Levels) -> Integers:
    """The size of the chosen level per contact that is not left out, in order of position."""
    taken = np.flatnonzero(level >= 0)
    return sizes[taken, level[taken]]


def first_fit(sizes: Integers, room: int, places: int | None = None) -> npt.NDArray[np.bool_]:
    """Who gets in when each in line takes its bytes if they are still free, and is passed over if not. bool per size.

    Each round takes all up to the first that does not fit and then sends away everyone too large for what is left, so there
    are no more rounds than different sizes.
    """
    taken = np.zeros(len(sizes), dtype=bool)
    waiting = np.flatnonzero(sizes <= room)
    places = len(sizes) if places is None else places
    while len(waiting) and places > 0:
        ends = np.cumsum(sizes[waiting])
        count = min(int(np.searchsorted(ends, room, side="right")), places)
        taken[waiting[:count]] = True
        room -= int(ends[count - 1])
        places -= count
        waiting = waiting[count:]
        waiting = waiting[sizes[waiting] <= room]
    return taken


def _check(worth: Floats, sizes: Integers, capacity: int, record_limit: int | None) -> None:
    if worth.ndim != 2 or worth.shape != sizes.shape:
        raise ValueError("worth and sizes must have the same shape [contacts, levels]")
    if worth.shape[1] > np.iinfo(np.int8).max:
        raise ValueError("more levels than can be numbered")
    if worth.size and not (np.isfinite(worth).all() and worth.min() >= 0 and sizes.min() >= 0):
        raise ValueError("worths must be finite and no worth or size negative")
    if capacity < 0 or (record_limit is not None and record_limit < 0):
        raise ValueError("limits must not be negative")


def make_problem(worth: Floats, sizes: Integers, capacity: int, record_limit: int | None) -> Problem:
    """One contiguous array per level; a capacity that sums of sizes can reach; no option that alone exceeds it; a record limit
    no greater than the number of smallest records that fit."""
    columns = [np.ascontiguousarray(sizes[:, level]) for level in range(sizes.shape[1])]
    common = int(np.gcd.reduce(sizes, axis=None))
    capacity -= capacity % max(common, 1)
    worths = []
    for level, size in enumerate(columns):
        column = worth[:, level].astype(np.float64)
        column[size > capacity] = -np.inf
        worths.append(column)
    smallest = np.full(len(worth), np.iinfo(np.int64).max)
    for column, size in zip(worths, columns, strict=True):
        np.minimum(smallest, size, out=smallest, where=column > 0)
    smallest = np.sort(smallest[smallest <= capacity])
    most = int(np.searchsorted(np.cumsum(smallest), capacity, side="right"))
    limited = record_limit is not None and record_limit < most
    sizes_as_floats = [column.astype(np.float64) for column in columns]
    return Problem(worths, sizes_as_floats, capacity, record_limit if record_limit is not None and limited else most, limited)


def _rounding(problem: Problem, bound: float) -> float:
    """More than the rounding errors of the bound can add up to: each of its terms, and the pairwise sums of numpy, are off by a
    few units in the last place of the profits, which lie below the greatest worths where they count."""
    greatest = np.zeros(len(problem))
    for column in problem.worth:
        np.maximum(greatest, column, out=greatest)
    return 64 * float(np.finfo(np.float64).eps) * (float(greatest.sum()) + bound)


def _fill_with_worth(problem: Problem, level: Levels) -> None:
    """Gives free bytes to whatever adds most worth and fits, again and again; earlier contacts and richer levels first among
    equals. Only a few bytes are free by now, so few contacts come into question."""
    room = problem.capacity - int(problem.chosen(problem.size, level).sum())
    free_places = len(problem) if not problem.limited else problem.record_limit - int(np.count_nonzero(level >= 0))
    near = _nearly(problem, level, room)
    worth, size = (np.stack([one[near] for one in columns], axis=1) for columns in (problem.worth, problem.size))
    for _ in range(_FILL_STEPS):
        now = level[near]
        rows = np.arange(len(near))
        more = worth - np.where(now >= 0, worth[rows, now], 0.0)[:, None]
        larger = size - np.where(now >= 0, size[rows, now], 0.0)[:, None]
        more[(larger > room) | ((now < 0) & (free_places <= 0))[:, None]] = 0.0
        if not more.max(initial=0.0) > 0:
            return
        one, option = divmod(int(np.argmax(more)), more.shape[1])
        room -= int(larger[one, option])
        free_places -= int(now[one] < 0)
        level[near[one]] = option


def _nearly(problem: Problem, level: Levels, room: int) -> Integers:
    """Contacts that have a better option for at most `room` bytes more."""
    worth, size = problem.chosen(problem.worth, level), problem.chosen(problem.size, level)
    found = np.zeros(len(problem), dtype=bool)
    for more, larger in zip(problem.worth, problem.size, strict=True):
        found |= (more > worth) & (larger - size <= room)
    return np.flatnonzero(found)


def fill_up(sizes: Integers, level: Levels, capacity: int, record_limit: int | None, order: Integers, worth: Floats) -> None:
    """Lets those left out in at their smallest level, in line; then gives those without worth the richest level that fits."""
    room = capacity - int(bytes_of(sizes, level).sum())
    places = None if record_limit is None else record_limit - int(np.count_nonzero(level >= 0))
    out = order[level[order] < 0]
    leanest = (sizes.shape[1] - 1 - np.argmin(sizes[out, ::-1], axis=1)).astype(np.int8)
    needed = sizes[out, leanest]
    entering = first_fit(needed, room, places)
    level[out[entering]] = leanest[entering]
    room -= int(needed[entering].sum())
    plain = order[(level[order] != -1) & ~worth[order].any(axis=1)]
    for richest in range(sizes.shape[1]):
        larger = sizes[plain, richest] - sizes[plain, level[plain]]
        better = first_fit(np.maximum(larger, 0), room) & (level[plain] > richest)
        level[plain[better]] = richest
        room -= int(larger[better].sum())
