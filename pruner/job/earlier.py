"""What was known on an earlier day, and what a radio would have kept then.

Receives what was loaded, hands on the same as it was so many covered days ago. At a cut the same rules choose by the calls
known until then, among the contacts that the directory had then. Where these are not known they choose among those of today,
and only what certainly stood there counts: whoever else has a place would at most have left it to others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.history.first_seen import FOLDER, first_run, forget_others, remember, stood_there
from pruner.job.choose import choose, room_in, whole_queue
from pruner.job.contact_calls import ContactCalls
from pruner.job.load import Loaded
from pruner.settings.models import Radio
from pruner.words import schema
from pruner.words.outcomes import Reason

Mask = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
#: Ids are given out in rising order within so many (common practice, no source).
_THOUSAND: Final = 1000


def remember_directory(loaded: Loaded) -> None:
    """Notes which ids stand in each source on the last day that the logs cover."""
    if loaded.calls is None:
        return
    folder = loaded.settings.output.state / FOLDER
    for index, source in enumerate(loaded.settings.sources):
        store = loaded.calls.stores.get(source.system)
        if store is not None:
            remember(folder, source.name, loaded.contacts.number[loaded.contacts.source == index], store.last_day)
    forget_others(folder, {source.name for source in loaded.settings.sources})


@dataclass(frozen=True, slots=True)
class Listed:
    """What is known of the directory of an earlier day. `stood`: contacts that stood in it, as the runs recorded it
    (`recorded`), else those that certainly did."""

    stood: Mask
    recorded: bool

    @property
    def choosable(self) -> Mask | None:
        """Who may be chosen; None for everybody, because whoever was not there only takes places."""
        return self.stood if self.recorded else None


@dataclass
class Earlier:
    """What was known `back` covered days ago."""

    loaded: Loaded
    back: int

    def calls(self) -> ContactCalls:
        """The calls of then."""
        now = self.loaded.calls
        assert now is not None
        return now.earlier(self.back)

    def directory(self) -> Mask | None:
        """Which contacts stood in the directory then; None where that is not known."""
        calls, contacts = self.loaded.calls, self.loaded.contacts
        assert calls is not None
        stood = np.ones(len(contacts), dtype=bool)
        for index, source in enumerate(self.loaded.settings.sources):
            store, mine = calls.stores.get(source.system), np.flatnonzero(contacts.source == index)
            if store is None:
                continue
            day = store.calendar.real(store.last_day - self.back)
            found = stood_there(self.loaded.settings.output.state / FOLDER, source.name, contacts.number[mine], day)
            if found is None:
                return None
            stood[mine] = found
        return stood

    def days_missing(self) -> int:
        """For how many more covered days the log has to go on until a run recorded the directory of `back` days ago."""
        calls, settings = self.loaded.calls, self.loaded.settings
        assert calls is not None
        missing = 0
        for source in settings.sources:
            store = calls.stores.get(source.system)
            if store is None:
                continue
            begun = first_run(settings.output.state / FOLDER, source.name)
            begun = store.last_day if begun is None else min(begun, store.last_day)
            since = int(store.calendar.counted(np.array([begun]))[0])
            missing = max(missing, since - (store.last_day - self.back))
        return missing

    def listed(self) -> Listed:
        """What is known of the directory of then."""
        recorded = self.directory()
        return Listed(self.heard_thousands(), recorded=False) if recorded is None else Listed(recorded, recorded=True)

    def heard_thousands(self) -> Mask:
        """Contacts with a number up to the highest that was heard in their thousand by then: they certainly stood there."""
        contacts, stood = self.loaded.contacts, np.zeros(len(self.loaded.contacts), dtype=bool)
        for system, store in self.calls().stores.items():
            ids = np.unique(store.rows()["id"].to_numpy())
            highest = np.zeros(schema.ADDRESSES // _THOUSAND + 1, dtype=np.uint32)
            np.maximum.at(highest, ids // _THOUSAND, ids)
            mine = contacts.system == schema.SYSTEM_NAMES.index(system)
            stood |= mine & (contacts.number <= highest[contacts.number // _THOUSAND])
        return stood

    def refitted(self, directory: Mask | None) -> Loaded:
        """What was loaded, with the calls of then. `directory`: who may be chosen (None: everybody)."""
        now = self.loaded
        calls = self.calls()
        contacts = now.contacts.with_calls(calls)
        then = replace(now, contacts=contacts, calls=calls, rules=now.rules.with_calls(contacts), owners={})
        if directory is not None:
            for radio in now.settings.radios:
                ownership = then.ownership(radio)
                absent = ~directory & (ownership.reason == Reason.NONE)
                ownership.reason[absent] = Reason.NO_RULE
                ownership.owner[absent] = -1
        return then


@dataclass(frozen=True, slots=True)
class Chosen:
    """Whom a radio keeps: the first `room` ranks (0: none), or, where its limit is bytes, those of `kept`; ids of carried
    entries have the ranks of these. `stood`: who counts as named, because they stood in the directory."""

    rank: npt.NDArray[np.uint32]
    kept: Mask
    room: int | None
    stood: Mask

    def sums(self, values: Floats) -> Callable[[int | None], float]:
        """The sum of one value per contact over those who have a name, at the radio's own limit (None) or another."""
        counted = values * self.stood
        own = float(counted[self.kept].sum())
        until = np.cumsum(np.bincount(self.rank, weights=counted))
        until -= until[0]

        def at(limit: int | None) -> float:
            room = self.room if limit is None else limit
            return own if room is None else float(until[min(room, len(until) - 1)])

        return at


def refit(earlier: Earlier, radio: Radio, listed: Listed) -> Chosen:
    """What a radio would have kept then. `listed`: who may be chosen, and who counts."""
    return chosen_of(earlier.refitted(listed.choosable), radio, listed.stood)


def chosen_of(loaded: Loaded, radio: Radio, stood: Mask) -> Chosen:
    """Who is kept in a radio at its own limit and any other. `stood`: who counts as named."""
    # Ranks beyond the limit are those of a larger radio too: whose call sign is borne already may depend on the limit.
    choice = choose(loaded, radio) if radio.memory else whole_queue(loaded, radio)
    rank, kept, room = choice.fit.rank, choice.kept, room_in(loaded, radio)
    if choice.carried is not None:
        entries = choice.carried
        slot = schema.SYSTEM_NAMES.index(entries.system)
        low, high = np.searchsorted(loaded.contacts.system, np.array([slot, slot + 1])).tolist()
        place = np.minimum(np.searchsorted(loaded.contacts.number[low:high], entries.number), max(high - low - 1, 0)) + low
        same = np.flatnonzero(loaded.contacts.number[place] == entries.number) if high > low else place[:0]
        rank, kept = rank.copy(), kept.copy()
        rank[place[same]] = same + 1
        kept[place[same]] = same < entries.kept
    return Chosen(rank, kept, None if radio.memory else room, stood)
