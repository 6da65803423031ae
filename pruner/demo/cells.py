"""The text of the demo's world directory, dirt included.

Receives a plan; hands on the file as bytes: UTF-8, comma, line feed, quotes as in RFC 4180.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
import polars as pl

from pruner.demo import people
from pruner.demo.dirt import Plan
from pruner.demo.draws import Draws, Integers
from pruner.demo.stations import suffixes
from pruner.demo.world import COUNTRIES, NO_COUNTRY, OTHER_WAYS

HEADINGS: Final = ("Station", "Number", "First name", "Family name", "Country", "State", "Town")

_RESERVED: Final = ("0", "16777215", "16776672", "16776416", "16776927")
_TOO_LARGE: Final = ("16777216", "23212345", "99999999", "232123456789", "4294967296")
_HOSTILE: Final = (
    "=1+1",
    "<b>Town</b>",
    "\x1b[31mred\x1b[0m",
    "@SUM(A1:A9)",
    "<script>alert(1)</script>",
    "+1+1",
    "\x1b]0;title\x07",
    "-1+1",
    '"><img src=x onerror=alert(1)>',
)


class Cells:
    """One Series of text per heading, and the means to rewrite some rows of one."""

    def __init__(self, columns: dict[str, pl.Series]) -> None:
        self.columns = columns

    def edit(self, heading: str, rows: Integers, change: Callable[[pl.Series], pl.Series]) -> None:
        """Replace the cells of these rows by what `change` makes of them."""
        column = self.columns[heading]
        self.columns[heading] = column.scatter(rows, change(column.gather(rows)))

    def frame_edit(self, heading: str, rows: Integers, template: str) -> None:
        """Put the cells of these rows into a template with one `{}`."""
        before, after = template.split("{}")
        self.edit(heading, rows, lambda cells: before + cells + after)


def _cycle(texts: tuple[str, ...] | list[str], count: int) -> pl.Series:
    return pl.Series(texts, dtype=pl.String).gather(np.arange(count) % len(texts))


def clean_cells(plan: Plan, draws: Draws) -> Cells:
    """Every row as if it were well written."""
    stations, source = plan.stations, plan.source
    town = stations.town[source]
    towns = people.towns()
    country = stations.country[source]
    # The later row of a duplicate shows the next town of the same country.
    moved = plan.rows("duplicate id")
    start, size = towns.start[country[moved]], towns.size[country[moved]]
    town[moved] = start + (town[moved] - start + 1) % size

    def text(pool: list[str], positions: Integers) -> pl.Series:
        return pl.Series(pool, dtype=pl.String).gather(positions)

    def of_persons(pool: list[str], positions: Integers) -> pl.Series:
        return text([*pool, ""], np.where(stations.person, positions, len(pool))[source])

    beginnings = text(people.calls().texts, stations.beginning[source])
    columns = (
        beginnings + text(suffixes(), stations.suffix[source]),
        pl.Series(stations.ids[source]).cast(pl.String),
        of_persons(people.first_names().texts, stations.first_name),
        of_persons(people.family_names().texts, stations.family_name),
        text([one.name for one in COUNTRIES], country),
        text([place.partition("/")[2] for place in towns.texts], town),
        text([place.partition("/")[0] for place in towns.texts], town),
    )
    return Cells(dict(zip(HEADINGS, columns, strict=True)))


def _double_encode(text: str) -> str:
    """UTF-8 read as cp1252 (as latin-1 where cp1252 has no character): the usual mojibake."""
    return "".join(bytes([byte]).decode("cp1252", "ignore") or chr(byte) for byte in text.encode())


def _spoil_ids(cells: Cells, plan: Plan) -> None:
    for kind in ("device suffix alone", "device suffix beside the plain id"):
        cells.edit("Number", plan.rows(kind), lambda ids: ids + _cycle(["01", "02", "77"], len(ids)))
    cells.edit("Number", plan.rows("reserved id"), lambda ids: _cycle(_RESERVED, len(ids)))
    cells.edit("Number", plan.rows("id too large"), lambda ids: _cycle(_TOO_LARGE, len(ids)))
    cells.edit(
        "Number",
        plan.rows("id with letters"),
        lambda ids: ids.str.slice(0, 4) + _cycle(["O12", "x", "-1", "l7?", ".5"], len(ids)),
    )
    cells.edit("Number", plan.rows("empty id"), lambda ids: _cycle([""], len(ids)))
    cells.frame_edit("Number", plan.rows("id with point and zero"), "{}.0")
    cells.frame_edit("Number", plan.rows("id with leading zeros"), "000{}")
    cells.edit("Number", plan.rows("id with spaces"), lambda ids: ids.str.slice(0, 3) + " " + ids.str.slice(3) + " ")


def _spoil_call_signs_and_names(cells: Cells, plan: Plan) -> None:
    cells.edit("Station", plan.rows("lower-case call sign"), lambda signs: signs.str.to_lowercase())
    for number, template in enumerate(("{}/P", "{}/M", "DL/{}", "{}/4", "{}-7")):
        cells.frame_edit("Station", plan.rows("portable call sign")[number::5], template)
    for heading in ("First name", "Family name"):
        cells.edit(heading, plan.rows("shouted name"), lambda names: names.str.to_uppercase())
    for heading in ("Station", "First name", "Family name"):
        cells.edit(heading, plan.rows("names nobody"), lambda names: _cycle(["", " "], len(names)))
    invisible = plan.rows("invisible character")
    cells.frame_edit("Station", invisible[0::3], "\u200b{}\ufeff")
    cells.frame_edit("Town", invisible[1::3], "\u202e{}\u202c")
    cells.frame_edit("Family name", invisible[2::3], "\u2066{}\u200d\u2069")
    hostile = plan.rows("hostile cell")
    cells.edit("Town", hostile, lambda towns: _cycle(_HOSTILE, len(towns)))
    cells.edit("First name", hostile[::2], lambda names: _cycle(_HOSTILE, len(names)))


def _spoil_places(cells: Cells, plan: Plan) -> None:
    country = plan.stations.country[plan.source]
    other_words = plan.rows("country in other words")
    for position, one in enumerate(COUNTRIES):
        if one.code in OTHER_WAYS:
            words = OTHER_WAYS[one.code]
            rows = other_words[country[other_words] == position]
            cells.edit("Country", rows, lambda cell, words=words: _cycle(words, len(cell)))  # type: ignore[misc]
    cells.edit("Country", plan.rows("country empty"), lambda cell: _cycle(["", " "], len(cell)))
    cells.edit("Country", plan.rows("country unknown"), lambda cell: _cycle(NO_COUNTRY, len(cell)))
    contradicting = plan.rows("country contradicts the id")
    elsewhere = (country[contradicting] + 1 + contradicting % 7) % len(COUNTRIES)
    names = pl.Series([one.name for one in COUNTRIES])
    cells.edit("Country", contradicting, lambda _cell: names.gather(elsewhere))

    towns, mojibake = people.towns().texts, plan.rows("mojibake")
    garbled = [_double_encode(towns[town].partition("/")[0]) for town in plan.stations.town[plan.source][mojibake]]
    cells.edit("Town", mojibake, lambda _cell: pl.Series(garbled, dtype=pl.String))
    cells.frame_edit("Town", plan.rows("comma in a quoted cell"), '{}, "old town"')
    cells.frame_edit("Town", plan.rows("line break in a quoted cell"), "{}\nby the river")
    for heading in ("Station", "Town", "Country"):
        cells.frame_edit(heading, plan.rows("padded cells"), "  {} \t")


def _lines(cells: Cells, plan: Plan) -> pl.Series:
    frame = pl.DataFrame(cells.columns)
    quoted = [
        pl.when(pl.col(heading).str.contains('[",\n\r]'))
        .then('"' + pl.col(heading).str.replace_all('"', '""', literal=True) + '"')
        .otherwise(pl.col(heading))
        for heading in HEADINGS
    ]
    whole = frame.select(pl.concat_str(quoted, separator=",")).to_series()
    few, many = plan.rows("too few cells"), plan.rows("too many cells")
    short = frame[few].select(pl.concat_str(HEADINGS[:3], separator=",")).to_series()
    whole = whole.scatter(few, short)
    return whole.scatter(many, whole.gather(many) + ",moved here,in spring")


def directory_bytes(plan: Plan, draws: Draws) -> bytes:
    """The whole file: one heading line, then every row in the plan's order."""
    cells = clean_cells(plan, draws)
    _spoil_ids(cells, plan)
    _spoil_call_signs_and_names(cells, plan)
    _spoil_places(cells, plan)
    lines = _lines(cells, plan).gather(plan.order)
    return f"{','.join(HEADINGS)}\n{lines.str.join(chr(10)).item()}\n".encode()
