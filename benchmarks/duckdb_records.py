"""From text cells to records in DuckDB SQL, written from DEVELOPERS.md ("Records", "Id", "Call sign") and from nothing else.

Receives cells and which column holds what, hands on a table `records` of a connection: one line for each record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import duckdb
import pyarrow as pa

#: Unicode property White_Space, in RE2's notation.
WHITE_SPACE: Final = r"[\t-\r\x85\p{Z}]"
INVISIBLE: Final = r"[\p{Cc}\p{Cf}\p{Z}]"
ORDINARY: Final = "^([A-Z]|[A-Z][A-Z]|[A-Z][0-9]|[0-9][A-Z])[0-9][A-Z0-9]{0,3}[A-Z]$"
#: Whole numbers as they are written: what spreadsheets put around a text, thousands in groups with one mark throughout, plain
#: digits, an exponent.
_WRAPPED: Final = r"""^(?:=\s*"([^"]*)"|''([^'']*)''?|"([^"]*)"|#([0-9]+)|\[([^\[\]]*)\]|\(([^()]*)\))$"""
_LABEL: Final = r"^(?i:(?:dmr|radio|id|nr|no|n°|№)[\t-\r\x85\p{Z}.:#_-]*)+"
_MARKS_BEHIND: Final = r"[\t-\r\x85\p{Z}†‡§¹²³]+$"
#: Letters that look like Latin ones, letters and digits of full width, and what stands in call signs.
_LOOK_ALIKES: Final = "АВЕКМНОРСТУХІЈЅΑΒΕΖΗΙΚΜΝΟΡΤΥΧＡＢＣＤＥＦＧＨＩＪＫＬＭＮＯＰＱＲＳＴＵＶＷＸＹＺ０１２３４５６７８９／"
_LOOKED_LIKE: Final = "ABEKMHOPCTYXIJSABEZHIKMNOPTYXABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/"
_LEADING: Final = r"^[^\p{L}\p{N}]*([A-Z0-9/]+)(?:-[A-Z0-9]{1,2})?(?:(?:[^\p{L}\p{N}/-]|[¹²³]).*)?$"
_GROUPS: Final = "|".join(rf"[0-9]{{1,3}}(?:{mark}[0-9]{{3}})+" for mark in (r"\.", ",", "''", " ", "’", "_"))
_GROUPED: Final = rf"^({_GROUPS})(?:[.,]0{{1,2}})?$"
_PLAIN: Final = r"^0*([0-9]{1,15})(?:[.,]0+)?$"
_EXPONENT: Final = r"^([0-9])(?:[.,]([0-9]+))?[eE]\+?([0-9]{1,2})$"
#: Digits of other scripts (of the Unicode decimal digits those that occur), and what they are.
_OTHER_DIGITS, _THEIR_VALUES = "０１２３４５６７８９٠١٢٣٤٥٦٧٨٩۰۱۲۳۴۵۶۷۸۹०१२३४५६७८९", "0123456789" * 4
_AND: Final = "and|und|et|e|y|i|og|och|en|ja|es|si|și|ve|or|oder|ou|o|plus|и|і|та|και"
_BETWEEN_IDS: Final = rf"[\t-\r\x85\p{{Z}},;/|&+]+(?:(?i:{_AND})[\t-\r\x85\p{{Z}},;/|&+]+)?"
_ID_BESIDE_CALL: Final = r"\b(?:[0-9]{9}|[0-9]{6,7})\b"
_TOTAL_CALL: Final = r"^[^0-9]{2,}(?:[\s:=][0-9.,\s]*)?$"

#: What a column can mean: a value each, or several values in one cell.
SINGLE: Final = ("id", "callsign", "name", "first_name", "last_name", "country", "town", "state", "kind", "entry_system")
SEVERAL: Final = ("place", "call_and_name", "id_and_call")
_WORDS: Final = pa.schema([("word", pa.string())])


@dataclass(frozen=True)
class Cells:
    """A file as text cells: `headings`, and `lines` as they stand below them; `columns`: the position, from 1, of each meaning
    (`SINGLE`; `place`: town, state and country in one cell; `call_and_name`, `id_and_call`), of the first table where several
    stand side by side; `more_ids`: further columns of ids; `further`: the columns that each further table has of its own."""

    name: str
    system: str
    headings: Sequence[str]
    columns: Mapping[str, int]
    lines: Sequence[Sequence[str]]
    more_ids: Sequence[int] = ()
    further: Sequence[Mapping[str, int]] = ()

    def positions(self) -> list[tuple[int, str, int, bool]]:
        """Table (from 1), meaning, position, and whether the column is the table's own, for each column of each table."""
        own = {meaning for table in self.further for meaning in table}
        found = [(1, meaning, at, not self.further or meaning in own) for meaning, at in self.columns.items()]
        found += [(1, "id", at, True) for at in self.more_ids]
        for number, table in enumerate(self.further, start=2):
            columns = {**self.columns, **table}
            found += [(number, meaning, at, meaning in table) for meaning, at in columns.items()]
        return found

    def least(self) -> int:
        """How many cells a record has at least: all that are headed, or all of the first table."""
        if not self.further:
            return len(self.headings)
        further = min(at for table in self.further for at in table.values())
        return max(at for at in self.columns.values() if at < further)


@dataclass(frozen=True)
class Words:
    """Words in cells: those that stand for an empty cell; those that say that a row sums up the table, and those that say what
    is counted; cells that say that an entry is a group; systems, each with a cell that says that an entry is of another
    one; names of countries by their numbers (ISO 3166-1)."""

    empty: Sequence[str] = ()
    totals: Sequence[str] = ()
    counted: Sequence[str] = ()
    groups: Sequence[str] = ()
    foreign: Sequence[tuple[str, str]] = ()
    countries_by_number: Mapping[str, str] | None = None


def literal(text: str) -> str:
    """A text as SQL writes it."""
    return "'" + text.replace("'", "''") + "'"


def make_functions(connection: duckdb.DuckDBPyConnection) -> None:
    """The functions of cells: `whole_number` (digits without leading zeros, null where none), `cleaned` (call sign)
    and what they are made of."""
    for statement in _FUNCTIONS:
        connection.execute(statement)


def make_records(connection: duckdb.DuckDBPyConnection, files: Sequence[Cells], words: Words) -> None:
    """Makes the tables `lines` (with `aside`, why a line is no record), `placed` (records before cells with several ids are
    taken apart) and `records`. The tables `by_text` and `by_digits` are there."""
    lines = [
        {"source_at": at, "line": line, "cells": list(cells)}
        for at, file in enumerate(files)
        for line, cells in enumerate(file.lines)
    ]
    sources = [
        {"source_at": at, "source": file.name, "system": file.system, "headings": list(file.headings), "least": file.least()}
        for at, file in enumerate(files)
    ]
    columns = [
        dict(zip(("source_at", "number", "meaning", "column_at", "is_own"), (at, *position), strict=True))
        for at, file in enumerate(files)
        for position in file.positions()
    ]
    numbers = words.countries_by_number or {}
    given = {
        "lines_given": pa.Table.from_pylist(lines, _LINES),
        "sources": pa.Table.from_pylist(sources, _SOURCES),
        "columns_of": pa.Table.from_pylist(columns, _COLUMNS),
        "empty_words": pa.table([pa.array([word.lower() for word in words.empty], pa.string())], _WORDS),
        "groups": pa.table([pa.array(words.groups, pa.string())], _WORDS),
        "foreign_words": pa.table(
            [pa.array([pair[at] for pair in words.foreign], pa.string()) for at in (0, 1)], ["system", "word"]
        ),
        "by_number": pa.table([pa.array(list(one), pa.string()) for one in (numbers, numbers.values())], ["key", "named"]),
    }
    for name, table in given.items():
        connection.register(name, table)
    totals = _folded(connection, words.totals)
    counted = {*_folded(connection, words.counted), *(word for word in totals if " " not in word)}
    lists = [f"[{', '.join(map(literal, sorted(found) or ['']))}]" for found in (totals, counted)]
    connection.execute(_IS_TOTAL.format(totals=lists[0], counted=lists[1]))
    for statement in (_MARKED, _MARKS, _NUMBERED, _PLACED, _RECORDS):
        connection.execute(statement)


def _folded(connection: duckdb.DuckDBPyConnection, words: Sequence[str]) -> set[str]:
    return {text for (text,) in connection.execute("SELECT lower(strip_accents(unnest(?)))", [list(words)]).fetchall()}


_LINES: Final = pa.schema({"source_at": pa.int64(), "line": pa.int64(), "cells": pa.list_(pa.string())})
_SOURCES: Final = pa.schema(
    {"source_at": pa.int64(), "source": pa.string(), "system": pa.string()}
    | {"headings": pa.list_(pa.string()), "least": pa.int64()}
)
_DASHED: Final = "^(?:([0-9]{3}) ?[-‐‑–] ?([0-9]{4})|([0-9]{7}) ?[-‐‑–] ?([0-9]{2}))$"
#: What an id is of, in brackets behind it.
_OF_WHAT: Final = rf"([0-9]){WHITE_SPACE}*(?:\([^()0-9]{{1,40}}\)|\[[^\[\]0-9]{{1,40}}\])"
_COLUMNS: Final = pa.schema(
    {"source_at": pa.int64(), "number": pa.int64(), "meaning": pa.string(), "column_at": pa.int64(), "is_own": pa.bool_()}
)

_PARTS_OF_WRAPPED: Final = ", ".join(f"regexp_extract(outer_text, '{_WRAPPED}', {part})" for part in range(1, 7))
_MOST_DIGITS: Final = 15
_FUNCTIONS: Final = (
    f"CREATE MACRO trimmed(text) AS regexp_replace(text, '^{WHITE_SPACE}+|{WHITE_SPACE}+$', '', 'g')",
    f"CREATE MACRO is_filled(text) AS coalesce(regexp_replace(text, '{WHITE_SPACE}', '', 'g') <> '', false)",
    rf"""CREATE MACRO unmarked(text) AS regexp_replace(regexp_replace(regexp_replace(regexp_replace(regexp_replace(text,
        '^{WHITE_SPACE}+|\p{{Cf}}', '', 'g'), '{_MARKS_BEHIND}', ''), '([0-9]{{7}})[*]+$', '\1'), '{_OF_WHAT}$', '\1'),
        '{_LABEL}', '')""",
    f"""CREATE MACRO unwrapped(outer_text) AS translate(regexp_replace(CASE WHEN regexp_matches(outer_text, '{_WRAPPED}')
        THEN trim(concat({_PARTS_OF_WRAPPED})) ELSE outer_text END, '{WHITE_SPACE}', ' ', 'g'),
        '{_OTHER_DIGITS}', '{_THEIR_VALUES}')""",
    f"""CREATE MACRO exponent(bare) AS CASE
        WHEN length(regexp_extract(bare, '{_EXPONENT}', 2)) >= regexp_extract(bare, '{_EXPONENT}', 3)::INTEGER
            AND regexp_matches(substr(regexp_extract(bare, '{_EXPONENT}', 2),
                regexp_extract(bare, '{_EXPONENT}', 3)::INTEGER + 1), '^0*$')
        THEN regexp_extract(bare, '{_EXPONENT}', 1)
            || left(regexp_extract(bare, '{_EXPONENT}', 2), regexp_extract(bare, '{_EXPONENT}', 3)::INTEGER) END""",
    f"""CREATE MACRO of_bare(bare) AS CASE WHEN length(bare) > 40 THEN NULL
        WHEN regexp_matches(bare, '{_GROUPED}') THEN regexp_replace(regexp_extract(bare, '{_GROUPED}', 1), '[^0-9]', '', 'g')
        WHEN regexp_matches(replace(bare, ' ', ''), '{_PLAIN}') THEN regexp_extract(replace(bare, ' ', ''), '{_PLAIN}', 1)
        WHEN regexp_matches(bare, '{_DASHED}') THEN regexp_replace(bare, '[^0-9]', '', 'g')
        WHEN regexp_matches(bare, '{_EXPONENT}') THEN exponent(bare) END""",
    f"""CREATE MACRO at_most_digits(digits) AS CASE WHEN length(ltrim(digits, '0')) <= {_MOST_DIGITS}
        THEN ltrim(digits, '0') END""",
    """CREATE MACRO whole_number(text) AS at_most_digits(
        CASE WHEN regexp_matches(text, '^[0-9]+$') THEN text ELSE list_transform(
            list_transform([unmarked(text)], lambda outer_text: unwrapped(outer_text)), lambda bare: of_bare(bare))[1] END)""",
    f"CREATE MACRO squeezed(text) AS upper(regexp_replace(text, '{INVISIBLE}', '', 'g'))",
    f"""CREATE MACRO ordinary_part(sign) AS
        list_filter(string_split(sign, '/'), lambda part: regexp_matches(part, '{ORDINARY}'))[1]""",
    r"""CREATE MACRO crossed(text) AS CASE WHEN regexp_matches(text, '\p{Ll}') THEN squeezed(text)
        ELSE replace(squeezed(text), 'Ø', '0') END""",
    f"""CREATE MACRO main_part(sign, crossed) AS coalesce(ordinary_part(sign),
        ordinary_part(regexp_extract(translate(crossed, '{_LOOK_ALIKES}', '{_LOOKED_LIKE}'), '{_LEADING}', 1)),
        list_filter(string_split(sign, '/'), lambda part: length(part) =
            list_max(list_transform(string_split(sign, '/'), lambda one: length(one))))[1])""",
    r"""CREATE MACRO cleaned(text) AS nullif(regexp_replace(main_part(squeezed(text), crossed(text)),
        '^(.+)-[A-Z0-9]{1,2}$', '\1'), '')""",
)

_IS_TOTAL: Final = r"""CREATE MACRO is_total_of(words, totals, counted) AS
    list_contains(totals, array_to_string(words, ' '))
    OR (len(list_filter(words, lambda word: list_contains(totals, word))) > 0
            OR len(list_filter(range(1, len(words)),
                lambda place: list_contains(totals, words[place] || ' ' || words[place + 1]))) > 0)
        AND len(list_filter(words, lambda word: NOT list_contains(counted, word))) = 0;
CREATE MACRO is_total(text) AS is_total_of(
    list_filter(regexp_extract_all(lower(strip_accents(text)), '[\p{{L}}\p{{M}}\p{{N}}]+'),
        lambda word: NOT regexp_matches(word, '^[0-9]+$')), {totals}, {counted})"""

#: `is_regular`: the line is one of those by which columns are judged; `readable`: it has the cells of a record.
_MARKED: Final = r"""CREATE TABLE lines AS
WITH known AS (
    SELECT *, len(headings) AS width, (SELECT min(column_at) FROM columns_of
        WHERE columns_of.source_at = sources.source_at AND number = 1 AND meaning IN ('id', 'id_and_call')) AS id_at
    FROM sources),
fitting AS (
    SELECT *, len(list_filter(cells[width + 1:], lambda cell: is_filled(cell))) = 0 AS ends,
        len(cells) >= width AND ends AS is_regular, len(cells) >= least AND ends AS readable
    FROM lines_given JOIN known USING (source_at))
SELECT *, CASE
    WHEN len(list_filter(cells, lambda cell: regexp_matches(cell, '[^ \t]'))) = 0 THEN 'blank lines'
    WHEN cells IN ([chr(26)], ['\.']) THEN 'end marks'
    WHEN len(cells) <> width AND regexp_matches(cells[1], '^\s*(#\s*([^\s0-9]|$)|//|;|--|%)') THEN 'comments'
    WHEN id_at = 1 AND readable AND regexp_matches(cells[1], '^(#|//)\s*[^\s0-9]') THEN 'comments'
    WHEN readable AND cells[id_at] = headings[id_at] AND cells[id_at] <> '' THEN 'repeated headings' END AS aside
FROM fitting"""

_MARKS: Final = r"""CREATE TABLE marks AS
WITH used AS (SELECT source_at, column_at, bool_or(meaning = 'country') AS is_country FROM columns_of GROUP BY ALL),
counted AS (
    SELECT source_at, column_at, is_country, trimmed(cells[column_at]) AS cell, count(*) AS times
    FROM lines JOIN used USING (source_at)
    WHERE is_regular AND aside IS DISTINCT FROM 'blank lines' AND is_filled(cells[column_at]) GROUP BY ALL),
compared AS (
    SELECT *, sum(times) OVER (PARTITION BY source_at, column_at) AS filled,
        count(*) OVER (PARTITION BY source_at, cell) AS columns
    FROM counted)
SELECT source_at, column_at, cell FROM compared
WHERE lower(cell) IN (SELECT word FROM empty_words)
    AND (NOT regexp_matches(cell, '\p{L}') OR columns >= 2 OR (times >= 3 AND times >= 0.1 * filled))
    AND NOT (is_country AND cell IN (SELECT key FROM by_text WHERE code IS NOT NULL))"""

#: The sources whose countries are numbers.
_NUMBERED: Final = """CREATE TABLE numbered AS
SELECT source_at FROM lines JOIN columns_of USING (source_at)
LEFT JOIN marks ON marks.source_at = lines.source_at AND marks.column_at = columns_of.column_at
    AND cell = trimmed(cells[columns_of.column_at])
WHERE number = 1 AND meaning = 'country' AND is_regular AND is_filled(cells[columns_of.column_at]) AND cell IS NULL
GROUP BY source_at HAVING bool_and(trimmed(cells[columns_of.column_at]) IN (SELECT key FROM by_number))"""

_VALUES: Final = ", ".join(f"any_value(value) FILTER (meaning = '{one}') AS {one}" for one in (*SINGLE[1:], *SEVERAL))
_PLACED: Final = rf"""CREATE TABLE placed AS
WITH picked AS (
    SELECT lines.source_at, line, number, meaning, columns_of.column_at, is_own, readable,
        CASE WHEN readable AND cell IS NULL THEN cells[columns_of.column_at] END AS value
    FROM lines JOIN columns_of USING (source_at)
    LEFT JOIN marks ON marks.source_at = lines.source_at AND marks.column_at = columns_of.column_at
        AND cell = trimmed(cells[columns_of.column_at])
    WHERE aside IS NULL),
tables AS (
    SELECT source_at, line, number, readable, bool_or(is_own AND is_filled(value)) AS has_text, {_VALUES},
        list(value ORDER BY column_at) FILTER (meaning = 'id' AND is_filled(value)) AS ids
    FROM picked GROUP BY ALL),
present AS (
    SELECT * FROM tables
    QUALIFY has_text OR (number = 1 AND NOT bool_or(has_text) OVER (PARTITION BY source_at, line))),
cut AS (
    SELECT *, list_transform(string_split(place, ','), lambda part: trimmed(part)) AS parts,
        coalesce(len(parts) > 1 AND parts[-1] IN (SELECT key FROM by_text WHERE code IS NOT NULL), false) AS is_place,
        list_filter(parts[:-2], lambda part: part <> '' AND NOT regexp_matches(part, '[0-9]')) AS before,
        rtrim(split_part(trimmed(call_and_name), ' ', 1), ',;:') AS word,
        trim(substr(trimmed(call_and_name), length(split_part(trimmed(call_and_name), ' ', 1)) + 2), ' ()[]-–,;:/|') AS rest,
        coalesce(regexp_matches(cleaned(word), '{ORDINARY}') AND regexp_matches(rest, '\p{{L}}'), false) AS is_both,
        regexp_replace(id_and_call, '{_ID_BESIDE_CALL}', ' ', 'g') AS beside
    FROM present),
single AS (
    SELECT source_at, line, number, readable, kind, entry_system,
        CASE WHEN id_and_call IS NULL THEN ids
            ELSE regexp_extract_all(id_and_call, '{_ID_BESIDE_CALL}') END AS ids,
        CASE WHEN call_and_name IS NOT NULL THEN CASE WHEN is_both THEN word END
            WHEN id_and_call IS NOT NULL
                THEN nullif(trim(regexp_replace(beside, '[\s(){{}}\[\]:;,/|#-]+', ' ', 'g')), '')
            ELSE callsign END AS callsign,
        CASE WHEN is_both THEN rest ELSE coalesce(call_and_name, name) END AS name, first_name, last_name,
        CASE WHEN place IS NULL THEN town WHEN is_place THEN before[1] ELSE place END AS town,
        CASE WHEN is_place THEN coalesce(state, before[2]) ELSE state END AS state,
        CASE WHEN is_place THEN parts[-1] WHEN source_at IN (SELECT source_at FROM numbered)
            THEN coalesce((SELECT named FROM by_number WHERE key = trimmed(country)), country) ELSE country END AS country
    FROM cut),
summed AS (
    SELECT *, list_filter([name, first_name, last_name], lambda text: is_filled(text)) AS names,
        row_number() OVER (PARTITION BY source_at ORDER BY line DESC, number DESC) <= 3 AS is_last,
        flatten(list_transform(ids, lambda id: list_prepend(id, regexp_split_to_array(id, '{_BETWEEN_IDS}')))) AS cells_in_ids,
        list_filter(list_transform(cells_in_ids, lambda part: whole_number(part)), lambda digits: length(digits) IN (6, 7, 9))
            AS long_numbers,
        EXISTS (SELECT 1 FROM by_digits WHERE code IS NOT NULL AND list_contains(
            list_transform(long_numbers, lambda digits: left(digits, 3)), key)) AS is_id
    FROM single)
SELECT *, coalesce(readable AND CASE
    WHEN len(names) = 0 AND is_filled(callsign) THEN regexp_matches(callsign, '{_TOTAL_CALL}') AND is_total(callsign)
    WHEN len(names) > 0 AND is_last THEN cleaned(callsign) IS NULL AND NOT is_id
        AND len(list_filter(names, lambda text: NOT is_total(text))) = 0 END, false) AS sums_up
FROM summed"""

_RECORDS: Final = rf"""CREATE TABLE records AS
WITH systems(system, last) AS (VALUES ('dmr', 16776415), ('nxdn', 65519), ('p25', 9999999)),
written AS (
    SELECT * EXCLUDE (callsign), CASE WHEN NOT sums_up THEN callsign END AS callsign,
        unnest(CASE WHEN sums_up OR coalesce(len(ids), 0) = 0 THEN [NULL] ELSE ids END) AS cell,
        generate_subscripts(CASE WHEN sums_up OR coalesce(len(ids), 0) = 0 THEN [NULL] ELSE ids END, 1) AS nth
    FROM placed),
apart AS (
    SELECT *, list_filter(regexp_split_to_array(regexp_replace(cell, '{_OF_WHAT}', '\1 ', 'g'), '{_BETWEEN_IDS}'),
            lambda part: part <> '') AS parts,
        coalesce(system = 'dmr' AND len(parts) > 1 AND len(list_filter(parts, lambda part: coalesce(NOT (
            length(part) IN (6, 7, 9) AND try_cast(whole_number(part) AS BIGINT) BETWEEN 1 AND last * 100), true))) = 0,
            false) AS has_several
    FROM written JOIN sources USING (source_at) JOIN systems USING (system)),
each AS (
    SELECT *, unnest(CASE WHEN has_several THEN parts ELSE [cell] END) AS id,
        generate_subscripts(CASE WHEN has_several THEN parts ELSE [cell] END, 1) AS part_at
    FROM apart)
SELECT source_at, source, row_number() OVER (PARTITION BY source_at ORDER BY line, number, nth, part_at) AS row, system,
    readable AND NOT sums_up AS readable, id, callsign, name, first_name, last_name, country, town, state,
    coalesce(trimmed(kind) IN (SELECT word FROM groups), false) AS is_group,
    coalesce((system, trimmed(entry_system)) IN (SELECT (system, word) FROM foreign_words), false) AS is_foreign
FROM each"""
