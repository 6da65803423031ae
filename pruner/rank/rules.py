"""Conditions of rules -> masks over contacts; owners and queues.

Receives contacts and the rules of the settings, hands on which rule owns each contact and in what order they wait.
"""

from __future__ import annotations

import fnmatch
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pruner import schema
from pruner.outcomes import Reason
from pruner.rank.contacts import Contacts, codes, matching, values
from pruner.reference import borders, regions, states
from pruner.settings.lists import read_list
from pruner.settings.models import Rule, Settings

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Ownership:
    """`reason`: uint8 per contact (LEFT_OUT, NO_RULE, or NONE for the owned); `owner`: int16 per contact, the number of
    the drop or keep rule that decided, -1 for none; `matched` and `owned`: contacts per keep rule; `left_out` per drop rule."""

    reason: npt.NDArray[np.uint8]
    owner: npt.NDArray[np.int16]
    matched: list[int]
    owned: list[int]
    left_out: list[int]


def assign_owners(contacts: Contacts, settings: Settings) -> Ownership:
    """Tries drop rules, then keep rules, in the order of the settings; the first that matches decides."""
    owner = np.full(len(contacts), -1, dtype=np.int16)
    reason = np.full(len(contacts), Reason.NO_RULE, dtype=np.uint8)
    left_out, matched, owned = [], [], []
    for index, drop in enumerate(settings.drop):
        mask = _mask(contacts, drop, settings) & (owner < 0)
        owner[mask] = index
        reason[mask] = Reason.LEFT_OUT
        left_out.append(int(mask.sum()))
    free = owner < 0
    for index, keep in enumerate(settings.keep):
        mask = _mask(contacts, keep, settings)
        matched.append(int(mask.sum()))
        mask &= free
        owner[mask] = index
        reason[mask] = Reason.NONE
        owned.append(int(mask.sum()))
        free &= ~mask
    return Ownership(reason, owner, matched, owned, left_out)


def queue_of(contacts: Contacts, ownership: Ownership, index: int, order: str) -> npt.NDArray[np.int64]:
    """The contacts that a keep rule owns, first in line first; ties end in system and id."""
    mine = np.flatnonzero((ownership.owner == index) & (ownership.reason == Reason.NONE))
    return mine[np.argsort(contacts.metres[mine], kind="stable")] if order == "nearest" else mine


def _mask(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    mask = np.ones(len(contacts), dtype=bool)
    for name, condition in _CONDITIONS.items():
        if getattr(rule, name) is not None:
            mask &= condition(contacts, rule, settings)
    return mask


def _in_countries(contacts: Contacts, numbers: Iterable[int]) -> Mask:
    table = np.zeros(256, dtype=bool)
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
    table = np.zeros(schema.ADDRESSES, dtype=bool)
    table[ids[(ids >= 0) & (ids < schema.ADDRESSES)]] = True
    return table[contacts.number]


def _by_list(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    assert rule.list is not None
    ids, callsigns = read_list(rule.list)
    mask = _in_ids(contacts, ids.astype(np.int64))
    return mask | matching(contacts.callsign, callsigns.__contains__) if callsigns else mask


def _by_callsigns(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    globs = "|".join(fnmatch.translate(glob.upper()) for glob in rule.callsigns or ())
    pattern = re.compile(globs)
    return matching(contacts.callsign, lambda value: pattern.match(value) is not None)


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
    return accepted[inverse.reshape(-1)]


def _same_state(country: int, text: str, wanted: Sequence[str]) -> bool:
    resolved = states.code_of(country, text)
    for name in wanted:
        if text.strip().casefold() == name.strip().casefold():
            return True
        if resolved and resolved in (name.upper(), states.code_of(country, name)):
            return True
    return False


def _by_distance(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    assert rule.within_km is not None
    return contacts.metres <= rule.within_km * 1000


def _by_kind(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    return contacts.kind == schema.KINDS.index(rule.kind or "other")


def _by_sources(contacts: Contacts, rule: Rule, settings: Settings) -> Mask:
    names = [source.name for source in settings.sources]
    return np.isin(contacts.source, [names.index(name) for name in rule.sources or ()])


_CONDITIONS: dict[str, Callable[[Contacts, Rule, Settings], Mask]] = {
    "list": _by_list,
    "ids": _by_ids,
    "callsigns": _by_callsigns,
    "countries": _by_countries,
    "neighbours_of": _by_neighbours,
    "continents": _by_continents,
    "itu_regions": _by_itu_regions,
    "states": _by_states,
    "within_km": _by_distance,
    "kind": _by_kind,
    "sources": _by_sources,
}
