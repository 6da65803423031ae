"""Cells that name the system of a call, such as `P25 Phase 2` or `analogue FM`.

Receives texts, hands on names of systems. The words are those of the standards and the trade, from memory.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

from pruner.read.event_words import event_of, is_whole_call
from pruner.table.fold import fold, plain

#: What calls of systems that have no store are of.
OTHER_SYSTEM: Final = "other"
_SYSTEMS: Final = {
    "dmr": "dmr",
    "p25": "p25",
    "apco": "p25",
    "apco25": "p25",
    "nxdn": "nxdn",
    "nxdn48": "nxdn",
    "nxdn96": "nxdn",
    **dict.fromkeys(
        map(fold, "dpmr tetra m17 fm nfm wfm analog analogue analogique analogico analógico analogica analoog".split()),
        OTHER_SYSTEM,
    ),
}
#: Words that stand beside the name of a system.
_QUALIFIERS: Final = frozenset(
    "digital voice call tier phase mode system slot ts time timeslot conventional trunked i ii iii 1 2 3 ts1 ts2 25".split()
)


@lru_cache(maxsize=4096)
def system_of(cell: str) -> str | None:
    """The system that a cell names and nothing else, `OTHER_SYSTEM` for one without a store; None where it names none."""
    words = _words(cell)
    named = {_SYSTEMS[word] for word in words if word in _SYSTEMS}
    is_name = all(word in _SYSTEMS or word in _QUALIFIERS for word in words)
    return named.pop() if len(named) == 1 and is_name else None


@lru_cache(maxsize=4096)
def system_told_by(cell: str) -> str | None:
    """The system that a cell of a column of systems tells: the one that it names, whatever stands beside it; `OTHER_SYSTEM`
    where words stand there of which none is known. None where it names several, is empty, or says that there was a call."""
    words = _words(cell)
    named = {_SYSTEMS[word] for word in words if word in _SYSTEMS}
    if named:
        return named.pop() if len(named) == 1 else None
    unknown = [word for word in words if word not in _QUALIFIERS and not word.isdigit()]
    return OTHER_SYSTEM if unknown and not is_whole_call(cell) and event_of(cell) is None else None


def _words(cell: str) -> list[str]:
    return re.findall(r"[^\W_]+", plain(re.sub(r"(?i)\bproject 25\b", "P25", cell)))
