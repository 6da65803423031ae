"""What can become of a row of a heard log: folded, set aside (with a reason) or rejected (with a reason).

read = folded + set aside + rejected, per file and in total. A row that is folded is a new call or one that was known.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Final

#: 2000-01-01T00:00:00Z: clocks that start at 1970 or 1980 show earlier times until they are set.
EARLIEST: Final = 946_684_800_000


class Mark(IntEnum):
    """The first that applies, in this order, wins; 0 stands for folded."""

    FOLDED = 0
    UNREADABLE_ROW = 1
    INVALID_ID = 2
    INVALID_TALKGROUP = 3
    INVALID_TIME = 4
    INVALID_SECONDS = 5
    RESERVED_ID = 6
    BEFORE_2000 = 7
    IN_THE_FUTURE = 8
    FORGOTTEN = 9
    TOO_OLD = 10
    PRIVATE_CALL = 11
    OTHER_LINE = 12
    OTHER_EVENT = 13
    OTHER_SYSTEM = 14


#: Rows from here on could be read, but say nothing that can be used.
FIRST_SET_ASIDE: Final = Mark.RESERVED_ID

MARK_WORDS: Final[dict[Mark, str]] = {
    Mark.FOLDED: "folded",
    Mark.UNREADABLE_ROW: "unreadable row",
    Mark.INVALID_ID: "invalid id",
    Mark.INVALID_TALKGROUP: "invalid talkgroup",
    Mark.INVALID_TIME: "invalid time",
    Mark.INVALID_SECONDS: "invalid seconds on air",
    Mark.RESERVED_ID: "reserved id",
    Mark.BEFORE_2000: "clock before the year 2000",
    Mark.IN_THE_FUTURE: "clock in the future",
    Mark.FORGOTTEN: "day was forgotten",
    Mark.TOO_OLD: "older than calls are kept",
    Mark.PRIVATE_CALL: "private call",
    Mark.OTHER_LINE: "line is no call by the pattern",
    Mark.OTHER_EVENT: "event is neither start nor end of a call",
    Mark.OTHER_SYSTEM: "call of another system",
}


@dataclass(slots=True)
class Account:
    """How many rows were read, and what became of them; reasons as words. `new` of those folded are calls that no log
    brought before; the others say what was known. `events` of those folded are starts or ends of calls."""

    read: int = 0
    folded: int = 0
    rejected: Counter[str] = field(default_factory=Counter)
    set_aside: Counter[str] = field(default_factory=Counter)
    new: int = 0
    events: int = 0

    @property
    def known(self) -> int:
        """Rows that were folded and brought no new call."""
        return self.folded - self.new

    def add(self, other: Account) -> None:
        """Adds another account to this one."""
        self.read += other.read
        self.folded += other.folded
        self.new += other.new
        self.events += other.events
        self.rejected.update(other.rejected)
        self.set_aside.update(other.set_aside)

    def check(self) -> None:
        """Holds the law; a breach is a fault of ours."""
        if self.read != self.folded + self.rejected.total() + self.set_aside.total() or self.known < 0:
            raise AssertionError(f"{self.read} rows read, but {self}")

    def plain(self) -> dict[str, int | Mapping[str, int]]:
        """For JSON."""
        return {
            "read": self.read,
            "folded": self.folded,
            "new": self.new,
            "known": self.known,
            "events": self.events,
            "rejected": dict(sorted(self.rejected.items())),
            "set_aside": dict(sorted(self.set_aside.items())),
        }
