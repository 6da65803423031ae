"""What is said of limits, the same on the terminal and on the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from pruner.account.coverage import Ahead
from pruner.account.limits import Gain, Lasts, LimitGroup, LimitRow, LimitTable
from pruner.words.nouns import counted, next_days, percent

#: A gain below so many percentage points of the calls to come is called small.
_SMALL: Final = 1.0
#: Less than this is shown as nothing.
_SHOWN: Final = 0.05
NEXT_SIZE: Final = "next size: what the next limit of the table holds and names more."
_MONTH: Final = len("2027-01")


def share_words(ahead: Ahead) -> tuple[str, str]:
    """A share of the calls to come, and its interval; a lower bound, or that there is no figure."""
    if ahead.interval:
        share, low, high = ahead.interval
        return percent(share), f"{100 * low:.1f} to {100 * high:.1f}"
    return (percent(ahead.low), "or more") if ahead.low is not None else ("no figure", "")


def lasts_words(lasts: Lasts) -> tuple[str, str]:
    """Until when a limit lasts, and its interval in months."""
    if lasts.status == "full":
        return (f"full {_since(lasts)}", lasts.day) if lasts.day else ("full today", "")
    if lasts.status in ("never", "unknown"):
        return {"never": "no end in sight", "unknown": "not known"}[lasts.status], ""
    first, last = (day[:_MONTH] if day else "later" for day in (lasts.earliest, lasts.latest))
    return lasts.day or "later", "" if first == last else f"{first} to {last}"


def _since(lasts: Lasts) -> str:
    """It may have been so before the records begin."""
    return "since" if lasts.earliest else "already"


def gain_words(gain: Gain | None) -> tuple[str, str]:
    """What the next size gains: contacts, and points of the calls to come."""
    if gain is None:
        return "-", ""
    return f"+{gain.contacts:,}", "" if gain.points is None else f"{gain.points:+.1f} points"


def telling(rows: Sequence[LimitRow]) -> tuple[Sequence[LimitRow], str]:
    """The rows without those at the end that hold and last as the one before them, and a sentence where there are such."""
    end = len(rows)
    while end > 1 and not rows[end - 1].radios and _alike(rows[end - 1], rows[end - 2]):
        end -= 1
    left = rows[end:]
    return rows[:end], f"{', '.join(f'{row.contacts:,}' for row in left)}: as {rows[end - 1].contacts:,}." if left else ""


def _alike(row: LimitRow, before: LimitRow) -> bool:
    return (row.kept, row.countries, row.to_come, row.lasts) == (before.kept, before.countries, before.to_come, before.lasts)


def advice(rows: Sequence[LimitRow], wanted: int) -> tuple[str, ...]:
    """What follows for each radio of the settings: whether it holds all, until when, and what a larger one gains."""
    return tuple(f"{_state(row, wanted)} {_next(row, rows)}".strip() for row in rows if row.radios)


def _state(row: LimitRow, wanted: int) -> str:
    who = f"{' and '.join(row.radios)} ({counted(row.contacts, 'contact')}{', by its bytes' if row.bytes else ''})"
    asked, lasts = counted(wanted, "contact"), row.lasts
    if lasts.status == "full":
        since = f" since {lasts.day}" if lasts.earliest else ""
        if lasts.day and not lasts.earliest:
            since = f", and was on {lasts.day}, the first recorded day"
        return f"{who} is full{since}: the rules ask for {asked}, of whom {wanted - row.kept:,} stay out."
    holds = f"{who} holds all {asked} that the rules ask for"
    if lasts.status == "expected":
        bounds = f"{lasts.earliest or 'later'} at the earliest, {lasts.latest or 'beyond the horizon'} at the latest"
        return f"{holds}, until about {lasts.day} ({bounds})."
    if lasts.status == "later":
        early = f", though it may be full from {lasts.earliest} on" if lasts.earliest else ""
        return f"{holds}, and is likely to for as long as the record lets one look ahead{early}."
    if lasts.status == "never":
        return f"{holds}, and they will not ask for more as the directory grows."
    return f"{holds}. Until when is not known: {lasts.why}."


def _next(row: LimitRow, rows: Sequence[LimitRow]) -> str:
    gain = row.next_size
    if gain is None:
        return "No larger size stands in the table." if row.lasts.status == "full" else ""
    if not gain.contacts:
        return "A larger one holds nobody more today."
    size = f"The next size, {gain.limit:,},"
    more = counted(gain.contacts, "contact")
    if gain.points is None:
        unknown = "; how many more calls it names is not known" if row.to_come.low is not None else ""
        return f"{size} holds {more} more{unknown}."
    if gain.points >= _SMALL:
        return f"{size} names {gain.points:.1f} points more of the calls to come and holds {more} more."
    named = f"only {gain.points:.1f} points more" if gain.points >= _SHOWN else "no more"
    return f"{size} names {named} of the calls to come: hardly worth it{_first_large(row, rows)}."


def _first_large(row: LimitRow, rows: Sequence[LimitRow]) -> str:
    """The first size that is worth it, where one is."""
    here = row.to_come.share
    for one in rows:
        if here is not None and one.to_come.share is not None and one.contacts > row.contacts:
            points = 100 * (one.to_come.share - here)
            if points >= _SMALL:
                return f"; {one.contacts:,} would name {points:.1f} more"
    return ""


def title(group: LimitGroup) -> str:
    """What a group is of: its radios, and how much their rules ask for."""
    asked = counted(group.wanted, "contact")
    return f"{', '.join(group.radios)}: the rules ask for {asked}; the directory has {group.directory:,}."


def of_what(period_days: int | None, talkgroups: str | None, confidence: float | None) -> list[str]:
    """What the columns are of."""
    lines = ["contacts, countries: what the rules keep at this limit today."]
    if period_days is not None:
        where = "on your talkgroups" if talkgroups == "mine" else "on all talkgroups"
        named = f"the share of the calls {where} in {next_days(period_days)} whose caller has a name"
        lines.append(f"calls named: {named}, with its {100 * (confidence or 0):.0f} % interval.")
    return lines


def dates_words(level: float) -> str:
    """What the dates are, without from what."""
    return f"lasts until: the day from which on the rules ask for more, with its {100 * level:.0f} % interval"


def of_dates(table: LimitTable) -> str:
    """What the dates are."""
    dates = dates_words(table.interval)
    if table.why_no_dates:
        return f"{dates}; not known, because {table.why_no_dates}."
    return f"{dates}, by the counts recorded up to {table.recorded_until}; later: after {table.horizon}."
