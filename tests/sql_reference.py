"""The reference tables as the SQL version gets them, for all texts that `tests/sql_sources.py` draws."""

from __future__ import annotations

from functools import cache
from typing import Final

from sql_sources import COUNTRY_NUMBERS, COUNTRY_TEXTS, GOOD, PLACE_TEXTS, STATE_TEXTS, SYSTEM_CELLS, TOWN_TEXTS

from benchmarks.duckdb_job import Tables
from benchmarks.duckdb_records import Words
from pruner.read.entry_kinds import is_group
from pruner.read.system_words import is_of_another
from pruner.reference import countries, geometry, names, numbering, places, states
from pruner.reference.tables import rows
from pruner.table.words_cells import EMPTY_CELLS
from pruner.table.words_totals import COUNTED, TOTALS
from pruner.words.schema import SYSTEM_NAMES

#: States that rules name.
STATES_OF_RULES: Final = ["AT-7", "Tirol", "Illinois", "mo", "US-IL", "Nowhere"]
_CODES: Final = [code or None for code in countries.CODES]
_PARTS: Final = {part.strip() for text in PLACE_TEXTS for part in text.split(",")}


def reference(home: dict[str, str], calls: list[tuple[int, int, int, int]]) -> Tables:
    """The tables; distances are measured from the locator or the middle of the home country."""
    texts, digits, prefixes, nearly, located, middles, of_texts, codes, words = _constant()
    return Tables(texts, digits, prefixes, nearly, located, middles, origin_of(home), of_texts, codes, calls, words)


def origin_of(home: dict[str, str]) -> tuple[float, float] | None:
    """Where distances begin."""
    if "locator" in home:
        return geometry.locator_centre(home["locator"])
    return _middles().get(home["country"])


@cache
def _middles() -> dict[str, tuple[float, float]]:
    return {code: (float(latitude), float(longitude)) for code, latitude, longitude in rows("middles.tsv")}


@cache
def _constant():  # type: ignore[no-untyped-def]  # the arguments of `Tables`, but for two
    by_number = {text.strip(): countries.of_numeric(text) for text in COUNTRY_NUMBERS}
    named = {text: countries.NAMES[number] for text, number in by_number.items() if number}
    texts = {*COUNTRY_TEXTS, *COUNTRY_NUMBERS, *(country for _, _, country in GOOD), *_PARTS, *named.values()}
    texts |= {text.strip() for text in texts}
    unknown = [text for text in texts if len(text) >= 5 and not countries.find(text)]
    of_texts = {(text, code): words for text in texts for code, words in _states_in(text)}
    known_states = {*STATE_TEXTS, *STATES_OF_RULES, *of_texts.values(), *_PARTS}
    return (
        {text: _CODES[countries.find(text)] for text in texts},
        {digits: _CODES[number] for digits, number in enumerate(numbering.country_of_code().tolist())},
        _prefixes(),
        [(text, code) for text in unknown for code, number in countries.NUMBERS.items() if countries.is_nearly(text, number)],
        _located({*TOWN_TEXTS, *PLACE_TEXTS, *_PARTS, ""}, {*known_states, ""}),
        _middles(),
        of_texts,
        {(code, text): state for text in known_states for code, state in _codes_of(text)},
        Words(
            [word.replace("_", " ") for text in EMPTY_CELLS.values() for word in text.split()],
            [word.replace("_", " ") for text in TOTALS.values() for word in text.split()],
            COUNTED.split(),
            [kind for kind in ("Private", "Group", "all call") if is_group(kind)],
            [(system, cell) for system in SYSTEM_NAMES for cell in SYSTEM_CELLS if is_of_another(cell, system)],
            named,
        ),
    )


def _states_in(text: str) -> list[tuple[str, str]]:
    return [(code, words) for code in countries.CODES[1:] if (words := names.state_in(text, code))]


def _codes_of(text: str) -> list[tuple[str, str]]:
    found = ((code, states.code_of(number, text)) for code, number in countries.NUMBERS.items())
    return [(code, state) for code, state in found if state]


def _located(towns: set[str], of_states: set[str]) -> dict[tuple[str, str | None, str | None], tuple[float, float]]:
    """Every country with these towns and states, where the table of places knows the town; a state that is missing is None.
    Only in the United States is a town without a state unknown that is known with one."""
    anywhere = [(code, town, "") for town in towns for code in countries.CODES[1:]]
    known = {(code, town) for code, town, _ in _known(anywhere)} | {("US", town) for town in towns}
    found = dict[tuple[str, str | None, str | None], tuple[float, float]](
        _known([(code, town, state) for code, town in sorted(known) for state in of_states])
    )
    return found | {(code, town, None): point for (code, town, state), point in found.items() if state == ""}


def _known(keys: list[tuple[str, str, str]]) -> dict[tuple[str, str, str], tuple[float, float]]:
    numbers = [countries.NUMBERS[code] for code, _, _ in keys]
    points = zip(*places.locate(numbers, *([key[at] for key in keys] for at in (1, 2))), strict=True)
    return {key: point for key, point in zip(keys, points, strict=True) if point[0] == point[0]}


def _prefixes() -> dict[str, str | None]:
    """Every prefix in the table of call sign series; its lines are ranges of the last character."""
    characters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
    table: dict[str, str | None] = {}
    for first, last, country in rows("callsigns.tsv"):
        for character in characters[characters.index(first[-1]) : characters.index(last[-1]) + 1]:
            table[first[:-1] + character] = country if country in countries.NUMBERS else None
    return table
