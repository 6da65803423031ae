"""Whom the directory knows of those who were heard.

Receives settings, hands on the opened store with its calls joined to the directory, and what the directory says of ids.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pruner.calls.weights import Weights, load_weights
from pruner.job.load import Loaded, load
from pruner.job.texts import written_contacts
from pruner.settings.models import Settings
from pruner.words import schema
from pruner.words.errors import PrunerError


@dataclass(frozen=True, slots=True)
class Caller:
    """What a directory says of an id, as it would be written; a name is a claim."""

    callsign: str
    name: str
    country: str


@dataclass(frozen=True, slots=True)
class Heard:
    """A system's store (None: nothing was folded) and the directory (None: there is none; `note` says if it cannot be read)."""

    system: str
    weights: Weights | None
    directory: Loaded | None = None
    note: str = ""

    def callers(self, ids: Sequence[int]) -> dict[int, Caller]:
        """What the directory says of ids, of those it has."""
        if self.directory is None or not ids:
            return {}
        contacts = self.directory.contacts
        slot = schema.SYSTEM_NAMES.index(self.system)
        low, high = np.searchsorted(contacts.system, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
        wanted = np.unique(np.array(ids, dtype=np.uint32))
        places = np.flatnonzero(np.isin(contacts.number[low:high], wanted)) + low
        if not len(places):
            return {}
        records, number, country = self.directory.records[places], contacts.number[places], contacts.country[places]
        frame, _ = written_contacts(self.directory.sources, records, number, country)
        texts = zip(*(frame[name].to_list() for name in ("callsign", "first_name", "last_name", "country")), strict=True)
        return {
            number: Caller(callsign or "", " ".join(filter(None, (first, last))), country or "")
            for number, (callsign, first, last, country) in zip(frame["id"].to_list(), texts, strict=True)
        }


def heard_of(settings: Settings, system: str) -> Heard:
    """The store of a system and the directory of the settings. Where that cannot be read, the store is shown without it."""
    folder = settings.output.state / "heard" / system
    weights = load_weights(folder, tolerance=settings.calls.tolerance_seconds)
    if weights is None or not any(source.system == system for source in settings.sources):
        return Heard(system, weights)
    try:
        loaded = load(settings, with_calls=False)  # what knows calls would hold the store for longer
    except PrunerError as error:
        return Heard(system, weights, note=f"{'; '.join(str(error).splitlines())}; callers are shown without the directory")
    if weights.by_callsign is None:
        return Heard(system, weights, loaded)
    slot = schema.SYSTEM_NAMES.index(system)
    low, high = np.searchsorted(loaded.contacts.system, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
    number, callsign = loaded.contacts.number[low:high], loaded.contacts.callsign[low:high]
    return Heard(system, weights.joined(number, callsign), loaded)


def heard_in(state: Path, system: str) -> Heard:
    """The store of a system under a state folder, without a directory."""
    return Heard(system, load_weights(state / "heard" / system))
