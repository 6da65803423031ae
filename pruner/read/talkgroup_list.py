"""Talkgroup lists: what their headings mean, which numbers are group addresses, and reading them.

Receives a path, hands on Records like `read.directory`; their `schema.ID` is the number of the group. Group numbers are a
space of their own: the group 2321234 and the station 2321234 have nothing to do with each other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Final, TypeVar

from pruner import schema
from pruner.errors import InputRefusedError
from pruner.read.directory import read_directory
from pruner.read.headings import SYNONYMS, Vocabulary
from pruner.read.records import Records

Result = TypeVar("Result")

#: What a further column can mean in a talkgroup list; it stands in for a name that is missing.
DESCRIPTION: Final = "description"

#: Group addresses per system, as `schema.SYSTEMS` has them for stations. The names differ from those of the systems because
#: nothing that holds for ids (a device suffix, say) holds for groups.
GROUPS: Final[dict[str, schema.System]] = {
    # ETSI TS 102 361-1 V2.7.1, Annex A (seen only as a quotation): the numbers of Table A.1 in a separate space.
    "dmr": schema.System("dmr talkgroups", 1, 16_776_415, 0xFFFFFF),
    # NXDN Technical Specifications 1-A (seen only as a quotation): 16-bit group id, 0 and 65 520 to 65 535 special.
    "nxdn": schema.System("nxdn talkgroups", 1, 65_519, 0xFFFF),
    # TIA-102.BAAC (seen only as a quotation): 16-bit talkgroup id, FFFF calls all; that 0 is no talkgroup: from memory.
    "p25": schema.System("p25 talkgroups", 1, 65_534, 0xFFFF),
}

#: English, German, French, Spanish, Italian, Portuguese, Dutch and Polish words. "Group" and "talkgroup" head numbers in some
#: lists and names in others: a better heading for the number leaves them to the name.
TALKGROUPS: Final = Vocabulary(
    {
        schema.ID: (
            "talkgroupnumber talkgroupid tgnumber tgid groupnumber groupid number id talkgroupno groupno "
            "sprechgruppennummer gruppennummer rufgruppennummer nummer kennung kennnummer "
            "numerodegroupe numerogroupe numero identifiant "
            "numerodegrupo numerogrupo identificador numerodigruppo numerogruppo identificativo numerodogrupo "
            "groepsnummer gespreksgroepnummer numergrupy numer nr no dec decimal "
            "tg talkgroup group sprechgruppe rufgruppe gruppe groupedeparole groupe grupodeconversacion grupo "
            "gruppodiconversazione gruppo grupodeconversa gespreksgroep groep gruparozmowna grupa"
        ).split(),
        schema.NAME: (
            "name talkgroupname tgname groupname label alias title gruppenname bezeichnung "
            "nomdugroupe nom nombredelgrupo nombre nomegruppo nome nomedogrupo groepsnaam naam nazwagrupy nazwa "
            "tg talkgroup group sprechgruppe rufgruppe gruppe groupedeparole groupe grupodeconversacion grupo "
            "gruppodiconversazione gruppo grupodeconversa gespreksgroep groep gruparozmowna grupa"
        ).split(),
        DESCRIPTION: (
            "description details remarks remark notes note comment beschreibung bemerkung bemerkungen notiz "
            "remarque descripcion observaciones descrizione descricao omschrijving opmerking opis uwagi"
        ).split(),
        schema.COUNTRY: SYNONYMS[schema.COUNTRY],
    },
    "a list of talkgroups",
    "group numbers",
    'head the columns "number" and "name"',
    'add one, such as "number,name"',
)


def read_talkgroups(path: Path, work: Callable[[Records], Result], pool: ThreadPoolExecutor) -> Iterator[tuple[int, Result]]:
    """Reads a list of any supported kind; yields (first line of the run, work(records)) in the order of the file.

    Every run has `schema.NAME` or `DESCRIPTION` among its columns. Raises InputRefusedError or SourceMissingError with one
    line.
    """

    def named(records: Records) -> Result:
        if schema.NAME not in records.columns and DESCRIPTION not in records.columns:
            raise InputRefusedError(f"{path}: no column of names among the headings; {TALKGROUPS.hint}")
        return work(records)

    return read_directory(path, named, pool, vocabulary=TALKGROUPS)
