"""What a heading means: the table of synonyms, and the choice of one column per meaning.

Receives the cells of a heading line, hands on a mapping from meaning to position.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from pruner import schema

#: English, German, French, Spanish, Italian, Portuguese, Dutch and Polish words, folded (letters and digits only, no marks).
#: Where one source has several headings of a meaning, the one that stands first here is taken.
SYNONYMS: Final[dict[str, list[str]]] = {
    schema.ID: (
        "dmrid nxdnid p25id stationid unitid id idnumber dmrnumber stationnumber kennung "
        "kennnummer identifiant identificador identificativo number nummer numero numer"
    ).split(),
    schema.CALLSIGN: (
        "callsign call station rufzeichen indicatif indicativo nominativo roepnaam roepletters znak znakwywolawczy"
    ).split(),
    schema.FIRST_NAME: ("firstname givenname forename vorname prenom nombredepila nome primeironome voornaam imie").split(),
    schema.LAST_NAME: (
        "lastname surname familyname nachname familienname zuname nomdefamille apellido apellidos cognome sobrenome "
        "apelido achternaam nazwisko"
    ).split(),
    schema.NAME: "name fullname operator operatorname holder ganzername nomcomplet nombre nom naam".split(),
    schema.TOWN: (
        "town city place locality municipality qth ort stadt wohnort ville commune ciudad localidad localita citta comune "
        "cidade plaats stad miasto miejscowosc"
    ).split(),
    schema.STATE: (
        "state province region county bundesland kanton canton etat departement provincia regione estado distrito "
        "provincie wojewodztwo stateprovince"
    ).split(),
    schema.COUNTRY: "country nation countryname countrycode land staat pays pais paese kraj".split(),
}


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What the headings of one kind of table can mean, and how its refusals speak of it.

    `synonyms`: folded words per meaning, the best first. A word may stand under several meanings: the meaning that stands
    first and finds no better heading has it. `table` and `key` name the table and what its `schema.ID` holds; `hint` is the
    way out when no heading is understood, `without_headings` when there is no heading line.
    """

    synonyms: Mapping[str, Sequence[str]]
    table: str
    key: str
    hint: str
    without_headings: str


STATIONS: Final = Vocabulary(
    SYNONYMS,
    "a table of stations",
    "ids",
    'name the columns in the settings: columns = { id = "their heading", callsign = "their heading" }',
    "add one, or give columns = { id = 1, callsign = 2 } (positions, for a file without headings)",
)


def fold(heading: str) -> str:
    """The letters and digits of a heading, without case and marks."""
    decomposed = unicodedata.normalize("NFKD", heading)
    return "".join(character for character in decomposed if character.isalnum()).casefold()


def understand(cells: Sequence[str], vocabulary: Vocabulary = STATIONS) -> dict[str, int]:
    """Position of each meaning among the cells of a heading line; meanings that are not there are absent."""
    first_at: dict[str, int] = {}
    for position, cell in enumerate(cells):
        first_at.setdefault(fold(cell), position)
    found: dict[str, int] = {}
    for meaning, words in vocabulary.synonyms.items():
        position = next((first_at[word] for word in words if word in first_at and first_at[word] not in found.values()), -1)
        if position >= 0:
            found[meaning] = position
    return found


def assign(cells: Sequence[str], columns: Mapping[str, str | int], vocabulary: Vocabulary = STATIONS) -> dict[str, int]:
    """Position of each meaning where the settings name the headings; KeyError holds a heading that is not there."""
    folded = [fold(cell) for cell in cells]
    positions = understand(cells, vocabulary)
    for meaning, heading in columns.items():
        if isinstance(heading, int):
            positions[meaning] = heading - 1
            continue
        if fold(heading) not in folded:
            raise KeyError(heading)
        position = folded.index(fold(heading))
        positions = {other: place for other, place in positions.items() if place != position}
        positions[meaning] = position
    return positions
