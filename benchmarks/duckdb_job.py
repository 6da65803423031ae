"""The main job in DuckDB SQL, written from DEVELOPERS.md ("What happens to a row") and from nothing else.

Receives text cells and which column holds what (or a CSV file), the reference tables and the rules; hands on the ledger.
It shares no code with `pruner`, so that a mistake would have to be made twice to stay unseen.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import duckdb
import pyarrow as pa

#: Unicode property White_Space, in RE2's notation.
WHITE_SPACE = r"[\t-\r\x85\p{Z}]"
INVISIBLE = r"[\p{Cc}\p{Cf}\p{Z}]"
ORDINARY = "^([A-Z]|[A-Z][A-Z]|[A-Z][0-9]|[0-9][A-Z])[0-9][A-Z0-9]{0,3}[A-Z]$"
#: Whole numbers as they are written: what spreadsheets put around a text, thousands in groups with one mark throughout, plain
#: digits, an exponent.
WRAPPED = r"""^(?:=\s*"([^"]*)"|\'([^\']*)\'?|"([^"]*)"|#([0-9]+)|\[([^\[\]]*)\]|\(([^()]*)\))$"""
LABEL = r"^(?i:(?:dmr|radio|id|nr|no|n°|№)[\t-\r\x85\p{Z}.:#_-]*)+"
MARKS = r"[\t-\r\x85\p{Z}†‡§¹²³]+$"
#: Letters that look like Latin ones, letters and digits of full width, the crossed zero, and what stands in call signs.
LOOK_ALIKES = "АВЕКМНОРСТУХІЈЅΑΒΕΖΗΙΚΜΝΟΡΤΥΧＡＢＣＤＥＦＧＨＩＪＫＬＭＮＯＰＱＲＳＴＵＶＷＸＹＺ０１２３４５６７８９／Ø"
LOOKED_LIKE = "ABEKMHOPCTYXIJSABEZHIKMNOPTYXABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789/0"
LEADING = r"^[^\p{L}\p{N}]*([A-Z0-9/]+)(?:-[A-Z0-9]{1,2})?(?:[^\p{L}\p{N}/-].*)?$"
_GROUPS = "|".join(rf"[0-9]{{1,3}}(?:{mark}[0-9]{{3}})+" for mark in (r"\.", ",", "''", " ", "’", "_"))
GROUPED = rf"^({_GROUPS})(?:[.,]0{{1,2}})?$"
PLAIN = r"^0*([0-9]{1,15})(?:[.,]0+)?$"
EXPONENT = r"^([0-9])(?:[.,]([0-9]+))?[eE]\+?([0-9]{1,2})$"
#: Digits of other scripts (of the Unicode decimal digits those that occur), and what they are.
OTHER_DIGITS, THEIR_VALUES = "０１２３４５６７８９٠١٢٣٤٥٦٧٨٩۰۱۲۳۴۵۶۷۸۹०१२३४५६७८९", "0123456789" * 4
#: Name, place in the order, first and last address of a station, highest; sources in pruner/words/schema.py.
SYSTEMS = "('dmr', 0, 1, 16776415, 16777215), ('nxdn', 1, 1, 65519, 65535), ('p25', 2, 1, 9999999, 16777215)"

#: Mean radius of the earth in metres; source in pruner/reference/geometry.py.
EARTH_RADIUS = 6371008.8

_QUOTED_WRAPPED = WRAPPED.replace("\\'", "''")
_WRAPPED_PARTS = ", ".join(f"regexp_extract(outer_text, '{_QUOTED_WRAPPED}', {part})" for part in range(1, 7))

LEDGER_COLUMNS = (
    *("source", "row", "system", "id", "callsign", "country", "country_from"),
    *("outcome", "reason", "rule", "rank"),
)
#: What a column can mean.
MEANINGS = ("id", "callsign", "name", "first_name", "last_name", "country", "town", "state")


@dataclass(frozen=True)
class Cells:
    """A file as text cells: `lines` as they stand below the headings, `width` how many headings there are, `columns` the
    position, from 1, of each meaning (`MEANINGS`)."""

    name: str
    system: str
    width: int
    columns: Mapping[str, int]
    lines: Sequence[Sequence[str]]


@dataclass(frozen=True)
class Rule:
    """A drop or keep rule; None is a condition not given. `neighbours`, `continents`, `itu_regions` and
    `talkgroup_countries`: the countries meant by them; `heard`: talkgroups (None: any), days (None: all), and how many calls
    at least; `lines`: what distances are measured from, in degrees of latitude and longitude; `nearest`: whether its contacts
    stand by distance."""

    name: str
    ids: Sequence[int] | None = None
    callsigns: Sequence[str] | None = None
    countries: Sequence[str] | None = None
    neighbours: Sequence[str] | None = None
    continents: Sequence[str] | None = None
    itu_regions: Sequence[str] | None = None
    states: Sequence[str] | None = None
    heard: tuple[Sequence[int] | None, int | None, int] | None = None
    talkgroup_countries: Sequence[str] = ()
    kind: str | None = None
    sources: Sequence[str] | None = None
    list_ids: Sequence[int] | None = None
    list_callsigns: Sequence[str] = ()
    list_globs: Sequence[str] = ()
    list_ranges: Sequence[tuple[int, int]] = ()
    within_km: float | None = None
    lines: Sequence[Sequence[tuple[float, float]]] = ()
    nearest: bool = False
    at_most: int | None = None
    one_per_callsign: bool = False
    order: str | None = None

    def condition(self) -> str:
        """The SQL condition that a contact must meet."""
        terms = ["true"]
        if self.ids is not None:
            terms.append(_is_in("id", self.ids))
        if self.callsigns is not None:
            terms.append(_is_like(self.callsigns))
        for countries in (self.countries, self.neighbours, self.continents, self.itu_regions):
            if countries is not None:
                terms.append(_is_in("country", countries))
        if self.kind is not None:
            terms.append(f"kind = {_literal(self.kind)}")
        if self.within_km is not None:
            terms.append(f"{self.metres()} <= {self.within_km * 1000!r}")
        if self.sources is not None:
            terms.append(_is_in("source", self.sources))
        if self.list_ids is not None:
            listed = [_is_in("id", self.list_ids), _is_in("callsign", self.list_callsigns), _is_like(self.list_globs)]
            listed += [f"id BETWEEN {first} AND {last}" for first, last in self.list_ranges]
            terms.append("(" + " OR ".join(f"coalesce({one}, false)" for one in listed) + ")")
        if self.states is not None:
            terms.append(_is_state(self.states))
        if self.heard is not None:
            terms.append(f"({_is_heard(*self.heard)} OR coalesce({_is_in('country', self.talkgroup_countries)}, false))")
        return " AND ".join(f"coalesce({term}, false)" for term in terms)

    def metres(self) -> str:
        """Distance of a contact in whole metres; null where its place is unknown."""
        legs = [leg for line in self.lines for leg in (pairwise(line) if len(line) > 1 else [[*line, *line]])]
        return f"CASE WHEN north IS NOT NULL THEN round({EARTH_RADIUS!r} * least({', '.join(map(_leg, legs))})) END"


@dataclass(frozen=True)
class Tables:
    """The reference tables: cell text, first three digits and call sign prefix, each to a country or None; the pairs of a
    cell text and a country whose name it is but for one wrong letter; degrees (latitude, longitude) of places by country,
    town and state as they are written, of the middles of countries, and of what distances are measured from (None: nothing);
    the words of a cell text that name a state of a country, by both; codes (ISO 3166-2) of states by country and text; calls of
    `dmr` ids: id, talkgroup, day."""

    countries_by_text: dict[str, str | None] = field(default_factory=dict)
    countries_by_digits: dict[int, str | None] = field(default_factory=dict)
    countries_by_prefix: dict[str, str | None] = field(default_factory=dict)
    nearly: Sequence[tuple[str, str]] = ()
    places: dict[tuple[str, str | None, str | None], tuple[float, float]] = field(default_factory=dict)
    middles: dict[str, tuple[float, float]] = field(default_factory=dict)
    origin: tuple[float, float] | None = None
    states: dict[tuple[str, str], str] = field(default_factory=dict)
    state_codes: dict[tuple[str, str], str] = field(default_factory=dict)
    calls: Sequence[tuple[int, int, int]] = ()


def run(files: Sequence[Cells], tables: Tables, drop: Sequence[Rule], keep: Sequence[Rule], limit: int) -> pa.Table:
    """The ledger of some files, the most important first."""
    with duckdb.connect() as connection:
        lines = [
            {
                "source_at": at,
                "source": file.name,
                "system": file.system,
                "width": file.width,
                "line": line,
                "cells": list(cells),
            }
            | {f"{meaning}_at": file.columns.get(meaning) for meaning in MEANINGS}
            for at, file in enumerate(files)
            for line, cells in enumerate(file.lines)
        ]
        connection.register("given", pa.Table.from_pylist(lines, _LINES))
        connection.execute(_RECORDS)
        _decide(connection, tables, drop, keep, limit)
        return connection.sql(_LEDGER).to_arrow_table()


def run_file(source: Path, tables: Tables, drop: Sequence[Rule], keep: Sequence[Rule], limit: int, folder: Path) -> None:
    """The same for one CSV file of `dmr` stations; writes `contacts.csv` and `ledger.parquet`."""
    with duckdb.connect() as connection:
        connection.execute(
            f"""CREATE TABLE cells AS SELECT row_number() OVER () AS row, *
            FROM read_csv({_literal(str(source))}, header = true, all_varchar = true)"""
        )
        connection.execute(
            """CREATE VIEW records AS SELECT 0 AS source_at, 'world' AS source, row, 'dmr' AS system,
            true AS readable, id, callsign, NULL AS name, first_name, last_name, country, town, state FROM cells"""
        )
        _decide(connection, tables, drop, keep, limit)
        connection.execute(f"CREATE TABLE ledger AS {_LEDGER}")
        contacts, ledger = _literal(str(folder / "contacts.csv")), _literal(str(folder / "ledger.parquet"))
        connection.execute(
            f"""COPY (SELECT l.callsign, l.id, first_name, last_name, cells.country, state, town
            FROM ledger AS l JOIN cells USING (row) WHERE outcome = 'kept' ORDER BY l.id)
            TO {contacts} (HEADER)"""
        )
        connection.execute(f"COPY ledger TO {ledger} (FORMAT parquet)")


def _decide(
    connection: duckdb.DuckDBPyConnection,
    tables: Tables,
    drop: Sequence[Rule],
    keep: Sequence[Rule],
    limit: int,
) -> None:
    for name, table in (
        ("by_text", tables.countries_by_text),
        ("by_digits", {str(digits): country for digits, country in tables.countries_by_digits.items()}),
        ("by_prefix", tables.countries_by_prefix),
    ):
        columns = {"key": pa.array(list(table), pa.string()), "code": pa.array(table.values(), pa.string())}
        connection.register(f"{name}_given", pa.table(columns))
        connection.execute(f"CREATE TABLE {name} AS SELECT * FROM {name}_given")
    columns = {"key": [text for text, _ in tables.nearly], "code": [country for _, country in tables.nearly]}
    connection.register("nearly_given", pa.table(columns, pa.schema([("key", pa.string()), ("code", pa.string())])))
    connection.execute("CREATE TABLE nearly AS SELECT * FROM nearly_given")
    for table, names, found in (
        ("states", ("key", "code", "words"), tables.states),
        ("state_codes", ("country", "text", "code"), tables.state_codes),
    ):
        columns = {name: [(*key, value)[at] for key, value in found.items()] for at, name in enumerate(names)}
        connection.register(f"{table}_given", pa.table(columns, pa.schema([(name, pa.string()) for name in names])))
        connection.execute(f"CREATE TABLE {table} AS SELECT * FROM {table}_given")
    columns_of_calls = [pa.array([call[at] for call in tables.calls], pa.int64()) for at in range(3)]
    connection.register("calls_given", pa.table(columns_of_calls, ["id", "talkgroup", "day"]))
    connection.execute("CREATE TABLE calls AS SELECT * FROM calls_given")
    places = [(*key, *point) for key, point in tables.places.items()]
    middles = [(code, *point) for code, point in tables.middles.items()]
    for name, rows, texts in (("places", places, ("country", "town", "state")), ("middles", middles, ("country",))):
        arrays = [pa.array([row[at] for row in rows], pa.string()) for at in range(len(texts))]
        arrays += [pa.array([row[at] for row in rows], pa.float64()) for at in (len(texts), len(texts) + 1)]
        connection.register(f"{name}_given", pa.table(arrays, [*texts, "latitude", "longitude"]))
        connection.execute(f"CREATE TABLE {name} AS SELECT * FROM {name}_given")
    for statement in (_PARSED, _PREFIXED, _LOCATED, _CONTACTS, _owned(drop, keep, tables.origin)):
        connection.execute(statement)
    connection.execute("CREATE TABLE fitted (source_at BIGINT, row BIGINT, callsign VARCHAR, reason VARCHAR, rank BIGINT)")
    for position, rule in enumerate(keep):
        connection.execute(_fitted(position, rule, limit, _line(rule, tables.origin)))
    names = {"drop_names": [rule.name for rule in drop], "keep_names": [rule.name for rule in keep]}
    for table_name, values in names.items():
        connection.register(
            f"{table_name}_given",
            pa.table({"at": pa.array(range(len(values)), pa.int64()), "name": pa.array(values, pa.string())}),
        )
        connection.execute(f"CREATE TABLE {table_name} AS SELECT * FROM {table_name}_given")


_LINES = pa.schema(
    {"source_at": pa.int64(), "source": pa.string(), "system": pa.string(), "width": pa.int64(), "line": pa.int64()}
    | {"cells": pa.list_(pa.string())}
    | {f"{meaning}_at": pa.int64() for meaning in MEANINGS}
)

_RECORDS = f"""CREATE TABLE records AS
WITH filled AS (
    SELECT * FROM given
    WHERE len(list_filter(cells, lambda cell: regexp_matches(cell, '[^ \\t]'))) > 0),
fitting AS (
    SELECT *, row_number() OVER (PARTITION BY source_at ORDER BY line) AS row,
        len(cells) >= width AND len(list_filter(cells[width + 1:],
            lambda cell: regexp_replace(cell, '{WHITE_SPACE}', '', 'g') <> '')) = 0 AS readable
    FROM filled)
SELECT source_at, source, row, system, readable,
    {", ".join(f"CASE WHEN readable THEN cells[{meaning}_at] END AS {meaning}" for meaning in MEANINGS)}
FROM fitting"""

_PARSED = rf"""CREATE TABLE parsed AS
WITH systems(system, system_at, first, last, highest) AS (VALUES {SYSTEMS}),
squeezed AS (
    SELECT * EXCLUDE (id, callsign), id AS written,
        regexp_replace(regexp_replace(regexp_replace(regexp_replace(id, '^{WHITE_SPACE}+|\p{{Cf}}', '', 'g'),
            '{MARKS}', ''), '([0-9]{{7}})[*]+$', '\1'), '{LABEL}', '') AS outer_text,
        upper(regexp_replace(callsign, '{INVISIBLE}', '', 'g')) AS sign,
        regexp_replace(concat(name, first_name, last_name), '{WHITE_SPACE}', '', 'g') = '' AS is_nameless
    FROM records),
bare AS (
    SELECT *, translate(regexp_replace(CASE WHEN regexp_matches(outer_text, '{_QUOTED_WRAPPED}')
            THEN trim(concat({_WRAPPED_PARTS})) ELSE outer_text END, '{WHITE_SPACE}', ' ', 'g'),
            '{OTHER_DIGITS}', '{THEIR_VALUES}') AS bare,
        regexp_replace(bare, ' ', '', 'g') AS dense,
        regexp_extract(bare, '{EXPONENT}', 2) AS decimals,
        try_cast(regexp_extract(bare, '{EXPONENT}', 3) AS INTEGER) AS power
    FROM squeezed),
numbered AS (
    SELECT *, ltrim(CASE WHEN regexp_matches(written, '^[0-9]+$') THEN written
        WHEN length(bare) > 40 THEN NULL
        WHEN regexp_matches(bare, '{GROUPED}') THEN regexp_replace(regexp_extract(bare, '{GROUPED}', 1), '[^0-9]', '', 'g')
        WHEN regexp_matches(dense, '{PLAIN}') THEN regexp_extract(dense, '{PLAIN}', 1)
        WHEN length(decimals) >= power AND regexp_matches(substr(decimals, power + 1), '^0*$')
            THEN regexp_extract(bare, '{EXPONENT}', 1) || left(decimals, power) END, '0') AS significant,
        string_split(sign, '/') AS parts,
        string_split(regexp_extract(translate(sign, '{LOOK_ALIKES}', '{LOOKED_LIKE}'), '{LEADING}', 1), '/') AS leading_parts,
        list_max(list_transform(parts, lambda part: length(part))) AS longest
    FROM bare),
valued AS (
    SELECT *, CASE WHEN length(significant) > 9 THEN NULL WHEN significant = '' THEN 0
        ELSE significant::BIGINT END AS number,
        coalesce(
            list_filter(parts, lambda part: regexp_matches(part, '{ORDINARY}'))[1],
            list_filter(leading_parts, lambda part: regexp_matches(part, '{ORDINARY}'))[1],
            list_filter(parts, lambda part: length(part) = longest)[1]) AS part
    FROM numbered),
told AS (
    SELECT *, nullif(regexp_replace(part, '^(.+)-[A-Z0-9]{{1,2}}$', '\1'), '') AS callsign,
        system = 'dmr' AND number BETWEEN 100000000 AND 999999999 AS is_suffixed,
        CASE WHEN is_suffixed THEN number // 100 ELSE number END AS id
    FROM valued)
SELECT source_at, source, row, system, system_at, callsign, country AS text, town, state, is_suffixed,
    CASE WHEN NOT readable OR (callsign IS NULL AND is_nameless) THEN 'unreadable row'
        WHEN told.id IS NULL OR told.id > highest THEN 'invalid id'
        WHEN told.id < first OR told.id > last THEN 'reserved id' END AS reason,
    CASE WHEN reason IS NULL OR reason = 'reserved id' THEN told.id END AS id,
    reason IS NULL AS has_address
FROM told JOIN systems USING (system)"""

_PREFIXED = """CREATE TABLE prefixed AS
WITH heads AS (
    SELECT DISTINCT left(callsign, (SELECT max(length(key)) FROM by_prefix)) AS head
    FROM parsed WHERE has_address)
SELECT head, nullif(arg_max(coalesce(code, ''), length(key)), '') AS code
FROM (SELECT head, unnest(range(1, length(head) + 1)) AS characters FROM heads) AS cut
JOIN by_prefix ON key = left(head, characters) GROUP BY head"""

_LOCATED = f"""CREATE TABLE located AS
WITH guessed AS (
    SELECT parsed.*, by_digits.code AS id_code, prefixed.code AS callsign_code, coalesce(by_text.code,
        CASE WHEN (text, by_digits.code) IN (SELECT (key, code) FROM nearly) THEN by_digits.code
            WHEN (text, prefixed.code) IN (SELECT (key, code) FROM nearly) THEN prefixed.code END) AS text_code
    FROM parsed
    LEFT JOIN by_text ON by_text.key = text AND has_address
    LEFT JOIN by_digits ON has_address AND by_digits.key =
        CASE WHEN system = 'dmr' AND id BETWEEN 100000 AND 9999999 THEN left(id::VARCHAR, 3) END
    LEFT JOIN prefixed ON has_address
        AND head = left(callsign, (SELECT max(length(key)) FROM by_prefix)))
SELECT * EXCLUDE (state), coalesce(text_code, id_code, callsign_code) AS country,
    CASE WHEN regexp_matches(coalesce(state, ''), '^{WHITE_SPACE}*$')
        THEN coalesce((SELECT words FROM states WHERE key = text AND code = country), state) ELSE state END AS state,
    CASE WHEN text_code IS NOT NULL THEN 'text' WHEN id_code IS NOT NULL THEN 'id'
        WHEN callsign_code IS NOT NULL THEN 'call sign' END AS country_from,
    CASE WHEN system = 'dmr' AND id BETWEEN 1000000 AND 9999999 THEN 'person'
        WHEN system = 'dmr' AND id BETWEEN 100000 AND 999999 THEN 'repeater' ELSE 'other' END AS kind
FROM guessed"""

_CONTACTS = """CREATE TABLE contacts AS SELECT * FROM located WHERE reason IS NULL
QUALIFY row_number() OVER (PARTITION BY system, id ORDER BY source_at, is_suffixed, row DESC) = 1"""

_LEDGER = """SELECT l.source, l.row, l.system, l.id, l.callsign, l.country, l.country_from,
    CASE WHEN decided IS NULL THEN 'kept' WHEN decided IN ('unreadable row', 'invalid id') THEN 'rejected'
        ELSE 'dropped' END AS outcome,
    decided AS reason, coalesce(drop_names.name, keep_names.name) AS rule, rank
FROM (
    SELECT located.*, dropped_by, owner, rank, CASE WHEN located.reason IS NOT NULL THEN located.reason
        WHEN owned.row IS NULL THEN 'duplicate id' WHEN dropped_by IS NOT NULL THEN 'left out'
        WHEN owner IS NULL THEN 'no rule' ELSE fitted.reason END AS decided
    FROM located LEFT JOIN owned USING (source_at, row) LEFT JOIN fitted USING (source_at, row)) AS l
LEFT JOIN drop_names ON drop_names.at = dropped_by LEFT JOIN keep_names ON keep_names.at = owner
ORDER BY source_at, row"""


def _metres(latitude: str, longitude: str, origin: tuple[float, float]) -> str:
    """Whole metres on the sphere (haversine)."""
    across = f"pow(sin(radians({latitude} - ({origin[0]!r})) / 2), 2)"
    along = f"pow(sin(radians({longitude} - ({origin[1]!r})) / 2), 2)"
    along = f"cos(radians({origin[0]!r})) * cos(radians({latitude})) * {along}"
    return f"CASE WHEN {latitude} IS NOT NULL THEN round(2 * 6371008.8 * asin(sqrt(least({across} + {along}, 1)))) END"


def _owned(drop: Sequence[Rule], keep: Sequence[Rule], origin: tuple[float, float] | None) -> str:
    def first_of(rules: Sequence[Rule]) -> str:
        cases = [f"WHEN {rule.condition()} THEN {position}" for position, rule in enumerate(rules)]
        return f"CASE {' '.join(cases)} END" if cases else "NULL::INTEGER"

    by_distance = "NULL::DOUBLE"
    if origin is not None:
        of_place, of_middle = (_metres(f"{of}.latitude", f"{of}.longitude", origin) for of in ("places", "middles"))
        by_distance = f"coalesce({of_place}, {of_middle})"
    return f"""CREATE TABLE owned AS
        WITH waiting AS (
            SELECT contacts.*, {by_distance} AS metres,
                row_number() OVER (PARTITION BY contacts.country ORDER BY system_at, id) AS place_in_country,
                radians(places.latitude) AS north, radians(places.longitude) AS east
            FROM contacts LEFT JOIN middles ON middles.country = contacts.country
            LEFT JOIN places ON places.country = contacts.country
                AND places.town IS NOT DISTINCT FROM contacts.town AND places.state IS NOT DISTINCT FROM contacts.state)
        SELECT source_at, row, system_at, id, callsign, country, metres, place_in_country, north, east,
            dropped_by, CASE WHEN dropped_by IS NULL THEN {first_of(keep)} END AS owner
        FROM (SELECT *, {first_of(drop)} AS dropped_by FROM waiting) AS waiting"""


def _line(rule: Rule, origin: tuple[float, float] | None) -> str:
    """What the contacts of a rule wait by."""
    if rule.nearest:
        return f"{rule.metres()} NULLS LAST, system_at, id"
    if rule.order == "id":
        return "system_at, id"
    if origin is None:
        return "place_in_country, country NULLS LAST, system_at, id"
    return "metres NULLS LAST, system_at, id"


def _fitted(position: int, rule: Rule, limit: int, line: str) -> str:
    repeated = "false"
    if rule.one_per_callsign:
        repeated = f"""callsign IS NOT NULL
            AND (row_number() OVER (PARTITION BY callsign ORDER BY {line}) > 1
            OR callsign IN (SELECT callsign FROM fitted WHERE rank <= {limit} AND callsign IS NOT NULL))"""
    at_most = "NULL::BIGINT" if rule.at_most is None else str(rule.at_most)
    return f"""INSERT INTO fitted
        WITH queue AS (SELECT *, {repeated} AS is_repeated FROM owned WHERE owner = {position}),
        placed AS (
            SELECT *, row_number() OVER (PARTITION BY is_repeated ORDER BY {line}) AS turn,
                (SELECT count(rank) FROM fitted) + turn AS position
            FROM queue)
        SELECT source_at, row, callsign, CASE WHEN is_repeated THEN 'duplicate call sign'
            WHEN turn > {at_most} THEN 'rule full' WHEN position > {limit} THEN 'over limit' END,
            CASE WHEN NOT is_repeated AND coalesce(turn <= {at_most}, true) THEN position END
        FROM placed"""


def _leg(ends: Sequence[tuple[float, float]]) -> str:
    """The angle between a contact (`north`, `east` in radians) and a leg, by the formulas for distance, course and cross
    track error of E. Williams, "Aviation Formulary" (seen only as quotations)."""
    (one, other) = ((math.radians(north), math.radians(east)) for north, east in ends)
    to_one, to_other = _angle(one), _angle(other)
    if one == other:
        return to_one
    aside = f"{_course(one)} - {_course_between(one, other)!r}"
    beyond = f"{_course(other)} - {_course_between(other, one)!r}"
    return (
        f"CASE WHEN cos({aside}) > 0 AND cos({beyond}) > 0 THEN abs(asin(sin({to_one}) * sin({aside}))) "
        f"ELSE least({to_one}, {to_other}) END"
    )


def _angle(place: tuple[float, float]) -> str:
    north, east = place
    half = f"pow(sin((north - {north!r}) / 2), 2) + cos({north!r}) * cos(north) * pow(sin((east - {east!r}) / 2), 2)"
    return f"(2 * asin(sqrt(least({half}, 1.0))))"


def _course(place: tuple[float, float]) -> str:
    """The course from a place to a contact."""
    north, east = place
    return (
        f"atan2(sin(east - {east!r}) * cos(north), "
        f"cos({north!r}) * sin(north) - sin({north!r}) * cos(north) * cos(east - {east!r}))"
    )


def _course_between(one: tuple[float, float], other: tuple[float, float]) -> float:
    turn = other[1] - one[1]
    ahead = math.cos(one[0]) * math.sin(other[0]) - math.sin(one[0]) * math.cos(other[0]) * math.cos(turn)
    return math.atan2(math.sin(turn) * math.cos(other[0]), ahead)


def _is_like(globs: Sequence[str]) -> str:
    return "(" + " OR ".join([f"callsign GLOB {_literal(glob.upper())}" for glob in globs] or ["false"]) + ")"


def _is_state(wanted: Sequence[str]) -> str:
    """The state bears one of these names, or the code of one, or is the same state of its country by another name."""
    codes, names = _is_in("one.code", [name.upper() for name in wanted]), _is_in("other.text", wanted)
    same = _is_in("lower(trim(waiting.state))", [name.strip().lower() for name in wanted])
    meant = f"""SELECT one.country, one.text FROM state_codes AS one LEFT JOIN state_codes AS other
        ON other.country = one.country AND other.code = one.code WHERE {codes} OR {names}"""
    return f"({same} OR (waiting.country, waiting.state) IN ({meant}))"


def _is_heard(talkgroups: Sequence[int] | None, days: int | None, at_least: int) -> str:
    """So many calls on these talkgroups in the last days of the log."""
    terms = ["waiting.system = 'dmr'", "calls.id = waiting.id"]
    terms += [_is_in("calls.talkgroup", talkgroups)] if talkgroups is not None else []
    terms += [f"calls.day > (SELECT max(day) FROM calls) - {days}"] if days is not None else []
    return f"(SELECT count(*) FROM calls WHERE {' AND '.join(terms)}) >= {at_least}"


def _literal(text: str) -> str:
    return "'" + text.replace("'", "''") + "'"


def _is_in(column: str, values: Sequence[int] | Sequence[str]) -> str:
    texts = [str(value) if isinstance(value, int) else _literal(value) for value in values]
    return f"{column} IN ({', '.join(texts)})" if texts else "false"
