"""Conditions of rules -> masks over contacts; owners and queues.

Receives contacts and the rules of the settings, hands on which rule owns each contact and in what order they wait.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.reference import borders, countries, numbering, regions, states
from pruner.reference.routes import Route
from pruner.rules.contacts import Contacts, codes, values
from pruner.settings.models import KeepRule, Rule, Settings
from pruner.table.listed import Listed
from pruner.words import schema
from pruner.words.outcomes import Reason

Mask = npt.NDArray[np.bool_]
#: Longer lists of ids are looked up in a dense array, shorter ones in the contacts.
_LONG_LIST = 20_000
#: Orders that look at where contacts are. The last two are for rules that name no order, where no calls are known.
NEAREST, DISTANCE, TURNS = "nearest", "distance", "turns"


@dataclass(frozen=True, slots=True)
class Ownership:
    """`reason`: uint8 per contact (LEFT_OUT, NO_RULE, or NONE for the owned); `owner`: int16 per contact, the number of
    the drop or keep rule that decided, -1 for none; `matched` and `owned`: contacts per keep rule; `left_out` per drop rule."""

    reason: npt.NDArray[np.uint8]
    owner: npt.NDArray[np.int16]
    matched: list[int]
    owned: list[int]
    left_out: list[int]


class Rules:
    """The rules of the settings over contacts. `lists` by the path that a rule names, `routes` by the rule's name. Masks are
    made once and, where several radios order the rules in ways of their own, remembered."""

    def __init__(
        self,
        contacts: Contacts,
        settings: Settings,
        lists: Mapping[Path, Listed],
        routes: Mapping[str, Route],
        *,
        remember: bool = False,
    ) -> None:
        self._contacts = contacts
        self._lists = lists
        self._routes = routes
        self._settings = settings
        self._masks: dict[str, Mask] | None = {} if remember else None

    def with_calls(self, contacts: Contacts) -> Rules:
        """The same rules over the same contacts with other calls; masks that no call decides stay known."""
        other = Rules(contacts, self._settings, self._lists, self._routes)
        if self._masks is not None:
            of_calls = {rule.name for rule in (*self._settings.drop, *self._settings.keep) if _asks_for(rule, _OF_CALLS)}
            other._masks = {name: mask for name, mask in self._masks.items() if name not in of_calls}
        return other

    def mask(self, rule: Rule) -> Mask:
        """Which contacts meet all conditions of a rule. Not to be changed by the caller."""
        if self._masks is not None and rule.name in self._masks:
            return self._masks[rule.name]
        mask = np.ones(len(self._contacts), dtype=bool)
        if rule.list is not None:
            mask &= _in_list(self._contacts, self._lists[rule.list])
        if rule.within_km is not None:
            mask &= self._contacts.metres(self._routes.get(rule.name)) <= rule.within_km * 1000
        for conditions, condition in _CONDITIONS.items():
            if _asks_for(rule, conditions):
                mask &= condition(self._contacts, rule, self._settings)
        if self._masks is not None:
            self._masks[rule.name] = mask
        return mask

    def owners(self, keep: Sequence[KeepRule]) -> Ownership:
        """Tries drop rules, then the keep rules in the order given; the first that matches decides."""
        owner = np.full(len(self._contacts), -1, dtype=np.int16)
        free = np.ones(len(self._contacts), dtype=bool)

        def decide(rule: Rule, index: int) -> tuple[int, int]:
            mask = self.mask(rule)
            taken = mask & free
            np.add(owner, np.multiply(taken, index + 1, dtype=np.int16), out=owner)  # sets it: a contact is taken once
            np.logical_and(free, ~taken, out=free)
            return int(np.count_nonzero(mask)), int(np.count_nonzero(taken))

        left_out = [decide(rule, index)[1] for index, rule in enumerate(self._settings.drop)]
        dropped = ~free
        counts = [decide(rule, index) for index, rule in enumerate(keep)]
        reason = _marked(free, Reason.NO_RULE) + _marked(dropped, Reason.LEFT_OUT)
        matched, owned = [matched for matched, _ in counts], [owned for _, owned in counts]
        return Ownership(reason, owner, matched, owned, left_out)


def _marked(mask: Mask, reason: Reason) -> npt.NDArray[np.uint8]:
    return np.multiply(mask, reason.value, dtype=np.uint8)


def order_of(contacts: Contacts, written: str | None) -> str:
    """The order in which the contacts of a rule wait, from what the settings say (None: nothing).

    Nothing means `expected` where calls are known. Without calls, nothing and the orders that look at calls mean `distance`,
    or `turns` where there is nothing to measure from.
    """
    if written in (NEAREST, "id"):
        return written
    if contacts.calls is not None:
        return written or "expected"
    return DISTANCE if contacts.origin is not None else TURNS


def note_without_calls(contacts: Contacts, orders: Iterable[str]) -> str | None:
    """What people should know of the orders that stand in for calls (`order_of`); None where no rule has such an order."""
    used = set(orders)
    if DISTANCE in used:
        where = "the locator" if contacts.home is not None else f"the middle of {countries.NAMES[contacts.home_country]}"
        return (
            f"No calls are known, so contacts stand by distance from {where}; where a town is unknown, the middle of its "
            "country counts. A log of heard calls, named in [[heard]], would choose better."
        )
    if TURNS in used:
        return (
            "No calls are known, nor a place to measure from, so each country has one contact in turn. A country or a locator "
            "in [home] would choose better, and a log of heard calls, named in [[heard]], better still."
        )
    return None


def queue_of(
    contacts: Contacts,
    owned: npt.NDArray[np.int64],
    order: str,
    talkgroups: tuple[int, ...] | None,
    window_days: int,
    route: Route | None = None,
) -> npt.NDArray[np.int64]:
    """Contacts (positions, ascending), first in line first; ties end in system and id. `order` is one of `order_of`.

    `recent`: last call on the talkgroups (None: on any), then calls in the window; `often`: the same two the other way
    round; `expected`: calls to expect, of equals the nearer (`distance`, else `turns`); `nearest`: distance from `route`
    (None: from home), unknown places last; `distance`: the same from home with the middle of the country for an unknown
    place; `turns`: the first contact of each country, then the second of each, and so on.
    """
    if order == "id":
        return owned
    if order == NEAREST:
        return owned[np.argsort(contacts.metres(route)[owned], kind="stable")]
    if order == DISTANCE:
        return owned[np.argsort(contacts.distance[owned], kind="stable")]
    if order == TURNS:
        # Country numbers stand by code; that of an unknown country, 0, comes last in its round.
        return owned[np.lexsort((contacts.country[owned] - np.uint8(1), contacts.turn[owned]))]
    if contacts.calls is None:
        raise ValueError(f"order {order!r} needs heard logs")
    if order == "expected":
        near = contacts.distance if contacts.origin is not None else contacts.turn
        return owned[np.lexsort((near[owned], -contacts.calls.expected(talkgroups)[owned]))]
    last = -contacts.calls.last_heard(talkgroups)[owned]
    calls = -contacts.calls.calls(talkgroups, window_days)[owned].astype(np.int64)
    return owned[np.lexsort((calls, last) if order == "recent" else (last, calls))]


def _in_countries(contacts: Contacts, numbers: Iterable[int]) -> Mask:
    table = np.zeros(len(countries.CODES), dtype=bool)
    table[list(numbers)] = True
    return table[contacts.country]


def _by_countries(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return _in_countries(contacts, rule.country_numbers(settings.home) or ())


def _by_neighbours(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    start = rule.neighbour_numbers(settings.home) or frozenset()
    return _in_countries(contacts, borders.within_hops(start, rule.hops))


def _by_continents(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return _in_countries(contacts, rule.continent_numbers() or ())


def _by_itu_regions(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return np.isin(regions.itu_region()[contacts.country], list(rule.itu_regions or ()))


def _by_ids(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return _in_ids(contacts, np.array(list(rule.ids or ()), dtype=np.int64))


def _in_ids(contacts: Contacts, ids: npt.NDArray[np.int64]) -> Mask:
    if len(ids) > _LONG_LIST:
        table = np.zeros(schema.ADDRESSES, dtype=bool)
        table[ids[(ids >= 0) & (ids < schema.ADDRESSES)]] = True
        return table[contacts.number]
    mask = np.zeros(len(contacts), dtype=bool)
    wanted = np.unique(ids).astype(np.int64)
    for places, _ in _bearers(contacts, wanted[(wanted >= 0) & (wanted < schema.ADDRESSES)].astype(np.uint32)):
        mask[places] = True
    return mask


def _bearers(contacts: Contacts, ids: npt.NDArray[np.uint32]) -> Iterator[tuple[npt.NDArray[np.int64], Mask]]:
    """For each system that has contacts: the positions of those that bear one of the ids, and which of the ids are borne."""
    for slot in range(len(schema.SYSTEM_NAMES)):  # within a system contacts stand by id
        low, high = np.searchsorted(contacts.system, np.array([slot, slot + 1], dtype=np.uint8)).tolist()
        if low < high:
            number = contacts.number[low:high]
            place = np.minimum(np.searchsorted(number, ids), high - low - 1)
            known = number[place] == ids
            yield low + place[known], known


def not_borne(contacts: Contacts, listed: Listed) -> list[str]:
    """Call signs, then ids, of a list that no contact has, both in their order. Patterns and ranges are not looked at."""
    is_strange = np.ones(len(listed.ids), dtype=bool)
    for _, known in _bearers(contacts, listed.ids):
        is_strange &= ~known
    borne = pc.filter(contacts.callsign, _bears_one_of(contacts, listed.callsigns)).unique().to_pylist()
    return [*sorted(listed.callsigns.difference(borne)), *map(str, listed.ids[is_strange].tolist())]


def _in_list(contacts: Contacts, listed: Listed) -> Mask:
    mask = _in_ids(contacts, listed.ids.astype(np.int64))
    for first, last in listed.ranges:
        mask |= (contacts.number >= first) & (contacts.number <= last)
    if listed.patterns:
        mask |= like(contacts, listed.patterns)
    if not listed.callsigns:
        return mask
    return mask | _bears_one_of(contacts, listed.callsigns).to_numpy(zero_copy_only=False)


def _bears_one_of(contacts: Contacts, callsigns: Iterable[str]) -> pa.BooleanArray:
    return pc.is_in(contacts.callsign, value_set=pa.array(sorted(callsigns), pa.string()))


def like(contacts: Contacts, patterns: Iterable[str]) -> Mask:
    """Whose call sign is as one of some patterns, in which `*` stands for any text and `?` for one letter or digit."""
    signs = {"*": ".*", "?": "."}
    escaped = ("".join(signs.get(sign, re.escape(sign)) for sign in pattern.upper()) for pattern in patterns)
    found = pc.match_substring_regex(contacts.callsign, f"^(?:{'|'.join(escaped)})$")
    return found.fill_null(False).to_numpy(zero_copy_only=False)


def _by_callsigns(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return like(contacts, rule.callsigns or ())


def _by_states(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    wanted = tuple(rule.states or ())
    column = contacts.text(schema.STATE)
    state = codes(column)
    pair = contacts.country.astype(np.int64) << 32 | (state + 1)
    distinct, inverse = np.unique(pair, return_inverse=True)
    texts = values(column)
    accepted = np.zeros(len(distinct), dtype=bool)
    for position, key in enumerate(distinct.tolist()):
        code = (key & 0xFFFFFFFF) - 1
        if code >= 0:
            accepted[position] = _same_state(key >> 32, texts[code], wanted)
    return accepted[inverse]


def _same_state(country: int, text: str, wanted: Sequence[str]) -> bool:
    resolved = states.code_of(country, text)
    for name in wanted:
        if text.strip().casefold() == name.strip().casefold():
            return True
        if resolved and resolved in (name.upper(), states.code_of(country, name)):
            return True
    return False


def _by_calls(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    """Heard (on the talkgroups); or, where only talkgroups are asked for, of a country with whose code one of them begins."""
    talkgroups = settings.talkgroups_of(rule)
    mask = np.zeros(len(contacts), dtype=bool)
    if contacts.calls is not None:
        mask = contacts.calls.calls(talkgroups, rule.heard_within_days) >= (rule.heard_at_least or 1)
    if rule.heard_within_days is None and rule.heard_at_least is None and settings.talkgroups.countries:
        countries = {numbering.country_of_talkgroup(number) for number in talkgroups or ()} - {0}
        mask |= _in_countries(contacts, countries)
    return mask


def _by_kind(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return contacts.kind == schema.KINDS.index(rule.kind or "other")


def _by_sources(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    names = [source.name for source in settings.sources]
    return np.isin(contacts.source, [names.index(name) for name in rule.sources or ()])


def _asks_for(rule: Rule, conditions: Iterable[str]) -> bool:
    return any(getattr(rule, name) is not None for name in conditions)


#: Conditions that look at calls.
_OF_CALLS = ("talkgroups", "heard_within_days", "heard_at_least")
_CONDITIONS: dict[tuple[str, ...], Callable[[Contacts, Rule, Settings], Mask]] = {
    ("ids",): _by_ids,
    ("callsigns",): _by_callsigns,
    ("countries",): _by_countries,
    ("neighbours_of",): _by_neighbours,
    ("continents",): _by_continents,
    ("itu_regions",): _by_itu_regions,
    ("states",): _by_states,
    _OF_CALLS: _by_calls,
    ("kind",): _by_kind,
    ("sources",): _by_sources,
}
