"""What the rules at a limit will name of the calls to come.

Receives what was loaded and a radio, hands on figures for summary.json. How many of the calls will be of strangers is told by
those of the last periods. How much of it has a name is told by the expected calls of those who are kept now; the same rules,
fitted on what was known one period ago (`job.earlier`) and scored on what came since, say how far that errs. Where the
directory of then is not known, only what certainly stood there counts, so that is a lower bound.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.account.coverage import CallsToCome, ShareToCome, Strangers
from pruner.calls.forecast import (
    CONFIDENCE,
    FEWEST_CALLS,
    FEWEST_DAYS,
    WIDEST,
    Interval,
    Latest,
    Shares,
    forecast,
)
from pruner.calls.newcomers import Newcomers
from pruner.job.earlier import Chosen, Earlier, chosen_of, refit
from pruner.job.latest import Came, Scored, came_in, kinds_to_come, share_of, system_logs
from pruner.job.load import Loaded
from pruner.settings.models import Radio
from pruner.words.nouns import counted, last_days, percent

Mask = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
#: Where it is not known who stood in the directory, so many times as many newcomers as did not certainly stand there pass for
#: callers in no directory: in some thousands ids are not given out in rising order.
_LOWERED: Final = 2.0


class Expectation:
    """What a choice is expected to name at any limit. `calls`: expected calls of each contact; `fresh`: who was not heard
    before; `listed`: share of the calls of those heard first that came from stations of the directory."""

    def __init__(self, chosen: Chosen, calls: Floats, fresh: Mask, listed: float) -> None:
        self.chosen, self._listed = chosen, listed
        kinds = calls * ~fresh, calls * (fresh & chosen.stood)
        self._named = [chosen.sums(kind) for kind in kinds]
        self._totals = [float(kind.sum()) for kind in kinds]

    def shares(self, limit: int | None) -> Shares:
        """Of the expected calls of each kind of caller the share that has a name."""
        heard, strangers = (share_of(named(limit), total) for named, total in zip(self._named, self._totals, strict=True))
        return Shares(heard, self._listed * strangers)


@dataclass(frozen=True, slots=True)
class Outlook:
    """All that a forecast at a limit is made of: now, one period ago, and what came since. `days_missing`: for how many days
    the log has to go on until the directory of one period ago is known (0: it is)."""

    now: Expectation
    then: Expectation
    scored: Scored
    kinds: Newcomers
    days_missing: int

    @property
    def is_bound(self) -> bool:
        """Whether no more than a lower bound is known, because the directory of then is not."""
        return self.days_missing > 0

    def at(self, limit: int | None) -> Interval:
        """The forecast at the radio's own limit (None) or another."""
        scored = self.scored
        latest = Latest(
            self.then.shares(limit), scored.shares(limit), scored.stations, scored.of_heard(limit), scored.of_weeks(limit)
        )
        return forecast(self.kinds, self.now.shares(limit), latest, is_bound=self.is_bound)


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
    logs = system_logs(loaded, mine, period)
    came = came_in(logs, len(loaded.contacts), period)
    said = said.model_copy(update={"calls": round(came.total)})
    if came.total < FEWEST_CALLS:
        scored, where = round(came.total), "on your talkgroups" if mine else "on all talkgroups"
        many = f"Only {counted(scored, 'call')}" if scored else "No call"
        why = f"{many} came {where} in {last_days(period)} of the logs; a figure needs {FEWEST_CALLS:,}."
        return said.model_copy(update={"why": why})
    return _figures(said, _outlook(loaded, radio, came, kinds_to_come(logs, period, days)), radio, limits)


def _outlook(loaded: Loaded, radio: Radio, came: Came, kinds: Newcomers) -> Outlook:
    earlier, calls = Earlier(loaded, loaded.settings.calls.period_days), loaded.calls
    assert calls is not None
    mine, known = loaded.settings.talkgroups.mine or None, earlier.listed()
    of_fresh = float(came.of_fresh.sum())
    strange = of_fresh - float(came.calls[came.fresh & known.stood].sum())
    listed = 1.0 - share_of(strange, of_fresh)
    if not known.recorded:
        listed = max(1.0 - _LOWERED * (1.0 - listed), 0.0)
    chosen = refit(earlier, radio, known)
    then = Expectation(chosen, earlier.calls().expected(mine), came.fresh, listed)
    everybody = np.ones(len(loaded.contacts), dtype=bool)
    now = Expectation(chosen_of(loaded, radio, everybody), calls.expected(mine), came.unheard, listed)
    return Outlook(now, then, Scored(came, chosen), kinds, 0 if known.recorded else max(earlier.days_missing(), 1))


def _figures(said: CallsToCome, outlook: Outlook, radio: Radio, limits: Sequence[int]) -> CallsToCome:
    share, low, high, why = None, None, None, None
    here, period = outlook.at(None), said.period_days
    if outlook.is_bound:
        low = round(here.low, 6)
        more = counted(outlook.days_missing, "day")
        why = (
            f"This is a lower bound, because it is not known which stations the directory had {period:,} days ago. Every "
            f"run remembers them; once the log goes on for {more} more, an interval stands here."
        )
    elif here.high - here.low > WIDEST:
        why = f"Nobody can know: the logs allow for anything from {percent(here.low)} to {percent(here.high)} of the calls."
    else:
        share, low, high = round(here.share, 6), round(here.low, 6), round(here.high, 6)
    wanted = [] if radio.memory else _limits(outlook.now.chosen, limits)
    at_limits = [_at_limit(limit, outlook.at(limit), outlook.is_bound) for limit in wanted]
    strangers = Strangers(share=round(outlook.kinds.share, 6), named=round(here.strangers, 6))
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


def _limits(now: Chosen, limits: Sequence[int]) -> list[int]:
    most = int(now.rank.max(initial=0))
    steps = {factor * 10**power for power in range(2, 8) for factor in (1, 2, 5)}
    inside = (limit for limit in (*steps, *limits) if limit < most)  # larger ones name as many as everybody
    return sorted({*inside, most})
