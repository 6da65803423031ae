"""The main job in DuckDB SQL, written from DEVELOPERS.md ("What happens to a row") and from nothing else.

Receives text cells and which column holds what (or a CSV file), the reference tables, the rules and a radio; hands on the
ledger. It shares no code with `pruner`, so that a mistake would have to be made twice to stay unseen. Limits in bytes,
`expected` calls, covered days and talkgroup lists are not in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import duckdb
import pyarrow as pa

from benchmarks.duckdb_records import Cells, Words, literal, make_functions, make_records
from benchmarks.duckdb_rules import Rule, metres_from

#: Name, place in the order, first and last address of a station, highest; sources in pruner/words/schema.py.
_SYSTEMS: Final = "('dmr', 0, 1, 16776415, 16777215), ('nxdn', 1, 1, 65519, 65535), ('p25', 2, 1, 9999999, 16777215)"

LEDGER_COLUMNS: Final = (
    *("source", "row", "system", "id", "callsign", "country", "country_from"),
    *("outcome", "reason", "rule", "rank"),
)
CARRIED: Final = "carried entries"


@dataclass(frozen=True)
class Tables:
    """The reference tables: cell text, first three digits and call sign prefix, each to a country or None; the pairs of a
    cell text and a country whose name it is but for one wrong letter; degrees (latitude, longitude) of places by country,
    town and state as they are written, of the middles of countries, and of what distances are measured from (None: nothing);
    the words of a cell text that name a state of a country, by both; codes (ISO 3166-2) of states by country and text; calls of
    `dmr` ids: id, talkgroup, day, second of the log; words in cells."""

    countries_by_text: Mapping[str, str | None] = field(default_factory=dict)
    countries_by_digits: Mapping[int, str | None] = field(default_factory=dict)
    countries_by_prefix: Mapping[str, str | None] = field(default_factory=dict)
    nearly: Sequence[tuple[str, str]] = ()
    places: Mapping[tuple[str, str | None, str | None], tuple[float, float]] = field(default_factory=dict)
    middles: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    origin: tuple[float, float] | None = None
    states: Mapping[tuple[str, str], str] = field(default_factory=dict)
    state_codes: Mapping[tuple[str, str], str] = field(default_factory=dict)
    calls: Sequence[tuple[int, int, int, int]] = ()
    words: Words = field(default_factory=Words)


@dataclass(frozen=True)
class Radio:
    """What a radio holds: so many contacts, some of them free, and the export whose entries it carries (of `dmr`)."""

    contacts: int
    keep_free: int = 0
    carried: Cells | None = None

    @property
    def room(self) -> int:
        """How many entries are kept at most."""
        return max(self.contacts - self.keep_free, 0)


@dataclass(frozen=True)
class Result:
    """The ledger, and how many lines or records the sources have of some kinds, by their words."""

    ledger: pa.Table
    counts: dict[str, int]


def run(files: Sequence[Cells], tables: Tables, drop: Sequence[Rule], keep: Sequence[Rule], radio: Radio) -> Result:
    """The account of some files, the most important first, for one radio."""
    with duckdb.connect() as connection:
        make_functions(connection)
        _register(connection, tables)
        make_records(connection, [*files, *([radio.carried] if radio.carried else [])], tables.words)
        _decide(connection, tables, drop, keep, radio.room, len(files))
        counts = connection.sql(_COUNTS.format(sources=len(files))).fetchall()
        return Result(connection.sql(_LEDGER).to_arrow_table(), {word: number for word, number in counts if number})


def run_file(source: Path, tables: Tables, drop: Sequence[Rule], keep: Sequence[Rule], limit: int, folder: Path) -> None:
    """The same for one CSV file of `dmr` stations; writes `contacts.csv` and `ledger.parquet`."""
    with duckdb.connect() as connection:
        make_functions(connection)
        _register(connection, tables)
        connection.execute(
            f"""CREATE TABLE cells AS SELECT row_number() OVER () AS row, *
            FROM read_csv({literal(str(source))}, header = true, all_varchar = true)"""
        )
        connection.execute(
            """CREATE VIEW records AS SELECT 0 AS source_at, 'world' AS source, row, 'dmr' AS system, true AS readable,
            false AS is_group, id, callsign, NULL AS name, first_name, last_name, country, town, state FROM cells"""
        )
        _decide(connection, tables, drop, keep, limit, 1)
        connection.execute(f"CREATE TABLE ledger AS {_LEDGER}")
        contacts, ledger = literal(str(folder / "contacts.csv")), literal(str(folder / "ledger.parquet"))
        connection.execute(
            f"""COPY (SELECT l.callsign, l.id, first_name, last_name, cells.country, state, town
            FROM ledger AS l JOIN cells USING (row) WHERE outcome = 'kept' ORDER BY l.id)
            TO {contacts} (HEADER)"""
        )
        connection.execute(f"COPY ledger TO {ledger} (FORMAT parquet)")


def _register(connection: duckdb.DuckDBPyConnection, tables: Tables) -> None:
    """The reference tables as tables of the connection."""
    given: list[tuple[str, str, Sequence[Sequence[object]]]] = [
        ("by_text", "key code", list(tables.countries_by_text.items())),
        ("by_digits", "key code", [(str(digits), code) for digits, code in tables.countries_by_digits.items()]),
        ("by_prefix", "key code", list(tables.countries_by_prefix.items())),
        ("nearly", "key code", tables.nearly),
        ("states", "key code words", [(*key, words) for key, words in tables.states.items()]),
        ("state_codes", "country text code", [(*key, code) for key, code in tables.state_codes.items()]),
        ("calls", "id talkgroup day second", tables.calls),
        ("places", "country town state latitude longitude", [(*key, *point) for key, point in tables.places.items()]),
        ("middles", "country latitude longitude", [(code, *point) for code, point in tables.middles.items()]),
    ]
    degrees, numbers = ("latitude", "longitude"), ("id", "talkgroup", "day", "second")
    for table, names, rows in given:
        arrays = {
            name: pa.array(
                [row[at] for row in rows],
                pa.float64() if name in degrees else pa.int64() if name in numbers else pa.string(),
            )
            for at, name in enumerate(names.split())
        }
        _make(connection, table, arrays)


def _make(connection: duckdb.DuckDBPyConnection, table: str, arrays: dict[str, pa.Array]) -> None:
    connection.register(f"{table}_given", pa.table(arrays))
    connection.execute(f"CREATE TABLE {table} AS SELECT * FROM {table}_given")


def _decide(
    connection: duckdb.DuckDBPyConnection,
    tables: Tables,
    drop: Sequence[Rule],
    keep: Sequence[Rule],
    room: int,
    sources: int,
) -> None:
    """Decides about the table `records`; those of sources from number `sources` on are carried entries."""
    carried = _CARRIED.format(sources=sources, room=room)
    for statement in (_PARSED, _PREFIXED, _LOCATED, carried, _CONTACTS.format(sources=sources)):
        connection.execute(statement)
    connection.execute(_owned(drop, keep, tables.origin))
    connection.execute("CREATE TABLE fitted (source_at BIGINT, row BIGINT, callsign VARCHAR, reason VARCHAR, rank BIGINT)")
    for position, rule in enumerate(keep):
        connection.execute(_fitted(position, rule, room, rule.line(tables.origin)))
    names = [*((at, rule.name) for at, rule in enumerate(drop)), *((len(drop) + at, rule.name) for at, rule in enumerate(keep))]
    places = pa.array([at for at, _ in names], pa.int64())
    _make(connection, "rule_names", {"rule_at": places, "name": pa.array([name for _, name in names], pa.string())})
    connection.execute(f"CREATE TABLE settings AS SELECT {len(drop)} AS drops")


_PARSED = rf"""CREATE TABLE parsed AS
WITH systems(system, system_at, first, last, highest) AS (VALUES {_SYSTEMS}),
numbered AS (
    SELECT * EXCLUDE (id, callsign), whole_number(id) AS significant, cleaned(callsign) AS callsign,
        NOT is_filled(concat(name, first_name, last_name)) AS is_nameless
    FROM records),
valued AS (
    SELECT *, CASE WHEN length(significant) > 9 THEN NULL WHEN significant = '' THEN 0
        ELSE significant::BIGINT END AS number,
        system = 'dmr' AND number BETWEEN 100000000 AND 999999999 AS is_suffixed,
        CASE WHEN is_suffixed THEN number // 100 ELSE number END AS id
    FROM numbered)
SELECT source_at, source, row, system, system_at, callsign, country AS text, town, state, is_suffixed,
    CASE WHEN NOT readable OR (callsign IS NULL AND is_nameless) THEN 'unreadable row'
        WHEN valued.id IS NULL OR valued.id > highest THEN 'invalid id'
        WHEN is_foreign THEN 'other system'
        WHEN is_group THEN 'no station'
        WHEN valued.id < first OR valued.id > last THEN 'reserved id' END AS reason,
    CASE WHEN reason IS NULL OR reason IN ('reserved id', 'no station', 'other system') THEN valued.id END AS id,
    reason IS NULL AS has_address
FROM valued JOIN systems USING (system)"""

_PREFIXED = """CREATE TABLE prefixed AS
WITH heads AS (
    SELECT DISTINCT left(callsign, (SELECT max(length(key)) FROM by_prefix)) AS head
    FROM parsed WHERE has_address)
SELECT head, nullif(arg_max(coalesce(code, ''), length(key)), '') AS code
FROM (SELECT head, unnest(range(1, length(head) + 1)) AS characters FROM heads) AS cut
JOIN by_prefix ON key = left(head, characters) GROUP BY head"""

_LOCATED = """CREATE TABLE located AS
WITH guessed AS (
    SELECT parsed.*, by_digits.code AS id_code, prefixed.code AS callsign_code, coalesce(by_text.code,
        CASE WHEN (text, by_digits.code) IN (SELECT (key, code) FROM nearly) THEN by_digits.code
            WHEN (text, prefixed.code) IN (SELECT (key, code) FROM nearly) THEN prefixed.code END) AS text_code,
        by_text.code AS named_code
    FROM parsed
    LEFT JOIN by_text ON by_text.key = text AND has_address
    LEFT JOIN by_digits ON has_address AND by_digits.key =
        CASE WHEN system = 'dmr' AND id BETWEEN 100000 AND 9999999 THEN left(id::VARCHAR, 3) END
    LEFT JOIN prefixed ON has_address
        AND head = left(callsign, (SELECT max(length(key)) FROM by_prefix)))
SELECT * EXCLUDE (state), coalesce(text_code, id_code, callsign_code) AS country,
    CASE WHEN NOT is_filled(state)
        THEN coalesce((SELECT words FROM states WHERE key = text AND code = country), state) ELSE state END AS state,
    CASE WHEN text_code IS NOT NULL THEN 'text' WHEN id_code IS NOT NULL THEN 'id'
        WHEN callsign_code IS NOT NULL THEN 'call sign' END AS country_from,
    CASE WHEN system = 'dmr' AND id BETWEEN 1000000 AND 9999999 THEN 'person'
        WHEN system = 'dmr' AND id BETWEEN 100000 AND 999999 THEN 'repeater' ELSE 'other' END AS kind
FROM guessed"""

#: The entries that a radio carries, by id; they have the first ranks.
_CARRIED = """CREATE TABLE carried AS
WITH entries AS (
    SELECT * FROM located WHERE reason IS NULL AND source_at >= {sources}
    QUALIFY row_number() OVER (PARTITION BY system, id ORDER BY is_suffixed, row DESC) = 1)
SELECT source_at, row, system, id, row_number() OVER (ORDER BY id) AS rank,
    CASE WHEN rank > {room} THEN 'over limit' END AS reason
FROM entries"""

_CONTACTS = """CREATE TABLE contacts AS SELECT * FROM located WHERE reason IS NULL AND source_at < {sources}
QUALIFY row_number() OVER (PARTITION BY system, id ORDER BY source_at, is_suffixed, row DESC) = 1"""

_LEDGER = f"""SELECT l.source, l.row, l.system, l.id, l.callsign, l.country, l.country_from,
    CASE WHEN decided IS NULL THEN 'kept' WHEN decided IN ('unreadable row', 'invalid id') THEN 'rejected'
        ELSE 'dropped' END AS outcome,
    decided AS reason, CASE WHEN is_entry THEN '{CARRIED}' ELSE rule_names.name END AS rule, rank
FROM (
    SELECT located.*, carried.row IS NOT NULL AS is_entry, coalesce(dropped_by, drops + owner) AS rule_at,
        coalesce(fitted.rank, carried.rank) AS rank,
        CASE WHEN located.reason IS NOT NULL THEN located.reason WHEN is_entry THEN carried.reason
            WHEN owned.row IS NULL THEN 'duplicate id' WHEN dropped_by IS NOT NULL THEN 'left out'
            WHEN owner IS NULL THEN 'no rule' ELSE fitted.reason END AS decided
    FROM located CROSS JOIN settings LEFT JOIN owned USING (source_at, row) LEFT JOIN fitted USING (source_at, row)
    LEFT JOIN carried USING (source_at, row)) AS l
LEFT JOIN rule_names ON rule_names.rule_at = l.rule_at ORDER BY source_at, row"""

#: Lines and records of sources by what is said of them.
_COUNTS = """SELECT aside || ', no rows', count(*) FROM lines WHERE aside IS NOT NULL AND source_at < {sources} GROUP BY aside
UNION ALL SELECT 'records out of cells with several ids, each with the call sign and names of its row',
    (SELECT count(*) FROM records WHERE source_at < {sources}) - (SELECT count(*) FROM placed WHERE source_at < {sources})
UNION ALL SELECT unnest([
    ('device suffixes taken off ids', count(*) FILTER (is_suffixed)),
    ('country names with one wrong letter, forgiven', count(*) FILTER (text_code IS NOT NULL AND named_code IS NULL)),
    ('disagreement: text against id', count(*) FILTER (text_code <> id_code)),
    ('disagreement: text against call sign', count(*) FILTER (text_code <> callsign_code)),
    ('disagreement: id against call sign', count(*) FILTER (id_code <> callsign_code))], recursive := true)
FROM located WHERE has_address AND source_at < {sources}"""


def _owned(drop: Sequence[Rule], keep: Sequence[Rule], origin: tuple[float, float] | None) -> str:
    def first_of(rules: Sequence[Rule]) -> str:
        cases = [f"WHEN {rule.condition()} THEN {position}" for position, rule in enumerate(rules)]
        return f"CASE {' '.join(cases)} END" if cases else "NULL::INTEGER"

    by_distance = "NULL::DOUBLE"
    if origin is not None:
        of_place, of_middle = (metres_from(f"{of}.latitude", f"{of}.longitude", origin) for of in ("places", "middles"))
        by_distance = f"coalesce({of_place}, {of_middle})"
    return f"""CREATE TABLE owned AS
        WITH waiting AS (
            SELECT contacts.*, {by_distance} AS metres,
                row_number() OVER (PARTITION BY contacts.country ORDER BY system_at, id) AS place_in_country,
                radians(places.latitude) AS north, radians(places.longitude) AS east
            FROM contacts LEFT JOIN middles ON middles.country = contacts.country
            LEFT JOIN places ON places.country = contacts.country
                AND places.town IS NOT DISTINCT FROM contacts.town AND places.state IS NOT DISTINCT FROM contacts.state)
        SELECT source_at, row, system, system_at, id, callsign, country, metres, place_in_country, north, east,
            dropped_by, CASE WHEN dropped_by IS NULL THEN {first_of(keep)} END AS owner
        FROM (SELECT *, {first_of(drop)} AS dropped_by FROM waiting) AS waiting
        WHERE (system, id) NOT IN (SELECT (system, id) FROM carried)"""


def _fitted(position: int, rule: Rule, room: int, line: str) -> str:
    repeated = "false"
    if rule.one_per_callsign:
        repeated = f"""callsign IS NOT NULL
            AND (row_number() OVER (PARTITION BY callsign ORDER BY {line}) > 1
            OR callsign IN (SELECT callsign FROM fitted WHERE rank <= {room} AND callsign IS NOT NULL))"""
    at_most = "NULL::BIGINT" if rule.at_most is None else str(rule.at_most)
    return f"""INSERT INTO fitted
        WITH queue AS (SELECT *, {repeated} AS is_repeated FROM owned AS waiting WHERE owner = {position}),
        placed AS (
            SELECT *, row_number() OVER (PARTITION BY is_repeated ORDER BY {line}) AS turn,
                (SELECT count(rank) FROM fitted) + (SELECT count(*) FROM carried) + turn AS position
            FROM queue AS waiting)
        SELECT source_at, row, callsign, CASE WHEN is_repeated THEN 'duplicate call sign'
            WHEN turn > {at_most} THEN 'rule full' WHEN position > {room} THEN 'over limit' END,
            CASE WHEN NOT is_repeated AND coalesce(turn <= {at_most}, true) THEN position END
        FROM placed"""
