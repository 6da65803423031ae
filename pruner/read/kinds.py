"""The kinds of tables that are read: what their columns mean, and which words and cells speak for it.

Receives boards of cells, hands on shares from 0 to 1. Weights and limits were measured on invented files (DEVELOPERS.md,
"Columns").
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

import pyarrow as pa

from pruner import schema
from pruner.number import whole_number
from pruner.read.date_texts import ORDERS
from pruner.read.durations import duration
from pruner.read.heard_times import TimeForm, parse_times
from pruner.reference import countries
from pruner.table.board import ENOUGH_ROWS, Board
from pruner.table.facts import Facts, looks_legal
from pruner.table.identify import heading_weight
from pruner.table.kinds import Kind, Meaning

TALKGROUP, TIME, SECONDS = schema.HEARD_MEANINGS[1:4]
DATE, CLOCK, END, EVENT = schema.HEARD_MEANINGS[5:]
#: What a further column can mean in a list of talkgroups; it stands in for a name that is missing.
DESCRIPTION: Final = "description"

#: How well an id fits: with a country code of a country, as long as ids of dmr are (common practice, no source), any address.
_KNOWN, _LONG, _ADDRESS = 1.0, 0.85, 0.45
#: A heading of ids without an unknown word in it; ids that come so often are those of a log.
_CLEAR_HEADING, _REPEATED = 0.75, 0.7
#: What a call sign of another than the ordinary form counts, and how it looks: such stand by special permission.
_ODD_FORM: Final = 0.4
_ODD_CALLSIGN: Final = re.compile(r"(?=[A-Z0-9]*[A-Z])(?=[A-Z0-9]*[0-9])[A-Z0-9]{4,10}(?:[/-][A-Z0-9]{1,3})?", re.ASCII)
_GROUP: Final = re.compile(r"(?:\D*[^\w]|\D*)?#?\s*(\d{1,8})\b.*", re.ASCII)
_STAMP: Final = re.compile(
    r"\W?\d{4}[-/.]\d{1,2}[-/.]\d{1,2}[T ,]+\d{1,2}:\d{2}.*"
    r"|\W?\d{1,2}[-/. ]{1,2}(?:\d{1,2}|[^\W\d]{3,9}\.?)[-/. ,]{1,2}\d{2,4}[,T ]+\d{1,2}:\d{2}.*"
    r"|\W?[^\W\d]{2,9}\.?,? +(?:\d{1,2} +)?[^\W\d]{3,9}\.? +\d{1,4}.*\d{1,2}:\d{2}.*"
    r"|\d{8}T?\d{4,6}Z?|\d{4}-W\d\d-\dT\d\d:\d\d.*"
)
_EPOCH_FROM, _EPOCH_TO = 946_684_800, 4_102_444_800  # the years 2000 to 2100 in seconds since 1970
_SERIAL: Final = re.compile(r"[3-6]\d{4}[.,]\d+", re.ASCII)
_PLAIN: Final = re.compile(r"\d{1,6}(?:[.,]\d{1,6})?", re.ASCII)
_DECIMALS: Final = re.compile(r"\d{1,4}[.,]\d{1,6}\s*(?:s|sec)?|(?:\d{1,2}:)?\d{1,2}:\d{2}[.,]\d+|PT.*|\d+\s*m?s", re.ASCII)
#: So many distinct whole numbers, none of them larger, can be seconds without a heading that says so.
_MANY, _LONG_CALL = 8, 600
_SHORTEST_TIME: Final = 8
_EVENT_WORDS: Final = frozenset(
    "start begin begins started on end ends ended stop stopped off header terminator call voice talk data group private "
    "key_up key_down keyup keydown rx tx".split()
)


def id_cells(board: Board, place: int) -> float:
    """How well a column fits ids of the system: address, country code, and the countries of the other columns."""
    column, system = board.columns[place], schema.SYSTEMS[board.system]
    if board.system != "dmr":
        return column.share(lambda looks: system.first <= looks.number <= system.last)
    fits = column.share(lambda looks: looks_legal(looks.number) and looks.country_of_id > 0) * _KNOWN
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
        lambda cell: not column.looks[cell].is_callsign and _ODD_CALLSIGN.fullmatch(cell) is not None
    )


def country_cells(board: Board, place: int) -> float:
    """The share of names and codes of countries; numbers of countries only under their heading."""
    named = board.columns[place].share(lambda looks: looks.country_of_text > 0)
    if named or board.senses[place].weight((("country", 1.0),)) < _CLEAR_HEADING:
        return named
    return board.columns[place].share_of_texts(lambda cell: countries.of_numeric(cell) > 0)


def _has_times(board: Board, ids: int) -> bool:
    """Whether another column holds times or dates with hardly a repetition."""
    return any(
        place != ids and column.filled and column.distinct_share > 0.8 and time_cells(board, place) > 0.8
        for place, column in enumerate(board.columns)
    )


def judge_stations(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no directory of dmr stations, "" where it may be one.

    Asked in this order: do the countries of the ids agree with those of the call signs or texts; does the heading name the
    system; do nearly all ids begin with the code of a country, under a heading of ids, beside another column of stations.
    """
    if board.system != "dmr":
        return ""
    place = chosen[schema.ID]
    column = board.columns[place]
    if column.distinct_share < _REPEATED and column.filled >= 10 and _has_times(board, place):
        return f"the ids in {shown_column(board, place)} come again and again, with times: this is a heard log"
    agreement, rows = board.agreement(place)
    if rows >= ENOUGH_ROWS and agreement >= 0.6:
        return ""
    if rows >= ENOUGH_ROWS and agreement <= 0.3:
        return f"the ids in {shown_column(board, place)} are of other countries than the rest of their rows"
    sense = board.senses[place]
    legal = column.share(lambda looks: looks_legal(looks.number))
    if "dmr" in sense.systems and not sense.is_other and (legal >= 0.6 or column.filled < ENOUGH_ROWS):
        return ""
    known = column.share(lambda looks: looks_legal(looks.number) and looks.country_of_id > 0)
    is_headed = heading_weight(board, STATIONS.meaning(schema.ID), place) >= _CLEAR_HEADING
    if is_headed and known >= 0.5 and rows and agreement == 1.0:
        return ""
    others = set(chosen) - {schema.ID}
    is_likely = is_headed or (not sense.is_other and schema.CALLSIGN in others)
    if known >= 0.9 and is_likely and others and not (column.is_counter and rows < ENOUGH_ROWS and not is_headed):
        return ""
    if column.is_counter:
        return f"{shown_column(board, place)} counts the rows and holds no ids of dmr stations"
    return f"{shown_column(board, place)} does not look like ids of dmr stations"


def shown_column(board: Board, place: int) -> str:
    """A column in words: its heading, or its number."""
    heading = board.headings[place].strip()
    return f"the column {heading[:40]!r}" if heading else f"column {place + 1}"


_ID_WORDS: Final = (("id", 1.0), ("number", 0.85), ("station", 0.6), ("caller", 0.7), ("callsign", 0.0))
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
        Meaning(schema.ID, _ID_WORDS, id_cells),
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
)


def label_cells(board: Board, place: int) -> float:
    """As `callsign_cells`; in the export of a radio any short text may stand for a call sign, under a heading."""
    return max(callsign_cells(board, place), _ODD_FORM * board.columns[place].share_of_texts(lambda cell: len(cell) <= 16))


#: The export of a radio: the user says that it is one, and its entries may be no stations (a workshop, a bench).
EXPORT: Final = replace(
    STATIONS,
    name="export",
    meanings=tuple(
        replace(meaning, cells=label_cells) if meaning.name == schema.CALLSIGN else meaning for meaning in STATIONS.meanings
    ),
    table="the export of a radio",
    setting="carried_columns",
    judge=lambda board, chosen: "",
)


def list_id_cells(board: Board, place: int) -> float:
    """As `id_cells`; ids of other countries than the call signs beside them are none."""
    agreement, rows = board.agreement(place)
    return 0.0 if rows and agreement <= 0.3 else id_cells(board, place)


LIST: Final = Kind(
    "list",
    (Meaning(schema.ID, _ID_WORDS, list_id_cells), STATIONS.meaning(schema.CALLSIGN)),
    ((schema.ID, schema.CALLSIGN),),
    (schema.ID,),
    "a list of ids or call signs",
    "ids or call signs",
    (schema.ID,),
    {schema.ID: "ids", schema.CALLSIGN: "call signs"},
    setting="list_columns",
    may_be_short=True,
)


def group_number(text: str) -> int:
    """The number of a talkgroup in a cell such as `232`, `TG 232`, `#232`, `232 Austria`, `Alps (232)` or `2/232`; -1
    without one."""
    text = text.strip()
    plain = whole_number(text)
    if plain >= 0:
        return plain
    numbers = re.findall(r"\d+", text)
    if not numbers or len(text) > 80:
        return -1
    slotted = re.fullmatch(r"(?:TS|slot)?\s*[12]\s*[/:-]\s*(?:TG)?\s*(\d{1,8})", text, re.IGNORECASE | re.ASCII)
    if slotted:
        return int(slotted[1])
    tagged = re.search(r"(?:\bTG|#|\()\s*[:#-]?\s*(\d{1,8})\b", text, re.IGNORECASE | re.ASCII)
    if tagged:
        return int(tagged[1])
    led = re.match(r"(\d{1,8})\b(?![.,:/-]\d)", text, re.ASCII)
    if led:
        return int(led[1])
    return int(numbers[0]) if len(numbers) == 1 and len(numbers[0]) <= 8 and re.fullmatch(r"\D+[\s(]\d+\)?", text) else -1


def group_cells(board: Board, place: int) -> float:
    """How well a column fits numbers of talkgroups in a list: each its own, and no counter beside a better column."""
    column = board.columns[place]
    fits = column.share_of_texts(lambda cell: 0 < group_number(cell) <= schema.SYSTEMS["dmr"].highest)
    fits *= 0.5 + 0.5 * column.distinct_share
    return fits * (0.6 if column.is_counter else 1.0)


def called_cells(board: Board, place: int) -> float:
    """How well a column of a log fits talkgroups: numbers that come again."""
    column = board.columns[place]
    fits = column.share_of_texts(lambda cell: 0 < group_number(cell) <= schema.SYSTEMS["dmr"].highest)
    if column.share(lambda looks: looks_legal(looks.number)) > 0.6:
        fits *= 0.6
    if column.share_of_texts(lambda cell: re.fullmatch(r"\d+[.,]\d+", cell) is not None) > 0.3:
        fits *= 0.3
    return fits * (0.6 + 0.4 * (1 - column.distinct_share)) if column.filled >= 10 else fits


def caller_cells(board: Board, place: int) -> float:
    """How well a column of a log fits ids of callers."""
    column = board.columns[place]
    fits = id_cells(board, place)
    return fits * 0.7 if column.filled >= 10 and column.distinct_share == 1 and column.is_counter else fits


def time_cells(board: Board, place: int) -> float:
    """The share of cells that are a date with a time, or seconds (or smaller units) since 1970, or a serial day of
    spreadsheets."""

    def is_time(cell: str) -> bool:
        if _STAMP.fullmatch(cell):
            return True
        number = re.fullmatch(r"(\d{9,19})(?:[.,]\d*)?", cell, re.ASCII)
        if not number:
            return _SERIAL.fullmatch(cell) is not None
        value = int(number[1])
        return any(_EPOCH_FROM <= value // unit <= _EPOCH_TO for unit in (1, 10**3, 10**6, 10**9))

    column = board.columns[place]
    return max(column.share_of_texts(is_time), _written_share(column))


def _written_share(column: Facts) -> float:
    """The share of cells that are times in any other form, day or month first, with a year or without."""
    cells = [cell for cell in column.counts if ":" in cell and len(cell) >= _SHORTEST_TIME]
    if len(cells) < len(column.counts) / 2:
        return 0.0
    read = [parse_times(pa.array(cells), "UTC", TimeForm(order, _EPOCH_TO * 1000))[1] for order in ORDERS[:2]]
    times = {cell for cell, *marks in zip(cells, *read, strict=True) if any(marks)}
    return column.share_of_texts(lambda cell: cell in times)


def end_cells(board: Board, place: int) -> float:
    """As `time_cells`, of columns whose heading names an end."""
    return time_cells(board, place) if board.senses[place].weight((("end", 1.0),)) > 0.5 else 0.0


def seconds_cells(board: Board, place: int) -> float:
    """How well a column fits durations; whole numbers alone need a heading, or that they are small, many and in no order."""
    column = board.columns[place]
    fits = column.share_of_texts(lambda cell: _PLAIN.fullmatch(cell) is not None or duration(cell) > 0)
    decimals = column.share_of_texts(lambda cell: _DECIMALS.fullmatch(cell) is not None)
    is_headed = board.senses[place].weight((("seconds", 1.0),)) > 0.5
    if is_headed or decimals > 0.5:
        return fits if is_headed else fits * 0.9
    is_scattered = len(column.counts) >= _MANY and not column.is_counter and max(column.numbers, default=0) <= _LONG_CALL
    return fits * (0.75 if is_scattered and len(column.numbers) == column.filled else 0.3)


def event_cells(board: Board, place: int) -> float:
    """The share of words that say whether a call begins or ends."""
    return board.columns[place].share_of_texts(lambda cell: cell.casefold().replace(" ", "_") in _EVENT_WORDS)


def judge_talkgroups(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no list of talkgroups: its numbers are ids of the stations whose call signs stand beside them."""
    agreement, rows = board.agreement(chosen[schema.ID])
    if (
        rows >= ENOUGH_ROWS
        and agreement >= 0.6
        and any(callsign_cells(board, place) > 0.6 for place in range(len(board.columns)))
    ):
        return "the numbers are ids of stations, with their call signs: this is a directory"
    return ""


def judge_log(board: Board, chosen: dict[str, int]) -> str:
    """Why a table is no heard log, "" where it may be one: with call signs alone, a heading must name the talkgroups."""
    if schema.ID in chosen or heading_weight(board, HEARD.meaning(TALKGROUP), chosen[TALKGROUP]) > 0:
        return ""
    return f"no column of ids, and {shown_column(board, chosen[TALKGROUP])} is not headed as one of talkgroups"


TALKGROUPS: Final = Kind(
    "talkgroups",
    (
        Meaning(schema.ID, (("talkgroup", 1.0), ("number", 0.9), ("id", 0.9)), group_cells),
        Meaning(
            schema.NAME,
            (("name", 1.0), ("talkgroup_name", 1.0), ("talkgroup", 0.6), ("callsign", 0.4)),
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
)

HEARD: Final = Kind(
    "heard log",
    (
        Meaning(schema.ID, (("caller", 1.0), ("id", 0.8), ("station", 0.6), ("number", 0.6)), caller_cells),
        Meaning(TIME, (("time", 1.0), ("date", 0.7), ("clock", 0.5)), time_cells),
        Meaning(TALKGROUP, (("talkgroup", 1.0), ("number", 0.3)), called_cells),
        Meaning(SECONDS, (("seconds", 1.0),), seconds_cells),
        Meaning(DATE, (("date", 1.0), ("time", 0.5)), lambda board, place: board.columns[place].is_date),
        Meaning(CLOCK, (("clock", 1.0), ("time", 0.9)), lambda board, place: board.columns[place].is_clock),
        Meaning(schema.CALLSIGN, (("callsign", 1.0), ("caller", 0.8), ("station", 0.8)), callsign_cells),
        Meaning(END, (("end", 1.0),), end_cells),
        Meaning(EVENT, (("event", 1.0),), event_cells),
    ),
    ((schema.ID, schema.CALLSIGN), (TALKGROUP,), (TIME, DATE)),
    (schema.ID, TALKGROUP),
    "a heard log",
    "who called, talkgroup and time",
    (schema.ID, TALKGROUP, TIME),
    {schema.ID: "ids", schema.CALLSIGN: "call signs", TALKGROUP: "talkgroups", TIME: "times", DATE: "dates"},
    judge_log,
)
