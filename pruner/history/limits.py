"""Until when limits hold all that rules ask for.

Receives what rules ask for, the room that there is, and how the directory grows; hands on days for a table of limits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from pruner.account.limit_rows import rooms_in, wanted_in
from pruner.account.limits import LEVEL, Lasts
from pruner.account.summary import Summary
from pruner.history.forecast import OUTGROWN, UNKNOWN, Forecast, Limit, Outlook, forecast
from pruner.history.growth import Series
from pruner.history.wants import Want, outgrown_at, parts_in, wants_of
from pruner.words.days import date_of

#: Where the recorded counts contradict what was counted today.
_LARGER: Final = "the recorded counts are larger than the directory of today"


def until_when(
    series: Series, wants: Sequence[Want], rooms: Sequence[int], wanted: int, level: float = LEVEL
) -> tuple[Forecast, list[Lasts]]:
    """For each room (contacts) until when it holds all that is asked for: `wanted` today, `wants` as the directory grows."""
    found = forecast(series, [Limit("", room, tuple(wants)) for room in rooms], level)
    return found, [
        _lasts(outlook, found, is_full=room < wanted, is_endless=math.isinf(outgrown_at(wants, room)))
        for outlook, room in zip(found.outlooks, rooms, strict=True)
    ]


def _lasts(outlook: Outlook, found: Forecast, *, is_full: bool, is_endless: bool) -> Lasts:
    since = outlook.status == OUTGROWN
    if is_full:
        since = since and len(found.series) > 1
        return Lasts(status="full", day=_date(outlook.day), earliest=_date(outlook.earliest)) if since else Lasts(status="full")
    if is_endless:
        return Lasts(status="never")
    if since or outlook.status == UNKNOWN:
        return Lasts(status="unknown", why=_LARGER if since else found.reason)
    status: Final = "expected" if outlook.day is not None else "later"
    return Lasts(status=status, day=_date(outlook.day), earliest=_date(outlook.earliest), latest=_date(outlook.latest))


def _date(day: int | None) -> str | None:
    return None if day is None else date_of(day).isoformat()


def lasting_of(summary: Summary, series: Series, level: float = LEVEL) -> list[Lasts]:
    """For each limit of a finished fit until when it holds all that the rules ask for."""
    if not summary.contacts:
        return [Lasts(status="unknown", why="the directory is empty") for _ in summary.limits]
    wants = wants_of(parts_in(summary), summary.contacts)
    return until_when(series, wants, rooms_in(summary), wanted_in(summary), level)[1]
