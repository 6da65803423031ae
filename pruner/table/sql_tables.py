"""The tables of a dump while its statements are gone through: columns, keys and rows.

Receives what statements say, hands on tables. Names are compared without regard to capitals; rows stand in the order in which
they came.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

Row = list[str]
Places = tuple[int, ...]

#: What a row does whose key another row bears: both stay (the database sees to it), it takes the place of the other, it goes.
PLAIN, REPLACES, GIVES_WAY = "plain", "replaces", "gives way"
_MOST_TABLES: Final = 4096


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
    unnamed: list[Row] = field(default_factory=list)
    is_plain: bool = False
    #: The rows by number, in order; and for the columns of each key which row bears what.
    _rows: dict[int, Row] = field(default_factory=dict)
    _bearers: dict[Places, dict[tuple[str, ...], int]] = field(default_factory=dict)
    _next: int = 0

    @property
    def rows(self) -> list[Row]:
        """The rows of which it is known which columns they fill."""
        return list(self._rows.values())

    @property
    def count(self) -> int:
        """How many rows these are."""
        return len(self._rows)

    @property
    def has_rows(self) -> bool:
        """Whether it holds a row."""
        return bool(self._rows or self.unnamed)

    def is_whole(self, row: Row) -> bool:
        """Whether a row has as many cells as there are columns; any other counts as unreadable."""
        return len(row) == len(self.columns)

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
                for row in rows:
                    self._put(row)
        self.is_plain |= manner == PLAIN

    def _arranged(self, names: Sequence[str], rows: list[Row]) -> list[Row]:
        """Rows whose cells stand in the order of the columns. A row with another number of cells than it should have is handed
        on as one cell, so that it counts as unreadable."""
        if not names:
            return rows
        known = {name.casefold() for name in self.columns}
        new = [name for name in names if name.casefold() not in known]
        self.widen(new)
        places = [self.place(name) for name in names]
        width = len(self.columns)
        if places == list(range(width)):
            return rows
        return [_placed(row, places, width) for row in rows]

    def _merge(self, rows: list[Row], manner: str, keys: list[tuple[str, ...]], only: Sequence[str]) -> None:
        for key in keys:
            self._index(tuple(self.place(name) for name in key))
        overwritten = [self.place(name) for name in only]
        places = {tuple(self.place(name) for name in key) for key in keys}
        for row in rows:
            borne = ((at, self._key(row, at)) for at in places)
            rivals = {self._bearers[at][key] for at, key in borne if key is not None and key in self._bearers[at]}
            if rivals and manner == GIVES_WAY:
                continue
            if rivals and only:
                if len(rivals) > 1:
                    raise NotUnderstood
                (rival,) = rivals
                self._forget(rival)
                for column in overwritten:
                    self._rows[rival][column] = row[column]
                self._note(rival)
                continue
            for rival in rivals:
                self._forget(rival)
                del self._rows[rival]
            self._put(row)

    def _put(self, row: Row) -> None:
        self._rows[self._next] = row
        self._note(self._next)
        self._next += 1

    def _index(self, places: Places) -> None:
        if places not in self._bearers:
            keyed = ((self._key(row, places), number) for number, row in self._rows.items())
            self._bearers[places] = {key: number for key, number in keyed if key is not None}

    def _note(self, number: int) -> None:
        for places, bearers in self._bearers.items():
            if (key := self._key(self._rows[number], places)) is not None:
                bearers[key] = number

    def _forget(self, number: int) -> None:
        for places, bearers in self._bearers.items():
            key = self._key(self._rows[number], places)
            if key is not None and bearers.get(key) == number:
                del bearers[key]

    def _key(self, row: Row, places: Places) -> tuple[str, ...] | None:
        """What a row has in the columns of a key, None where one is empty, or the row unreadable."""
        key = tuple(row[place] for place in places) if self.is_whole(row) else ("",)
        return key if all(key) else None

    def chosen(self, is_meant: Callable[[Row], bool], most: int | None = None) -> list[int]:
        """The numbers of the rows of which something is true; one that is unreadable is none. Raises NotUnderstood where it is
        not known which columns rows have, and where they are more than `most`."""
        if self.unnamed:
            raise NotUnderstood
        found = [number for number, row in self._rows.items() if self.is_whole(row) and is_meant(row)]
        if most is not None and len(found) > most:
            raise NotUnderstood
        return found

    def remove(self, numbers: Sequence[int]) -> None:
        """Takes rows out."""
        for number in numbers:
            self._forget(number)
            del self._rows[number]

    def put(self, numbers: Sequence[int], values: Mapping[int, str]) -> None:
        """Puts values, by the position of their column, into rows."""
        for number in numbers:
            self._forget(number)
            for place, value in values.items():
                self._rows[number][place] = value
            self._note(number)

    def widen(self, names: Sequence[str]) -> None:
        """Adds columns at the end, without values."""
        for row in self._rows.values() if names else ():
            if self.is_whole(row):
                row += [""] * len(names)
        self.columns += names

    def rename_column(self, old: str, new: str) -> None:
        """Gives a column another name, in the keys too."""
        place = self.place(old)
        known = self.columns[place]
        self.columns[place] = new
        self.keys = [tuple(new if name.casefold() == known.casefold() else name for name in key) for key in self.keys]

    def drop_column(self, name: str) -> None:
        """Takes a column out, and the keys that it is part of. Raises NotUnderstood where rows do not say what they fill."""
        if self.unnamed:
            raise NotUnderstood
        place = self.place(name)
        for row in self._rows.values():
            if self.is_whole(row):
                del row[place]
        del self.columns[place]
        self.keys = [key for key in self.keys if name.casefold() not in map(str.casefold, key)]
        self._bearers.clear()

    def clear(self) -> None:
        """Takes all rows out."""
        self._rows, self.unnamed, self.is_plain = {}, [], False
        self._bearers.clear()


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

    def like(self, names: Collection[str]) -> Iterator[SqlTable]:
        """The tables of these names (folded) in any schema."""
        return (table for key, table in self._tables.items() if key[-1] in names)

    def named(self, name: tuple[str, ...]) -> SqlTable:
        """The table of a name, an empty one where there is none. Raises NotUnderstood where there are too many."""
        found = self.find(name)
        if found is None:
            if len(self._tables) == _MOST_TABLES:
                raise NotUnderstood
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
