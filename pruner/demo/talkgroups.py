"""The demo's talkgroup list: invented names under numbers of the usual form, dirt included.

Receives a seed; hands on the file as bytes (UTF-8, comma, line feed, quotes as in RFC 4180) and the count of what was
planted. World-wide groups have one or two digits, groups of a country begin with its country code (common practice, no
source). No name is that of a real group.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from pruner.demo.draws import Draws
from pruner.demo.world import COUNTRIES

TALKGROUP_HEADINGS: Final = ("Group", "Name", "Country", "Description")

#: World-wide groups of one and two digits.
WORLD_WIDE: Final[dict[int, str]] = {
    1: "Open Road",
    2: "Lay-by",
    5: "Long Way Round",
    7: "Tailwind",
    9: "Kitchen Table",
    11: "Slow Spokes",
    15: "Bell and Brake",
    21: "Night Riders",
    33: "Spare Tube",
    42: "Map and Compass",
    48: "Uphill Talk",
    64: "Freewheel",
    77: "Tandem",
    88: "Tea Stop",
    91: "All Passes",
    96: "Signal Flag",
}
#: What a digit behind the country code stands for; every country has all ten.
_REGIONS: Final = ("all day", "valley", "ridge", "lake side", "old town", "forest", "border", "river bend", "plain", "summit")
#: Countries with more stations than this have groups of five digits for single tours as well.
_LARGE: Final = 4_000
_TOURS: Final = ("Spring tour", "Summer tour", "Autumn tour", "Winter ride", "Hill climb", "Relay", "Marshals")
_NOTES: Final = ("", "", "", "evenings", "quiet", "events only", "bridge, see club page")
_HOSTILE: Final = (
    '=HYPERLINK("x")',
    "@SUM(A1:A9)",
    "+1+1",
    "\x1b[31mred\x1b[0m",
    "<script>alert(1)</script>",
    "\u202egnitsil\u202c",
    "-1+1",
    "two\nlines",
)
_RESERVED: Final = ("0", "16777215", "16776416", "16776672")
_TOO_LARGE: Final = ("16777216", "99999999", "232123456789")

#: Rows beside the groups proper; each is a copy of some group's row, then spoilt.
EXTRA: Final[dict[str, int]] = {
    "duplicate number": 24,
    "reserved number": 8,
    "number too large": 6,
    "number with letters": 7,
    "empty number": 4,
    "too few cells": 6,
    "too many cells": 5,
    "nameless": 6,
}
#: Groups' own rows that are written badly; none of it makes a row unreadable.
WRITTEN_BADLY: Final[dict[str, int]] = {
    "hostile name": 16,
    "padded cells": 20,
    "number with leading zeros": 12,
    "number with point and zero": 12,
    "country empty": 60,
    "country unknown": 8,
    "invisible character in the name": 10,
}


@dataclass(frozen=True, slots=True)
class Group:
    """A talkgroup as it would be written well."""

    number: int
    name: str
    country: str

    @property
    def cells(self) -> list[str]:
        """Number, name and country as text, and no note."""
        return [str(self.number), self.name, self.country, ""]


def groups() -> list[Group]:
    """All talkgroups of the demo, by number. A country's are `code`, `code` and a digit, `code` and two digits."""
    found = [Group(number, name, "") for number, name in WORLD_WIDE.items()]
    for country in COUNTRIES:
        code, name = country.id_codes[0], country.name
        short = name.partition(",")[0]
        found.append(Group(code, f"{short} on Wheels", name))
        found += [Group(code * 10 + digit, f"{short} {place}", name) for digit, place in enumerate(_REGIONS)]
        if country.weight > _LARGE:
            found += [Group(code * 100 + 10 + place, f"{short} {tour}", name) for place, tour in enumerate(_TOURS, start=1)]
    return sorted(found, key=lambda group: group.number)


def talkgroup_bytes(seed: int) -> bytes:
    """The whole file: one heading line, then every row. The same seed gives the same bytes."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(TALKGROUP_HEADINGS)
    writer.writerows(_rows(Draws(seed)))
    return out.getvalue().encode()


def planted_talkgroups() -> dict[str, int]:
    """Rows per kind of dirt, `rows`, and `different numbers`: what remains when all dirt is dealt with. Any seed."""
    proper = len(groups())
    return {"rows": proper + sum(EXTRA.values()), "different numbers": proper, **EXTRA, **WRITTEN_BADLY}


def _rows(draws: Draws) -> list[list[str]]:
    """The rows as they stand in the file: groups shuffled, spoilt ones last in their kind, copies behind their originals."""
    proper = groups()
    order = draws.order("talkgroups", len(proper)).tolist()
    notes = draws.below("talkgroup notes", len(_NOTES), len(proper)).tolist()
    rows = [proper[position].cells for position in order]
    for row, note in zip(rows, notes, strict=True):
        row[3] = _NOTES[note]
    copies: list[list[str]] = []
    position = 0
    for kind, count in EXTRA.items():
        for variant in range(count):
            copies.append(_SPOILT[kind]([*rows[position]], variant))
            position += 1
    for kind, count in WRITTEN_BADLY.items():
        for variant in range(count):
            rows[position] = _SPOILT[kind](rows[position], variant)
            position += 1
    places = draws.below("talkgroup copies", len(rows) - position, len(copies)).tolist()
    behind: dict[int, list[list[str]]] = {}
    for place, copy in zip(places, copies, strict=True):
        behind.setdefault(position + place, []).append(copy)
    return [line for at, row in enumerate(rows) for line in (row, *behind.get(at, []))]


def _number(change: Callable[[str, int], str]) -> Callable[[list[str], int], list[str]]:
    return lambda row, variant: [change(row[0], variant), *row[1:]]


def _name(change: Callable[[str, int], str]) -> Callable[[list[str], int], list[str]]:
    return lambda row, variant: [row[0], change(row[1], variant), *row[2:]]


def _country(text: str) -> Callable[[list[str], int], list[str]]:
    return lambda row, _: [*row[:2], text, *row[3:]]


_SPOILT: Final[dict[str, Callable[[list[str], int], list[str]]]] = {
    "duplicate number": _name(lambda name, _: f"{name} (moved)"),
    "reserved number": _number(lambda _, variant: _RESERVED[variant % len(_RESERVED)]),
    "number too large": _number(lambda _, variant: _TOO_LARGE[variant % len(_TOO_LARGE)]),
    "number with letters": _number(lambda number, variant: ("X", "?", "-")[variant % 3] + number),
    "empty number": _number(lambda _, variant: ("", " ")[variant % 2]),
    "too few cells": lambda row, _: row[:2],
    "too many cells": lambda row, _: [*row, "moved here", "in spring"],
    "nameless": lambda row, variant: [row[0], ("", " ", "\u200b")[variant % 3], row[2], ""],
    "hostile name": _name(lambda name, variant: f"{_HOSTILE[variant % len(_HOSTILE)]} {name}"),
    "padded cells": lambda row, _: [f" {cell} " for cell in row],
    "number with leading zeros": _number(lambda number, _: f"000{number}"),
    "number with point and zero": _number(lambda number, _: f"{number}.0"),
    "country empty": _country(""),
    "country unknown": _country("Planet Earth"),
    "invisible character in the name": _name(lambda name, _: f"\ufeff{name}\u200b"),
}
