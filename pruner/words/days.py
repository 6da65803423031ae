"""Days as numbers, counted from 1970-01-01, and how long a day is."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

DAY_SECONDS: Final = 86_400
DAY_MILLISECONDS: Final = 86_400_000
_FIRST: Final = date(1970, 1, 1)


def day_number(day: date) -> int:
    """The number of a date."""
    return (day - _FIRST).days


def date_of(number: int) -> date:
    """The date of a number."""
    return _FIRST + timedelta(days=number)
