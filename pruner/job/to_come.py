"""What the rules at a limit will name of the calls to come: refits on what was known earlier, scored on what came after.

Receives what was loaded and a radio, hands on figures for summary.json. At a cut the same rules choose by the calls known until
then, among the contacts that the directory had then. Where these are not known they choose among those of today, and only what
certainly stood there counts: whoever else has a place would at most have left it to others, so that is a lower bound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from pruner.account.coverage import CallsToCome, ShareToCome, Strangers
from pruner.calls.forecast import (
    CONFIDENCE,
    FEWEST_CALLS,
    FEWEST_DAYS,
    WIDEST,
    Interval,
    Scored,
    corrected,
    forecast,
    variance_of_stations,
    variance_of_weeks,
)
from pruner.calls.stations import day_number
from pruner.history.first_seen import FOLDER, forget_others, remember, stood_there
from pruner.job.choose import choose, room_in, whole_queue
from pruner.job.contact_calls import ContactCalls
from pruner.job.load import Loaded
from pruner.settings.models import Radio
from pruner.words import schema
from pruner.words.nouns import counted, last_days
from pruner.words.outcomes import Reason

Mask = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
#: Limits for which the variance of stations is averaged, as parts of everybody.
_GRID: Final = (0.05, 0.1, 0.2, 0.4, 0.7)
_WEEK: Final = 7
#: Ids are given out in rising order within so many (common practice, no source).
_THOUSAND: Final = 1000
#: A lower bound lies so many times lower as those call who have a place and did not certainly stand there.
_LOWERED: Final = 2.0


@dataclass(frozen=True, slots=True)
class Came:
    """The calls that came after a cut, on the talkgroups that count: per contact `calls`, of callers in no directory
    `unknown` (one entry each), and by week and contact `week`, `place`, `amount` (place -1: unknown)."""

    calls: Floats
    unknown: Floats
    week: npt.NDArray[np.int64]
    place: npt.NDArray[np.int64]
    amount: Floats

    @property
    def total(self) -> float:
        return float(self.calls.sum() + self.unknown.sum())


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

    def calls(self, *, half: bool = False) -> ContactCalls:
        """The calls of then, of the whole log or its later half."""
        now = self.loaded.calls
        assert now is not None
        return now.earlier(self.back, half=half)

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

    def refitted(self, directory: Mask | None, *, half: bool = False) -> Loaded:
        """What was loaded, with the calls of then. `directory`: who may be chosen (None: everybody)."""
        now = self.loaded
        calls = self.calls(half=half)
        contacts = now.contacts.with_calls(calls)
        then = replace(now, contacts=contacts, calls=calls, rules=now.rules.with_calls(contacts), owners={})
        if directory is not None:
            for radio in now.settings.radios:
                ownership = then.ownership(radio)
                absent = ~directory & (ownership.reason == Reason.NONE)
                ownership.reason[absent] = Reason.NO_RULE
                ownership.owner[absent] = -1
        return then

    def came(self, talkgroups: tuple[int, ...] | None) -> Came:
        """The calls of the `back` days after then."""
        calls, contacts = self.loaded.calls, self.loaded.contacts
        assert calls is not None
        columns: list[list[npt.NDArray[Any]]] = [[], [], []]
        unknown = []
        for system, store in calls.stores.items():
            low, high = np.searchsorted(contacts.system, np.array([0, 1]) + schema.SYSTEM_NAMES.index(system)).tolist()
            since = store.part(store.last_day - self.back + 1, store.last_day)
            rows = since.rows(talkgroups)
            ids, amount = rows["id"].to_numpy().astype(np.int64), rows["calls"].to_numpy().astype(np.float64)
            week = (rows.select(day_number()).to_series().to_numpy() - since.first_day) // _WEEK
            number = contacts.number[low:high]
            place = np.minimum(np.searchsorted(number, ids), max(high - low - 1, 0))
            known = number[place] == ids if high > low else np.zeros(len(ids), dtype=bool)
            strange = ~known & (ids > 0)  # id 0 is nobody's: its calls are those of several call signs
            _, other = np.unique(ids[strange], return_inverse=True)
            unknown += [np.bincount(other.reshape(-1), weights=amount[strange]), since.nameless_calls(talkgroups)]
            for column, values in zip(columns, (week, np.where(known, place + low, -1), amount), strict=True):
                column.append(values)
        week, place, amount = (np.concatenate(column) for column in columns)
        inside = place >= 0
        per_contact = np.bincount(place[inside], weights=amount[inside], minlength=len(contacts)).astype(np.float64)
        return Came(per_contact, np.concatenate(unknown), week, place, amount)


@dataclass
class Refit:
    """Who is kept in one refit of one radio, and the ranks (0: none); ids of carried entries have the ranks of these. `stood`:
    who counts as named, because they stood in the directory."""

    rank: npt.NDArray[np.uint32]
    kept: Mask
    stood: Mask

    def named(self, limit: int | None) -> Mask:
        """Who has a name, at the radio's own limit (None) or another."""
        chosen = self.kept if limit is None else (self.rank > 0) & (self.rank <= limit)
        return chosen & self.stood

    def share(self, came: Came, limit: int | None) -> float:
        return float(came.calls[self.named(limit)].sum()) / came.total


def calls_to_come(loaded: Loaded, radio: Radio, limits: Sequence[int] = ()) -> CallsToCome | None:
    """The share of the calls of the next period that the radio will name, for summary.json; None without logs.

    `share`, `low`, `high` are null where there is no figure, and `why` tells the reason; where only a lower bound is known,
    `share` and `high` are null. `by_limit`: the same at other limits (`limits`: additional ones).
    """
    calls = loaded.calls
    if calls is None or not calls.stores:
        return None
    period = loaded.settings.calls.period_days
    mine = loaded.settings.talkgroups.mine or None
    days = min(len(store.calendar.days) for store in calls.stores.values())
    said = CallsToCome(period_days=period, confidence=CONFIDENCE, talkgroups="mine" if mine else "all")
    if days < max(FEWEST_DAYS, 2 * period):
        least = max(FEWEST_DAYS, 2 * period)
        return said.model_copy(update={"why": f"The logs cover {counted(days, 'day')}; a figure needs {least:,}."})
    earlier = Earlier(loaded, period)
    came = earlier.came(mine)
    said = said.model_copy(update={"calls": round(came.total)})
    if came.total < FEWEST_CALLS:
        scored, where = counted(round(came.total), "call"), "on your talkgroups" if mine else "on all talkgroups"
        why = f"Only {scored} came {where} in {last_days(period)} of the logs; a figure needs {FEWEST_CALLS:,}."
        return said.model_copy(update={"why": why})
    return _figures(said, loaded, radio, earlier, came, days, limits)


def _figures(
    said: CallsToCome, loaded: Loaded, radio: Radio, earlier: Earlier, came: Came, days: int, limits: Sequence[int]
) -> CallsToCome:
    listed = earlier.listed()
    is_bound = not listed.recorded
    whole, half = (refit(earlier, radio, listed, half=half) for half in (False, True))
    then = days - earlier.back
    of_stations = _stations(whole, came)

    def at(limit: int | None) -> Interval:
        share = whole.share(came, limit)
        known = came.place >= 0
        named = known & whole.named(limit)[np.maximum(came.place, 0)]
        totals = np.bincount(came.week, weights=came.amount).astype(np.float64)
        with_name = np.bincount(came.week, weights=came.amount * named, minlength=len(totals)).astype(np.float64)
        of_weeks = variance_of_weeks(totals, with_name)
        if not is_bound:
            return forecast([Scored(share, then, of_stations, of_weeks)], half.share(came, limit), days)
        own = max(of_stations, _variance(came, whole.named(limit)))
        found = forecast([Scored(share, then, own, of_weeks)], half.share(came, limit), days, is_bound=True)
        doubtful = replace(whole, stood=~whole.stood).share(came, limit)
        return replace(found, low=max(found.low - _LOWERED * doubtful, 0.0))

    share, low, high, why = None, None, None, None
    here = at(None)
    if is_bound:
        low = round(here.low, 6)
        why = (
            f"This is a lower bound, because it is not known which stations the directory had {earlier.back:,} days ago. Every "
            f"run remembers them from now on; once the log goes on for {earlier.back:,} days more, an interval stands here."
        )
    elif here.high - here.low > WIDEST:
        why = f"Nobody can know: the logs allow for anything from {here.low:.0%} to {here.high:.0%} of the calls to come."
    else:
        share, low, high = round(here.share, 6), round(here.low, 6), round(here.high, 6)
    at_limits = [] if radio.memory else [_at_limit(limit, at(limit), is_bound) for limit in _limits(whole, limits)]
    strangers = _strangers(loaded, earlier, came, whole, days)
    found = {"share": share, "low": low, "high": high, "why": why, "strangers": strangers, "by_limit": tuple(at_limits)}
    return said.model_copy(update=found)


def _at_limit(limit: int, found: Interval, is_bound: bool) -> ShareToCome:
    known = not is_bound and found.high - found.low <= WIDEST
    return ShareToCome(
        contacts=limit,
        share=round(found.share, 6) if known else None,
        low=round(found.low, 6) if known or is_bound else None,
        high=round(found.high, 6) if known else None,
    )


def _limits(whole: Refit, limits: Sequence[int]) -> list[int]:
    most = int(whole.rank.max(initial=0))
    steps = {factor * 10**power for power in range(2, 8) for factor in (1, 2, 5)}
    inside = (limit for limit in (*steps, *limits) if limit < most)  # larger ones name as many as everybody
    return sorted({*inside, *([most] if most else [])})


def refit(earlier: Earlier, radio: Radio, listed: Listed, *, half: bool = False) -> Refit:
    """What a radio would have kept then. `listed`: who may be chosen, and who counts; `half`: by half the log."""
    then = earlier.refitted(listed.choosable, half=half)
    # Ranks beyond the limit are those of a larger radio too: whose call sign is borne already may depend on the limit.
    choice = choose(then, radio) if radio.memory else whole_queue(then, radio)
    rank = choice.fit.rank
    kept = choice.kept if radio.memory else (rank > 0) & (rank <= room_in(then, radio))
    if choice.carried is not None:
        entries = choice.carried
        slot = schema.SYSTEM_NAMES.index(entries.system)
        low, high = np.searchsorted(then.contacts.system, np.array([slot, slot + 1])).tolist()
        place = np.minimum(np.searchsorted(then.contacts.number[low:high], entries.number), max(high - low - 1, 0)) + low
        same = np.flatnonzero(then.contacts.number[place] == entries.number) if high > low else place[:0]
        rank, kept = rank.copy(), kept.copy()
        rank[place[same]] = same + 1
        kept[place[same]] = same < (entries.kept if radio.memory else room_in(then, radio))
    return Refit(rank, kept, listed.stood)


def _stations(whole: Refit, came: Came) -> float:
    """The variance of stations, averaged over limits."""
    most = int(whole.rank.max(initial=0))
    return float(np.mean([_variance(came, whole.named(int(part * most))) for part in _GRID]))


def _variance(came: Came, named: Mask) -> float:
    nobody = np.zeros(len(came.unknown), dtype=bool)
    return variance_of_stations(np.concatenate([came.calls, came.unknown]), np.concatenate([named, nobody]))


def _strangers(loaded: Loaded, earlier: Earlier, came: Came, whole: Refit, days: int) -> Strangers:
    """The share of calls from stations that were not heard on these talkgroups before, and how much of it is named."""
    assert loaded.calls is not None
    mine = loaded.settings.talkgroups.mine or None
    shares = []
    fresh = np.zeros(len(came.calls), dtype=bool)
    for half in (True, False):
        fresh = earlier.calls(half=half).calls(mine, None) == 0
        shares.append((float(came.calls[fresh].sum()) + float(came.unknown.sum())) / came.total)
    with_half, share = shares
    factor = min(1.0, share / with_half) if with_half else 1.0
    now = 1.0 - corrected(1.0 - share, factor, days, days - earlier.back, part=1.0)
    named = float(came.calls[fresh & whole.named(None)].sum()) / (share * came.total) if share else 1.0
    return Strangers(share=round(now, 6), named=round(named, 6))
