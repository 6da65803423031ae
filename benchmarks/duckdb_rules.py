"""Rules as conditions in DuckDB SQL, written from DEVELOPERS.md ("Rules", "Order", "Distance") and from nothing else.

Receives what a rule asks for, hands on conditions over the contacts that wait (`waiting`) and what they wait by.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from benchmarks.duckdb_records import literal

#: Mean radius of the earth in metres; source in pruner/reference/geometry.py.
EARTH_RADIUS: Final = 6371008.8


@dataclass(frozen=True)
class Rule:
    """A drop or keep rule; None is a condition not given. `neighbours`, `continents`, `itu_regions` and
    `talkgroup_countries`: the countries meant by them; `heard`: talkgroups (None: any), days (None: all), and how many calls
    at least; `lines`: what distances are measured from, in degrees of latitude and longitude; `nearest`: whether its contacts
    stand by distance; `order`: `id`, `recent` or `often` (on `order_talkgroups`; None: on all), None for what holds without
    calls."""

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
    order_talkgroups: Sequence[int] | None = None

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
            terms.append(f"kind = {literal(self.kind)}")
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

    def line(self, origin: tuple[float, float] | None) -> str:
        """What the contacts of the rule wait by; `origin`: what distances are measured from where nothing is heard."""
        if self.nearest:
            return f"{self.metres()} NULLS LAST, system_at, id"
        if self.order in ("recent", "often"):
            last, calls = (_of_calls(what, self.order_talkgroups) for what in ("max(second)", "count(*)"))
            first, then = (last, calls) if self.order == "recent" else (calls, last)
            return f"{first} DESC NULLS LAST, {then} DESC NULLS LAST, system_at, id"
        if self.order == "id":
            return "system_at, id"
        if origin is None:
            return "place_in_country, country NULLS LAST, system_at, id"
        return "metres NULLS LAST, system_at, id"

    def metres(self) -> str:
        """Distance of a contact in whole metres; null where its place is unknown."""
        legs = [leg for line in self.lines for leg in (pairwise(line) if len(line) > 1 else [[*line, *line]])]
        return f"CASE WHEN north IS NOT NULL THEN round({EARTH_RADIUS!r} * least({', '.join(map(_leg, legs))})) END"


def metres_from(latitude: str, longitude: str, origin: tuple[float, float]) -> str:
    """Whole metres on the sphere (haversine)."""
    across = f"pow(sin(radians({latitude} - ({origin[0]!r})) / 2), 2)"
    along = f"pow(sin(radians({longitude} - ({origin[1]!r})) / 2), 2)"
    along = f"cos(radians({origin[0]!r})) * cos(radians({latitude})) * {along}"
    return f"CASE WHEN {latitude} IS NOT NULL THEN round(2 * {EARTH_RADIUS!r} * asin(sqrt(least({across} + {along}, 1)))) END"


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
    return "(" + " OR ".join([f"callsign GLOB {literal(glob.upper())}" for glob in globs] or ["false"]) + ")"


def _is_state(wanted: Sequence[str]) -> str:
    """The state bears one of these names, or the code of one, or is the same state of its country by another name."""
    codes, names = _is_in("one.code", [name.upper() for name in wanted]), _is_in("other.text", wanted)
    same = _is_in("lower(trim(waiting.state))", [name.strip().lower() for name in wanted])
    meant = f"""SELECT one.country, one.text FROM state_codes AS one LEFT JOIN state_codes AS other
        ON other.country = one.country AND other.code = one.code WHERE {codes} OR {names}"""
    return f"({same} OR (waiting.country, waiting.state) IN ({meant}))"


def _is_heard(talkgroups: Sequence[int] | None, days: int | None, at_least: int) -> str:
    """So many calls on these talkgroups in the last days of the log."""
    last = f" AND calls.day > (SELECT max(day) FROM calls) - {days}" if days is not None else ""
    return f"{_of_calls('count(*)', talkgroups, last)} >= {at_least}"


def _of_calls(what: str, talkgroups: Sequence[int] | None, days: str = "") -> str:
    """An aggregate of the calls of a contact."""
    on = f" AND {_is_in('calls.talkgroup', talkgroups)}" if talkgroups is not None else ""
    return f"(SELECT {what} FROM calls WHERE waiting.system = 'dmr' AND calls.id = waiting.id{on}{days})"


def _is_in(column: str, values: Sequence[int] | Sequence[str]) -> str:
    texts = [str(value) if isinstance(value, int) else literal(value) for value in values]
    return f"{column} IN ({', '.join(texts)})" if texts else "false"
