"""Routes: distances against geodesics, GPX files against an XML library and the format's rules."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pytest
from draws import draws
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from pruner.read import route_file
from pruner.read.route_file import read_route
from pruner.reference.geometry import distance_metres
from pruner.reference.routes import Route, drawn
from pruner.words.errors import InputRefusedError, SourceMissingError

GPX = "http://www.topografix.com/GPX/1/{}"
WGS84 = Geodesic.WGS84
DEGREES = st.tuples(st.floats(-89, 89), st.floats(-180, 180))


def gpx(inner: str, version: str = "1", root: str = "gpx") -> bytes:
    return f'<?xml version="1.0"?>\n<{root} version="1.{version}" xmlns="{GPX.format(version)}">\n{inner}\n</{root}>\n'.encode()


def written(folder: Path, data: bytes) -> Path:
    path = folder / "tour.gpx"
    path.write_bytes(data)
    return path


def metres_to(line: list[tuple[float, float]], place: tuple[float, float]) -> float:
    """Least distance on the ellipsoid (C. F. F. Karney, 2013, package geographiclib): every leg is walked along its geodesic
    and the least distance is closed in upon."""
    if len(line) == 1:
        return float(WGS84.Inverse(*line[0], *place)["s12"])
    return min(_to_leg(WGS84.InverseLine(*here, *there), place) for here, there in itertools.pairwise(line))


def _to_leg(leg: object, place: tuple[float, float]) -> float:
    def at(metres: float) -> float:
        point = leg.Position(metres)  # type: ignore[attr-defined]
        return float(WGS84.Inverse(point["lat2"], point["lon2"], *place)["s12"])

    low, high = 0.0, float(leg.s13)  # type: ignore[attr-defined]
    for _ in range(12):
        steps = np.linspace(low, high, 9)
        best = int(np.argmin([at(float(step)) for step in steps]))
        low, high = float(steps[max(best - 1, 0)]), float(steps[min(best + 1, 8)])
    return min(at(low), at((low + high) / 2), at(high))


def ours(lines: list[list[tuple[float, float]]], places: list[tuple[float, float]]) -> list[float]:
    route = Route(tuple(np.array(line, dtype=np.float64) for line in lines))
    north, east = np.array(places, dtype=np.float64).T
    return [float(metres) for metres in route.metres(north, east)]


# A tour over mountains, a leg across 180 degrees, one beside the pole, one along the equator; from memory, about.
LINES = {
    "mountains": [(47.27, 11.39), (46.90, 11.43), (46.67, 11.16), (46.53, 10.45), (47.14, 10.57)],
    "date line": [(-17.7, 178.8), (-16.6, -179.9), (-14.3, -177.2)],
    "pole": [(87.0, 10.0), (88.5, 160.0)],
    "equator": [(0.0, 30.0), (0.0, 34.0), (1.0, 36.0)],
    "a place": [(47.5, 11.0)],
}


@pytest.mark.parametrize("name", LINES)
@pytest.mark.parametrize("offset", [(0.0, 0.0), (0.4, 0.3), (-2.5, 6.0), (9.0, -20.0)])
def test_distance_of_a_place_to_a_line(name: str, offset: tuple[float, float]) -> None:
    line = LINES[name]
    middle = line[len(line) // 2]
    place = (max(min(middle[0] + offset[0], 89.9), -89.9), (middle[1] + offset[1] + 180) % 360 - 180)
    assert ours([line], [place])[0] == pytest.approx(metres_to(line, place), rel=0.0057, abs=60)


@pytest.mark.long
@draws(40)
@given(st.lists(st.tuples(st.floats(40, 55), st.floats(0, 20)), min_size=1, max_size=4), st.floats(38, 57), st.floats(-3, 23))
def test_any_line_of_legs_of_a_continent(line: list[tuple[float, float]], north: float, east: float) -> None:
    # Of legs of up to 2,000 km, great circles lie up to 0.3 % of the leg's length beside the geodesic.
    expected = metres_to(line, (north, east))
    longest = max([float(WGS84.Inverse(*a, *b)["s12"]) for a, b in itertools.pairwise(line)], default=0.0)
    assert ours([line], [(north, east)])[0] == pytest.approx(expected, rel=0.0057, abs=0.01 + 0.003 * longest)


@given(DEGREES, DEGREES)
def test_a_single_place_is_as_far_as_home_would_be(one: tuple[float, float], other: tuple[float, float]) -> None:
    expected = distance_metres(*one, np.array([other[0]]), np.array([other[1]]))[0]
    assert ours([[one]], [other])[0] == pytest.approx(expected, rel=1e-6, abs=0.01)


@pytest.mark.long
@draws(15)
@given(st.randoms(use_true_random=False), st.integers(2, 200))
def test_blocks_change_nothing(random: object, count: int) -> None:
    """Of many lines at once, the distance is the least of those to each leg alone."""
    draw = np.random.default_rng(random.getrandbits(32))  # type: ignore[attr-defined]
    line = [(float(a), float(b)) for a, b in draw.uniform((-80, -180), (80, 180), (count, 2))]
    places = [(float(a), float(b)) for a, b in draw.uniform((-90, -180), (90, 180), (50, 2))]
    each = np.min([ours([list(leg)], places) for leg in itertools.pairwise(line)], axis=0)
    assert ours([line], places) == pytest.approx(each.tolist(), abs=0.01)


def test_unknown_places_and_repeated_points() -> None:
    line = [(47.0, 11.0), (47.0, 11.0), (47.0, 12.0)]
    route = Route((np.array(line),))
    found = route.metres(np.array([np.nan, 47.0, 47.0]), np.array([11.0, 11.0, 13.0]))
    assert np.isnan(found[0])
    assert found[1] == 0.0
    assert found[2] == pytest.approx(WGS84.Inverse(47, 12, 47, 13)["s12"], rel=0.0057)
    assert route.points == 3


def test_drawn_points_lie_on_the_great_circle() -> None:
    points = drawn(np.array([[10.0, 170.0], [20.0, -150.0], [25.0, -140.0]]), 1.0)
    assert (np.diff(points[:, 1]) > 0).all()
    assert points[-1].tolist() == [25.0, 220.0]
    assert max(ours([[(10.0, 170.0), (20.0, -150.0), (25.0, -140.0)]], points.tolist())) < 0.1


INNER = """<metadata><bounds minlat="1" minlon="2" maxlat="3" maxlon="4"/></metadata>
<wpt lat="47.5" lon="11.25"><ele>512</ele><name>a &lt;b&gt;</name></wpt>
<rte><name>plan</name><rtept lat="47" lon="11"/><rtept lat="+46.5" lon="11.5"/></rte>
<trk><trkseg><trkpt lat="1e1" lon="-0.5"><time>2026-06-14T08:00:00Z</time></trkpt><trkpt lat="11" lon="-.25"/></trkseg>
<trkseg><trkpt lat=" 12 " lon="0"/></trkseg><trkseg/></trk>
<extensions><x:wpt xmlns:x="urn:x" lat="x"/><wpt lat="99" lon="1"/></extensions>"""


@pytest.mark.parametrize("version", ["0", "1"])
def test_tracks_routes_and_waypoints(tmp_path: Path, version: str) -> None:
    """The points of the schema of GPX 1.1 (gpxType, wptType, rteType, trkType), found by lxml in another way."""
    data = gpx(INNER, version)
    found = [line.tolist() for line in read_route(written(tmp_path, data)).lines]
    space = {"g": GPX.format(version)}
    document = etree.fromstring(data)
    lines = [[point] for point in document.findall("g:wpt", space)]
    lines += [line.findall("g:rtept", space) for line in document.findall("g:rte", space)]
    lines += [line.findall("g:trkpt", space) for line in document.findall("g:trk/g:trkseg", space)]
    expected = [[[float(point.get("lat")), float(point.get("lon"))] for point in line] for line in lines if line]
    assert found == expected
    assert found == [[[47.5, 11.25]], [[47, 11], [46.5, 11.5]], [[10, -0.5], [11, -0.25]], [[12, 0]]]


def test_other_encodings_and_no_name_space(tmp_path: Path) -> None:
    text = '<?xml version="1.0" encoding="UTF-16"?><gpx><wpt lat="47" lon="11"><name>Öd</name></wpt></gpx>'
    assert read_route(written(tmp_path, text.encode("utf-16"))).points == 1


LAUGHS = '<!DOCTYPE gpx [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]><gpx><wpt lat="1" lon="1"><name>&b;</name></wpt></gpx>'
OUTSIDE = '<!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx><wpt lat="1" lon="1"><name>&x;</name></wpt></gpx>'
PARAMETER = '<!DOCTYPE gpx [<!ENTITY % x SYSTEM "http://127.0.0.1:1/x"> %x;]><gpx><wpt lat="1" lon="1"/></gpx>'
BAD = {
    "entities": (LAUGHS.encode(), ":1: declares an entity"),
    "a file of the machine": (OUTSIDE.encode(), ":1: declares an entity"),
    "a file of the network": (PARAMETER.encode(), ":1: declares an entity"),
    "another root": (gpx("<wpt lat='1' lon='1'/>", root="kml"), 'or 1.1, found an element "kml"'),
    "another format": (b"<gpx xmlns='urn:other'/>", ':1: expected a GPX file of version 1.0 or 1.1, found an element "gpx"'),
    "no points": (gpx("<trk><trkseg/></trk>"), ": holds no track, route or waypoint"),
    "no XML": (b"id,callsign\n1,OE1ABC\n", ":1: this is no whole XML"),
    "empty": (b"", ":1: this is no whole XML (no element found)"),
    "cut short": (gpx(INNER)[:300], "this is no whole XML"),
    "a latitude too far": (gpx("<wpt lat='90.1' lon='1'/>"), ':3: expected lat from -90 to 90'),
    "a longitude too far": (gpx("\n<wpt lat='0' lon='-180.5'/>"), ':4: expected lat from -90 to 90 and lon from -180 to 180'),
    "no number": (gpx("<rte><rtept lat='nan' lon='1'/></rte>"), 'got lat="nan" lon="1"'),
    "no longitude": (gpx("<trk><trkseg><trkpt lat='1'/></trkseg></trk>"), 'in trkpt, got lat="1" lon=""'),
    "what steers a terminal": (gpx("<wpt lat='&#x9b;2J' lon='1'/>"), r'got lat="\x9b2J"'),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_route_is_refused_in_one_line(tmp_path: Path, name: str) -> None:
    data, words = BAD[name]
    with pytest.raises(InputRefusedError) as refused:
        read_route(written(tmp_path, data))
    assert words in str(refused.value)
    assert len(str(refused.value).splitlines()) == 1
    assert str(refused.value).startswith(f"{tmp_path}/tour.gpx")


def test_bounds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    deep = b"<gpx>" + b"<a>" * 5000 + b"</a>" * 5000 + b"<wpt lat='1' lon='1'/></gpx>"
    assert read_route(written(tmp_path, deep)).points == 1
    three = gpx("<wpt lat='1' lon='1'/>" * 3)
    monkeypatch.setattr(route_file, "MOST_POINTS", 2)
    with pytest.raises(InputRefusedError, match="holds more than 2 points"):
        read_route(written(tmp_path, three))
    monkeypatch.setattr(route_file, "MOST_BYTES", 10)
    with pytest.raises(InputRefusedError, match="is larger than 0 MB"):
        read_route(written(tmp_path, three))
    with pytest.raises(SourceMissingError, match="there is no such file"):
        read_route(tmp_path / "none.gpx")
