"""The command `forecast` as a user meets it."""

from __future__ import annotations

import datetime
import json
import re
from pathlib import Path

import numpy as np
import pytest
from history_samples import coverage, day, summary
from test_compare_command import run

from pruner.history.record import record

Capture = pytest.CaptureFixture[str]
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[radio]]
name = "small-handheld"
contacts = 150_000
keep_free = 500
[[radio]]
name = "large-handheld"
contacts = 200_000
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stations.csv").write_text("id,call sign\n2320001,OE1AAA\n", encoding="utf-8")
    (tmp_path / "pruner.toml").write_text(SETTINGS, encoding="utf-8")
    return tmp_path


Points = dict[int, tuple[float | None, float, float | None]]


def recorded_growth(folder: Path, to_come: Points | None = None) -> None:
    """Sixty weeks of steady growth from 150,400 to 174,000 stations; the last record is of 2025-11-16."""
    steps = 400 + np.random.default_rng(5).integers(-200, 201, 60)
    for week, stations in enumerate((150_000 + np.cumsum(steps)).tolist()):
        heard = coverage(0.8, by_limit={75_000: 0.7, stations: 0.8}, to_come=to_come)
        runs = []
        for radio, limit in (("small-handheld", 149_500), ("large-handheld", 200_000)):
            runs.append(summary(stations, radio=radio, limit=limit, coverage=heard))
        record(folder / ".pruner" / "history", day(19_995 + 7 * week), runs)


def test_from_recorded_runs(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recorded_growth(folder)
    code, out, err = run(capsys, "forecast", "--limit", "160000")
    assert (code, err) == (0, "")
    date = r"20\d\d-\d\d-\d\d"
    assert re.search(rf"^\d{{3}},\d{{3}} stations on {date}; 60 recorded days since {date}$", out, re.MULTILINE)
    assert re.search(rf"^the directory +160,000  since {date}$", out, re.MULTILINE)
    assert re.search(rf"^the directory +200,000  {date} +{date}  {date}$", out, re.MULTILINE)
    assert re.search(r"^the directory +500,000  later +later +later$", out, re.MULTILINE)
    assert re.search(r"^small-handheld +149,500  already 2024-09-29$", out, re.MULTILINE), "it was so when the records begin"
    assert re.search(r"^large-handheld +80\.0% +80\.0% +80\.0%$", out, re.MULTILINE)
    code, text, _ = run(capsys, "forecast", "--json")
    found = json.loads(text)
    assert code == 0
    assert found["last_day"] == day(19_995 + 7 * 59).isoformat(), "today is the last recorded day"
    directory, large = (
        next(one for one in found["limits"] if (one["name"], one["contacts"]) == key)
        for key in (("the directory", 200_000), ("large-handheld", 200_000))
    )
    assert directory["earliest"] < directory["day"] < directory["latest"]
    assert [large[key] for key in ("day", "earliest", "latest")] == [directory[k] for k in ("day", "earliest", "latest")]
    small = next(one for one in found["limits"] if one["name"] == "small-handheld")
    assert small["status"] == "outgrown"
    assert 0.7 < small["coverage_in_a_year"] < small["coverage_then"] < 0.8
    assert run(capsys, "forecast", "--json")[1] == text


def test_what_is_to_come_in_a_year(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 149,500 of the stations of the last day, a straight line between 100,000 (60 %) and 150,000 (70 %)."""
    recorded_growth(folder, {100_000: (0.6, 0.5, 0.7), 150_000: (0.7, 0.6, 0.8)})
    code, text, _ = run(capsys, "forecast", "--json")
    assert code == 0
    found = json.loads(text)
    small = next(one["calls_to_come"] for one in found["limits"] if one["name"] == "small-handheld")
    large = next(one["calls_to_come"] for one in found["limits"] if one["name"] == "large-handheld")
    assert (small["period_days"], small["talkgroups"]) == (28, "all")
    assert small["now"] == pytest.approx({"share": 0.699, "low": 0.599, "high": 0.799})
    assert small["then"] == small["now"], "it is full already"
    stations = found["stations"]
    growth = found["models"][0]["per_year"]
    kept = 149_500 / (stations + growth) * stations
    assert small["in_a_year"]["share"] == pytest.approx(0.6 + 0.1 * (kept - 100_000) / 50_000, abs=2e-3)
    assert 0.6 < small["in_a_year"]["share"] < 0.7
    assert large["now"] == pytest.approx({"share": 0.7, "low": 0.6, "high": 0.8}), "no limit beyond the last one names more"
    assert next(one["calls_to_come"] for one in found["limits"] if one["name"] == "the directory") is None
    code, out, _ = run(capsys, "forecast")
    assert code == 0
    assert re.search(r"^calls to come, named +last run +when full +in a year$", out, re.MULTILINE)
    assert re.search(r"^small-handheld +69\.9 % +69\.9 % +6\d\.\d %$", out, re.MULTILINE)
    assert re.search(r"^ +59\.9 to 79\.9 +59\.9 to 79\.9 ", out, re.MULTILINE)
    assert "the share of the calls on all talkgroups in the 28 days after the last run" in " ".join(out.split())
    assert "lower bounds" not in out
    assert "looking back" not in out


def test_a_lower_bound_to_come_stays_one(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recorded_growth(folder, {75_000: (None, 0.5, None), 150_000: (None, 0.6, None)})
    code, text, _ = run(capsys, "forecast", "--json")
    small = next(one["calls_to_come"] for one in json.loads(text)["limits"] if one["name"] == "small-handheld")
    assert code == 0
    assert small["in_a_year"]["share"] is None
    assert small["in_a_year"]["high"] is None
    assert 0.5 < small["in_a_year"]["low"] < small["now"]["low"] < 0.6
    code, out, _ = run(capsys, "forecast")
    assert re.search(r"^small-handheld +59\.9 % +59\.9 % +5\d\.\d %$", out, re.MULTILINE)
    assert len(re.findall(r"\bor more\b", out)) == 2 * 3
    words = " ".join(out.split())
    assert "Shares without an interval are lower bounds" in words
    assert "Below each its interval" not in words


def test_where_a_limit_has_no_figure_none_is_made_of_its_neighbours(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Small radios often have none: few stations make many calls. A straight line from nothing would tell far too little."""
    recorded_growth(folder, {149_500: (None, None, None), 170_000: (0.7, 0.6, 0.8)})
    code, text, _ = run(capsys, "forecast", "--json")
    small, large = (one["calls_to_come"] for one in json.loads(text)["limits"] if one["calls_to_come"])
    assert code == 0
    assert small["now"] == small["in_a_year"] == {"share": None, "low": None, "high": None}
    assert large["now"] == {"share": 0.7, "low": 0.6, "high": 0.8}
    code, out, _ = run(capsys, "forecast")
    assert re.search(r"^small-handheld +no figure +no figure +no figure$", out, re.MULTILINE)
    words = " ".join(out.split())
    assert "Why there is no figure is told by pruner limits." in words
    assert "lower bounds" not in words


def test_runs_of_days_to_come_are_left_out(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    recorded_growth(folder)
    _, before, _ = run(capsys, "forecast", "--json")
    record(folder / ".pruner" / "history", datetime.date(2999, 1, 1), [summary(1)])
    code, after, err = run(capsys, "forecast", "--json")
    assert (code, after) == (0, before)
    assert err.count("\n") == 1
    assert "1 recorded run of days to come left out" in err


def test_a_run_that_was_killed_while_it_was_recorded_is_said_and_left_out(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    recorded_growth(folder)
    _, before, _ = run(capsys, "forecast", "--json")
    with (folder / ".pruner" / "history" / "runs.jsonl").open("ab") as file:
        file.write(b'{"schema":1,"day":"20')
    code, after, err = run(capsys, "forecast", "--json")
    assert (code, after) == (0, before)
    assert err == "pruner: forecast: 1 recorded run is not whole and left out; the run was killed while it wrote\n"
    with (folder / ".pruner" / "history" / "runs.jsonl").open("ab") as file:
        file.write(b'\n{"schema":1,"day":7,"rows":[]}\n')
    code, _, err = run(capsys, "forecast", "--json")
    assert code == 2
    assert err.count("\n") == 1
    assert "day: expected a date such as 2024-01-31, found a number" in err


def test_without_enough_runs_it_says_so(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "forecast")
    assert (code, err) == (1, "")
    assert "No forecast: 0 recorded days are too few" in out
    assert "Calls to come: unknown; pruner limits says why." in out
    code, out, _ = run(capsys, "forecast", "--json")
    assert code == 1
    assert {one["status"] for one in json.loads(out)["limits"]} == {"unknown"}


def test_from_counts_by_hand_without_any_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    monkeypatch.chdir(tmp_path)
    lines = [f"2024-{month:02}-01,{150_000 + 2000 * month + month % 3 * 100}" for month in range(1, 11)]
    (tmp_path / "counts.csv").write_text("\n".join(["date,count", *lines]), encoding="utf-8")
    code, out, err = run(capsys, "forecast", "--snapshots", "counts.csv", "--snapshot", "2024-11-01=172100")
    assert (code, err) == (0, "")
    assert "172,100 stations on 2024-11-01; 11 recorded days since 2024-01-01" in out
    assert re.search(r"^the directory +200,000  202[56]-\d\d-\d\d", out, re.MULTILINE)
    assert "handheld" not in out


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        (["--snapshot", "x"], 2, "--snapshot 'x': expected a date and a count"),
        (["--snapshots", "nowhere.csv"], 4, "no such file"),
        (["--interval", "100"], 2, "--interval"),
        (["--settings", "nowhere.toml"], 2, "no settings file here"),
        (["--settings", "nowhere.toml", "--snapshot", "2024-01-01=5"], 2, "no settings file here"),
    ],
)
def test_mistakes_are_one_line(folder: Path, capsys: Capture, arguments: list[str], code: int, message: str) -> None:
    got, out, err = run(capsys, "forecast", *arguments)
    assert (got, out) == (code, "")
    assert message in err
    assert err.count("\n") == 1
