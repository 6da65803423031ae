"""Lines on the globe: how far places lie from a route.

Receives lines of degrees, hands on metres. A line of one point is a single place.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from pruner.reference.geometry import EARTH_RADIUS

Floats = npt.NDArray[np.float64]

#: Segments that are looked at together, at least.
_BLOCK: Final = 64
#: Entries of the largest array between (places times segments).
_PIECE: Final = 1 << 19
#: An arc cosine is right to some 2e-8; a block is passed over only where it is farther by more than this (6 m).
_MARGIN: Final = 1e-6


@dataclass(frozen=True, eq=False)
class Route:
    """`lines`: float64 arrays (points, 2) of latitude and longitude in degrees, at least one, none of them empty. The points
    of a line are joined by great circles, lines are not joined to each other."""

    lines: tuple[Floats, ...]

    @property
    def points(self) -> int:
        """How many points the lines have in all."""
        return sum(len(line) for line in self.lines)

    def metres(self, latitude: Floats, longitude: Floats) -> Floats:
        """Distance (float64) of places, given in degrees, to the nearest part of the route; NaN for NaN.

        Great circles on the sphere of `geometry.EARTH_RADIUS`; lengths are at most 0.56 % off those on the ellipsoid.
        """
        found = np.full(len(latitude), np.nan)
        known = np.flatnonzero(~(np.isnan(latitude) | np.isnan(longitude)))
        if len(known):
            found[known] = EARTH_RADIUS * self._angles(_unit(latitude[known], longitude[known]))
        return found

    @cached_property
    def _segments(self) -> tuple[Floats, Floats]:
        """Both ends of every segment, unit vectors (segments, 3); the ends of a single place are the same."""
        lines = [_unit(line[:, 0], line[:, 1]) for line in self.lines]
        begins = [line[:-1] if len(line) > 1 else line for line in lines]
        ends = [line[1:] if len(line) > 1 else line for line in lines]
        return np.concatenate(begins), np.concatenate(ends)

    def _angles(self, place: Floats) -> Floats:
        """Angles from unit vectors (places, 3). Blocks of segments lie in caps; where a whole cap is farther than what was
        found already, it is passed over."""
        begin, end = self._segments
        size = max(_BLOCK, math.isqrt(len(begin)))
        blocks = [(begin[at : at + size], end[at : at + size]) for at in range(0, len(begin), size)]
        caps = [_cap(*block) for block in blocks]
        best = np.full(len(place), np.inf)
        for centre, radius in caps:
            np.minimum(best, _apart(place, centre) + radius + _MARGIN, out=best)
        for (centre, radius), (first, last) in zip(caps, blocks, strict=True):
            near = np.flatnonzero(_apart(place, centre) - radius - _MARGIN <= best)
            for at in range(0, len(near), max(_PIECE // size, 1)):
                some = near[at : at + max(_PIECE // size, 1)]
                best[some] = np.minimum(best[some], _nearest(place[some], first, last))
        return best


def drawn(line: Floats, step: float) -> Floats:
    """A line, (points, 2) of degrees, with further points on its great circles, at most `step` degrees or so apart.

    Longitudes go on beyond 180 degrees where the line crosses them.
    """
    ends = _unit(line[:, 0], line[:, 1])
    parts = np.ceil(np.degrees(_apart(ends[:-1], ends[1:])) / step).astype(np.int64).clip(1)
    leg = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(leg)) - np.repeat(np.cumsum(parts) - parts, parts))[:, None] / parts[leg][:, None]
    x, y, z = (ends[leg] * (1 - share) + ends[leg + 1] * share).T
    points = np.stack([np.degrees(np.arctan2(z, np.hypot(x, y))), np.degrees(np.arctan2(y, x))], axis=1)
    points = np.concatenate([points, line[-1:]])
    points[:, 1] = np.unwrap(points[:, 1], period=360)
    return points


def _unit(latitude: Floats, longitude: Floats) -> Floats:
    phi, across = np.radians(latitude), np.radians(longitude)
    return np.stack([np.cos(phi) * np.cos(across), np.cos(phi) * np.sin(across), np.sin(phi)], axis=-1)


def _dot(one: Floats, other: Floats) -> Floats:
    """Products of vectors along the last axis, term by term: sums of one order on any number of threads."""
    product: Floats = one[..., 0] * other[..., 0] + one[..., 1] * other[..., 1] + one[..., 2] * other[..., 2]
    return product


def _apart(place: Floats, centre: Floats) -> Floats:
    angle: Floats = np.arccos(np.clip(_dot(place, centre), -1.0, 1.0))
    return angle


def _cap(begin: Floats, end: Floats) -> tuple[Floats, float]:
    """Centre and angular radius of a cap in which all segments lie: up to a quarter of the globe it is convex."""
    middle = (begin + end).sum(axis=0)
    length = math.sqrt(float(_dot(middle, middle)))
    if length < 1e-9:
        return np.array([0.0, 0.0, 1.0]), math.pi
    centre = middle / length
    radius = float(max(_apart(begin, centre).max(), _apart(end, centre).max()))
    return centre, radius if radius < math.pi / 2 - 0.01 else math.pi


def _nearest(place: Floats, begin: Floats, end: Floats) -> Floats:
    """Angle from each place to the nearest segment: across it where the foot lies on it, else to the nearer end."""
    normal = np.cross(begin, end)
    length = np.sqrt(_dot(normal, normal))
    unit = normal / np.where(length > 0, length, 1.0)[:, None]
    each = place[:, None, :]
    beside = (_dot(each, np.cross(unit, begin)) >= 0) & (_dot(each, np.cross(end, unit)) >= 0) & (length > 0)
    across = np.arcsin(np.minimum(np.where(beside, np.abs(_dot(each, unit)), 1.0), 1.0))
    chord = np.sqrt(np.minimum(_square(each - begin), _square(each - end)))
    along: Floats = 2 * np.arcsin(np.minimum(chord / 2, 1.0))
    return np.where(beside, across, along).min(axis=1)


def _square(vector: Floats) -> Floats:
    return _dot(vector, vector)
