"""What the heard logs say of contacts, as the rules ask for it.

Receives the stores of heard logs, hands on one number per contact: last call, calls, expected calls; and the coverage of
a choice. A contact of one system is never mixed with the same number in another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Protocol

import numpy as np
import numpy.typing as npt

from pruner.account.coverage import CallsignCalls, Coverage, CoverageSummary, LimitShare
from pruner.settings.models import Settings
from pruner.words import schema

if TYPE_CHECKING:
    from pruner.calls.alike import Traits
    from pruner.calls.covered import CoveredStore
    from pruner.calls.strangers import Strangers

Talkgroups = tuple[int, ...] | None


class CarriedNumbers(Protocol):
    """Ids of the entries that a radio carries, of which the first `kept` have room."""

    @property
    def system(self) -> str: ...

    @property
    def number(self) -> npt.NDArray[np.uint32]: ...

    @property
    def kept(self) -> int: ...


def load_calls(settings: Settings, systems: Sequence[str]) -> dict[str, CoveredStore]:
    """The stores that hold anything, by system."""
    folders = {system: settings.output.state / "heard" / system for system in systems}
    if not any(folder.is_dir() for folder in folders.values()):
        return {}
    from pruner.calls.covered import load_covered  # only here: most of its cost is paid by those who have heard logs

    tolerance = settings.calls.tolerance_seconds
    found = {system: load_covered(folder, tolerance=tolerance) for system, folder in folders.items() if folder.is_dir()}
    return {system: store for system, store in found.items() if store is not None}


@dataclass
class ContactCalls:
    """Calls of contacts (`rules.contacts.Calls`): `number` uint32, `system` uint8, ordered by system and id; `traits` are those
    of some of them (`job.traits`)."""

    stores: dict[str, CoveredStore]
    number: npt.NDArray[np.uint32]
    system: npt.NDArray[np.uint8]
    traits: Callable[[slice], Traits]
    period_days: int
    notes: dict[str, str] = field(default_factory=dict)
    _expected: dict[Talkgroups, npt.NDArray[np.float64]] = field(default_factory=dict)
    _last: dict[Talkgroups, npt.NDArray[np.int64]] = field(default_factory=dict)
    _calls: dict[tuple[Talkgroups, int | None], npt.NDArray[np.uint32]] = field(default_factory=dict)
    _totals: dict[tuple[Talkgroups, int], int] = field(default_factory=dict)
    _earlier: dict[int, ContactCalls] = field(default_factory=dict)

    def earlier(self, back: int) -> ContactCalls:
        """The same as it was known `back` covered days before the last."""
        if back not in self._earlier:
            stores = {
                system: store.part(store.first_day, store.last_day - back)
                for system, store in self.stores.items()
                if store.last_day - back >= store.first_day
            }
            self._earlier[back] = ContactCalls(stores, self.number, self.system, self.traits, self.period_days)
        return self._earlier[back]

    @cached_property
    def _parts(self) -> list[tuple[CoveredStore, slice]]:
        parts = []
        for slot, name in enumerate(schema.SYSTEM_NAMES):
            low, high = np.searchsorted(self.system, (slot, slot + 1)).tolist()
            if name in self.stores and low < high:
                parts.append((self.stores[name], slice(low, high)))
        return parts

    def last_heard(self, talkgroups: Talkgroups) -> npt.NDArray[np.int64]:
        """Time of the last call in milliseconds since 1970, 0 for never."""
        if talkgroups not in self._last:
            self._last[talkgroups] = self._read_last_heard(talkgroups)
        return self._last[talkgroups]

    def _read_last_heard(self, talkgroups: Talkgroups) -> npt.NDArray[np.int64]:
        last = np.zeros(len(self.number), dtype=np.int64)
        for store, part in self._parts:
            last[part] = store.last_heard(self.number[part], talkgroups)
        return last

    def calls(self, talkgroups: Talkgroups, within_days: int | None) -> npt.NDArray[np.uint32]:
        """Calls in the last days of the log (None: in all of it). Not to be changed by the caller."""
        if (talkgroups, within_days) not in self._calls:
            self._calls[talkgroups, within_days] = self._read_calls(talkgroups, within_days)
        return self._calls[talkgroups, within_days]

    def _read_calls(self, talkgroups: Talkgroups, within_days: int | None) -> npt.NDArray[np.uint32]:
        calls = np.zeros(len(self.number), dtype=np.uint32)
        for store, part in self._parts:
            calls[part] = store.calls(self.number[part], talkgroups, within_days)
        return calls

    def expected(self, talkgroups: Talkgroups) -> npt.NDArray[np.float64]:
        """Calls to expect in the next period."""
        from pruner.calls.expected import expected_calls

        if talkgroups not in self._expected:
            expected = np.zeros(len(self.number))
            for store, part in self._parts:
                found = expected_calls(
                    store.rows(talkgroups),
                    self.strangers(store, part, talkgroups),
                    last_day=store.last_day,
                    period_days=self.period_days,
                )
                expected[part] = found.calls
                self.notes[found.method] = found.note
            self._expected[talkgroups] = expected
        return self._expected[talkgroups]

    def strangers(self, store: CoveredStore, part: slice, talkgroups: Talkgroups) -> Strangers:
        """What is known of contacts of one system beside their calls on the talkgroups that count."""
        import polars as pl  # for those who have heard logs

        from pruner.calls.stations import calling_days
        from pruner.calls.strangers import Strangers

        elsewhere = None
        if talkgroups is not None:
            others = store.rows().filter(~pl.col("talkgroup").is_in(list(talkgroups)))
            elsewhere = calling_days(others, store.last_day)
        return Strangers(self.traits(part), elsewhere)

    def coverage(
        self, kept: npt.NDArray[np.bool_], mine: tuple[int, ...], window_days: int, carried: CarriedNumbers | None = None
    ) -> CoverageSummary:
        """Share of the calls in the window whose caller is kept, on all talkgroups and on `mine`."""
        return CoverageSummary(
            window_days=window_days,
            all=self._share(kept, None, window_days, carried),
            mine=self._share(kept, mine, window_days, carried) if mine else None,
            by_callsign=self._by_callsign(window_days),
        )

    def _by_callsign(self, window_days: int) -> CallsignCalls | None:
        """How many of the calls name only a call sign; None where none does."""
        found = [store.callsign_calls(window_days) for store in self.stores.values() if store.weights.by_callsign is not None]
        if not found:
            return None
        calls, known = (sum(counts) for counts in zip(*found, strict=True))
        return CallsignCalls(calls=calls, in_directory=known)

    def coverage_by_limit(
        self,
        rank: npt.NDArray[np.uint32],
        talkgroups: Talkgroups,
        window_days: int,
        carried: CarriedNumbers | None = None,
    ) -> list[LimitShare]:
        """What other limits would have covered with the same rules: `contacts`, `share`, at 100, 200, 500, 1,000 and
        so on, at up to 50 limits in equal steps, and at the last rank. Carried entries have the first ranks."""
        total = self.total(talkgroups, window_days)
        first = self.carried_calls(carried, talkgroups, window_days)
        ranked = max(int(rank.max(initial=0)), len(first))
        if not total or not ranked:
            return []
        by_rank = np.bincount(rank, weights=self.calls(talkgroups, window_days), minlength=ranked + 1)[1:]
        by_rank[: len(first)] += first
        named = np.cumsum(by_rank)
        step = round_step(ranked / 50)
        round_limits = [factor * 10**power for power in range(2, 8) for factor in (1, 2, 5)]
        limits = sorted({*(limit for limit in round_limits if limit < step), *range(step, ranked, step), ranked})
        return [LimitShare(contacts=limit, share=round(float(named[limit - 1]) / total, 6)) for limit in limits]

    def total(self, talkgroups: Talkgroups, window_days: int) -> int:
        """All calls in the window, those of ids that no directory has included."""
        if (talkgroups, window_days) not in self._totals:
            totals = [store.total_calls(talkgroups, window_days) for store in self.stores.values()]
            self._totals[talkgroups, window_days] = sum(totals)
        return self._totals[talkgroups, window_days]

    def carried_calls(self, carried: CarriedNumbers | None, talkgroups: Talkgroups, window_days: int) -> npt.NDArray[np.int64]:
        """Calls in the window of entries that a radio carries, in their order."""
        if carried is None or carried.system not in self.stores:
            return np.zeros(0 if carried is None else len(carried.number), dtype=np.int64)
        return self.stores[carried.system].calls(carried.number, talkgroups, window_days).astype(np.int64)

    def _share(
        self, kept: npt.NDArray[np.bool_], talkgroups: Talkgroups, window_days: int, carried: CarriedNumbers | None
    ) -> Coverage:
        total = self.total(talkgroups, window_days)
        calls = self.calls(talkgroups, window_days).astype(np.int64)
        named, known, room = int(calls[kept].sum()), int(calls.sum()), int(kept.sum())
        if carried is not None:
            own = self.carried_calls(carried, talkgroups, window_days)[: carried.kept]
            named, room = named + int(own.sum()), room + carried.kept
            here = self.number[self.system == schema.SYSTEM_NAMES.index(carried.system)]
            calls = np.concatenate([calls, own[~np.isin(carried.number[: carried.kept], here)]])
        return Coverage(
            calls=total,
            named=named,
            in_directory=known,
            share=round(named / total, 6) if total else None,
            best_share=round(_best(calls, room) / total, 6) if total else None,
        )


def _best(calls: npt.NDArray[np.int64], room: int) -> int:
    """Calls of the contacts that called most: what no choice of as many can exceed."""
    heard = np.sort(calls[calls > 0])[::-1]
    return int(heard[:room].sum())


def round_step(least: float) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50, ... that is not below `least`."""
    step = 1
    while True:
        for factor in (1, 2, 5):
            if step * factor >= least:
                return step * factor
        step *= 10
