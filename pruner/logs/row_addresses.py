"""Cells of heard logs that say who called whom -> ids, call signs and talkgroups, with the marks of those that are none.

Receives columns of Records, hands on arrays. Ids and call signs follow the rules of directories.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc

from pruner.calls.calls import GRAIN, KIND, Calls
from pruner.calls.callsigns import FRAME
from pruner.calls.marks import Mark
from pruner.clean.callsigns import clean_callsigns
from pruner.clean.ids import parse_ids
from pruner.read.group_cells import group_number
from pruner.read.heard_columns import private_calls
from pruner.read.records import Records, by_text
from pruner.table.facts import call_and_name
from pruner.words import schema
from pruner.words.outcomes import Reason

#: Talkgroups are numbers of a space of their own, of 24 bits for dmr and 16 for the others (`schema.SYSTEMS`); 0 is none.
_LAST_TALKGROUP: Final = {"dmr": 0xFFFFFF, "nxdn": 0xFFFF, "p25": 0xFFFF}


def column_of(records: Records, name: str) -> pa.Array:
    """A column of records, of nulls where they have none."""
    return records.columns[name] if name in records.columns else pa.nulls(records.count, pa.string())


def ids_of(values: pa.Array, system: schema.System) -> tuple[npt.NDArray[np.uint32], npt.NDArray[np.uint8] | None]:
    """Ids, and the mark of each (None: all are addresses of stations)."""
    if pa.types.is_integer(values.type) and not values.null_count and len(values):
        number = values.to_numpy()
        if number.min() >= system.first and number.max() <= system.last:
            return number.astype(np.uint32, copy=False), None
    parsed = parse_ids(_text(values), system)
    if not parsed.reason.any():
        return parsed.number, None
    marks = np.zeros(len(parsed.reason), dtype=np.uint8)
    marks[parsed.reason == Reason.RESERVED_ID] = Mark.RESERVED_ID
    marks[parsed.reason == Reason.INVALID_ID] = Mark.INVALID_ID
    return parsed.number, marks


def talkgroups_of(values: pa.Array, system: schema.System) -> tuple[npt.NDArray[np.uint32], npt.NDArray[np.uint8] | None]:
    """Talkgroups, and the mark of each (None: all are talkgroups). Cells that are no plain numbers are looked at once per
    distinct text."""
    last = _LAST_TALKGROUP[system.name]
    if pa.types.is_integer(values.type) and not values.null_count and len(values):
        number = values.to_numpy()
        if number.min() >= 1 and number.max() <= last:
            return number.astype(np.uint32, copy=False), None
    text = _text(values)
    parsed = parse_ids(text, schema.System("talkgroup", 1, last, last))
    others = np.flatnonzero(parsed.reason != Reason.NONE)
    if not len(others):
        return parsed.number, None
    encoded = text.take(pa.array(others)).dictionary_encode()
    numbers = [group_number(cell) for cell in encoded.dictionary.to_pylist()]
    is_private = private_calls(encoded.dictionary).to_pylist()
    legal = [number if 1 <= number <= last else 0 for number in numbers]
    wrong = [Mark.FOLDED if number else Mark.INVALID_TALKGROUP for number in legal]
    marks = [Mark.PRIVATE_CALL if private else mark for private, mark in zip(is_private, wrong, strict=True)]
    codes = encoded.indices.fill_null(len(legal)).to_numpy(zero_copy_only=False)
    parsed.number[others] = np.array([*legal, 0], dtype=np.uint32)[codes]
    found = np.zeros(len(text), dtype=np.uint8)
    found[others] = np.array([*marks, Mark.INVALID_TALKGROUP], dtype=np.uint8)[codes]
    return parsed.number, found if found.any() else None


def _text(values: pa.Array) -> pa.Array:
    if pa.types.is_floating(values.type):
        values = pc.if_else(pc.equal(values, pc.floor(values)), values, None).cast(pa.int64(), safe=False)
    return values.cast(pa.string())


def callsigns_of(records: Records, id_mark: npt.NDArray[np.uint8] | None) -> pa.Array | None:
    """The call signs of the records that have no id (null for all others), None where there are none."""
    if schema.CALLSIGN not in records.columns or id_mark is None:
        return None
    ids = column_of(records, schema.ID)
    is_missing = ids.is_null()
    if not pa.types.is_integer(ids.type) and not pa.types.is_floating(ids.type):
        is_missing = pc.or_(is_missing, pc.equal(pc.utf8_trim_whitespace(ids.cast(pa.string())), "").fill_null(True))
    cleaned, odd, _ = clean_callsigns(_without_names(records.columns[schema.CALLSIGN].cast(pa.string())))
    usable = pc.and_(is_missing, pa.array(~odd))
    return pc.if_else(usable, cleaned, None) if pc.any(usable).as_py() else None


def _without_names(cells: pa.Array) -> pa.Array:
    """Call signs without the names that stand beside them."""
    if not pc.any(pc.match_substring(pc.utf8_trim_whitespace(cells), " ")).as_py():
        return cells
    return by_text(cells, lambda text: call_and_name(text)[0] or text)


def by_callsign(callsigns: pa.Array, calls: Calls) -> pl.DataFrame:
    """The calls of call signs as rows of `calls.callsigns.FRAME`."""
    columns = {
        "callsign": pl.Series(values=callsigns.to_pylist(), dtype=pl.String),
        "talkgroup": calls.talkgroup,
        "start": calls.start.astype(np.uint32),
        "milliseconds": calls.milliseconds,
        "grain": GRAIN[calls.sorts],
        "kind": KIND[calls.sorts],
    }
    return pl.DataFrame(columns, schema=FRAME)
