"""The routes of rules on the map of a page, and the part of the world around them.

Receives what a summary tells of the routes, hands on paths in units of the outlines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from pruner.account.summary import RouteSummary
from pruner.reference.geometry import EARTH_RADIUS
from pruner.reference.projection import MAP_WIDTH, RADIUS, Floats, map_height, map_place
from pruner.reference.routes import drawn

#: The map around the routes: its least width in units (20 km each), its width to its height, the room around the routes.
_LEAST_WIDTH: Final = 90.0
_ASPECT: Final = 2.6
_ROOM: Final = 0.15
#: Great circles are drawn through points so many degrees apart.
_STEP: Final = 1.0


@dataclass(frozen=True, slots=True)
class RouteLine:
    """One route: the path of its lines (places are lines of no length), what it is, the width of the band that its rule
    takes in (0: the rule has no `within_km`) in units of the map."""

    rule: str
    words: str
    path: str
    band: float


@dataclass(frozen=True, slots=True)
class RouteMap:
    """The routes, and the part of the map around them: left, top, width, height."""

    routes: list[RouteLine]
    view: tuple[float, float, float, float]


def route_map(routes: Sequence[RouteSummary]) -> RouteMap | None:
    """The map of these routes; None without any."""
    if not routes:
        return None
    placed = [[_placed(np.array(line, dtype=np.float64)) for line in route.lines] for route in routes]
    bands = [2 * (route.within_km or 0.0) * 1000 / EARTH_RADIUS * RADIUS for route in routes]
    lines = [
        RouteLine(route.rule, _words(route), "".join(map(_path, pieces)), band)
        for route, pieces, band in zip(routes, placed, bands, strict=True)
    ]
    points = np.concatenate([piece for pieces in placed for piece in pieces])
    return RouteMap(lines, _view(points, max(bands)))


def _words(route: RouteSummary) -> str:
    parts = [*([route.file] if route.file else []), *route.locators[:5]]
    more = len(route.locators) - 5
    named = ", ".join(parts) + (f" and {more} more" if more > 0 else "")
    return f"{named}, within {route.within_km:g} km" if route.within_km else named


def _placed(line: Floats) -> Floats:
    """Map units of a line of (latitude, longitude), NaN between the two edges of the map where it crosses 180 degrees."""
    points = drawn(line, _STEP)
    turn = np.floor((points[:, 1] + 180) / 360)
    placed = map_place(points[:, 1] - 360 * turn, points[:, 0])
    breaks = np.flatnonzero(np.diff(turn)) + 1
    return np.insert(placed, breaks, np.nan, axis=0)


def _path(placed: Floats) -> str:
    words, moves = [], True
    for x, y in placed.tolist():
        if x != x:  # a break
            moves = True
            continue
        words.append(f"{'M' if moves else 'L'}{x:.2f} {y:.2f}")
        moves = False
    return "".join(words) + ("h0" if len(placed) == 1 else "")


def _view(points: Floats, band: float) -> tuple[float, float, float, float]:
    low, high = np.nanmin(points, axis=0), np.nanmax(points, axis=0)
    room = max(band / 2, _ROOM * float((high - low).max())) * 1.1
    wide, tall = (high - low + 2 * room).tolist()
    width = min(max(wide, tall * _ASPECT, _LEAST_WIDTH), float(MAP_WIDTH))
    height = min(width / _ASPECT, float(map_height()))
    centre = (low + high) / 2
    left = min(max(float(centre[0]) - width / 2, 0.0), MAP_WIDTH - width)
    top = min(max(float(centre[1]) - height / 2, 0.0), map_height() - height)
    return round(left, 1), round(top, 1), round(width, 1), round(height, 1)
