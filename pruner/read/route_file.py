"""A GPX file -> the lines and places in it.

Receives the path of a file in the open GPS Exchange Format, versions 1.0 and 1.1: tracks (each segment a line), routes (each
a line) and waypoints (each a place). Hands on a `Route`. Declarations of entities are refused and nothing is fetched, so
that a file cannot grow in memory; size and number of points are bounded.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final
from xml.parsers import expat

import numpy as np

from pruner.reference.routes import Route
from pruner.settings.values import shown
from pruner.words.errors import InputRefusedError, SourceMissingError

#: The largest file and the most points that are taken: a point a second for three days is 259,200.
MOST_BYTES: Final = 64 << 20
MOST_POINTS: Final = 300_000

#: How the names of elements in the two versions of the format begin; files without a name space are met too.
_SPACES: Final = ("http://www.topografix.com/GPX/1/0 ", "http://www.topografix.com/GPX/1/1 ", "")
#: Where points stand in a file, and where a line begins.
_POINTS: Final = (["gpx", "wpt"], ["gpx", "rte", "rtept"], ["gpx", "trk", "trkseg", "trkpt"])
_LINES: Final = (["gpx", "wpt"], ["gpx", "rte"], ["gpx", "trk", "trkseg"])
_DEEPEST: Final = 4
_DECIMAL: Final = re.compile(r"\s*[+-]?(\d{1,15}(\.\d{0,40})?|\.\d{1,40})([eE][+-]?\d{1,2})?\s*", re.ASCII)


class _RefusedError(Exception):
    """What is wrong, in the words of the message."""


def read_route(path: Path) -> Route:
    """The route of a file. Raises InputRefusedError, one line, for what is no GPX file with points, SourceMissingError if
    there is no such file."""
    data = _bytes(path)
    parser, lines = expat.ParserCreate(namespace_separator=" "), _Lines()
    parser.buffer_text = True
    parser.StartElementHandler = lines.start
    parser.EndElementHandler = lines.end
    parser.EntityDeclHandler = _refuse_entities
    try:
        parser.Parse(data, True)
    except _RefusedError as error:
        raise InputRefusedError(f"{path}:{parser.CurrentLineNumber}: {error}") from None
    except expat.ExpatError as error:
        raise InputRefusedError(
            f"{path}:{error.lineno}: this is no whole XML ({expat.ErrorString(error.code)}); expected a GPX file"
        ) from None
    if not any(lines.found):
        raise InputRefusedError(f"{path}: holds no track, route or waypoint; expected a GPX file with points")
    return Route(tuple(np.array(line, dtype=np.float64) for line in lines.found if line))


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise SourceMissingError(f"{path}: there is no such file; check the route of the rule") from None
    except OSError as error:
        raise InputRefusedError(f"{path}: the route cannot be read ({error.strerror})") from None
    if len(data) > MOST_BYTES:
        raise InputRefusedError(f"{path}: is larger than {MOST_BYTES >> 20} MB; expected a route, simplify it")
    return data


def _refuse_entities(*_declaration: object) -> None:
    raise _RefusedError("declares an entity, which no GPX file needs; expected a GPX file without a document type")


class _Lines:
    """Takes the points while the file is parsed; `found` are lines of (latitude, longitude)."""

    def __init__(self) -> None:
        self.found: list[list[tuple[float, float]]] = []
        self._place: list[str] = []
        self._depth = 0
        self._points = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self._depth += 1
        if self._depth > _DEEPEST:
            return
        self._place.append(_own_name(name))
        if self._depth == 1 and self._place != ["gpx"]:
            raise _RefusedError(f"expected a GPX file of version 1.0 or 1.1, found an element {shown(name.rpartition(' ')[2])}")
        if self._place in _LINES:
            self.found.append([])
        if self._place in _POINTS:
            self._points += 1
            if self._points > MOST_POINTS:
                raise _RefusedError(f"holds more than {MOST_POINTS:,} points; expected a route, simplify it")
            self.found[-1].append(_degrees(self._place[-1], attributes))

    def end(self, _name: str) -> None:
        if self._depth <= _DEEPEST:
            self._place.pop()
        self._depth -= 1


def _own_name(name: str) -> str:
    space, separator, local = name.rpartition(" ")
    return local if space + separator in _SPACES else ""


def _degrees(element: str, attributes: dict[str, str]) -> tuple[float, float]:
    latitude, longitude = attributes.get("lat", ""), attributes.get("lon", "")
    if _DECIMAL.fullmatch(latitude) and _DECIMAL.fullmatch(longitude):
        north, east = float(latitude), float(longitude)
        if abs(north) <= 90 and abs(east) <= 180:
            return north, east
    raise _RefusedError(
        f"expected lat from -90 to 90 and lon from -180 to 180 in {element}, got lat={shown(latitude)} lon={shown(longitude)}"
    )
