"""Numbers with their nouns; what is said of calls to come."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def counted(count: int, one: str, many: str = "") -> str:
    """`1 contact`, `2,000 contacts`; `many` where it is not `one` with an s."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def last_days(days: int) -> str:
    """`the last day`, `the last 90 days`."""
    return "the last day" if days == 1 else f"the last {days:,} days"


def percent(share: float) -> str:
    """A share as percent with one place, `91.5 %`."""
    return f"{100 * share:.1f} %"


def share_to_come(told: Mapping[str, Any]) -> str:
    """A share of calls to come in few characters: with its interval, as a lower bound, or that there is no figure."""
    if told["share"] is not None:
        return f"{percent(told['share'])} ({100 * told['low']:.1f} to {100 * told['high']:.1f})"
    return f"at least {percent(told['low'])}" if told["low"] is not None else "no figure"


def calls_to_come(told: Mapping[str, Any]) -> list[str]:
    """Sentences on the calls of the next period, the headline first, from `coverage.to_come` of a summary."""
    days = "next day" if told["period_days"] == 1 else f"next {told['period_days']:,} days"
    where = "on your talkgroups" if told["talkgroups"] == "mine" else "on all talkgroups"
    calls = f"of the calls {where} in the {days}"
    if told["share"] is not None:
        interval = f"{100 * told['low']:.1f} to {100 * told['high']:.1f}, {100 * told['confidence']:.0f} % interval"
        lines = [f"To come: {percent(told['share'])} ({interval}) {calls} will have a name."]
    elif told["low"] is not None:
        lines = [f"To come: at least {percent(told['low'])} {calls} will have a name. {told['why']}"]
    else:
        lines = [f"To come: no figure for the calls {where} in the {days}. {told['why']}"]
    strangers = told["strangers"]
    if strangers:
        lines.append(
            f"About {percent(strangers['share'])} of them come from stations never heard there before; "
            f"{percent(strangers['named'])} of these are named too."
        )
    return lines
