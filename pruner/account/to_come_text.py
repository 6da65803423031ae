"""What is said of calls to come, the same on the terminal and on the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pruner.account.coverage import Ahead, CallsToCome
from pruner.words.nouns import next_days, percent

#: What the best possible share of a choice is, looking back.
BEST_POSSIBLE: Final = (
    "Best possible: what no choice of as many contacts could exceed, had one known beforehand who would call. It stays below "
    "100 % where more stations called than have room, or where callers stand in no directory."
)
#: Where limits of a table have no figure while others have one.
NO_FIGURE: Final = "No figure: the logs tell too little of it, its interval would be wider than 20 percentage points."


def share_to_come(told: Ahead) -> str:
    """A share of calls to come in few characters: with its interval, as a lower bound, or that there is no figure."""
    if told.interval:
        share, low, high = told.interval
        return f"{percent(share)} ({100 * low:.1f} to {100 * high:.1f})"
    return f"at least {percent(told.low)}" if told.low is not None else "no figure"


def why_no_share(told: CallsToCome, shown: Sequence[Ahead]) -> str | None:
    """Why some of the limits that are `shown` together have no figure, or only a lower bound; None where all have one."""
    if all(one.share is not None for one in shown):
        return None
    of_all = told.low is not None or not told.by_limit  # else the reason is that of the radio's own limit
    return told.why if told.why and of_all else NO_FIGURE


def end_of_limits(told: CallsToCome, limit: int) -> str:
    """Why larger limits, up to `limit`, name as many as the last one of `by_limit`; empty where none is larger."""
    last = told.by_limit[-1] if told.by_limit else None
    if last is None or limit <= last.contacts or last.low is None or not last.contacts:
        return ""
    known = f"Calls to come are known up to {last.contacts:,} contacts, and larger limits name as many"
    return f"{known}: of the contacts of today's directory the rules ask for so many."


def calls_to_come(told: CallsToCome) -> list[str]:
    """Sentences on the calls of the next period, the headline first, of a summary."""
    days = next_days(told.period_days)
    where = "on your talkgroups" if told.talkgroups == "mine" else "on all talkgroups"
    calls = f"of the calls {where} in {days}"
    if told.interval:
        share, low, high = told.interval
        interval = f"{100 * low:.1f} to {100 * high:.1f}, {100 * told.confidence:.0f} % interval"
        lines = [f"To come: {percent(share)} ({interval}) {calls} will have a name."]
    elif told.low is not None:
        lines = [f"To come: at least {percent(told.low)} {calls} will have a name. {told.why}"]
    else:
        lines = [f"To come: no figure for the calls {where} in {days}. {told.why}"]
    strangers = told.strangers
    if strangers:
        there = "on your talkgroups" if told.talkgroups == "mine" else "on any talkgroup"
        more = ", or more," if told.share is None and told.low is not None else ""
        lines.append(
            f"About {percent(strangers.share)} of the calls to come will be of stations that were never heard {there} before; "
            f"about {percent(strangers.named)} of those calls{more} will have a name."
        )
    return lines
