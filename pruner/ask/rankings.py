"""Who would have been chosen on an earlier day: by each order, and by the rules of the settings.

Receives contacts and what was known of them, hands on ranking functions for `calls.proof`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import polars as pl

from pruner.calls.covered import CoveredStore
from pruner.calls.expected import expected_calls
from pruner.calls.proof import Ranking
from pruner.calls.stations import day_number
from pruner.calls.strangers import Strangers
from pruner.job.earlier import Earlier, Listed, refit
from pruner.job.load import Loaded
from pruner.rules.contacts import Contacts
from pruner.rules.matching import queue_of
from pruner.settings.models import Radio

#: The orders that are compared. `often` and `recent` say nothing of those who were never heard; by id both would be straw men,
#: so these follow by `expected`.
FILLED: Final = {"often + expected": "often", "recent + expected": "recent"}
ORDERS: Final = ("expected", *FILLED, "nearest", "id")
YOURS: Final = "your rules"

Talkgroups = tuple[int, ...] | None


@dataclass
class KnownCalls:
    """What was known of the contacts on the evening of a day (`rules.contacts.Calls`), from rows of a store on the talkgroups
    that count; so those named in a question change nothing."""

    rows: pl.DataFrame
    last_day: int
    strangers: Strangers
    period_days: int
    notes: list[str] = field(default_factory=list)
    _expected: list[npt.NDArray[np.float64]] = field(default_factory=list)

    def last_heard(self, talkgroups: Talkgroups) -> npt.NDArray[np.int64]:
        """Time of the last call in milliseconds since 1970, 0 for never."""
        return self._of_contacts(self.rows, pl.col("last").cast(pl.Datetime("ms")).max().cast(pl.Int64))

    def calls(self, talkgroups: Talkgroups, within_days: int | None) -> npt.NDArray[np.uint32]:
        """Calls in the last days (None: in all)."""
        rows = self.rows if within_days is None else self.rows.filter(day_number() > self.last_day - within_days)
        return self._of_contacts(rows, pl.col("calls").cast(pl.Int64).sum()).astype(np.uint32)

    def expected(self, talkgroups: Talkgroups) -> npt.NDArray[np.float64]:
        """Calls to expect in the period after the day."""
        if not self._expected:
            found = expected_calls(self.rows, self.strangers, last_day=self.last_day, period_days=self.period_days)
            self.notes.append(found.note)
            self._expected.append(found.calls)
        return self._expected[0]

    def _of_contacts(self, rows: pl.DataFrame, wanted: pl.Expr) -> npt.NDArray[np.int64]:
        number = self.strangers.traits.number
        values = np.zeros(len(number), dtype=np.int64)
        by_id = rows.group_by("id").agg(wanted.alias("value")).sort("id")
        ids = by_id["id"].to_numpy()
        if len(ids):
            place = np.minimum(np.searchsorted(ids, number), len(ids) - 1)
            same = ids[place] == number
            values[same] = by_id["value"].to_numpy()[place[same]]
        return values


def rankings(
    contacts: Contacts,
    strangers: Strangers,
    allowed: Callable[[int], npt.NDArray[np.int64]],
    *,
    window_days: int,
    period_days: int,
    notes: list[str],
) -> dict[str, Ranking]:
    """One ranking function per order over contacts of one system, of which those at the positions `allowed` (of a cut;
    ascending) may be chosen; the very orders that `fit` uses (`rules.matching.queue_of`), of `FILLED` with strangers by
    `expected`. Without a home, `nearest` is left out."""

    known: dict[int, KnownCalls] = {}

    def rank(order: str, before: pl.DataFrame, cut: int) -> npt.NDArray[np.int64]:
        calls = known.setdefault(cut, KnownCalls(before, cut, strangers, period_days, notes))
        then, places = contacts.with_calls(calls), allowed(cut)
        if order not in FILLED:
            return queue_of(then, places, order, None, window_days)
        heard = calls.last_heard(None)[places] > 0
        first = queue_of(then, places[heard], FILLED[order], None, window_days)
        return np.concatenate([first, queue_of(then, places[~heard], "expected", None, window_days)])

    return {order: partial(rank, order) for order in ORDERS if order != "nearest" or contacts.home is not None}


def listed_then(loaded: Loaded, store: CoveredStore, cut: int) -> Listed:
    """What is known of the directory on the evening of a cut, of all systems."""
    return Earlier(loaded, store.last_day - cut).listed()


def own_rules(loaded: Loaded, store: CoveredStore, low: int, high: int, listed: Callable[[int], Listed]) -> dict[str, Ranking]:
    """One ranking function for each way in which the radios of the settings choose, over the contacts of one system (from `low`
    to `high`), of whom may be chosen who was `listed` at a cut: the rules as `fit` would have applied them then. Radios whose
    limit is bytes have none."""
    radios: dict[Any, Radio] = {}
    for radio in loaded.settings.radios:
        if radio.memory is None:
            chosen = tuple((rule.name, loaded.settings.order(rule, radio)) for rule in loaded.keep_rules(radio))
            radios.setdefault((chosen, radio.carried), radio)

    def rank(radio: Radio, before: pl.DataFrame, cut: int) -> npt.NDArray[np.int64]:
        place = refit(Earlier(loaded, store.last_day - cut), radio, listed(cut)).rank[low:high]
        taken = np.flatnonzero(place)
        return taken[np.argsort(place[taken], kind="stable")]

    names = [YOURS] if len(radios) == 1 else [f"rules of {radio.name}" for radio in radios.values()]
    return {name: partial(rank, radio) for name, radio in zip(names, radios.values(), strict=True)}
