"""How much of each contact's text is stored when bytes are short: by rule order, or for the greatest coverage.

Receives bytes (and worths) of every level of every contact and the queue, hands on a level per contact. Levels stand from
the richest to the leanest; a level never takes more bytes than the one before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.choose.knapsack import Choice, bytes_of, choose_levels, fill_up, make_problem, worth_of
from pruner.choose.memory import MemoryModel, largest_prefix, total_bytes
from pruner.choose.page_fill import fill_pages
from pruner.choose.relaxation import Problem, mixture, relax

Integers = npt.NDArray[np.int64]
Levels = npt.NDArray[np.int8]

#: How often the bytes between a choice that fits on its pages and one that does not are halved.
_LOOKS: Final = 6


@dataclass(frozen=True, slots=True)
class Detail:
    """`level`: int8 per contact, -1 = left out; `kept`: how many from the front of the queue are kept."""

    level: Levels
    kept: int


def one_level(
    model: MemoryModel,
    sizes: Integers,
    order: Integers,
    key: npt.NDArray[np.integer],
    limit_bytes: int,
    limit_records: int | None = None,
) -> Detail:
    """The richest single level at which the whole queue fits, else the leanest, and as many as fit.

    `sizes`: int64 [contacts, levels]; `order`: positions, first in line first; `key`: written order, ascending. "The whole
    queue" is what a record limit lets in.
    """
    order = order if limit_records is None else order[:limit_records]
    written = order[np.argsort(key[order], kind="stable")]
    for level in range(sizes.shape[1]):
        if total_bytes(model, sizes[written, level]) <= limit_bytes:
            return _detail(len(sizes), order, level)
    leanest = sizes.shape[1] - 1
    kept = largest_prefix(model, sizes[:, leanest], order, key, limit_bytes, limit_records)
    return _detail(len(sizes), order[:kept], leanest)


def level_per_rule(
    model: MemoryModel,
    sizes: Integers,
    queues: Sequence[Integers],
    key: npt.NDArray[np.integer],
    limit_bytes: int,
    limit_records: int | None = None,
) -> Detail:
    """One level for all contacts of a rule: the richest that lets everyone behind in, rule after rule.

    `queues`: the positions of each rule's contacts, first in line first, the most important rule first; a record limit is
    applied first. If the whole queue does not fit at the leanest level, all are stored so, and as many as fit.
    Otherwise the first rule gets the richest level with which all fit when the rules behind it have the leanest; then, that
    level given, the second rule; and so on. So of all ways to give each rule a level such that all fit, it is the one that is
    richest in the first rule, among these in the second, and so on: no two ways are equal in this order.
    (A leaner level never takes more pages, so what is tried for one rule never depends on what is refused for another.)
    """
    order = np.concatenate([*queues, np.zeros(0, dtype=np.int64)])
    rule = np.repeat(np.arange(len(queues)), [len(queue) for queue in queues])
    order, rule = order[:limit_records], rule[:limit_records]
    leanest = sizes.shape[1] - 1
    ascending = np.argsort(key[order], kind="stable")
    written, rule_written = order[ascending], rule[ascending]
    laid = sizes[written, leanest]
    if total_bytes(model, laid) > limit_bytes:
        kept = largest_prefix(model, sizes[:, leanest], order, key, limit_bytes)
        return _detail(len(sizes), order[:kept], leanest)
    detail = _detail(len(sizes), order, leanest)
    for number in np.unique(rule).tolist():
        own = rule_written == number
        for level in range(leanest):
            tried = np.where(own, sizes[written, level], laid)
            if total_bytes(model, tried) <= limit_bytes:
                laid = tried
                detail.level[written[own]] = level
                break
    return detail


def _detail(contacts: int, kept: Integers, level: int) -> Detail:
    levels = np.full(contacts, -1, dtype=np.int8)
    levels[kept] = level
    return Detail(levels, len(kept))


def best_coverage(
    model: MemoryModel,
    worth: npt.NDArray[np.float64],
    sizes: Integers,
    order: Integers,
    key: npt.NDArray[np.integer],
    limit_bytes: int,
    limit_records: int | None = None,
) -> Choice:
    """A level or nothing for every contact of the queue, so that the total worth is greatest; never over a limit.

    `worth`: float64 [contacts, levels], expected calls times the worth of the level; the rest as in `one_level`. Contacts
    outside the queue are left out. What has no worth fills what is left, in line (see `choose_levels`).

    With pages the choice is made by bytes and laid out exactly; as long as pages run over, it is made again with fewer bytes.
    Then what was left out goes where there is room on pages (`fit.page_fill`). The bound is that of the first choice: it
    holds, because pages only add bytes, but then the gap also counts the bytes that page ends leave unused.
    """
    rows = order[np.argsort(key[order], kind="stable")]
    line = np.empty(len(sizes), dtype=np.int64)
    line[rows] = np.arange(len(rows))
    own = _Rows(model, worth[rows], sizes[rows], line[order], limit_bytes, limit_records)
    choice = own.unpaged() if model.page is None else own.paged(model.page)
    level = np.full(len(sizes), -1, dtype=np.int8)
    level[rows] = choice.level
    return Choice(level, choice.value, choice.upper_bound, choice.gap)


@dataclass(frozen=True, slots=True)
class _Rows:
    """The contacts of the queue in written order; `line`: who of them is first in line."""

    model: MemoryModel
    worth: npt.NDArray[np.float64]
    sizes: Integers
    line: Integers
    limit_bytes: int
    limit_records: int | None

    def choose(self, capacity: int) -> Choice:
        return choose_levels(self.worth, self.sizes + self.model.index, capacity, self.limit_records, self.line)

    def fits(self, level: Levels) -> bool:
        return total_bytes(self.model, bytes_of(self.sizes, level)) <= self.limit_bytes

    def nothing(self, upper_bound: float) -> Choice:
        return Choice(np.full(len(self.sizes), -1, dtype=np.int8), 0.0, upper_bound, float(upper_bound > 0))

    def unpaged(self) -> Choice:
        capacity = self.limit_bytes - self.model.header
        return self.choose(capacity) if capacity >= 0 else self.nothing(0.0)

    def paged(self, page: int) -> Choice:
        capacity = self.limit_bytes - self.model.header
        if self.model.index == 0:
            capacity -= capacity % page
        if capacity < 0:
            return self.nothing(0.0)
        choice = self.choose(capacity)
        level = choice.level if self.fits(choice.level) else self._shrunk(capacity, page)
        fill_pages(self.model, self.worth, self.sizes, level, self.line, self.limit_bytes, self.limit_records)
        value = worth_of(self.worth, level)
        bound = max(choice.upper_bound, value)
        return Choice(level, value, bound, (bound - value) / bound if bound > 0 else 0.0)

    def _shrunk(self, capacity: int, page: int) -> Levels:
        """A choice that fits, for fewer bytes: less by the pages that run over until it fits, then part of the way back.

        On the way only the relaxation is solved; its last choice stands in if the complete one for the same bytes runs over.
        """
        problem = make_problem(self.worth, self.sizes + self.model.index, capacity, self.limit_records)
        over = capacity
        level, price = self._relaxed(problem, capacity, 0.0)
        while not self.fits(level):
            over = capacity
            surplus = total_bytes(self.model, bytes_of(self.sizes, level)) - self.limit_bytes
            capacity -= -(-surplus // page) * page
            if capacity <= 0:
                return np.full(len(self.sizes), -1, dtype=np.int8)
            level, price = self._relaxed(problem, capacity, price)
        for _ in range(_LOOKS):
            middle = (capacity + over) // 2
            tried, price = self._relaxed(problem, middle, price)
            if self.fits(tried):
                level, capacity = tried, middle
            else:
                over = middle
        complete = self.choose(capacity).level
        return complete if self.fits(complete) else level

    def _relaxed(self, problem: Problem, capacity: int, price: float) -> tuple[Levels, float]:
        problem = replace(problem, capacity=capacity)
        relaxation = relax(problem, price)
        level = mixture(problem, relaxation)
        if relaxation.rich is None:
            fill_up(self.sizes + self.model.index, level, capacity, self.limit_records, self.line, self.worth)
        return level, relaxation.best.price
