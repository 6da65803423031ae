"""How much of what is heard each order would have named: the proof on held-out days, with the user's contacts and logs.

Receives settings, hands on one `SystemProof` per system that has a heard store. Writes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from pruner.ask.rankings import listed_then, own_rules, rankings
from pruner.calls.covered import CoveredStore
from pruner.calls.proof import CONFIDENCE, Estimate, Proof, cut_days, prove
from pruner.job.load import Loaded, load
from pruner.settings.models import Settings
from pruner.words import schema
from pruner.words.days import date_of
from pruner.words.errors import NothingToDoError, SettingsError
from pruner.words.outcomes import Reason
from pruner.words.progress import Progress, silent

#: Common sizes of contact memories (common practice, no source), beside those of the settings' radios.
LIMITS: Final = (10_000, 50_000, 100_000, 200_000, 500_000)
CUTS: Final = 4

Talkgroups = tuple[int, ...] | None


@dataclass(frozen=True, slots=True)
class SystemProof:
    """The proof for one system. `contacts`: how many may be chosen today; `talkgroups`: None for all; `known_until`: the
    dates of the cuts; `listed`: how many counted at each, because the directory had them; `recorded`: whether runs recorded
    that, else everybody of today could be chosen, and only those counted that certainly stood there; `notes`: what the order
    `expected` said of itself, the latest cut first; `calls`, `calendar`: what is to be said of calls and days of the log."""

    system: str
    contacts: int
    talkgroups: Talkgroups
    proof: Proof
    known_until: tuple[date, ...]
    listed: tuple[int, ...]
    recorded: tuple[bool, ...]
    notes: tuple[str, ...]
    calls: tuple[str, ...] = ()
    calendar: tuple[str, ...] = ()

    def plain(self) -> dict[str, object]:
        """For JSON: shares from 0 to 1; `interval` is null where the log is too short for one."""
        proof = self.proof
        return {
            "system": self.system,
            "contacts": self.contacts,
            "talkgroups": list(self.talkgroups) if self.talkgroups else None,
            "known_until": [str(day) for day in self.known_until],
            "contacts_then": list(self.listed),
            "contacts_recorded": list(self.recorded),
            "period_days": proof.period_days,
            "weeks": proof.weeks,
            "calls": proof.calls,
            "calls_of_contacts": proof.known,
            "confidence": CONFIDENCE,
            "coverage": [
                {"order": name, "contacts": limit, **_plain(estimate)}
                for name, estimates in proof.coverage.items()
                for limit, estimate in zip(proof.limits, estimates, strict=True)
            ],
            "lead": [
                {"order": one, "over": other, "contacts": limit, **_plain(estimate)}
                for (one, other), estimates in proof.lead.items()
                for limit, estimate in zip(proof.limits, estimates, strict=True)
            ],
            "notes": [*self.calls, *self.notes],
            "calendar": list(self.calendar),
        }


def _plain(estimate: Estimate) -> dict[str, object]:
    bounds = None if estimate.low is None or estimate.high is None else [round(estimate.low, 6), round(estimate.high, 6)]
    return {"share": round(estimate.value, 6), "interval": bounds}


def prove_orders(
    settings: Settings,
    *,
    cuts: int = CUTS,
    period_days: int | None = None,
    limits: Sequence[int] = (),
    talkgroups: str | None = None,
    progress: Progress = silent,
) -> list[SystemProof]:
    """Coverage of the rules and of every order on the days after each of `cuts` cuts. `period_days` None: as the settings say;
    `limits` empty: common ones and those of the radios; `talkgroups`: "mine", "all" or None (mine, if there are any).

    Contacts that a drop rule leaves out are not chosen. Raises SettingsError for `mine` without talkgroups in the settings,
    NothingToDoError where the logs are missing or too short.
    """
    mine = settings.talkgroups.mine or None
    if talkgroups == "mine" and mine is None:
        raise SettingsError("coverage: --talkgroups mine: the settings name none; add [talkgroups] mine = [...]")
    counting = None if talkgroups == "all" else mine
    period = period_days or settings.calls.period_days
    loaded = load(settings, progress)
    if loaded.calls is None:
        raise NothingToDoError("coverage: no heard calls are known; name logs in [[heard]] and run pruner heard fold")
    found = []
    for system, store in loaded.calls.stores.items():
        progress(f"proving {system}")
        found.append(_prove(loaded, system, store, counting, cuts, period, limits))
    return found


def _prove(
    loaded: Loaded, system: str, store: CoveredStore, talkgroups: Talkgroups, cuts: int, period_days: int, limits: Sequence[int]
) -> SystemProof:
    days = cut_days(store.first_day, store.last_day, cuts, period_days)
    if not days:
        raise NothingToDoError(
            f"coverage: the heard calls ({system}) cover {store.last_day - store.first_day + 1} days; a period of "
            f"{period_days} days to choose by and one to score on take {2 * period_days}; wait, or name a shorter --period"
        )
    slot = schema.SYSTEM_NAMES.index(system)
    low, high = np.searchsorted(loaded.contacts.system, (slot, slot + 1)).tolist()
    contacts = loaded.contacts.part(low, high)
    not_left_out = loaded.rules.owners(()).reason[low:high] != Reason.LEFT_OUT
    listed = {cut: listed_then(loaded, store, cut) for cut in days}
    allowed = {cut: not_left_out & one.stood[low:high] for cut, one in listed.items()}
    choosable = {cut: allowed[cut] if one.recorded else not_left_out for cut, one in listed.items()}
    dates = tuple(date_of(store.calendar.real(cut)) for cut in days)
    notes: list[str] = []
    assert loaded.calls is not None
    orders = own_rules(loaded, store, low, high, listed.__getitem__) | rankings(
        contacts,
        loaded.calls.strangers(store, slice(low, high), talkgroups),
        lambda cut: np.flatnonzero(choosable[cut]),
        window_days=loaded.settings.calls.window_days,
        period_days=period_days,
        notes=notes,
    )
    today = int(not_left_out.sum())
    try:
        proof = prove(
            store.rows(talkgroups),
            contacts.number,
            orders,
            limits=limits or _limits(loaded.settings, today),
            cuts=days,
            period_days=period_days,
            allowed=allowed.__getitem__,
        )
    except ValueError:
        on = " on talkgroups " + ", ".join(map(str, talkgroups)) if talkgroups else ""
        raise NothingToDoError(f"coverage: nothing was heard ({system}) after {dates[-1]}{on}") from None
    then, recorded = tuple(int(allowed[cut].sum()) for cut in days), tuple(listed[cut].recorded for cut in days)
    said = tuple(notes), _of_calls(store), tuple(store.calendar.notes())
    return SystemProof(system, today, talkgroups, proof, dates, then, recorded, *said)


def _of_calls(store: CoveredStore) -> tuple[str, ...]:
    by_callsign, known = store.callsign_calls()
    if not by_callsign:
        return ()
    return (
        f"{by_callsign:,} calls of the log name only a call sign; {known:,} of them count for the id of that call sign that "
        "was heard most, because which one called is not known.",
    )


def _limits(settings: Settings, contacts: int) -> list[int]:
    """The common limits and those of the radios that do not hold everybody (else parts of the whole), and as many as
    there are."""
    of_radios = {radio.contacts for radio in settings.radios if radio.contacts}
    smaller = sorted(limit for limit in {*LIMITS, *of_radios} if limit < contacts)
    parts = sorted({max(contacts // part, 1) for part in (10, 4, 2)})
    return [*(smaller or parts), max(contacts, 1)]
