"""The tables of a dump whose columns hold keys of other tables -> the same with what these say.

Receives tables with their rows, hands on rows of cells.
"""

from __future__ import annotations

from collections.abc import Sequence

from pruner.table.keys import Described, Reference, references
from pruner.table.sql_parser import WHOLE
from pruner.table.sql_tables import Row, SqlTable


def with_references(tables: Sequence[SqlTable]) -> list[tuple[list[Row], frozenset[str]]]:
    """The headings and rows of each table with rows, beside each column of keys what the other table says; and which headings
    these have. No name may come twice."""
    named = {table.name: table for table in tables}
    found = references([_described(table) for table in tables]) if len(named) == len(tables) > 1 else {}
    return [_referring(table, found.get(table.name, ()), named) for table in tables]


def _described(table: SqlTable) -> Described:
    folded = {name.casefold(): name for name in table.columns}
    single = [folded.get(key[0].casefold(), "") for key in table.keys[:1] if len(key) == 1]

    rows = list(filter(table.is_whole, table.rows))

    def values(column: str) -> frozenset[int] | None:
        place = table.place(column)
        cells = {row[place] for row in rows if row[place]}
        return frozenset(map(int, cells)) if all(map(WHOLE.fullmatch, cells)) else None

    return Described(table.name, table.columns, single[0] if single else "", {}, values)


def _referring(table: SqlTable, found: Sequence[Reference], named: dict[str, SqlTable]) -> tuple[list[Row], frozenset[str]]:
    if not found:
        return [table.columns, *table.rows], frozenset()
    meant = {one.column: one.heading for one in found}
    headings = [meant.get(name, name) for name in table.columns]
    rows = [(list(row), True) if table.is_whole(row) else ([", ".join(row)], False) for row in table.rows]
    for one in found:
        if not one.columns:
            continue
        other, place = named[one.table], table.place(one.column)
        key, places = other.place(one.key), [other.place(name) for name in one.columns.values()]
        by_key = {row[key]: [row[at] for at in places] for row in other.rows if other.is_whole(row)}
        nothing = [""] * len(places)
        for row, is_whole in rows:
            if is_whole:
                row += by_key.get(row[place], nothing)
        headings += one.columns
    return [headings, *(row for row, _ in rows)], frozenset(heading for one in found for heading in one.columns)
