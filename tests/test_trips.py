"""Rules along a route: who they match, in which order, what is said of a file that is no route, the map on the page."""

from __future__ import annotations

import html
import json
import re
from pathlib import Path

import numpy as np
import polars as pl
import pytest
from report_samples import HOSTILE, sample_run

from pruner.account.summary import RouteSummary
from pruner.cli.boundary import guarded
from pruner.job.routes import route_summaries
from pruner.pages.page import render
from pruner.pages.route_map import route_map
from pruner.reference.projection import MAP_WIDTH, map_height
from pruner.reference.routes import Route
from pruner.settings.models import KeepRule
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
STATIONS = """\
id,callsign,first name,town,country
2320001,OE3AAA,Ada,Wien,Austria
2320002,OE7AAB,Bea,Innsbruck,Austria
2320003,OE7AAC,Cleo,Landeck,Austria
2320004,OE9AAD,Dora,Bregenz,Austria
2320005,OE7AAE,Emil,Nowhere at all,Austria
2220001,IN3AAF,Fred,Merano,Italy
"""
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "along the tour"
route = "tour.gpx"
within_km = 60
[[keep]]
name = "the rest"
[[radio]]
name = "one"
contacts = 9
"""
TOUR = """<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="46.9" lon="11.0"/><trkpt lat="46.9" lon="11.2"/></trkseg></trk><wpt lat="47.14" lon="10.57"/></gpx>
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("stations.csv").write_text(STATIONS)
    Path("tour.gpx").write_text(TOUR)
    Path("pruner.toml").write_text(SETTINGS)
    return tmp_path


def queue() -> list[tuple[int, str]]:
    ledger = pl.read_parquet("out/one/ledger.parquet").sort("rank")
    return list(ledger.select("id", "rule").iter_rows())


def test_a_rule_along_a_route_needs_no_home_and_takes_the_nearest_first(folder: Path, capsys: Capture) -> None:
    assert guarded(["fit"]) == ExitCode.DONE
    # Landeck lies at the waypoint, Merano some 25 km from the track, Innsbruck some 43 km; Bregenz and Wien farther than 60.
    along = [(2320003, "along the tour"), (2220001, "along the tour"), (2320002, "along the tour")]
    assert queue() == [*along, (2320001, "the rest"), (2320004, "the rest"), (2320005, "the rest")]
    summary = json.loads(Path("out/one/summary.json").read_text())
    assert summary["rules"][0]["order"] == "nearest"
    (told,) = summary["routes"]
    assert (told["file"], told["points"], told["within_km"]) == ("tour.gpx", 3, 60)
    page = Path("out/one/report.html").read_text()
    assert "rule “<bdi>along the tour</bdi>” (<bdi>tour.gpx, within 60 km</bdi>)" in page
    assert page.count('class="way"') == 2
    assert guarded(["report", "--out", "again.html"]) == ExitCode.DONE
    again = Path("again.html").read_text()  # it says more of other limits
    assert again.count('class="way"') == 2
    assert again.partition('class="way"')[2][:200] == page.partition('class="way"')[2][:200]
    capsys.readouterr()


def test_locators_instead(folder: Path, capsys: Capture) -> None:
    Path("pruner.toml").write_text(SETTINGS.replace('route = "tour.gpx"', 'locators = ["JN88ee", "JN47vm"]\norder = "id"'))
    assert guarded(["fit"]) == ExitCode.DONE
    assert [one for one, rule in queue() if rule == "along the tour"] == [2320001, 2320004]
    capsys.readouterr()


def test_check_shows_the_route(folder: Path, capsys: Capture) -> None:
    assert guarded(["check"]) == ExitCode.DONE
    said = " ".join(capsys.readouterr().out.split())
    assert "tour.gpx 3 points in 2 lines" in said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("<gpx/>", "holds no track, route or waypoint"),
        ("id\n1\n", "this is no whole XML"),
        ('<!DOCTYPE g [<!ENTITY a "b">]><g/>', "entity"),
    ],
)
def test_a_file_that_is_no_route_is_one_line(folder: Path, capsys: Capture, text: str, words: str) -> None:
    Path("tour.gpx").write_text(text)
    assert guarded(["fit"]) == ExitCode.INPUT_REFUSED
    told = capsys.readouterr()
    assert len(told.err.splitlines()) == 1
    assert words in told.err
    assert not Path("out").exists()


def test_a_missing_route_is_a_mistake_of_the_settings(folder: Path, capsys: Capture) -> None:
    Path("tour.gpx").unlink()
    assert guarded(["fit"]) == ExitCode.SETTINGS
    assert "pruner.toml:6: keep[1].route: expected a GPX file, but there is no file" in capsys.readouterr().err


def test_long_routes_are_thinned_out_for_the_page() -> None:
    steps = np.arange(50_000)
    track = np.stack([47 + np.cos(steps / 700) / 9, 11 + np.sin(steps / 600) / 7], axis=1)
    places = [np.array([[47.0 + at / 9000, 11.0]]) for at in range(9000)]
    rule = KeepRule(name="a", locators=("JN57",))
    (told,) = route_summaries([rule], {"a": Route((track, *places))})
    assert told.points == 59_000
    assert sum(map(len, told.lines)) <= 2000
    assert list(told.lines[0][0]) == np.round(track[0], 5).tolist()
    assert list(told.lines[0][-1]) == np.round(track[-1], 5).tolist()


LINES = {
    "at home": [[[47.0, 11.0], [47.5, 12.0]]],
    "a place": [[[47.0, 11.0]]],
    "across 180 degrees": [[[10.0, 175.0], [12.0, -175.0], [14.0, 178.0]]],
    "beside the pole": [[[89.0, 0.0], [89.5, 120.0]]],
    "below the map": [[[-85.0, 20.0], [-70.0, 30.0]]],
    "round the world": [[[0.0, at] for at in (-170.0, -80.0, 0.0, 80.0, 170.0, -170.0)]],
}


@pytest.mark.parametrize("name", LINES)
def test_the_map_around_a_route_lies_in_the_world(name: str) -> None:
    lines = tuple(tuple((north, east) for north, east in line) for line in LINES[name])
    drawn = route_map([RouteSummary(rule="a", locators=("JN57",), within_km=50.0, points=1, lines=lines)])
    assert drawn is not None
    left, top, width, height = drawn.view
    assert 0 <= left <= left + width <= MAP_WIDTH + 0.1
    assert 0 <= top <= top + height <= map_height() + 0.1
    (line,) = drawn.routes
    assert re.fullmatch(r"[ML0-9. h]+", line.path)
    points = np.array([part.split() for part in re.split("[ML]", line.path.removesuffix("h0"))[1:]], dtype=float)
    assert ((points[:, 0] >= left - 0.1) & (points[:, 0] <= left + width + 0.1)).all()
    # No stroke goes straight across the map.
    strokes = [part for part in re.split("M", line.path.removesuffix("h0")) if part]
    widest = max(np.ptp(np.array([one.split() for one in stroke.split("L")], dtype=float)[:, 0]) for stroke in strokes)
    assert widest < (1000 if "180" in name else 2000)
    # 50 km to each side. The map is as wide as the equator is long, 40,030 km on this sphere, in Equal Earth 0.8618 of it.
    assert line.band == pytest.approx(100 / 40030 * 2000 / 0.8618, rel=0.01)


def test_hostile_names_in_the_map(tmp_path: Path) -> None:
    lines = (((47.0, 11.0),),)
    routes = tuple(RouteSummary(rule=word, file=HOSTILE[0], points=1, lines=lines) for word in HOSTILE)
    summary = sample_run(tmp_path, hostile=True).model_copy(update={"routes": routes})
    page = render(summary, tmp_path / "ledger.parquet")
    assert "<script" not in page
    assert html.escape(HOSTILE[0]) in page
    assert "\x1b" not in page
