"""All words that head columns, by meaning and language: `lexicon_build` folds them."""

from __future__ import annotations

from typing import Final

from pruner.table.words_call import CALL
from pruner.table.words_channel import CHANNEL
from pruner.table.words_contact import CONTACT
from pruner.table.words_duration import DURATION
from pruner.table.words_further import FURTHER
from pruner.table.words_licence import LICENCE
from pruner.table.words_person import PERSON
from pruner.table.words_place import PLACE
from pruner.table.words_position import POSITION
from pruner.table.words_record import RECORD
from pruner.table.words_station import STATION
from pruner.table.words_time import TIME

_LISTS: Final[dict[str, dict[str, str]]] = {
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
#: Meaning -> language (ISO 639-1 code, or `mul`: used in many) -> entries, separated by blanks, the usual ones first; `_` is a
#: blank inside an entry. A word that can mean several things stands under each of them.
WORDS: Final[dict[str, dict[str, str]]] = {
    meaning: {**languages, **FURTHER.get(meaning, {})} for meaning, languages in _LISTS.items()
}
