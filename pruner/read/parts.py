"""Several tables of one file -> those that belong together.

Receives opened tables, hands on one. Sheets, members of an archive or lists under several keys that have the same columns are
parts of one list, and what stands in it twice is a duplicate. A table with nothing new in it is a copy; it is left out and
named, as is a table of other columns or of another kind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from pruner.read.records import Records
from pruner.table.fold import fold
from pruner.table.understanding import Understanding

Jobs = Iterator[tuple[int, Callable[[], Records]]]


@dataclass(slots=True)
class Opened:
    """A table whose columns are identified: `understanding`, what is left to do, run by run, how much speaks for it, the
    cells of ids that were looked at, how many rows that were, and whether they tell times (asked where ids come again)."""

    understanding: Understanding
    jobs: Jobs
    evidence: float
    ids: frozenset[str]
    rows: int
    has_times: Callable[[], bool]


def most_of(found: Sequence[Opened]) -> Opened:
    """The table that is read: of those with the same columns that have most rows (of long ones so many as are looked at), the
    one with the most evidence."""
    keys = [columns_of(one.understanding) for one in found]
    of_key: Counter[object] = Counter()
    for key, one in zip(keys, found, strict=True):
        of_key[key] += one.rows
    rows = [of_key[key] for key in keys]
    return found[max(range(len(found)), key=lambda place: (rows[place], found[place].evidence, -place))]


def joined(found: list[Opened], best: Opened, refused: Sequence[str] = ()) -> Opened:
    """The best of some tables of a file, in the order of the file, with its parts; `refused`: labels of the other tables."""
    parts, copies, others = [], [], []
    known = best.ids
    for one in found:
        if one is best:
            parts.append(one)
        elif not has_columns_of(one.understanding, best.understanding):
            others.append(one.understanding.label)
        elif one.ids <= known:
            copies.append(one.understanding.label)
        else:
            parts.append(one)
            known |= one.ids
    return Opened(
        replace(
            best.understanding,
            parts=tuple(one.understanding.label for one in parts if one is not best),
            copies=tuple(copies),
            others=tuple(others),
            refused=tuple(refused),
        ),
        chain.from_iterable(one.jobs for one in parts),
        best.evidence,
        known,
        sum(one.rows for one in parts),
        best.has_times,
    )


def has_columns_of(one: Understanding, best: Understanding) -> bool:
    """Whether two tables have the same columns under the same headings; without headings, at the same places."""
    return columns_of(one) == columns_of(best)


def columns_of(one: Understanding) -> tuple[bool, frozenset[tuple[str, str | int]]]:
    """What tables of the same columns have in common: the headings of their columns; without headings, their places."""
    return one.has_headings, frozenset(
        (use.meaning, fold(use.heading) if one.has_headings else use.number) for use in one.columns
    )


def has_all_columns_of(one: Understanding, best: Understanding) -> bool:
    """The same, also of columns that were not used."""
    return has_columns_of(one, best) and one.unused == best.unused


def parts_of(best: Opened, found: Sequence[Opened]) -> list[Opened]:
    """The tables with the columns of the best one, itself among them; of those that begin alike, as copies do, the first."""
    parts, begun = [], set()
    for one in found:
        beginning = tuple(tuple(row.items()) for row in one.understanding.rows)
        if (one is best or has_columns_of(one.understanding, best.understanding)) and beginning not in begun:
            parts.append(one)
            begun.add(beginning)
    return parts
