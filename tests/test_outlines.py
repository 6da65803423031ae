"""The world map: true areas, the package it was made from, every country somewhere."""

from __future__ import annotations

import os
import re
from pathlib import Path

import numpy as np
import pytest

from pruner.reference.build_outlines import OUTLINES, text
from pruner.reference.countries import CODES
from pruner.reference.projection import MAP_WIDTH, equal_earth, map_height
from pruner.reference.tables import DATA, rows

ATLAS = Path(os.environ.get("PRUNER_WORLD_ATLAS", "/tmp/pruner-world-atlas/package/countries-10m.json")).with_name(
    "countries-110m.json"
)


def test_the_projection_keeps_areas() -> None:
    """Šavrič, Patterson and Jenny 2019: the map is equal-area. A cell of the sphere has the area of its image."""
    step = 0.01
    longitude, latitude = np.meshgrid(np.linspace(-170, 170, 35), np.linspace(-80, 80, 33))
    west, east = longitude - step, longitude + step
    south, north = latitude - step, latitude + step
    corners = [equal_earth(x, y) for x, y in ((west, south), (east, south), (east, north), (west, north))]
    area = sum(corners[i][0] * corners[(i + 1) % 4][1] - corners[(i + 1) % 4][0] * corners[i][1] for i in range(4)) / 2
    sphere = np.radians(2 * step) * (np.sin(np.radians(north)) - np.sin(np.radians(south)))
    assert np.abs(area / sphere - 1).max() < 1e-4


def test_the_whole_map_has_the_area_of_the_sphere_and_the_width_of_the_paper() -> None:
    """The same paper: the equator is about 2.05 times as long as the middle meridian."""
    latitude = np.linspace(-90, 90, 20_001)
    x, y = equal_earth(np.full_like(latitude, 180.0), latitude)
    assert np.trapezoid(2 * x, y) == pytest.approx(4 * np.pi, rel=1e-5)
    assert 2 * x.max() / (y.max() - y.min()) == pytest.approx(2.05, abs=0.01)


def test_every_country_is_on_the_map() -> None:
    codes = [code for code, _ in rows(OUTLINES)]
    assert codes == sorted(set(codes))
    assert set(codes) <= set(CODES)
    # Without inhabited places of 500 people or more in the table of places, and not in the atlas.
    assert set(CODES) - set(codes) - {""} == {"AQ", "BV", "HM", "UM"}


def test_paths_stay_on_the_map() -> None:
    for code, path in rows(OUTLINES):
        assert re.fullmatch(r"(M[\d ]+(l[-\d ]+|(a5 5 0 1 0-?\s?\d+ 0)+)z)+", path), code
        for piece in path.split("z")[:-1]:
            if "l" not in piece:
                continue
            start, steps = piece[1:].split("l")
            walk = np.array([int(number) for number in re.findall(r"-?\d+", steps)]).reshape(-1, 2)
            points = np.cumsum(np.vstack([[int(number) for number in start.split()], walk]), axis=0)
            assert points.min() >= 0, code
            assert points[:, 0].max() <= MAP_WIDTH, code
            assert points[:, 1].max() <= map_height(), code
            assert np.ptp(points[:, 0]) < MAP_WIDTH / 2, code  # nothing is drawn right across the map


@pytest.mark.skipif(not ATLAS.is_file(), reason=f"no Natural Earth outlines at {ATLAS} (PRUNER_WORLD_ATLAS)")
def test_the_table_is_what_the_package_gives() -> None:
    """Natural Earth 1:110m (public domain), npm package world-atlas 2.0.2."""
    assert (DATA / OUTLINES).read_text(encoding="utf-8") == text(ATLAS)
