"""The map of the world in a page: how large a share of each country's stations was kept.

Receives the tallies by country, hands on paths in groups of one shade each and the legend. Outlines: `data/outlines.tsv`
(Natural Earth, public domain; Equal Earth projection, on which areas are true).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from pruner.account.tallies import CountryTally
from pruner.reference import countries
from pruner.reference.tables import DATA

#: Steps of the share that was kept, from nobody to everybody; `None` stands for a country without stations. Whole steps for
#: the two ends, because "some were left out" must not look like "all are in".
STEPS: Final = tuple(
    label.replace(" %", "\N{NO-BREAK SPACE}%")
    for label in ("nobody", "under 25 %", "25 to 50 %", "50 to 75 %", "75 % and more", "everybody")
)
ABSENT: Final = "no stations"


@dataclass(frozen=True, slots=True)
class Shape:
    """One country: its path and what a pointer over it is told."""

    path: str
    title: str


@dataclass(frozen=True, slots=True)
class Shade:
    """All countries of one step; `style` is the class of the style sheet, `places` how many countries."""

    style: str
    label: str
    shapes: list[Shape]
    places: int


@dataclass(frozen=True, slots=True)
class WorldMap:
    """`width` and `height` in units of the paths; `elsewhere`: tallies that no outline stands for."""

    width: int
    height: int
    shades: list[Shade]
    elsewhere: list[CountryTally]


def step_of(kept: int, stations: int) -> int:
    """The index in `STEPS` of a share; decided on whole numbers."""
    if kept == 0:
        return 0
    return 5 if kept == stations else 1 + 4 * kept // stations


def world_map(by_country: Sequence[CountryTally]) -> WorldMap:
    """The map of these tallies. Countries stand by code within a shade."""
    width, height, outlines = _outlines()
    told = {one.code: one for one in by_country if one.stations}
    shades: list[list[Shape]] = [[] for _ in STEPS]
    absent = []
    for code, path in outlines.items():
        one = told.get(code)
        if one is None:
            absent.append(Shape(path, ""))
        else:
            name = countries.NAMES[countries.NUMBERS[code]]
            shades[step_of(one.kept, one.stations)].append(Shape(path, f"{name}: {one.kept:,} of {one.stations:,} kept"))
    return WorldMap(
        width,
        height,
        [
            Shade("away", ABSENT, absent, len(absent)),
            *(Shade(f"s{step}", STEPS[step], shapes, len(shapes)) for step, shapes in enumerate(shades)),
        ],
        [one for code, one in told.items() if code not in outlines],
    )


@cache
def _outlines() -> tuple[int, int, dict[str, str]]:
    heading, *lines = (DATA / "outlines.tsv").read_text(encoding="utf-8").splitlines()
    numbers = [int(word) for word in heading.split() if word.isdigit()]
    return numbers[0], numbers[1], dict(line.split("\t", 1) for line in lines)
