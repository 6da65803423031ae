"""Calls to expect from a contact that was never heard: what its country and kind suggest.

Receives when each contact was first heard; hands on one number per contact. How many of its country and kind were heard for
the first time in recent periods, divided by how many could have been, times the calls that a newly heard station brought.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.calls.stations import Floats, Integers, Stations

#: Over how many recent periods newly heard contacts are counted.
RECENT_PERIODS: Final = 3


def calls_of_newcomers(
    heard: Stations,
    first: Integers,
    country: npt.NDArray[np.uint8],
    kind: npt.NDArray[np.uint8],
    *,
    last_day: int,
    period_days: int,
) -> Floats:
    """Expected calls in a period of each contact, as if it had never been heard (float64 per contact).

    `first`: day on which each contact was first heard (later than `last_day` where never). The rate of a country and kind
    starts as if one contact more had been heard for the first time, at the rate of its kind; that of a kind likewise, at
    the rate of all.
    """
    keys, group, size = np.unique(country.astype(np.int64) * 256 + kind, return_inverse=True, return_counts=True)
    group = group.reshape(-1)
    log_days = last_day - int(heard.first.min()) + 1
    span = min(period_days, log_days)
    # A period has to lie before the first one that counts: at the beginning of a log everybody is new.
    periods = max(min(RECENT_PERIODS, log_days // period_days - 1), 1)
    new, could = np.zeros(len(keys)), np.zeros(len(keys))
    for back in range(periods):
        end = last_day - back * span
        new += np.bincount(group[(first > end - span) & (first <= end)], minlength=len(keys))
        could += size - np.bincount(group[first <= end - span], minlength=len(keys))
    latest = heard.calls[heard.first > last_day - span]
    brings = (float(latest.mean()) if len(latest) else 1.0) * period_days / span
    return (_rates(new, could, keys % 256) * brings)[group]


def _rates(new: Floats, could: Floats, kind: Integers) -> Floats:
    """The share of contacts that a period makes heard, per group."""
    everybody = max(float(new.sum()), 0.5) / max(float(could.sum()), 1.0)
    rates = np.zeros(len(new))
    for one in np.unique(kind).tolist():
        mine = kind == one
        of_kind = (float(new[mine].sum()) + 1) / (float(could[mine].sum()) + 1 / everybody)
        rates[mine] = (new[mine] + 1) / (could[mine] + 1 / of_kind)
    return np.minimum(rates, 1.0)
