"""The rows of a table of limits: what each holds, until when it lasts, what the next size gains.

Receives what limits hold today and until when each lasts, hands on rows, and the table of a finished fit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from pruner.account.coverage import Ahead, CallsToCome
from pruner.account.limits import Gain, Lasts, LimitGroup, LimitHolds, LimitRow
from pruner.account.limits_text import advice
from pruner.account.summary import Summary
from pruner.account.to_come_text import end_of_limits, why_no_share
from pruner.words.outcomes import REASON_WORDS, Reason

_NOT_LOOKED_AT: Final = "it depends on how the directory grows; pruner limits tells it"
_NO_LOGS: Final = "There are no heard calls, so the share of the calls to come is not known."
_DIGITS: Final = 4


def rows_of(held: Sequence[LimitHolds], lasting: Sequence[Lasts], own: Mapping[int, Sequence[str]]) -> list[LimitRow]:
    """A row for each limit. `own`: the radios that have it."""
    return [
        LimitRow(**dict(one), lasts=lasts, radios=tuple(own.get(one.contacts, ())))
        for one, lasts in zip(held, lasting, strict=True)
    ]


def with_gains(rows: Sequence[LimitRow]) -> tuple[LimitRow, ...]:
    """The rows by contacts, ascending, each with what the next size gains: a row that holds more."""
    stand = sorted(rows, key=lambda row: (row.contacts, row.bytes or 0, row.radios))
    return tuple(row.model_copy(update={"next_size": _gain(row, stand[place + 1 :])}) for place, row in enumerate(stand))


def _gain(row: LimitRow, larger: Sequence[LimitRow]) -> Gain | None:
    following = next((one for one in larger if one.contacts > row.contacts), None)
    if following is None:
        return None
    points = _points(row.to_come, following.to_come)
    return Gain(limit=following.contacts, contacts=following.kept - row.kept, points=points)


def _points(here: Ahead, there: Ahead) -> float | None:
    if here.share is None or there.share is None:
        return None
    return round(100 * (there.share - here.share), _DIGITS)


def why_no_figure(ahead: CallsToCome | None, rows: Sequence[LimitRow]) -> str | None:
    """Why some of the rows have no share of the calls to come, or a lower bound only."""
    if ahead is None:
        return _NO_LOGS
    return why_no_share(ahead, [row.to_come for row in rows])


def why_no_more(ahead: CallsToCome | None, rows: Sequence[LimitRow], keep_free: int) -> str | None:
    """Why the largest of the rows name as many of the calls to come as a smaller one; None where no row does."""
    most = max((row.contacts - keep_free for row in rows if not row.bytes), default=0)
    return end_of_limits(ahead, most) or None if ahead else None


def rooms_in(summary: Summary) -> list[int]:
    """How many contacts there is room for at each limit of a finished fit."""
    return [max(one.contacts - summary.limit.keep_free, 0) for one in summary.limits]


def wanted_in(summary: Summary) -> int:
    """Contacts that the rules of a finished fit ask for."""
    return summary.kept + summary.dropped.get(REASON_WORDS[Reason.OVER_LIMIT], 0)


def group_of(summary: Summary, lasting: Sequence[Lasts] | None = None) -> LimitGroup | None:
    """The table of the radio of a finished fit; `lasting`: until when each limit lasts (None: not looked at). None where the
    limit is one of bytes, or where the fit is of a version that told nothing of other limits."""
    if not summary.limits or summary.contacts is None or summary.limit.contacts is None:
        return None
    wanted, ahead = wanted_in(summary), summary.coverage.to_come if summary.coverage else None
    if lasting is None:
        unknown = Lasts(status="unknown", why=_NOT_LOOKED_AT)
        lasting = [Lasts(status="full") if room < wanted else unknown for room in rooms_in(summary)]
    rows = with_gains(rows_of(summary.limits, lasting, {summary.limit.contacts: [summary.radio]}))
    return LimitGroup(
        radios=(summary.radio,),
        rules=tuple(rule.name for rule in summary.rules),
        keep_free=summary.limit.keep_free,
        wanted=wanted,
        directory=summary.contacts,
        why=why_no_figure(ahead, rows),
        end=why_no_more(ahead, rows, summary.limit.keep_free),
        rows=rows,
        advice=advice(rows, wanted),
    )
