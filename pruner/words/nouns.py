"""Numbers with their nouns."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """`1 contact`, `2,000 contacts`; `many` where it is not `one` with an s."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def last_days(days: int) -> str:
    """`the last day`, `the last 90 days`."""
    return "the last day" if days == 1 else f"the last {days:,} days"


def next_days(days: int) -> str:
    """`the next day`, `the next 28 days`."""
    return "the next day" if days == 1 else f"the next {days:,} days"


def percent(share: float) -> str:
    """A share as percent with one place, `91.5 %`."""
    return f"{100 * share:.1f} %"
