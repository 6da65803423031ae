"""The demo's route: four passes between public towns of the Alps, as an invented tour would ride them.

Receives nothing, hands on the text of a GPX 1.1 file. Towns and passes stand where they are, to about a kilometre (from
memory); the line between them is straight.
"""

from __future__ import annotations

from typing import Final

ROUTE_HEADING: Final = '<?xml version="1.0" encoding="UTF-8"?>'

#: Latitude, longitude and name; the passes are waypoints too.
_STAGES: Final = (
    (47.27, 11.39, "start"),
    (47.12, 11.45, ""),
    (47.00, 11.51, "first pass"),
    (46.90, 11.43, ""),
    (46.84, 11.32, "second pass"),
    (46.67, 11.16, "feeding station"),
    (46.62, 10.77, ""),
    (46.53, 10.45, "third pass"),
    (46.62, 10.42, ""),
    (46.70, 10.31, ""),
    (46.80, 10.30, ""),
    (46.75, 9.95, "fourth pass"),
    (46.80, 9.83, ""),
    (46.97, 9.56, ""),
    (47.14, 9.52, "finish"),
)


def route_bytes() -> bytes:
    """The tour as one track, and its passes as waypoints."""
    places = [
        f'  <wpt lat="{north:.2f}" lon="{east:.2f}"><name>{name}</name></wpt>'
        for north, east, name in _STAGES
        if "pass" in name
    ]
    points = [f'      <trkpt lat="{north:.2f}" lon="{east:.2f}"/>' for north, east, _ in _STAGES]
    lines = [
        ROUTE_HEADING,
        '<gpx version="1.1" creator="pruner demo" xmlns="http://www.topografix.com/GPX/1/1">',
        *places,
        "  <trk>",
        "    <name>Four Passes Tour (invented)</name>",
        "    <trkseg>",
        *points,
        "    </trkseg>",
        "  </trk>",
        "</gpx>",
        "",
    ]
    return "\n".join(lines).encode()
