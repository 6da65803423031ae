"""Talkgroup lists: which numbers are group addresses, and reading them.

Receives a path, hands on Records like `read.directory`; their `schema.ID` is the number of the group. Group numbers are a
space of their own: the group 2321234 and the station 2321234 have nothing to do with each other.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Final, TypeVar

import pyarrow as pa

from pruner.read.directory import read_directory
from pruner.read.group_cells import group_number
from pruner.read.kinds import DESCRIPTION, TALKGROUPS
from pruner.read.records import Records
from pruner.table.understanding import Understanding
from pruner.words import schema
from pruner.words.threads import Pool

Result = TypeVar("Result")

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

__all__ = ["DESCRIPTION", "GROUPS", "read_talkgroups"]


def read_talkgroups(
    path: Path,
    work: Callable[[Records], Result],
    pool: Pool,
    *,
    columns: Mapping[str, str | int] | None = None,
    understood: Callable[[Understanding], None] | None = None,
) -> Iterator[tuple[int, Result]]:
    """Reads a list of any supported kind; yields (first line of the run, work(records)) in the order of the file.

    Every run has `schema.NAME` or `DESCRIPTION` among its columns; cells such as `TG 232` are numbers. Raises
    InputRefusedError or SourceMissingError with one line.
    """

    def numbered(records: Records) -> Result:
        records.columns[schema.ID] = _numbers(records.columns[schema.ID])
        return work(records)

    return read_directory(path, numbered, pool, kind=TALKGROUPS, columns=columns, understood=understood)


def _numbers(text: pa.Array) -> pa.Array:
    """The cells with what stands around the number of a group taken off; those without a number stay."""
    encoded = text.dictionary_encode()
    distinct = encoded.dictionary.to_pylist()
    if all(value.isdigit() for value in distinct):
        return text
    numbers = [group_number(value) for value in distinct]
    made = [value if number < 0 else str(number) for value, number in zip(distinct, numbers, strict=True)]
    return pa.array(made, pa.string()).take(encoded.indices)
