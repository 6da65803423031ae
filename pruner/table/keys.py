"""The tables of a database -> which of their columns are keys of rows of other tables, and what these rows say.

Receives names, columns and values, hands on references. A column holds keys where the database declares it (a foreign key), or
where its values say so: all of them are keys of another table, which are handed out one after the other, and its name is that
of the table or of its key, or no other table has such keys.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from pruner.table.fold import words_of
from pruner.table.headings import sense_of

#: Stands between the name of a column and that of the table whose keys it holds.
KEY_OF: Final = " (key of "
#: Keys that were handed out one after the other: (largest - smallest) / count is below this.
_DENSE: Final = 5
#: Where only values speak for it, a column refers to so many of the rows of the other table, and has so many different ones.
_COVERED, _LEAST_VALUES = 0.5, 2
#: Words in the name of a key that say that it is one.
_KEY_WORDS: Final = frozenset("id ids key fk pk ref no nr number num".split())
#: What a column may be headed as whose values alone say that it is a key.
_HEADED: Final = frozenset({"id", "number", "caller", "talkgroup", "station", "database_key", "member_number"})
#: What a row refers to is of another time than the row: of columns so headed nothing is taken.
_OF_ROWS: Final = frozenset({"time", "date", "clock", "end", "seconds", "event", "count", "database_key"})
#: What says who or what a row is.
_TELLING: Final = frozenset({"id", "number", "caller", "talkgroup", "station", "callsign", "name", "town", "country"})


@dataclass(frozen=True)
class Described:
    """A table of a database: `key`: its only primary key column, "" where it has none; `declared`: columns that are foreign
    keys -> the tables whose keys they hold, and which column of these ("": their key); `values`: the different values of a
    column, None where one is no whole number or there are too many."""

    name: str
    columns: Sequence[str]
    key: str
    declared: Mapping[str, tuple[str, str]]
    values: Callable[[str], frozenset[int] | None] = field(compare=False)

    @cached_property
    def keys(self) -> frozenset[int]:
        """The keys that its rows were given one after the other, none where its keys are other numbers or texts."""
        found = (self.values(self.key) if self.key else None) or frozenset()
        is_dense = len(found) > 1 and max(found) - min(found) < _DENSE * len(found)
        return found if is_dense or found == {1} else frozenset()

    def describing(self) -> list[str]:
        """The columns that say who or what a row is."""
        senses = {name: set(sense_of(name).classes) for name in self.columns if name != self.key}
        others = [name for name, sense in senses.items() if not sense & _OF_ROWS and name not in self.declared]
        return others if any(senses[name] & _TELLING for name in others) else []


@dataclass(frozen=True, slots=True)
class Reference:
    """A column that holds keys of the rows of `table`; `columns`: those of that table which say who or what is meant, by the
    names that they have beside the column."""

    column: str
    table: str
    key: str
    columns: Mapping[str, str]

    @property
    def heading(self) -> str:
        """What the column is called: no id, whatever its name says."""
        return f"{self.column}{KEY_OF}{self.table})"


def references(tables: Sequence[Described]) -> dict[str, list[Reference]]:
    """The columns of each table that hold keys of another, and its own key where another refers to it."""
    found = {table.name: [one for name in table.columns if (one := _reference(table, name, tables))] for table in tables}
    referred = {one.table for some in found.values() for one in some}
    for table in tables:
        if table.name in referred:
            found[table.name].append(Reference(table.key, table.name, table.key, {}))
    return found


def _reference(table: Described, column: str, tables: Sequence[Described]) -> Reference | None:
    others = [other for other in tables if other.name != table.name and other.keys]
    if column in table.declared:
        name, key = (part.casefold() for part in table.declared[column])
        meant = [other for other in others if other.name.casefold() == name and key in ("", other.key.casefold())]
    elif column == table.key or not others:
        return None
    else:
        meant = _holding(column, table.values(column), others)
    if not meant:
        return None
    other = meant[0]
    stem = " ".join(word for word in words_of(column) if word not in _KEY_WORDS) or other.name
    return Reference(column, other.name, other.key, {f"{stem}.{name}": name for name in other.describing()})


def _holding(column: str, values: Collection[int] | None, others: Sequence[Described]) -> list[Described]:
    """The table whose keys are the values of a column, none where it is none or several may be."""
    if not values:
        return []
    holding = [other for other in others if other.keys.issuperset(values)]
    named = [other for other in holding if _is_named(column, other)]
    if named:
        return named if len(named) == 1 else []
    classes = set(sense_of(column).classes)
    if len(values) < _LEAST_VALUES or (classes and not classes & _HEADED):
        return []
    covered = [other for other in holding if len(values) >= _COVERED * len(other.keys)]
    return covered if len(covered) == 1 else []


def _is_named(column: str, other: Described) -> bool:
    """Whether a column has the name of a table, or of its key where that is more than a word for keys."""
    key = set(words_of(other.key))
    if column.casefold() == other.key.casefold() and not key <= _KEY_WORDS:
        return True
    words, wanted = ([word for word in words_of(name) if word not in _KEY_WORDS] for name in (column, other.name))
    return bool(words) and _singular("".join(words)) == _singular("".join(wanted))


def _singular(word: str) -> str:
    return word.removesuffix("s").removesuffix("e")
