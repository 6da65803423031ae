"""Calls to expect from strangers: contacts that were not heard on the talkgroups that count.

Receives what is known of the contacts and the calls elsewhere; hands on one number per contact. The rate at which strangers
like this one came to be heard in recent periods (`heard.rates`), times the calls that a newly heard one brought.

What makes strangers alike: heard elsewhere (how lately, how often); another id of their call sign heard; country and kind;
state; distance; the place of the id among those of its country or state, which stands for its age; and how near it stands to
the newest of its state, in bands of which each is half as wide as the one before: who has an id tries it soon, also apart for
those heard elsewhere, who have tried it already.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.rates import Counts, chosen_partitions, fit_rates
from pruner.calls.stations import CallingDays, Floats, Integers, Stations, heard_by

#: Over how many recent periods newly heard contacts are counted.
RECENT_PERIODS: Final = 3
#: Bounds of days since a call elsewhere, and of calls elsewhere.
_LATELY: Final = (28, 90)
_OFTEN: Final = (5, 30)
#: Into how many equal parts the ids of a country or state are cut, and into how many bands towards the newest: its older half,
#: half of the rest, and so on.
_PARTS: Final = 8
_NEWEST: Final = 2 ** np.arange(1, 8)
#: How many strata, bands of distance and ways of being heard elsewhere there are room for.
_STRATA: Final = 32
_BANDS: Final = 16
_IN_COUNTRY: Final = 12
#: Ways of being heard elsewhere by how lately alone, with never.
_LATELY_CELLS: Final = len(_LATELY) + 2
#: What a newly heard station brings is drawn to what all bring, as if so many had brought that.
_PRIOR_STATIONS: Final = 20.0
#: The highest id heard says which ids there were where so many of the country and kind were heard.
_FEWEST_HEARD: Final = 20
#: Partitions that are used where a log is too short to choose.
_PLAIN: Final = ("stratum", "country")
_HALF: Final = "half"


@dataclass(frozen=True)
class Traits:
    """What is known of contacts, one entry each (`number` uint32): `country`, `kind` uint8; `state`, `band`
    (of distance) and `person` (which call sign) int64, -1 where unknown, None where nobody's is known."""

    number: npt.NDArray[np.uint32]
    country: npt.NDArray[np.uint8]
    kind: npt.NDArray[np.uint8]
    state: Integers | None = None
    band: Integers | None = None
    person: Integers | None = None

    @cached_property
    def fixed(self) -> dict[str, Integers]:
        """Partitions that no call changes, by name: the cell of each contact."""
        country = dense(self.country.astype(np.int64) * 4 + self.kind)
        state = country if self.state is None else dense(country << 32 | (self.state + 1))
        cells = {"kind": self.kind.astype(np.int64), "country": country, "state": state}
        if self.band is not None:
            cells |= {"band": self.band + 1, "band of country": dense(country << 8 | (self.band + 1))}
        return cells

    @cached_property
    def sizes(self) -> dict[str, int]:
        """How many cells each partition of `Strangers.cells` has."""
        own = {name: int(cell.max(initial=0)) + 1 for name, cell in self.fixed.items()}
        ages = {"age in country": own["country"] * _PARTS, "age in state": own["state"] * _PARTS, "newest": len(_NEWEST) + 1}
        ages["newest by elsewhere"] = ages["newest"] * _LATELY_CELLS
        return {"stratum": _STRATA, "stratum in country": own["country"] * _IN_COUNTRY, **own, **ages}

    @cached_property
    def positions(self) -> dict[str, Integers]:
        """How many ids of its country and kind, and of its state, are smaller than each."""
        return {name: _position(self.number, self.fixed[name]) for name in ("country", "state")}


def dense(keys: Integers) -> Integers:
    """The number of each distinct key, from 0 on in their order."""
    place: Integers = np.unique(keys, return_inverse=True)[1].reshape(-1).astype(np.int64)
    return place


def _position(number: npt.NDArray[np.uint32], group: Integers) -> Integers:
    """How many ids of its group are smaller than each."""
    order = np.lexsort((number, group))
    size = np.bincount(group)
    position = np.empty(len(group), dtype=np.int64)
    position[order] = np.arange(len(group)) - (np.cumsum(size) - size)[group[order]]
    return position


@dataclass(frozen=True)
class Strangers:
    """Traits and the calls on talkgroups that do not count (None: every talkgroup counts), of all time."""

    traits: Traits
    elsewhere: CallingDays | None = None

    def expected(self, days: CallingDays, heard: Stations, first: Integers, *, last_day: int, period_days: int) -> Floats:
        """Expected calls in a period of each contact, as if it had never been heard (float64 per contact).

        `days`, `heard`: calls on the talkgroups that count until `last_day`; `first`: day on which each contact was first
        heard there (later than `last_day` where never).
        """
        log_days = last_day - int(heard.first.min()) + 1
        span = min(period_days, log_days)
        # A period has to lie before the first one that counts: at the beginning of a log everybody is new.
        periods = max(min(RECENT_PERIODS, log_days // period_days - 1), 1)
        cuts = [last_day - back * span for back in range(1, periods + 1)]
        now, _ = self.cells(first, last_day)
        sizes = self.traits.sizes
        counts, strata = [], []
        half = _halves(self.traits.number) if len(cuts) == 1 else None
        for cut in cuts:
            cells, stood = self.cells(first, cut)
            counts.append(_counts(cells, np.flatnonzero((first > cut) & stood), first <= cut + span, half))
            strata.append(cells["stratum"])
        chosen = _chosen(counts, sizes)
        rates = fit_rates(_joined(counts), chosen, sizes)
        brings = self._brings(days, first, cuts, span, strata)
        return np.minimum(rates.of(now), 1.0) * brings[now["stratum"]] * (period_days / span)

    def cells(self, first: Integers, cut: int) -> tuple[dict[str, Integers], npt.NDArray[np.bool_]]:
        """All partitions as they were on the evening of a day, the cell of each contact; and which contacts stood there by
        then, as far as the ids heard tell: those up to the highest of their country and kind."""
        fixed = self.traits.fixed
        heard_elsewhere = self._elsewhere(cut)
        other_id = self._other_id(first, cut, heard_elsewhere)
        cells = {
            "stratum": heard_elsewhere * 3 + other_id,
            "stratum in country": fixed["country"] * _IN_COUNTRY + np.minimum(heard_elsewhere, 3) * 3 + other_id,
            **fixed,
        }
        heard = np.flatnonzero((first <= cut) | (heard_elsewhere > 0))
        position = self.traits.positions["country"]
        highest = np.full(int(fixed["country"].max(initial=0)) + 1, -1, dtype=np.int64)
        np.maximum.at(highest, fixed["country"][heard], position[heard])
        some = np.bincount(fixed["country"][heard], minlength=len(highest)) >= _FEWEST_HEARD
        highest[~some] = len(first)
        stood = position <= highest[fixed["country"]]
        for name in ("country", "state"):
            group, position = fixed[name], self.traits.positions[name]
            size = np.maximum(np.bincount(group[stood], minlength=int(group.max(initial=0)) + 1), 1)[group]
            cells[f"age in {name}"] = group * _PARTS + np.minimum(position * _PARTS // size, _PARTS - 1)
        # Of the state, which is the last of both.
        cells["newest"] = np.searchsorted(_NEWEST, size // np.maximum(size - position, 1), side="right")
        lately = (heard_elsewhere + len(_OFTEN)) // (len(_OFTEN) + 1)
        cells["newest by elsewhere"] = cells["newest"] * _LATELY_CELLS + lately
        return cells, stood

    def _elsewhere(self, cut: int) -> Integers:
        """0 for contacts not heard elsewhere, else 1 to 9 by how often and how lately."""
        number = self.traits.number
        nothing = np.zeros(0, dtype=np.int64)
        ids, last, calls = (nothing,) * 3 if self.elsewhere is None else heard_by(self.elsewhere, cut)
        if not len(ids):
            return np.zeros(len(number), dtype=np.int64)
        lately = np.searchsorted(_LATELY, cut - last, side="left")
        often = len(_OFTEN) - np.searchsorted(_OFTEN, calls, side="left")
        place = np.minimum(np.searchsorted(ids, number), len(ids) - 1)
        return np.where(ids[place] == number, (1 + lately * (len(_OFTEN) + 1) + often)[place], 0)

    def _other_id(self, first: Integers, cut: int, elsewhere: Integers) -> Integers:
        """0: no other id of the call sign was heard, 1: elsewhere only, 2: on the talkgroups that count."""
        person = self.traits.person
        if person is None:
            return np.zeros(len(first), dtype=np.int64)
        known = person >= 0
        size = int(person.max(initial=-1)) + 1
        own = np.where(first <= cut, 2, np.where(elsewhere > 0, 1, 0))
        counted = np.bincount(person[known], weights=own[known] == 2, minlength=size)
        anywhere = np.bincount(person[known], weights=own[known] > 0, minlength=size)
        other_counted = counted[person] - (own == 2) > 0
        other_anywhere = anywhere[person] - (own > 0) > 0
        return np.where(known, np.where(other_counted, 2, other_anywhere), 0).astype(np.int64)

    def _brings(self, days: CallingDays, first: Integers, cuts: list[int], span: int, stratum_at: list[Integers]) -> Floats:
        """Calls in the period in which it was first heard that a contact of each stratum brought."""
        number = self.traits.number
        calls, stations = np.zeros(_STRATA), np.zeros(_STRATA)
        for cut, at_cut in zip(cuts, stratum_at, strict=True):
            new = np.flatnonzero((first > cut) & (first <= cut + span))
            inside = (days.day > cut) & (days.day <= cut + span)
            ids, amount = days.id[inside], days.calls[inside]
            begin = np.searchsorted(ids, number[new].astype(np.int64))
            end = np.searchsorted(ids, number[new].astype(np.int64), side="right")
            total = np.concatenate([[0], np.cumsum(amount)])
            stratum = at_cut[new]
            calls += np.bincount(stratum, weights=total[end] - total[begin], minlength=_STRATA)
            stations += np.bincount(stratum, minlength=_STRATA)
        if not stations.sum():
            return np.ones(_STRATA)
        mean = calls.sum() / stations.sum()
        return (calls + _PRIOR_STATIONS * mean) / (stations + _PRIOR_STATIONS)


def _counts(
    cells: dict[str, Integers], risk: Integers, called: npt.NDArray[np.bool_], half: npt.NDArray[np.bool_] | None
) -> Counts:
    """Events and exposure of the contacts at risk, those with all cells alike as one row; `half`: two halves, kept apart."""
    band = cells.get("band")
    key = (cells["age in state"] * (len(_NEWEST) + 1) + cells["newest"]) * _PARTS + cells["age in country"] % _PARTS
    key *= _BANDS
    key = ((key if band is None else key + band) * _STRATA + cells["stratum"])[risk]
    if half is not None:
        key = key * 2 + half[risk]
    order = np.argsort(key)
    begins = np.flatnonzero(np.diff(key[order], prepend=-1))
    exposure = np.diff(np.append(begins, len(order))).astype(np.float64)
    events = np.add.reduceat(called[risk[order]].astype(np.float64), begins) if len(begins) else np.zeros(0)
    rows = risk[order[begins]]
    of_half = {} if half is None else {_HALF: half[rows].astype(np.int64)}
    return Counts(events, exposure, {name: cell[rows] for name, cell in cells.items()} | of_half)


def _joined(counts: list[Counts]) -> Counts:
    return Counts(
        np.concatenate([one.events for one in counts]),
        np.concatenate([one.exposure for one in counts]),
        {name: np.concatenate([one.cells[name] for one in counts]) for name in counts[0].cells},
    )


def _of_half(counts: Counts, which: int) -> Counts:
    rows = np.flatnonzero(counts.cells[_HALF] == which)
    cells = {name: cell[rows] for name, cell in counts.cells.items() if name != _HALF}
    return Counts(counts.events[rows], counts.exposure[rows], cells)


def _halves(number: npt.NDArray[np.uint32]) -> npt.NDArray[np.bool_]:
    """Cuts ids into two halves that have nothing to do with their order (Fibonacci hashing)."""
    return (number.astype(np.uint64) * np.uint64(0x9E3779B97F4A7C15) >> np.uint64(63)).astype(bool)


def _chosen(counts: list[Counts], sizes: dict[str, int]) -> list[str]:
    """Partitions by which the earlier periods forecast the latest one; of a single period, one half of the ids the other."""
    if sum(float(one.events.sum()) for one in counts) < 2 * _PRIOR_STATIONS:
        return list(_PLAIN)
    if len(counts) > 1:
        return chosen_partitions(_joined(counts[1:]), counts[0], sizes)
    return chosen_partitions(_of_half(counts[0], 1), _of_half(counts[0], 0), sizes)
