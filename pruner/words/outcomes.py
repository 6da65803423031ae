"""Outcomes and reasons: what can become of a row, as small numbers with names and sentences.

Stages mark rows with these numbers; the ledger, the summary and `why` print the words.
"""

from __future__ import annotations

from enum import IntEnum
from typing import Final

#: Behind the name of lines of a file that are no rows, where they are counted.
NO_ROWS: Final = ", no rows"


class Outcome(IntEnum):
    """What became of a row. Every row that was read has exactly one."""

    KEPT = 0
    DROPPED = 1
    REJECTED = 2


class Reason(IntEnum):
    """Why a row was not kept; 0 stands for kept. The first that applies wins: in this order, but `OTHER_SYSTEM`,
    `NO_STATION` and `NO_TALKGROUP` stand before `RESERVED_ID`."""

    NONE = 0
    UNREADABLE_ROW = 1
    INVALID_ID = 2
    RESERVED_ID = 3
    DUPLICATE_ID = 4
    LEFT_OUT = 5
    NO_RULE = 6
    DUPLICATE_CALLSIGN = 7
    RULE_FULL = 8
    OVER_LIMIT = 9
    NO_STATION = 10
    OTHER_SYSTEM = 11
    NO_TALKGROUP = 12


REASON_WORDS: Final[dict[Reason, str]] = {
    Reason.UNREADABLE_ROW: "unreadable row",
    Reason.INVALID_ID: "invalid id",
    Reason.RESERVED_ID: "reserved id",
    Reason.DUPLICATE_ID: "duplicate id",
    Reason.LEFT_OUT: "left out",
    Reason.NO_RULE: "no rule",
    Reason.DUPLICATE_CALLSIGN: "duplicate call sign",
    Reason.RULE_FULL: "rule full",
    Reason.OVER_LIMIT: "over limit",
    Reason.NO_STATION: "no station",
    Reason.OTHER_SYSTEM: "other system",
    Reason.NO_TALKGROUP: "no talkgroup",
}

REASON_SENTENCES: Final[dict[Reason, str]] = {
    Reason.UNREADABLE_ROW: "The row could not be read as a contact: cells are missing or too many, or it names nobody.",
    Reason.INVALID_ID: "The id is not a whole number that fits the address field of the system.",
    Reason.RESERVED_ID: "The id can be sent on the air but the standard gives it to no single station.",
    Reason.DUPLICATE_ID: "Another row bears the same id and was preferred: the earlier source, then the later row.",
    Reason.LEFT_OUT: "A drop rule of the settings matches the contact.",
    Reason.NO_RULE: "No keep rule of the settings matches the contact.",
    Reason.DUPLICATE_CALLSIGN: "A contact with the same call sign is already kept, and one id per call sign was asked for.",
    Reason.RULE_FULL: "The keep rule that owns the contact had already taken as many as it may.",
    Reason.OVER_LIMIT: "The radio was full before the contact's turn came.",
    Reason.NO_STATION: "A column of the file says that the entry is a group that is called as a whole, not a station.",
    Reason.OTHER_SYSTEM: "A column of the file says that the entry is of another system than the source.",
    Reason.NO_TALKGROUP: "A column of the list says that the entry is a private call to one station, not a talkgroup.",
}

OUTCOME_WORDS: Final[dict[Outcome, str]] = {
    Outcome.KEPT: "kept",
    Outcome.DROPPED: "dropped",
    Outcome.REJECTED: "rejected",
}


def outcome_of(reason: Reason) -> Outcome:
    """The outcome that a reason stands for: rows that could not be read are rejected, the others dropped."""
    if reason is Reason.NONE:
        return Outcome.KEPT
    if reason in (Reason.UNREADABLE_ROW, Reason.INVALID_ID):
        return Outcome.REJECTED
    return Outcome.DROPPED
