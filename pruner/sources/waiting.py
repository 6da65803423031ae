"""When a server may be asked again."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Final

LONGEST: Final = 7 * 86400.0
"""No word of a server keeps us waiting longer than this, in seconds."""


def seconds_to_wait(retry_after: str | None, now: float) -> float | None:
    """How long a Retry-After header asks to wait (RFC 9110, section 10.2.3), 0 to `LONGEST`; None if it says nothing usable.

    It is a number of seconds or a date in any of the three forms of RFC 9110, section 5.6.7. `now` in seconds since 1970.
    """
    text = (retry_after or "").strip()
    if re.fullmatch(r"[0-9]+", text, re.ASCII):
        return min(float(text[:12]), LONGEST)
    try:
        date = parsedate_to_datetime(text)
    except (ValueError, TypeError, IndexError, OverflowError):
        return None
    if date.tzinfo is None:
        date = date.replace(tzinfo=UTC)
    return min(max(date.timestamp() - now, 0.0), LONGEST)


def still(since: float, seconds: float, now: float) -> bool:
    """Whether a wait that began at `since` still lasts. A clock that was set back ends it: it would last for ever."""
    return since <= now < since + seconds


def clock(moment: float) -> str:
    """A moment in seconds since 1970 as text, in UTC."""
    return datetime.fromtimestamp(moment, UTC).strftime("%Y-%m-%d %H:%M UTC")
