"""The routes of rules: read for a run, and thinned out for the account and the map on the page.

Receives rules, hands on `Route`s by the name of the rule, and plain tables for summary.json.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from pruner.account.summary import RouteSummary
from pruner.reference.geometry import locator_centre
from pruner.reference.routes import Route
from pruner.settings.models import Rule

if TYPE_CHECKING:
    import numpy.typing as npt

#: So many points of a route, at most, are told to the page, on a grid of at least so many cells across it.
_MOST_POINTS: Final = 2_000
_CELLS: Final = 1_000


def read_routes(rules: Iterable[Rule]) -> dict[str, Route]:
    """From where distances of a rule are measured, by name of the rule, for rules that say so; each file is read once.

    Raises InputRefusedError or SourceMissingError with one line.
    """
    routed = [rule for rule in rules if rule.has_route]
    if not routed:
        return {}
    from pruner.read.route_file import read_route  # routes are for those who have one

    files = {path: read_route(path).lines for path in dict.fromkeys(rule.route for rule in routed if rule.route is not None)}
    squares = {rule.name: [np.array([locator_centre(one)]) for one in rule.locators or ()] for rule in routed}
    return {rule.name: Route((*(files[rule.route] if rule.route else ()), *squares[rule.name])) for rule in routed}


def route_summaries(rules: Sequence[Rule], routes: Mapping[str, Route]) -> list[RouteSummary]:
    """What the summary tells of the routes of these rules."""
    return [
        RouteSummary(
            rule=rule.name,
            file=rule.route.name if rule.route else None,
            locators=tuple(rule.locators or ()),
            within_km=rule.within_km,
            points=routes[rule.name].points,
            lines=tuple(tuple((north, east) for north, east in line) for line in _thinned(routes[rule.name])),
        )
        for rule in rules
        if rule.name in routes
    ]


def _thinned(route: Route) -> list[list[list[float]]]:
    every = np.concatenate(route.lines)
    cell = max(float(np.ptp(every, axis=0).max()) / _CELLS, 1e-4)
    while True:
        places = {tuple(np.floor(line[0] / cell).tolist()): line for line in reversed(route.lines) if len(line) == 1}
        lines = [
            _on_grid(line, cell) for line in (*(line for line in route.lines if len(line) > 1), *reversed(places.values()))
        ]
        if sum(map(len, lines)) <= _MOST_POINTS or cell > 360:
            return [[list(point) for point in line] for line in lines]
        cell *= 2


def _on_grid(line: npt.NDArray[np.float64], cell: float) -> tuple[tuple[float, float], ...]:
    """One point, the first, of each run of points in one cell of a grid; and the last."""
    grid = np.floor(line / cell)
    keep = np.ones(len(line), dtype=bool)
    keep[1:-1] = (grid[1:-1] != grid[:-2]).any(axis=1)
    return tuple((north, east) for north, east in np.round(line[keep], 5).tolist())
