"""Cells that hold more, or less, than one value -> records with one value a cell.

Receives Records as they were parsed, hands on Records: ids and call signs out of one cell, one record for each of several ids,
and nothing where a column writes a word for an empty cell.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
import pyarrow.compute as pc

from pruner.read.records import Indices, Records, coded
from pruner.reference import countries
from pruner.table.choices import MORE_IDS, PLACE, Identified, base_meaning, is_in_block, meaning_in_block
from pruner.table.facts import ID_IN_CELL, LABELS, LENGTHS_OF_IDS, PARTICLES, SEPARATORS, call_and_name, capitals_before
from pruner.words import schema
from pruner.words.number import whole_number

_BETWEEN: Final = r"[\s(){}\[\]:;,/|#-]+"
#: Stands between the cells of several columns of ids: a noncharacter (Unicode, 23.7), which is in no text that is exchanged. No
#: number reads over it, as one does over white space, of which the separators of ASCII are for Python.
NEXT_COLUMN: Final = "\ufdd0"


def formed(
    records: Records, found: Identified, empty_words: Mapping[str, frozenset[str]], has_numbers_of_countries: bool = False
) -> Records:
    """Records as `found` says: call signs taken out of the cells of ids or names, several columns of ids as records of their
    own, towns, states and countries out of one cell, surnames marked off by a comma where whole names begin with them, a record
    for each of several tables side by side; empty words (by meaning) as missing cells, numbers of countries (ISO 3166-1) as
    their names."""
    for meaning, words in empty_words.items():
        if meaning in records.columns:
            records.columns[meaning] = _without(records.columns[meaning], words)
    if found.blocks > 1:
        records = _below_each_other(records, found.blocks, is_parted=found.is_parted)
    if has_numbers_of_countries:
        records.columns[schema.COUNTRY] = _named_countries(records.columns[schema.COUNTRY])
    if found.parts:
        _take_places(records, found.parts)
    if found.named:
        _take_calls(records, found.named)
    if found.is_turned or found.has_marked_surnames:
        _mark_surnames(records, surname_marked if found.is_turned else capitals_marked)
    if found.is_joined:
        cells = records.columns[schema.ID]
        records.columns[schema.ID] = _ids_in(cells)
        rest = pc.replace_substring_regex(cells, ID_IN_CELL, " ")
        rest = pc.utf8_trim_whitespace(pc.replace_substring_regex(rest, _BETWEEN, " "))
        records.columns[schema.CALLSIGN] = pc.if_else(pc.equal(rest, ""), None, rest)
    more = sorted(name for name in records.columns if name.startswith(MORE_IDS))
    if more:
        cells = [pc.utf8_trim_whitespace(records.columns.pop(name)).fill_null("") for name in (schema.ID, *more)]
        joined = pc.utf8_trim(pc.binary_join_element_wise(*cells, NEXT_COLUMN), NEXT_COLUMN)
        records.columns[schema.ID] = pc.if_else(pc.equal(joined, ""), None, joined)
    return records


def _ids_in(cells: pa.Array) -> pa.Array:
    """The ids among other text in cells; several as of several columns."""
    ids = pc.struct_field(pc.extract_regex(cells, f"(?P<id>{ID_IN_CELL})"), "id")
    several = pc.greater(pc.count_substring_regex(cells, ID_IN_CELL), 1).fill_null(False)
    texts = [NEXT_COLUMN.join(re.findall(ID_IN_CELL, text, re.ASCII)) for text in cells.filter(several).to_pylist()]
    return pc.replace_with_mask(ids, several, pa.array(texts, pa.string())) if texts else ids


def _below_each_other(records: Records, blocks: int, *, is_parted: bool) -> Records:
    """A record for each table side by side of which a row has a filled cell, in the order of the rows; columns that stand once
    belong to all, or, where the tables are parted, to theirs."""
    empty = pa.nulls(records.count, pa.string())
    names = dict.fromkeys(map(base_meaning, records.columns))
    own = [name for name in names if is_parted or meaning_in_block(name, 2) in records.columns]
    texts = {
        name: [
            records.columns.get(name, empty).cast(pa.string()),
            *(records.columns.get(meaning_in_block(name, number), empty) for number in range(2, blocks + 1)),
        ]
        for name in own
    }
    filled = np.zeros((records.count, blocks), dtype=bool)
    for columns in texts.values():
        for place, column in enumerate(columns):
            filled[:, place] |= (
                pc.not_equal(pc.utf8_trim_whitespace(column), "").fill_null(False).to_numpy(zero_copy_only=False)
            )
    filled[list(records.unreadable)] = False
    filled[:, 0] |= ~filled.any(axis=1)
    parents, tables = np.nonzero(filled)
    made = {name: column.take(pa.array(parents)) for name, column in records.columns.items() if not is_in_block(name)}
    for name, columns in texts.items():
        taken = pa.concat_arrays(columns).take(pa.array(tables * records.count + parents))
        made[name] = taken.dictionary_encode() if isinstance(records.columns.get(name), pa.DictionaryArray) else taken
    unreadable = {int(np.searchsorted(parents, row)): why for row, why in records.unreadable.items()}
    before = records.origin

    def origin(indices: Indices) -> list[tuple[int, str]]:
        return before(parents[indices])

    return Records(len(parents), made, unreadable, origin, records.lines, records.recoded, records.aside)


def _take_places(records: Records, parts: Sequence[str]) -> None:
    """The parts of places such as "Graz, Styria, Austria": each in a column of its own, the first in that of the whole."""
    column = coded(records.columns[parts[0]])
    split = [place_parts(text) for text in column.dictionary.to_pylist()]
    for place, meaning in enumerate(PLACE):
        if meaning in parts:
            texts = pa.array([found[place] or None for found in split], pa.string())
            records.columns[meaning] = texts.take(column.indices).dictionary_encode()


def _take_calls(records: Records, named: str) -> None:
    """The call signs with which cells begin in a column of their own; what stands behind them stays."""
    column = coded(records.columns[named])
    split = [call_and_name(text) for text in column.dictionary.to_pylist()]
    calls, names = (pa.array([found[place] or None for found in split], pa.string()).take(column.indices) for place in (0, 1))
    records.columns[schema.CALLSIGN] = calls
    records.columns[named] = names.dictionary_encode()


def _mark_surnames(records: Records, marked: Callable[[str], str]) -> None:
    column = coded(records.columns[schema.NAME])
    texts = pa.array([marked(text) for text in column.dictionary.to_pylist()], pa.string())
    records.columns[schema.NAME] = texts.take(column.indices).dictionary_encode()


def surname_marked(text: str) -> str:
    """A whole name that begins with the surname, with a comma behind that: behind the first word (particles before it are not
    counted), or behind the last of several words in capitals."""
    words = text.split()
    if "," in text or len(words) < 2:
        return text
    capitals = next((place for place, word in enumerate(words) if not word.isupper() or len(word) < 2), 0)
    particles = next((place for place, word in enumerate(words) if word.casefold() not in PARTICLES), 0)
    surname = min(max(capitals, particles + 1), len(words) - 1)
    return f"{' '.join(words[:surname])}, {' '.join(words[surname:])}"


def capitals_marked(text: str) -> str:
    """A whole name that begins with the surname in capitals, with a comma behind that; another name as it is."""
    words = text.split()
    surname = 0 if "," in text else capitals_before(text)
    return f"{' '.join(words[:surname])}, {' '.join(words[surname:])}" if surname else text


def place_parts(text: str) -> tuple[str, str, str]:
    """Town, state and country of a text that ends in a country behind a comma, "" where there is none; another text is a
    town. What has a digit in it is no town."""
    *before, last = [part.strip() for part in text.split(",")]
    if not before or not countries.find(last):
        return text, "", ""
    before = [part for part in before if part and not any(map(str.isdigit, part))]
    return (before[0] if before else ""), (before[1] if len(before) > 1 else ""), last


def several_ids(records: Records, doubtful: Indices, system: schema.System) -> Records | None:
    """Records with one for each id where rows hold several, None where no row does. `doubtful`: the records whose id is
    none."""
    if not len(doubtful):
        return None
    encoded = records.columns[schema.ID].take(pa.array(doubtful)).dictionary_encode()
    parts = [_ids(text, system) for text in encoded.dictionary.to_pylist()]
    if not any(parts):
        return None
    codes = encoded.indices.fill_null(len(parts)).to_numpy(zero_copy_only=False)
    split = {int(row): (parts[code] if code < len(parts) else []) for row, code in zip(doubtful, codes, strict=True)}
    copies = np.ones(records.count, dtype=np.int64)
    for row, ids in split.items():
        copies[row] = max(1, len(ids))
    parents = np.repeat(np.arange(records.count), copies)
    columns = {name: column.take(pa.array(parents)) for name, column in records.columns.items()}
    first = np.cumsum(copies) - copies
    texts = {int(first[row]) + place: text for row, ids in split.items() for place, text in enumerate(ids)}
    places = np.fromiter(texts, dtype=np.int64, count=len(texts))
    taken = np.arange(len(parents))
    taken[places] = len(parents) + np.arange(len(places))
    own = columns[schema.ID]
    columns[schema.ID] = pa.concat_arrays([own, pa.array(texts.values(), own.type)]).take(pa.array(taken))
    unreadable = {int(place): records.unreadable[row] for row in records.unreadable for place in np.flatnonzero(parents == row)}
    before = records.origin

    def origin(indices: npt.NDArray[np.int64]) -> list[tuple[int, str]]:
        return before(parents[indices])

    return Records(len(parents), columns, unreadable, origin, records.lines, records.recoded, records.aside)


def _ids(text: str, system: schema.System) -> list[str]:
    """The ids of a row that has several: those of its columns; those of a cell that holds several and nothing else."""
    if NEXT_COLUMN in text:
        return [part for part in text.split(NEXT_COLUMN) if part]
    parts = [part for part in SEPARATORS.split(LABELS.sub(" ", text.strip())) if part]
    if system.name != "dmr":
        return []  # ids of the other systems have no length by which they are known
    if len(parts) < 2 or not all(system.first <= whole_number(part) <= system.last * 100 for part in parts):
        return []
    return parts if {len(part) for part in parts} <= set(LENGTHS_OF_IDS) else []


def _named_countries(column: pa.Array) -> pa.Array:
    encoded = coded(column)
    names = [countries.NAMES[countries.of_numeric(text.strip())] or text for text in encoded.dictionary.to_pylist()]
    return pa.DictionaryArray.from_arrays(encoded.indices, pa.array(names, pa.string()))


def _without(column: pa.Array, words: frozenset[str]) -> pa.Array:
    found = pa.array(sorted(words), pa.string())
    if isinstance(column, pa.DictionaryArray):
        texts = column.dictionary
        kept = pc.if_else(pc.is_in(pc.utf8_trim_whitespace(texts), value_set=found), None, texts)
        codes = pc.if_else(pc.is_null(kept).take(column.indices), None, column.indices) if kept.null_count else column.indices
        return pa.DictionaryArray.from_arrays(codes, texts)
    return pc.if_else(pc.is_in(pc.utf8_trim_whitespace(column), value_set=found), None, column)
