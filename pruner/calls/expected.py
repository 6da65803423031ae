"""How many calls to expect from each contact in the next period.

Receives the rows of a store of heard logs and the contacts; hands on one number per contact.

A heard contact: expected days with a call, times expected calls on such a day. The days are a blend of the MBG/NBD model
(which sees stations start and fall silent), of plain frequency over the whole log (best where nobody changes) and of
frequency lately; its weights are those that would have forecast the latest period best from what was known before it. Calls
per day are the station's own mean, drawn to everybody's (credibility). A contact never heard: see `heard.strangers`. With
too little in the log for the models: calls so far, spread over the days of the log.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import polars as pl

from pruner.calls import buy_till_you_die as models
from pruner.calls.blend import blend_weights
from pruner.calls.credibility import fit_credibility
from pruner.calls.stations import CallingDays, Floats, Integers, Stations, calling_days, days_between, heard_stations
from pruner.calls.strangers import Strangers

#: The models are used from so many stations on that called on two days or more, and from so many days of log on.
FEWEST_RETURNED: Final = 100
FEWEST_DAYS: Final = 28
#: About how many stations the parameters are fitted to, at most twice as many.
MOST_FITTED: Final = 200_000

BY_MODELS: Final = "calling days (MBG/NBD blended with frequency) times calls per calling day"
BY_FREQUENCY: Final = "calls so far per day of log"
NO_CALLS: Final = "no calls"
#: The columns of the blend, in the words of `Expected.parameters`.
BLEND: Final = ("weight of MBG/NBD", "weight of frequency", "weight of frequency lately", "days of anybody")


@dataclass(frozen=True, slots=True)
class Expected:
    """`calls`: expected calls in the period (float64 per contact); `method` and `note` in words; `parameters` by name."""

    calls: Floats
    method: str
    note: str
    parameters: dict[str, float] = field(default_factory=dict)


def expected_calls(rows: pl.DataFrame, strangers: Strangers, *, last_day: int, period_days: int) -> Expected:
    """Expected calls of each contact in the `period_days` days after `last_day` (days since 1970-01-01).

    `rows`: rows of a store (`id`, `day`, `calls`), on the talkgroups that count; `strangers`: the contacts, and what else is
    known of them.
    """
    numbers = strangers.traits.number
    days = calling_days(rows, last_day)
    heard = heard_stations(days, last_day)
    if not len(heard):
        return Expected(np.zeros(len(numbers)), NO_CALLS, "Nothing was heard, so nothing is expected.")
    first_day = int(heard.first.min())
    log_days = last_day - first_day + 1
    returned = int(np.count_nonzero(heard.days > 1))
    if _enough(heard, last_day):
        method = BY_MODELS
        of_heard, parameters = _by_models(days, heard, last_day, period_days)
        note = f"Fitted to {len(heard):,} stations in {log_days:,} days; {returned:,} of them called on two days or more."
    else:
        method = BY_FREQUENCY
        of_heard, parameters = _by_frequency(heard, last_day, log_days, period_days), {}
        note = (
            f"Too little for the models: {returned:,} stations called on two days or more, in {log_days:,} days of log; "
            f"they want {FEWEST_RETURNED} in {FEWEST_DAYS}. So calls are counted, and of equals the later heard comes first."
        )
    place, known = strangers.traits.found(heard.id)
    first = np.full(len(numbers), last_day + 1, dtype=np.int64)
    first[place[known]] = heard.first[known]
    expected = strangers.expected(days, heard, first, last_day=last_day, period_days=period_days)
    expected[place[known]] = of_heard[known]
    return Expected(expected, method, note, parameters)


def _enough(heard: Stations, last_day: int) -> bool:
    if not len(heard) or last_day - int(heard.first.min()) + 1 < FEWEST_DAYS:
        return False
    return int(np.count_nonzero(heard.days > 1)) >= FEWEST_RETURNED


def _by_models(days: CallingDays, heard: Stations, last_day: int, period_days: int) -> tuple[Floats, dict[str, float]]:
    forecasts, parameters = _forecasts(heard, last_day, period_days)
    weights = np.array([1.0, 0.0, 0.0, 0.0])
    cut = last_day - period_days
    earlier = heard_stations(days.until(cut), cut)
    if _enough(earlier, cut):
        came = days_between(days, earlier.id, cut + 1, last_day)
        if came.any():
            weights = blend_weights(_forecasts(earlier, cut, period_days)[0], came)
    amount = fit_credibility(heard.days, heard.calls, heard.squares)
    parameters |= dict(zip(BLEND, weights.tolist(), strict=True))
    parameters |= {"calls a day": amount.mean, "within": amount.within, "between": amount.between}
    # Column by column: a product of matrices might add up in another order on another number of threads.
    days_of_heard = sum((forecasts[:, column] * weight for column, weight in enumerate(weights)), np.zeros(len(heard)))
    return days_of_heard * amount.means(heard.days, heard.calls), parameters


def _forecasts(heard: Stations, last_day: int, period_days: int) -> tuple[Floats, dict[str, float]]:
    """Days with a call in the period (stations x columns of `BLEND`), and the parameters of MBG/NBD.

    For MBG/NBD a station is observed from its first call on, for plain frequency from the beginning of the log on.
    """
    first_day = int(heard.first.min())
    columns = [heard.days.astype(np.int64) - 1, heard.last - heard.first, last_day - heard.first]
    # Every so-manieth station, evenly by id, says enough for four parameters.
    some, _ = _histories([column[:: max(len(heard) // MOST_FITTED, 1)] for column in columns])
    habit = models.fit_bg_nbd(some, at_once=True)
    every, place = _histories(columns)
    by_habit = models.expected_events(habit, every.repeats, every.recency, every.age, float(period_days))[place]
    by_frequency = heard.days * period_days / (last_day - first_day + 1)
    forecasts = np.stack([by_habit, by_frequency, heard.lately, np.ones(len(heard))], axis=1)
    return forecasts, {name: getattr(habit, name) for name in ("r", "alpha", "a", "b")}


def _histories(columns: Sequence[Integers]) -> tuple[models.Histories, Integers]:
    """The distinct histories, and which of them each station has."""
    distinct, place, count = models.collapse(*columns)
    repeats, recency, age = (column.astype(np.float64) for column in distinct)
    return models.Histories(repeats, recency, age, count), place


def _by_frequency(heard: Stations, last_day: int, log_days: int, period_days: int) -> Floats:
    """Calls per day of log. What the day of the last call takes off is less than a call: it decides between equals."""
    earlier = (last_day - heard.last) / (2.0 * log_days)
    return (heard.calls - earlier) * period_days / log_days
