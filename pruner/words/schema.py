"""The words of the project as data: columns, systems, address ranges.

Nothing is received; every other module imports its names and dtypes from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

#: Canonical text columns of a directory, in the order in which they are written.
ID: Final = "id"
CALLSIGN: Final = "callsign"
NAME: Final = "name"
FIRST_NAME: Final = "first_name"
LAST_NAME: Final = "last_name"
TOWN: Final = "town"
STATE: Final = "state"
COUNTRY: Final = "country"

#: What a heading can mean. `name` is one column for the whole name; `first_name` and `last_name` are two.
MEANINGS: Final = (ID, CALLSIGN, NAME, FIRST_NAME, LAST_NAME, TOWN, STATE, COUNTRY)

#: What a column of a heard log can mean: who called, on which talkgroup, when, and how long; the call sign of who called, the
#: day and the time of day in two columns, the end of the call, and what kind of event a line tells.
HEARD_MEANINGS: Final = (ID, "talkgroup", "time", "seconds", CALLSIGN, "date", "clock", "end", "event", "private")

#: What a column can mean in a list of talkgroups, and in a list of stations that a rule names.
TALKGROUP_MEANINGS: Final = (ID, NAME, "description", COUNTRY)
LIST_MEANINGS: Final = (ID, CALLSIGN)
#: Further columns of ids in a row, where a person says so; and all that a person can say of a table of stations or of a list.
FURTHER_IDS: Final = ("id_2", "id_3", "id_4")
STATION_ANSWERS: Final = (*MEANINGS, *FURTHER_IDS)
LIST_ANSWERS: Final = (*LIST_MEANINGS, *FURTHER_IDS)

#: The text columns that are stored with one code per distinct value.
REPEATED_TEXT: Final = (NAME, FIRST_NAME, LAST_NAME, TOWN, STATE, COUNTRY)

#: Columns of the contact file that is written when a radio names no layout.
CONTACT_COLUMNS: Final = (CALLSIGN, ID, FIRST_NAME, LAST_NAME, COUNTRY, STATE, TOWN)

#: One more than the largest 24-bit address: the length of a dense array indexed by id.
ADDRESSES: Final = 1 << 24


@dataclass(frozen=True, slots=True)
class System:
    """The address range of one digital-voice system.

    `first` to `last` are addresses of single stations. 0 and `last + 1` to `highest` can be sent on the air but
    belong to no station (reserved, gateways, all-call); anything above `highest` does not fit the address field.
    """

    name: str
    first: int
    last: int
    highest: int


SYSTEMS: Final[dict[str, System]] = {
    # ETSI TS 102 361-1 V2.7.1, Annex A, Table A.1 (seen only as a quotation): FFFCE0 and above are not individual.
    "dmr": System("dmr", 1, 16_776_415, 0xFFFFFF),
    # NXDN Technical Specifications 1-A (seen only as a quotation): 16-bit unit id, 65 520 and above are special.
    "nxdn": System("nxdn", 1, 65_519, 0xFFFF),
    # TIA-102.BAAC (seen only as a quotation): 24-bit unit id, in practice up to 9 999 999; the rest from memory.
    "p25": System("p25", 1, 9_999_999, 0xFFFFFF),
}
SYSTEM_NAMES: Final = tuple(SYSTEMS)

KINDS: Final = ("other", "person", "repeater")
OTHER, PERSON, REPEATER = range(3)
