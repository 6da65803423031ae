"""Makes the outlines of the countries for the world map, `data/outlines.tsv`.

Receives `countries-110m.json` of the npm package world-atlas 2.0.2 (Natural Earth 1:110m, public domain; TopoJSON), hands
on one line per country: its code and an SVG path. Countries too small for the file get a dot at their largest town.
Run as `python -m pruner.reference.build_outlines countries-110m.json`.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow.compute as pc
import pyarrow.parquet as pq
import pycountry

from pruner.reference.projection import MAP_WIDTH, Floats, map_height, map_place
from pruner.reference.tables import DATA

OUTLINES: Final = "outlines.tsv"
_DOT: Final = 5
#: Areas that are no country of ISO 3166-1: the country they are counted to, or none.
_AREAS: Final = {"Kosovo": "XK", "Somaliland": "SO", "N. Cyprus": "CY"}


def outlines(atlas: dict[str, Any]) -> list[tuple[str, str]]:
    """Country code and path, by code; a country in several pieces is one path."""
    codes = {country.numeric: country.alpha_2 for country in pycountry.countries}
    arcs = _arcs(atlas)
    paths: dict[str, str] = {}
    for shape in atlas["objects"]["countries"]["geometries"]:
        code = codes.get(shape.get("id", "")) or _AREAS.get(shape["properties"]["name"])
        if code and code != "AQ":
            pieces = (piece for ring in _rings(shape) for piece in _cut_at_the_date_line(_ring(ring, arcs)))
            paths[code] = paths.get(code, "") + "".join(_path(piece) for piece in pieces)
    for code, longitude, latitude in _largest_towns():
        paths.setdefault(code, _dot(longitude, latitude))
    return sorted(paths.items())


def _arcs(atlas: dict[str, Any]) -> list[Floats]:
    scale, move = (np.array(atlas["transform"][key]) for key in ("scale", "translate"))
    return [np.cumsum(np.array(arc), axis=0) * scale + move for arc in atlas["arcs"]]


def _rings(shape: dict[str, Any]) -> Iterator[list[int]]:
    polygons = [shape["arcs"]] if shape["type"] == "Polygon" else shape["arcs"]
    for polygon in polygons:
        yield from polygon


def _ring(ring: Iterable[int], arcs: list[Floats]) -> Floats:
    """The points of a ring: arcs one behind the other, a negative number is an arc walked backwards."""
    parts = [arcs[number] if number >= 0 else arcs[~number][::-1] for number in ring]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def _cut_at_the_date_line(ring: Floats) -> list[Floats]:
    """A ring that crosses 180 degrees as its pieces on either side."""
    unwrapped = np.stack([np.unwrap(ring[:, 0], period=360), ring[:, 1]], axis=1)
    pieces = []
    for turn in (-360.0, 0.0, 360.0):
        piece = _half(_half(unwrapped + np.array([turn, 0.0]), -180.0, 1.0), 180.0, -1.0)
        if len(piece):
            pieces.append(piece)
    return pieces


def _half(ring: Floats, edge: float, sign: float) -> Floats:
    """The part of a ring on one side of a meridian (method: Sutherland and Hodgman, 1974)."""
    kept = []
    for here, there in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        inside, follows = sign * (here[0] - edge) >= 0, sign * (there[0] - edge) >= 0
        if inside:
            kept.append(here)
        if inside != follows:
            share = (edge - here[0]) / (there[0] - here[0])
            kept.append(np.array([edge, here[1] + share * (there[1] - here[1])]))
    return np.array(kept)


def _place(points: Floats) -> Floats:
    """Map units of (longitude, latitude) pairs, whole numbers."""
    return np.rint(map_place(points[:, 0], points[:, 1]))


def _path(ring: Floats) -> str:
    placed = _place(ring).astype(int)
    keep = (placed != np.roll(placed, 1, axis=0)).any(axis=1)
    placed = placed[keep]
    if len(placed) < 3:
        return ""
    steps = np.diff(placed, axis=0)
    words = " ".join(f"{x} {y}" for x, y in steps.tolist()).replace(" -", "-")
    return f"M{placed[0][0]} {placed[0][1]}l{words}z"


def _dot(longitude: float, latitude: float) -> str:
    x, y = _place(np.array([[longitude, latitude]]))[0].astype(int).tolist()
    return f"M{x - _DOT} {y}a{_DOT} {_DOT} 0 1 0 {2 * _DOT} 0a{_DOT} {_DOT} 0 1 0-{2 * _DOT} 0z"


def _largest_towns() -> Iterator[tuple[str, float, float]]:
    """Country, longitude, latitude of each country's most populous town; of equals the first in the table."""
    table = pq.read_table(DATA / "places.parquet", columns=["country", "longitude", "latitude", "population"])
    order = pc.sort_indices(table, sort_keys=[("population", "descending")])
    seen = set()
    for row in table.take(order).to_pylist():
        if row["country"] not in seen:
            seen.add(row["country"])
            yield row["country"], row["longitude"], row["latitude"]


def text(atlas: Path) -> str:
    """The whole table."""
    lines = [f"{code}\t{path}" for code, path in outlines(json.loads(atlas.read_text(encoding="utf-8"))) if path]
    return "\n".join([f"code\tpath in a box of {MAP_WIDTH} by {map_height()}", *lines]) + "\n"


if __name__ == "__main__":
    (DATA / OUTLINES).write_text(text(Path(sys.argv[1])), encoding="utf-8")
