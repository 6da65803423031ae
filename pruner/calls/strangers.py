"""Calls to expect from strangers: contacts that were not heard on the talkgroups that count.

Receives what is known of the contacts and the calls elsewhere; hands on one number per contact. The rate at which strangers
like this one came to be heard in recent periods (`calls.rates`), times the calls that a newly heard one brought.

What makes strangers alike: heard elsewhere (how lately, how often); another id of their call sign heard; country and kind;
state; distance; the place of the id among those of its country or state, which stands for its age; and how near it stands to
the newest of its state, in bands of which each is half as wide as the one before: who has an id tries it soon, also apart for
those heard elsewhere, who have tried it already. And, where that forecasts, how many of its town were heard (`calls.towns`).
Of the best strangers less is expected, as much as such ones kept of what was promised (`calls.scale`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from pruner.calls.alike import Mask, Traits, halves
from pruner.calls.cells import BANDS, NEWEST, PARTS, STRATA, Day, day_of, sizes_of
from pruner.calls.rates import Counts, Rates, chosen_partitions, fit_rates
from pruner.calls.scale import USUAL, lowered, share_kept
from pruner.calls.stations import CallingDays, Floats, Integers, Stations
from pruner.calls.towns import Towns, chosen_steps, factors, towns_on

#: Over how many recent periods newly heard contacts are counted.
RECENT_PERIODS: Final = 3
#: What a newly heard station brings is drawn to what all bring, as if so many had brought that.
_PRIOR_STATIONS: Final = 20.0
#: Partitions that are used where a log is too short to choose.
_PLAIN: Final = ("stratum", "country")
#: Partitions that come last where they were not chosen: they tell little, but more than distance, which decides between equals.
_LAST: Final = ("kind", "country")
_HALF: Final = "half"


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
        then = [day_of(self.traits, first, self.elsewhere, cut) for cut in cuts]
        sizes = sizes_of(self.traits)
        counts = [_counts(day, first, cut, cut + span, halved=periods == 1) for day, cut in zip(then, cuts, strict=True)]
        chosen = _chosen(counts, sizes)
        rates = fit_rates(_joined(counts), chosen, sizes)
        brings = self._brings(days, first, cuts, span, [day.stratum for day in then])
        now = day_of(self.traits, first, self.elsewhere, last_day)
        rate, kept = _rates_of_all(now, rates), USUAL
        if len(cuts) > 1:
            stood = [day.stood(np.arange(len(first))) for day in then]
            earlier = fit_rates(_joined(counts[1:]), chosen, sizes)
            promised = _rates_of_all(then[0], earlier)
            town = self.traits.town
            if town is not None:
                past = self._towns(first, cuts, span, stood, [promised, *(_rates_of_all(day, earlier) for day in then[1:])])
                steps = chosen_steps(past)
                if steps:
                    promised = promised * factors(steps, past[1:], past[0])[town + 1]
                    past = self._towns(first, cuts, span, stood, [_rates_of_all(day, rates) for day in then])
                    rate *= factors(steps, past, towns_on(town, first, last_day, span))[town + 1]
            risk = np.flatnonzero((first > cuts[0]) & stood[0])
            due = promised[risk] * brings[then[0].stratum[risk]]
            kept = share_kept(promised[risk], due, first[risk] <= cuts[0] + span, int(np.count_nonzero(first <= cuts[0])))
        calls = np.minimum(rate, 1.0) * brings[now.stratum] * (period_days / span)
        strangers = calls[first > last_day]
        return lowered(calls, kept, float(strangers.mean())) if len(strangers) else calls

    def _towns(self, first: Integers, cuts: list[int], span: int, stood: list[Mask], rates: list[Floats]) -> list[Towns]:
        """Towns in each period; per contact, `rates` at which it came to be heard there."""
        assert self.traits.town is not None
        columns = zip(cuts, stood, rates, strict=True)
        return [towns_on(self.traits.town, first, cut, span, there, rate) for cut, there, rate in columns]

    def _brings(self, days: CallingDays, first: Integers, cuts: list[int], span: int, stratum_at: list[Integers]) -> Floats:
        """Calls in the period in which it was first heard that a contact of each stratum brought."""
        number = self.traits.number
        calls, stations = np.zeros(STRATA), np.zeros(STRATA)
        for cut, at_cut in zip(cuts, stratum_at, strict=True):
            new = np.flatnonzero((first > cut) & (first <= cut + span))
            inside = (days.day > cut) & (days.day <= cut + span)
            ids, amount = days.id[inside], days.calls[inside]
            begin = np.searchsorted(ids, number[new].astype(np.int64))
            end = np.searchsorted(ids, number[new].astype(np.int64), side="right")
            total = np.concatenate([[0], np.cumsum(amount)])
            stratum = at_cut[new]
            calls += np.bincount(stratum, weights=total[end] - total[begin], minlength=STRATA)
            stations += np.bincount(stratum, minlength=STRATA)
        if not stations.sum():
            return np.ones(STRATA)
        mean = calls.sum() / stations.sum()
        return (calls + _PRIOR_STATIONS * mean) / (stations + _PRIOR_STATIONS)


def _rates_of_all(day: Day, rates: Rates) -> Floats:
    """The rate of each contact; of those of whom nothing is heard run by run."""
    groups = day.traits.alike
    begins = day.runs(groups)
    found = np.empty(len(groups.order))
    runs = rates.of(day.cells(groups.order[begins], unheard=True))
    found[groups.order] = np.repeat(runs, np.diff(begins, append=len(groups.order)))
    apart = np.flatnonzero(day.stratum)
    found[apart] = rates.of(day.cells(apart))
    return found


def _counts(day: Day, first: Integers, cut: int, until: int, *, halved: bool) -> Counts:
    """Events (first heard after `cut`, by `until`) and exposure of the contacts at risk, those with all cells alike as one row;
    `halved`: two halves, kept apart."""
    traits = day.traits
    groups = traits.alike_halved if halved else traits.alike
    begins = day.runs(groups)
    first_of_run = groups.order[begins]
    # Run by run, without those of whom something is heard or who called: these are looked at one by one.
    called = first <= until
    apart = np.flatnonzero((day.stratum > 0) | called)
    run = np.searchsorted(begins, groups.rank[apart], side="right") - 1
    left = np.diff(begins, append=len(groups.order)) - np.bincount(run, minlength=len(begins))
    runs = np.flatnonzero((left > 0) & day.stood(first_of_run))
    risk = apart[(first[apart] > cut) & day.stood(apart)]
    some, single = day.cells(first_of_run[runs], unheard=True), day.cells(risk)
    cells = {name: np.concatenate([some[name], single[name]]) for name in some}
    exposure = np.concatenate([left[runs], np.ones(len(risk), dtype=np.int64)])
    events = np.concatenate([np.zeros(len(runs)), called[risk]])
    if halved:
        cells[_HALF] = halves(traits.number[np.concatenate([first_of_run[runs], risk])]).astype(np.int64)
    return _merged(events, exposure, cells)


def _merged(events: Floats, exposure: Integers, cells: dict[str, Integers]) -> Counts:
    """Rows with all cells alike as one."""
    key = (cells["age in state"] * (len(NEWEST) + 1) + cells["newest"]) * PARTS + cells["age in country"] % PARTS
    key = (key * BANDS + cells.get("band", 0)) * STRATA + cells["stratum"]
    key = key * 2 + cells.get(_HALF, 0)
    order = np.argsort(key)
    begins = np.flatnonzero(np.diff(key[order], prepend=-1))
    if not len(begins):
        return Counts(np.zeros(0), np.zeros(0), cells)
    events, due = (np.add.reduceat(column[order].astype(np.float64), begins) for column in (events, exposure))
    rows = order[begins]
    return Counts(events, due, {name: cell[rows] for name, cell in cells.items()})


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


def _chosen(counts: list[Counts], sizes: dict[str, int]) -> list[str]:
    """Partitions by which the earlier periods forecast the latest one; of a single period, one half of the ids the other."""
    if sum(float(one.events.sum()) for one in counts) < 2 * _PRIOR_STATIONS:
        return list(_PLAIN)
    if len(counts) > 1:
        chosen = chosen_partitions(_joined(counts[1:]), counts[0], sizes)
        return chosen + [name for name in _LAST if name not in chosen]
    return chosen_partitions(_of_half(counts[0], 1), _of_half(counts[0], 0), sizes)
