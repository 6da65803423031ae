"""What the headings of a heard log mean.

Receives the names of columns, hands on the position of id, talkgroup, time and seconds on air.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from pruner import schema
from pruner.errors import InputRefusedError
from pruner.read.headings import SYNONYMS, fold

ID, TALKGROUP, TIME, SECONDS = schema.HEARD_MEANINGS
_NEEDED: Final = (ID, TALKGROUP, TIME)

#: English, German, French, Spanish, Italian, Portuguese, Dutch and Polish words, folded as `read.headings.fold` does. Where a
#: log has several headings of a meaning, the one that stands first here is taken.
HEARD_SYNONYMS: Final[dict[str, tuple[str, ...]]] = {
    ID: (*SYNONYMS[ID], *"sourceid source src callerid caller from".split()),
    TALKGROUP: tuple(
        (
            "talkgroup talkgroupid talkgroupnumber tg tgid tgnumber group groupid destinationid destination dst target to "
            "sprechgruppe gesprachsgruppe gruppe groupe groupedeparole groupedediscussion grupo grupodeconversacion "
            "grupodehabla gruppo gruppodiconversazione grupodeconversacao gespreksgroep groep grupa gruparozmowna"
        ).split()
    ),
    TIME: tuple(
        (
            "time timestamp datetime timeutc utctime utc start starttime begin heard heardat calltime date zeit zeitstempel "
            "zeitpunkt uhrzeit beginn startzeit datum heure horodatage dateheure debut hora fechahora fechayhora "
            "marcadetiempo inicio fecha ora dataora orario inizio datahora data tijd tijdstip tijdstempel datumtijd czas "
            "dataczas znacznikczasu poczatek"
        ).split()
    ),
    SECONDS: tuple(
        (
            "seconds secondsonair duration durationseconds durations airtime length sekunden dauer sendedauer dauersekunden "
            "secondes duree segundos duracion secondi durata duracao seconden duur zendtijd sekundy czastrwania"
        ).split()
    ),
}


def understand(names: Sequence[str], columns: Mapping[str, str | int]) -> dict[str, int]:
    """Position of each meaning among the headings; `columns` (from the settings) go before the synonyms.

    KeyError holds a heading of `columns` that is not there.
    """
    folded = [fold(name) for name in names]
    positions: dict[str, int] = {}
    for meaning, heading in columns.items():
        if isinstance(heading, int):
            positions[meaning] = heading - 1
        elif fold(heading) in folded:
            positions[meaning] = folded.index(fold(heading))
        else:
            raise KeyError(heading)
    for meaning in schema.HEARD_MEANINGS:
        ranks = {word: rank for rank, word in enumerate(HEARD_SYNONYMS[meaning])}
        found = [(ranks[word], place) for place, word in enumerate(folded) if word in ranks and place not in positions.values()]
        if meaning not in positions and found:
            positions[meaning] = min(found)[1]
    return positions


def needed(names: Sequence[str], columns: Mapping[str, str | int], where: str) -> dict[str, int]:
    """As `understand`; raises InputRefusedError when id, talkgroup or time is missing."""
    try:
        positions = understand(names, columns)
    except KeyError as error:
        raise InputRefusedError(f"{where}: no column is headed {error.args[0]!r}; correct columns in the settings") from error
    missing = [meaning for meaning in _NEEDED if meaning not in positions]
    if missing:
        found = ", ".join("".join(c if c.isalnum() or c in " .#/()-_" else "?" for c in name)[:24] for name in names[:8])
        raise InputRefusedError(
            f"{where}: no column for {' and '.join(missing)} among the headings (found: {found}); "
            f'name it in the settings: columns = {{ {missing[0]} = "its heading" }}'
        )
    return positions
