"""The kinds of tables that are read: what their columns mean, and which words and cells speak for it.

Receives boards of cells, hands on shares from 0 to 1. Weights and limits were measured on invented files (DEVELOPERS.md,
"Columns").
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from pruner.read.as_log import AS_IN_A_LOG, has_times, repeated_ids
from pruner.read.entry_kinds import calls_column, kind_column, private_column
from pruner.read.group_cells import group_cells, judge_talkgroups
from pruner.read.system_words import is_of_another, systems_column
from pruner.reference import countries
from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.choices import Choice, Identified, heading_weight
from pruner.table.facts import looks_legal
from pruner.table.headings import KNOWN
from pruner.table.kinds import ENTRY_KIND, ENTRY_SYSTEM, Kind, Meaning
from pruner.table.never_taken import NEVER_TAKEN
from pruner.words import schema

#: What a further column can mean in a list of talkgroups; it stands in for a name that is missing.
DESCRIPTION: Final = "description"

#: How well an id fits: with a country code of a country, as long as ids of dmr are (common practice, no source), any address.
_KNOWN, _LONG, _ADDRESS = 1.0, 0.85, 0.45
#: A heading of ids without an unknown word in it.
_CLEAR_HEADING: Final = 0.75
#: So many ids of a table begin with the code of a country.
NEARLY_ALL: Final = 0.9
#: What a call sign of another than the ordinary form counts, and how it looks: such stand by special permission.
_ODD_FORM: Final = 0.4
_ODD_CALLSIGN: Final = re.compile(r"(?=[A-Z0-9]*[A-Z])(?=[A-Z0-9]*[0-9])[A-Z0-9]{4,10}(?:[/-][A-Z0-9]{1,3})?", re.ASCII)


def id_cells(board: Board, place: int) -> float:
    """How well a column fits ids of the system: address, country code, and the countries of the other columns."""
    column, system = board.columns[place], schema.SYSTEMS[board.system]
    if board.system != "dmr":
        return column.share(lambda looks: system.first <= looks.number <= system.last)
    fits = column.known_share * _KNOWN
    fits += column.share(lambda looks: looks_legal(looks.number) and not looks.country_of_id) * _LONG
    fits += column.share(lambda looks: not looks_legal(looks.number) and 0 < looks.number <= system.highest) * _ADDRESS
    agreement, rows = board.agreement(place)
    if rows >= ENOUGH_ROWS:
        fits *= 0.55 + 0.45 * agreement
    elif column.is_counter:
        fits *= 0.6
    return fits


def callsign_cells(board: Board, place: int) -> float:
    """The share of call signs of the ordinary form; letters and digits of another form count only under a heading."""
    column = board.columns[place]
    return column.share(lambda looks: looks.is_callsign) + _ODD_FORM * column.share_of_texts(
        lambda cell: not column.looks_of(cell).is_callsign and _ODD_CALLSIGN.fullmatch(cell) is not None
    )


def country_cells(board: Board, place: int) -> float:
    """The share of names and codes of countries; numbers of countries only under their heading. Without one, codes that
    contradict the call signs of their rows are no countries: states of the USA, say."""
    named = board.columns[place].names_countries
    is_headed = board.senses[place].weight((("country", 1.0),)) > 0
    if named and not is_headed and board.disagrees(place):
        return 0.0
    if named or board.senses[place].weight((("country", 1.0),)) < _CLEAR_HEADING:
        return named
    return board.columns[place].share_of_texts(lambda cell: countries.of_numeric(cell) > 0)


def settle_stations(board: Board, found: Identified) -> None:
    """Takes the columns that say of each row whether it is a group that is called, and of which system it is."""
    _take(board, found, ENTRY_SYSTEM, systems_column(board, found.unused, board.system))
    if ENTRY_KIND not in found.choices and schema.ID in found.choices:
        ids = board.columns[found.choices[schema.ID].position].cells
        _take(board, found, ENTRY_KIND, calls_column([column.cells for column in board.columns], found.positions.values(), ids))


def _take(board: Board, found: Identified, name: str, place: int | None) -> None:
    if place is not None:
        is_headed = board.senses[place].weight((("system", 1.0),)) > 0
        found.choices[name] = Choice(place, "heading and cells" if is_headed else "cells", 0.0)
        found.unused = [one for one in found.unused if one != place]


def judge_stations(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no directory of dmr stations, "" where it may be one.

    Asked in this order: do the countries of the ids agree with those of the call signs or texts; does the heading name the
    system; do nearly all ids begin with the code of a country, under a heading of ids, beside another column of stations.
    """
    if board.system != "dmr":
        return ""
    place = chosen[schema.ID]
    column = board.columns[place]
    if repeated_ids(column.filled, len(column.counts)) and has_times(board, place):
        return f"the ids in {shown_column(board, place)} {AS_IN_A_LOG}"
    systems = chosen.get(ENTRY_SYSTEM)
    if systems is not None and all(is_of_another(cell, board.system) for cell in board.columns[systems].cells):
        return f"{shown_column(board, systems)} says that all rows are of another system than {board.system}"
    agreement, rows = board.agreement(place)
    if rows >= ENOUGH_ROWS and agreement >= 0.6:
        return _other_numbers(board, chosen)
    if board.has_foreign_ids(place):
        return f"the ids in {shown_column(board, place)} are of other countries than the rest of their rows"
    sense = board.senses[place]
    if "dmr" in sense.systems and not sense.is_other and (column.legal_share >= 0.6 or column.filled < ENOUGH_ROWS):
        return ""
    is_headed = heading_weight(board, STATIONS.meaning(schema.ID), place) >= _CLEAR_HEADING
    if is_headed and column.known_share >= 0.5 and rows and agreement == 1.0:
        return ""
    others = set(chosen) - {schema.ID}
    if not rows and schema.CALLSIGN not in others:
        is_headed = heading_weight(board, STATIONS.meaning(schema.ID), place) >= KNOWN
    is_likely = is_headed or (not sense.is_other and schema.CALLSIGN in others)
    is_known = column.known_share >= NEARLY_ALL and not (column.is_counter and rows < ENOUGH_ROWS and not is_headed)
    if is_known and is_likely and others:
        return ""
    if column.is_counter:
        return f"{shown_column(board, place)} counts the rows and holds no ids of dmr stations"
    return f"{shown_column(board, place)} does not look like ids of dmr stations"


def _other_numbers(board: Board, chosen: dict[str, int]) -> str:
    """Why numbers that have the countries of their rows are no ids: a heading of something else, or even steps, where no call
    signs speak for them (all members of a club may have one country, and their numbers begin as ids do); "" where they may be.
    """
    place = chosen[schema.ID]
    sense = board.senses[place]
    if sense.is_other:
        agreement, rows = board.agreement_with_calls(place)
        why = NEVER_TAKEN[next(iter(sense.classes))]
        return "" if rows >= ENOUGH_ROWS and agreement >= 0.6 else f"{shown_column(board, place)} holds no ids: {why}"
    if not board.has_headings or not board.columns[place].has_even_steps:
        return ""
    agreement, rows = board.agreement_with_calls(place)
    calls = chosen.get(schema.CALLSIGN)
    is_alone = calls is not None and board.columns[calls].is_callsign >= 0.6
    if not is_alone and rows >= ENOUGH_ROWS and agreement >= 0.6:
        return ""  # they stand before names
    is_headed = calls is not None and heading_weight(board, STATIONS.meaning(schema.CALLSIGN), calls) > 0
    if is_headed or sense.systems or (calls is not None and sense.weight((("id", 1.0),)) > 0):
        return ""
    return f"{shown_column(board, place)} counts the rows and holds no ids of dmr stations"


def shown_column(board: Board, place: int) -> str:
    """A column in words: its heading, or its number."""
    heading = board.headings[place].strip()
    return f"the column {heading[:40]!r}" if heading else f"column {place + 1}"


ID_WORDS: Final = (("id", 1.0), ("number", 0.85), ("station", 0.6), ("caller", 0.7), ("callsign", 0.0))
_TEXTS: Final = (
    Meaning(schema.NAME, (("name", 1.0), ("nickname", 0.45), ("talkgroup_name", 0.0))),
    Meaning(schema.FIRST_NAME, (("first_name", 1.0), ("nickname", 0.6))),
    Meaning(schema.LAST_NAME, (("last_name", 1.0),)),
    Meaning(schema.TOWN, (("town", 1.0),)),
    Meaning(schema.STATE, (("state", 1.0),)),
)

STATIONS: Final = Kind(
    "directory",
    (
        Meaning(schema.ID, ID_WORDS, id_cells),
        Meaning(schema.CALLSIGN, (("callsign", 1.0), ("station", 0.8), ("caller", 0.5)), callsign_cells),
        *_TEXTS,
        Meaning(schema.COUNTRY, (("country", 1.0),), country_cells),
    ),
    ((schema.ID,),),
    (schema.ID,),
    "a table of stations",
    "ids",
    (schema.ID, schema.CALLSIGN),
    {schema.ID: "ids"},
    judge_stations,
    has_places=True,
    takes_names_apart=True,
    may_be_side_by_side=True,
    may_have_several_ids=True,
    settle=settle_stations,
    refuses_logs=True,
)


def label_cells(board: Board, place: int) -> float:
    """As `callsign_cells`; in the export of a radio any short text may stand for a call sign, under a heading."""
    return max(callsign_cells(board, place), _ODD_FORM * board.columns[place].share_of_texts(lambda cell: len(cell) <= 16))


#: The export of a radio: the user says that it is one, and its entries may be no stations (a workshop, a bench).
EXPORT: Final = replace(
    STATIONS,
    name="export",
    meanings=tuple(
        replace(meaning, cells=label_cells)
        if meaning.name == schema.CALLSIGN
        else replace(meaning, words=(*meaning.words, ("description", 0.7)))
        if meaning.name == schema.NAME
        else meaning
        for meaning in STATIONS.meanings
    ),
    table="the export of a radio",
    setting="carried_columns",
    judge=lambda board, chosen: "",
    has_places=False,  # its entries stay as they are
    takes_names_apart=False,
    may_be_side_by_side=False,
    kind_column=kind_column,
    settle=lambda board, found: None,
    refuses_logs=False,
)

#: A list of contacts that goes from one radio to another: a directory, but for entries of other kinds; its texts stay whole.
CONTACT_LIST: Final = replace(STATIONS, kind_column=kind_column, takes_names_apart=False)


TALKGROUPS: Final = Kind(
    "talkgroups",
    (
        Meaning(schema.ID, (("talkgroup", 1.0), ("number", 0.9), ("id", 0.9)), group_cells),
        Meaning(
            schema.NAME,
            (("name", 1.0), ("talkgroup_name", 1.0), ("nickname", 0.8), ("talkgroup", 0.6), ("callsign", 0.4)),
            None,
            is_left_over=True,
        ),
        Meaning(DESCRIPTION, (("description", 1.0), ("remark", 0.9))),
        Meaning(schema.COUNTRY, (("country", 1.0),), country_cells),
    ),
    ((schema.ID,), (schema.NAME, DESCRIPTION)),
    (schema.ID,),
    "a list of talkgroups",
    "group numbers and names",
    (schema.ID, schema.NAME),
    {schema.ID: "group numbers", schema.NAME: "names", DESCRIPTION: "descriptions"},
    judge_talkgroups,
    setting="list_columns",
    may_be_lines=True,
    may_be_side_by_side=True,
    kind_column=private_column,
)
