"""What columns of heard logs are called, and the words for who calls whom.

Hands on names. Apart from the kind, because what settles its columns and judges its tables wants them too.
"""

from __future__ import annotations

from typing import Final

from pruner.words import schema

TALKGROUP, TIME, SECONDS = schema.HEARD_MEANINGS[1:4]
DATE, CLOCK, END, EVENT, PRIVATE = schema.HEARD_MEANINGS[5:]
#: What a column is called that tells the zone of each time.
ZONE: Final = "zone"
#: What a column is called that names the system of each call.
SYSTEM: Final = "system"

#: Why a line of a log is no record, where its pattern does not explain it.
OTHER_LINE: Final = "line is no call by the pattern"

#: Classes of words in headings of ids of callers and of talkgroups, with weights.
CALLER_WORDS: Final = (("caller", 1.0), ("id", 0.8), ("station", 0.6), ("number", 0.6))
GROUP_WORDS: Final = (("talkgroup", 1.0), ("number", 0.3))
