"""Heard logs tried out, with nothing written to the state: which cannot be read, and whom the directory knows of the callers.

Receives settings and what was loaded of them, hands on lines and counts. Logs that are not too large are folded into a folder
that vanishes.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from pruner.calls.parts import day_name
from pruner.calls.weights import Weights, load_weights
from pruner.job.load import Loaded
from pruner.logs.files import FoldResult
from pruner.logs.fold import fold_files, settings_logs
from pruner.settings.models import Settings
from pruner.words import schema
from pruner.words.nouns import counted
from pruner.words.progress import Progress, silent

#: Logs that are larger in all are opened only.
MOST_BYTES: Final = 64_000_000


@dataclass(frozen=True, slots=True)
class KnownCallers:
    """Callers in the logs of a system and their calls on covered days, `first_day` to `last_day` (UTC), and how many of both
    the directory knows; callers of whom only a call sign is known count by call sign."""

    system: str
    first_day: str
    last_day: str
    callers: int
    known: int
    calls: int
    calls_known: int

    def sentence(self) -> str:
        """The counts in words."""
        known, named = (f"{100 * part / whole:.1f} %" for part, whole in self._shares)
        return (
            f"{self.system}: of {counted(self.callers, 'caller')} heard from {self.first_day} to {self.last_day} (days in UTC) "
            f"the directory knows {self.known:,} ({known}), who made {self.calls_known:,} of the "
            f"{counted(self.calls, 'call')} ({named})"
        )

    @property
    def _shares(self) -> tuple[tuple[int, int], tuple[int, int]]:
        return (self.known, self.callers), (self.calls_known, self.calls)

    def plain(self) -> dict[str, Any]:
        """For JSON."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class HeardTrial:
    """`folded`: what came of the logs, None where they were opened only; `known` by system."""

    folded: FoldResult | None
    known: list[KnownCallers]


def try_logs(settings: Settings, loaded: Loaded | None, progress: Progress = silent) -> HeardTrial:
    """Tries the heard logs of settings. Of callers the store tells; where nothing was folded yet, what the logs hold."""
    if not settings.heard:
        return HeardTrial(None, [])
    with tempfile.TemporaryDirectory(prefix="pruner-check-") as folder:
        logs, folded = settings_logs(settings)
        is_small = sum(path.stat().st_size for one in logs for path in one.paths if path.is_file()) <= MOST_BYTES
        if is_small:
            folded.add(fold_files(Path(folder), logs, progress))
        stores = dict(_stores(settings, loaded, Path(folder) / "heard")) if loaded else {}
        known = [_known(system, weights, loaded) for system, weights in stores.items()] if loaded else []
    return HeardTrial(folded if is_small else None, [one for one in known if one.calls])


def _stores(settings: Settings, loaded: Loaded, tried: Path) -> Iterator[tuple[str, Weights]]:
    """The store of each system, joined to the directory."""
    if loaded.calls is not None:
        yield from ((system, store.weights) for system, store in loaded.calls.stores.items())
        return
    for system in dict.fromkeys(source.system for source in settings.sources):
        weights = load_weights(tried / system, tolerance=settings.calls.tolerance_seconds)
        if weights is not None:
            low, high = _places(loaded, system)
            yield system, weights.joined(loaded.contacts.number[low:high], loaded.contacts.callsign[low:high])


def _places(loaded: Loaded, system: str) -> tuple[int, int]:
    slot = schema.SYSTEM_NAMES.index(system)
    low, high = np.searchsorted(loaded.contacts.system, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
    return low, high


def _known(system: str, weights: Weights, loaded: Loaded) -> KnownCallers:
    by_id = np.zeros(schema.ADDRESSES, dtype=np.int64)
    for rows in weights.tables(["id", "calls"]):
        np.add.at(by_id, rows["id"].to_numpy(), rows["calls"].to_numpy())
    total = int(by_id.sum())
    by_id[0] = 0  # nobody's
    signs = {sign for rows in weights.nameless() for sign in rows["callsign"]}
    heard = np.flatnonzero(by_id)
    low, high = _places(loaded, system)
    known = heard[np.isin(heard, loaded.contacts.number[low:high])]
    days = day_name(weights.first_day), day_name(weights.last_day)
    return KnownCallers(system, *days, len(heard) + len(signs), len(known), total, int(by_id[known].sum()))
