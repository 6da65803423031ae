"""Who is heard and has no place in a radio, and which countries have hardly any.

Receives what was loaded and the choice for one radio, hands on calls per contact for the ledger and what the summary
tells of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.account.coverage import Elsewhere, Missed, MissedStation
from pruner.account.ledger import LedgerCalls
from pruner.account.summary import CountryGone
from pruner.job.carried import Carried
from pruner.job.choose import Choice
from pruner.job.load import Loaded
from pruner.reference import countries
from pruner.rules.matching import order_of
from pruner.words import schema
from pruner.words.outcomes import REASON_WORDS, Reason

#: So many of those who are heard most and left out stand in the summary.
NAMED: Final = 20
#: A country is nearly gone where fewer than one in so many of its stations is kept, of so many or more.
_ONE_IN: Final = 10
_FEWEST: Final = 20
#: Orders that look at calls.
_OF_CALLS: Final = ("expected", "often", "recent")

Counts = npt.NDArray[np.uint32]


@dataclass(frozen=True, slots=True)
class Heard:
    """Calls of each contact in the window (uint32), on all talkgroups and on the user's own (None: the settings name none);
    `expected`: calls to expect in the next period (float32, NaN where the order of its rule does not ask for them), and whether
    they come from its own calls (`by_own`) or from stations like it."""

    calls: Counts
    on_mine: Counts | None
    expected: npt.NDArray[np.float32]
    by_own: npt.NDArray[np.bool_]


def heard_contacts(loaded: Loaded, choice: Choice) -> Heard | None:
    """What the logs say of each contact, as the rules of a radio ask for it; None without logs."""
    calls, settings = loaded.calls, loaded.settings
    if calls is None:
        return None
    mine, window = settings.talkgroups.mine or None, settings.calls.window_days
    expected = np.full(len(loaded.contacts), np.nan, dtype=np.float32)
    by_own = np.zeros(len(loaded.contacts), dtype=bool)
    for index, rule in enumerate(choice.rules):
        if order_of(loaded.contacts, settings.order(rule, choice.radio)) == "expected":
            talkgroups = settings.talkgroups_of(rule) or mine
            owned = np.flatnonzero((choice.ownership.owner == index) & (choice.ownership.reason == Reason.NONE))
            expected[owned] = calls.expected(talkgroups)[owned]
            by_own[owned] = calls.calls(talkgroups, None)[owned] > 0
    return Heard(calls.calls(None, window), calls.calls(mine, window) if mine else None, expected, by_own)


def carried_calls(loaded: Loaded, carried: Carried, heard: Heard) -> LedgerCalls:
    """The same of the rows of a radio's export; nothing is expected of them, they come first."""
    assert loaded.calls is not None
    store = loaded.calls
    settings, count = loaded.settings, len(carried.rows.number)

    def counted(talkgroups: tuple[int, ...] | None) -> Counts:
        calls = np.zeros(count, dtype=np.uint32)
        calls[carried.places] = store.carried_calls(carried, talkgroups, settings.calls.window_days)
        return calls

    on_mine = None if heard.on_mine is None else counted(settings.talkgroups.mine)
    return LedgerCalls(counted(None), on_mine, np.full(count, np.nan, dtype=np.float32), np.zeros(count, dtype=bool))


def missed(loaded: Loaded, choice: Choice, heard: Heard) -> Missed:
    """Contacts that were heard in the window and are not kept, for the summary.

    `stations` and `calls` (on all talkgroups) of all of them; `first`: those heard most, first by the user's own talkgroups;
    `elsewhere`: stations and calls of those whom an order passed by because they were heard on other talkgroups only.
    """
    contacts, settings = loaded.contacts, loaded.settings
    out = ~choice.kept & (choice.fit.reason != Reason.DUPLICATE_ID) & (heard.calls > 0)
    places = np.flatnonzero(out)
    on_mine = heard.calls if heard.on_mine is None else heard.on_mine
    order = np.lexsort((contacts.number[places], -heard.calls[places].astype(np.int64), -on_mine[places].astype(np.int64)))
    most = places[order[:NAMED]]
    drops, rules = [rule.name for rule in settings.drop], [rule.name for rule in choice.rules]
    owner, reason = choice.ownership.owner[most].tolist(), choice.fit.reason[most].tolist()
    callsigns = contacts.callsign.take(most).to_pylist() if len(most) else []
    first = [
        MissedStation(
            id=int(contacts.number[place]),
            system=schema.SYSTEM_NAMES[contacts.system[place]],
            callsign=callsign,
            country=countries.CODES[contacts.country[place]] or None,
            calls=int(heard.calls[place]),
            calls_on_mine=None if heard.on_mine is None else int(heard.on_mine[place]),
            reason=REASON_WORDS[Reason(why)],
            rule=None if by < 0 else (drops if why == Reason.LEFT_OUT else rules)[by],
        )
        for place, callsign, by, why in zip(most.tolist(), callsigns, owner, reason, strict=True)
    ]
    return Missed(
        window_days=settings.calls.window_days,
        stations=len(places),
        calls=int(heard.calls[places].sum(dtype=np.int64)),
        first=tuple(first),
        elsewhere=_elsewhere(loaded, choice, heard, out),
    )


def _elsewhere(loaded: Loaded, choice: Choice, heard: Heard, out: npt.NDArray[np.bool_]) -> Elsewhere | None:
    """Who would have a place by all calls: another contact of the same rule has one and called less. None where no order of
    the rules looks at the user's own talkgroups only."""
    settings = loaded.settings
    mine = settings.talkgroups.mine or None
    looking = [
        index
        for index, rule in enumerate(choice.rules)
        if order_of(loaded.contacts, settings.order(rule, choice.radio)) in _OF_CALLS
        and (settings.talkgroups_of(rule) or mine) == mine
    ]
    if heard.on_mine is None or not looking:
        return None
    no_room = (choice.fit.reason == Reason.OVER_LIMIT) | (choice.fit.reason == Reason.RULE_FULL)
    passed = out & no_room & (heard.on_mine == 0) & np.isin(choice.ownership.owner, looking)
    least = np.full(len(choice.rules) + 1, np.iinfo(heard.calls.dtype).max, dtype=heard.calls.dtype)  # the last is nobody's
    np.minimum.at(least, choice.ownership.owner[choice.kept], heard.calls[choice.kept])
    passed &= heard.calls > least[choice.ownership.owner]
    assert loaded.calls is not None
    total = loaded.calls.total(None, settings.calls.window_days)
    calls = int(heard.calls[passed].sum(dtype=np.int64))
    share = round(calls / total, 6) if total else 0.0
    return Elsewhere(stations=int(np.count_nonzero(passed)), calls=calls, share=share)


def nearly_gone(loaded: Loaded, choice: Choice) -> list[CountryGone]:
    """Countries of whose stations hardly any are kept, most stations first: `country`, `stations`, `kept`."""
    size = len(countries.CODES)
    stations = np.bincount(loaded.contacts.country, minlength=size)
    kept = np.bincount(loaded.contacts.country[choice.kept], minlength=size)
    gone = np.flatnonzero((stations >= _FEWEST) & (kept * _ONE_IN < stations) & (np.arange(size) > 0))
    order = gone[np.lexsort((gone, -stations[gone]))]
    return [
        CountryGone(country=countries.CODES[number], stations=int(stations[number]), kept=int(kept[number]))
        for number in order.tolist()
    ]
