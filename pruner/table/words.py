"""All words that head columns, by meaning and language, and what the meanings are good for."""

from __future__ import annotations

from typing import Final

from pruner.table.words_call import CALL
from pruner.table.words_channel import CHANNEL
from pruner.table.words_contact import CONTACT
from pruner.table.words_duration import DURATION
from pruner.table.words_licence import LICENCE
from pruner.table.words_person import PERSON
from pruner.table.words_place import PLACE
from pruner.table.words_position import POSITION
from pruner.table.words_record import RECORD
from pruner.table.words_station import STATION
from pruner.table.words_time import TIME

#: Meaning -> language (ISO 639-1 code, or `mul`: used in many) -> entries, separated by blanks, the usual ones first; `_` is a
#: blank inside an entry. A word that can mean several things stands under each of them.
WORDS: Final[dict[str, dict[str, str]]] = {
    **STATION,
    **PERSON,
    **PLACE,
    **POSITION,
    **CALL,
    **TIME,
    **DURATION,
    **CHANNEL,
    **RECORD,
    **CONTACT,
    **LICENCE,
}

#: Meanings that no directory, list or log has use for -> why a column headed so is not taken.
NEVER_TAKEN: Final[dict[str, str]] = {
    "row_number": "it counts the rows",
    "database_key": "it is the key of the record in its database",
    "member_number": "it is a number of a club's or a customer's list",
    "record_date": "it dates the record or the person, not a call",
    "count": "it counts something",
    "phone": "it is a telephone number",
    "email": "it is an e-mail address",
    "web": "it is an address or a picture",
    "postal_code": "it is a postal code",
    "street": "it is a street or a house number",
    "locator": "it is a locator of a place",
    "latitude": "it is a latitude",
    "longitude": "it is a longitude",
    "remark": "it is a remark",
    "status": "it is the state of the entry",
    "licence": "it is the class or the number of a licence",
    "previous_callsign": "it is a call sign that is no longer held",
    "other_station": "it is another station, a network or another person",
    "person_other": "it is something else about the person",
    "frequency": "it is a frequency, a channel or a colour code",
    "signal": "it is about the signal or the equipment",
}

#: Meaning -> a further meaning that a whole class of headings has in some tables -> when. Single words with two meanings
#: stand under both in WORDS instead.
MAY_ALSO_MEAN: Final[dict[str, dict[str, str]]] = {
    "number": {
        "id": "in a table of stations, where the cells are addresses of stations",
        "talkgroup": "in a list of talkgroups, or beside a caller",
        "row_number": "where the cells count the rows",
    },
    "id": {
        "talkgroup": "in a list of talkgroups",
        "database_key": "where another column holds the addresses of stations",
    },
    "station": {
        "callsign": "where the cells are call signs",
        "id": "where the cells are addresses of stations",
        "name": "where another column is the call sign and another the id",
        "caller": "in a heard log",
    },
    "callsign": {"caller": "in a heard log"},
    "name": {
        "last_name": "beside a column of first names",
        "first_name": "beside a column of last names",
        "callsign": "where the cells are call signs and no column is headed so",
    },
    "nickname": {
        "first_name": "where no column is headed so",
        "name": "in a list of talkgroups, or where no column is headed so",
    },
    "talkgroup": {"name": "in a list of talkgroups, where the cells are texts"},
    "date": {"time": "where the cells hold the time of day too"},
    "time": {"clock": "where the cells hold a time of day alone, beside a date"},
    "clock": {"time": "where the cells hold the date too"},
    "description": {"name": "in a list of talkgroups without names"},
    "remark": {"description": "in a list of talkgroups without descriptions"},
    "count": {"number": "where the word is the same"},
}
