"""The tables of a dump while its statements are gone through: columns, keys and rows.

Receives what statements say, hands on tables. Names are compared without regard to capitals; rows stand in the order in which
they came.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

Row = list[str]

#: What a row does whose key another row bears: both stay (the database sees to it), it takes the place of the other, it goes.
PLAIN, REPLACES, GIVES_WAY = "plain", "replaces", "gives way"


class NotUnderstood(Exception):  # noqa: N818  what it says is no error of ours
    """A statement that may change what a table holds, and of which it is not clear how."""


@dataclass(slots=True)
class SqlTable:
    """One table: `name` as it is shown, `columns` (none: not known), `keys` of which no two rows have the same, and its rows.

    `unnamed`: rows of statements that do not say which columns they fill, where nothing else does; `is_plain`: some rows came
    by statements that expect no row with the same key.
    """

    name: str
    columns: list[str] = field(default_factory=list)
    keys: list[tuple[str, ...]] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    unnamed: list[Row] = field(default_factory=list)
    is_plain: bool = False

    @property
    def has_rows(self) -> bool:
        """Whether it holds a row."""
        return bool(self.rows or self.unnamed)

    def place(self, column: str) -> int:
        """The position of a column. Raises NotUnderstood where there is none of that name."""
        for place, name in enumerate(self.columns):
            if name.casefold() == column.casefold():
                return place
        raise NotUnderstood

    def add(
        self, names: Sequence[str], rows: list[Row], manner: str, key: tuple[str, ...] = (), only: Sequence[str] = ()
    ) -> None:
        """Takes rows in. `names` of the columns that they fill (none: all); `manner`: what becomes of a row whose key another
        one bears; `key`: the columns that the statement compares; `only`: columns that are overwritten then (none: the row)."""
        if not self.columns and not names:
            if manner != PLAIN and self.is_plain:
                raise NotUnderstood
            self.unnamed += rows
        else:
            rows = self._arranged(names, rows)
            keys = [key] if key else self.keys
            if manner != PLAIN and keys:
                self._merge(rows, manner, keys, only)
            elif manner != PLAIN and self.is_plain:
                raise NotUnderstood  # it may stand for a row that is there
            else:
                self.rows += rows
        self.is_plain |= manner == PLAIN

    def _arranged(self, names: Sequence[str], rows: list[Row]) -> list[Row]:
        """Rows whose cells stand in the order of the columns. A row with another number of cells than it should have is handed
        on as one cell, so that it counts as unreadable."""
        if not names:
            return rows
        known = {name.casefold() for name in self.columns}
        new = [name for name in names if name.casefold() not in known]
        for row in self.rows if new else ():
            if len(row) == len(self.columns):
                row += [""] * len(new)
        self.columns += new
        places = [self.place(name) for name in names]
        width = len(self.columns)
        if places == list(range(width)):
            return rows
        return [_placed(row, places, width) for row in rows]

    def _merge(self, rows: list[Row], manner: str, keys: list[tuple[str, ...]], only: Sequence[str]) -> None:
        places = [[self.place(name) for name in key] for key in keys]
        overwritten = [self.place(name) for name in only]
        bearers: list[dict[tuple[str, ...], int]] = [{} for _ in keys]
        gone: set[int] = set()

        def note(place: int, row: Row) -> None:
            for at, index in zip(places, bearers, strict=True):
                if _is_filled(row, at):
                    index[tuple(row[one] for one in at)] = place

        for place, row in enumerate(self.rows):
            note(place, row)
        for row in rows:
            keyed = [
                index.get(tuple(row[one] for one in at))
                for at, index in zip(places, bearers, strict=True)
                if _is_filled(row, at)
            ]
            rivals = {place for place in keyed if place is not None} - gone
            if rivals and manner == GIVES_WAY:
                continue
            if rivals and only:
                if len(rivals) > 1:
                    raise NotUnderstood
                (rival,) = rivals
                for column in overwritten:
                    self.rows[rival][column] = row[column]
                note(rival, self.rows[rival])
                continue
            gone |= rivals
            note(len(self.rows), row)
            self.rows.append(row)
        self.rows = [row for place, row in enumerate(self.rows) if place not in gone]

    def chosen(self, is_meant: Callable[[Row], bool], most: int | None = None) -> list[Row]:
        """The rows of which something is true; one that is unreadable is none. Raises NotUnderstood where it is not known which
        columns rows have, and where they are more than `most`."""
        if self.unnamed:
            raise NotUnderstood
        found = [row for row in self.rows if len(row) == len(self.columns) and is_meant(row)]
        if most is not None and len(found) > most:
            raise NotUnderstood
        return found

    def remove(self, rows: Sequence[Row]) -> None:
        """Takes rows out."""
        gone = set(map(id, rows))
        self.rows = [row for row in self.rows if id(row) not in gone]

    def clear(self) -> None:
        """Takes all rows out."""
        self.rows, self.unnamed, self.is_plain = [], [], False


def _is_filled(row: Row, places: list[int]) -> bool:
    return all(place < len(row) and row[place] for place in places)


def _placed(row: Row, places: list[int], width: int) -> Row:
    if len(row) != len(places):
        return [", ".join(row)]
    placed = [""] * width
    for place, cell in zip(places, row, strict=True):
        placed[place] = cell
    return placed


class SqlTables:
    """All tables of a dump by name; one that a name without its schema means is that of this name, where there is only one."""

    def __init__(self) -> None:
        self._tables: dict[tuple[str, ...], SqlTable] = {}

    def __iter__(self) -> Iterator[SqlTable]:
        return iter(self._tables.values())

    def find(self, name: tuple[str, ...]) -> SqlTable | None:
        """The table of a name, None where there is none. Raises NotUnderstood where several are meant."""
        key = _folded(name)
        if key in self._tables:
            return self._tables[key]
        same = [known for known in self._tables if _ends(known, key) or _ends(key, known)]
        if len(same) > 1:
            raise NotUnderstood
        return self._tables[same[0]] if same else None

    def like(self, name: str) -> list[SqlTable]:
        """The tables of this name in any schema."""
        return [table for key, table in self._tables.items() if key[-1] == name.casefold()]

    def named(self, name: tuple[str, ...]) -> SqlTable:
        """The table of a name, an empty one where there is none."""
        found = self.find(name)
        if found is None:
            found = self._tables[_folded(name)] = SqlTable(name[-1])
        return found

    def drop(self, name: tuple[str, ...]) -> None:
        """Forgets a table."""
        found = self.find(name)
        self._tables = {key: table for key, table in self._tables.items() if table is not found}

    def rename(self, name: tuple[str, ...], new: tuple[str, ...]) -> None:
        """Gives a table another name. Raises NotUnderstood where one bears it."""
        found = self.find(name)
        if found is None:
            return
        if self.find(new) is not None:
            raise NotUnderstood
        self.drop(name)
        found.name = new[-1]
        self._tables[_folded((*name[:-1], new[-1]) if len(new) == 1 else new)] = found


def _folded(name: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(part.casefold() for part in name)


def _ends(longer: tuple[str, ...], shorter: tuple[str, ...]) -> bool:
    return len(longer) > len(shorter) and longer[-len(shorter) :] == shorter
