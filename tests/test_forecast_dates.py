"""Dates on which limits are outgrown, their intervals, and coverage then."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import scipy
from draws import draws
from history_samples import day, summary
from hypothesis import given
from hypothesis import strategies as st

from pruner.history.forecast import EXPECTED, LATER, OUTGROWN, UNKNOWN, Forecast, Limit, forecast
from pruner.history.growth import MODELS, Growth, Series
from pruner.history.record import record
from pruner.history.runs import read
from pruner.history.series import by_hand, recorded
from pruner.history.wants import Want
from pruner.settings.cross import CARRIED
from pruner.words.errors import InputRefusedError, SettingsError, SourceMissingError

WHOLE = (Want(1.0),)
WEEKS = 20_000 + 7 * np.arange(60, dtype=np.int64)


def steady(seed: int, weeks: int = 60, per_week: float = 400, spread: float = 300) -> Series:
    counts = 150_000 + np.cumsum(np.random.default_rng(seed).normal(per_week, spread, weeks))
    return Series(WEEKS[:weeks], np.round(counts))


def only(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Lets the forecast know one model only, so that a closed form can be compared with it."""
    model = next(model for model in MODELS if model.name == name)

    def grow(series: Series) -> tuple[Growth, ...]:
        fitted = model.fit(series.day.astype(float), series.count)
        return (Growth(model, fitted, int(series.day[-1]), float(series.count[-1]), 0.0, len(series) - 4),)

    monkeypatch.setattr("pruner.history.forecast.grow", grow)


@pytest.mark.parametrize("level", [0.5, 0.9, 0.99])
def test_the_interval_of_a_line_is_that_of_inverse_regression(monkeypatch: pytest.MonkeyPatch, level: float) -> None:
    """Fieller's theorem for a new observation (Draper, Smith, "Applied Regression Analysis", inverse regression, from memory):
    the roots of (level + slope u - limit)^2 = t^2 s^2 (1 + 1/n + u^2 / Sxx), u counted from the mean day."""
    only(monkeypatch, "steady, line")
    series = Series(WEEKS, np.round(150_000 + 400 * np.arange(60) + np.random.default_rng(1).normal(0, 2000, 60)))
    x, y, limit = series.day.astype(float), series.count, 190_000
    line = scipy.stats.linregress(x, y)
    u = x - x.mean()
    s2 = ((y - line.intercept - line.slope * x) ** 2).sum() / 58
    t2 = scipy.stats.t.ppf((1 + level) / 2, 58) ** 2 * s2
    roots = np.sort(
        np.roots(
            [line.slope**2 - t2 / (u @ u), 2 * line.slope * (y.mean() - limit), (y.mean() - limit) ** 2 - t2 * (1 + 1 / 60)]
        )
    )
    one = forecast(series, [Limit("x", limit)], level).outlooks[0]
    assert one.status == EXPECTED
    assert [one.earliest, one.latest] == [math.floor(x.mean() + root) + 1 for root in roots]
    assert one.day == math.floor(x.mean() + (limit - y.mean()) / line.slope) + 1


def test_the_interval_of_a_drift_solves_its_quadratic(monkeypatch: pytest.MonkeyPatch) -> None:
    """(slope h - missing)^2 = t^2 s^2 (h + h^2 / span)."""
    only(monkeypatch, "steady, drift")
    series = steady(2)
    wide, high = np.diff(series.day), np.diff(series.count)
    span, missing = float(series.span), 200_000 - series.count[-1]
    slope = high.sum() / span
    t2 = scipy.stats.t.ppf(0.95, 58) ** 2 * ((high - slope * wide) ** 2 / wide).sum() / 58
    roots = np.sort(np.roots([slope**2 - t2 / span, -2 * slope * missing - t2, missing**2]))
    one = forecast(series, [Limit("x", 200_000)]).outlooks[0]
    assert [one.earliest, one.latest] == [math.floor(series.day[-1] + root) + 1 for root in roots]


def independent(random: np.random.Generator) -> np.ndarray:
    return random.normal(400, 450, 260)


def lasting(random: np.random.Generator) -> np.ndarray:
    """Half of what a week is above or below the mean goes on in the next."""
    steps = random.normal(0, 260, 260)
    for week in range(1, 260):
        steps[week] += 0.5 * steps[week - 1]
    return 400 + steps


def seasons(random: np.random.Generator) -> np.ndarray:
    return 400 + 200 * np.sin(np.arange(260) * 2 * np.pi / 52 + random.uniform(0, 6)) + random.normal(0, 100, 260)


@pytest.mark.long
@pytest.mark.parametrize("steps", [independent, lasting, seasons])
def test_intervals_hold_what_they_promise(steps: Callable[[np.random.Generator], np.ndarray]) -> None:
    """Invented directories grow on after 60 recorded weeks: the true day lies in the 90 % interval in at least about 90 % of
    them (100 each, binomial standard deviation 3 %), and the interval is not just everything."""
    inside = bounded = count = 0
    for seed in range(100):
        counts = np.round(150_000 + np.cumsum(steps(np.random.default_rng(seed))))
        future = np.interp(np.arange(7 * 200 + 1), 7 * np.arange(201), counts[59:])
        limit = int(counts[59]) + 12_000
        truth = WEEKS[59] + int(np.argmax(future > limit))
        assert future[-1] > limit
        found = forecast(Series(WEEKS, counts[:60]), [Limit("x", limit)])
        if not found.growth:
            continue
        one = found.outlooks[0]
        count += 1
        bounded += one.latest is not None and one.latest - truth < 365
        inside += (one.earliest is None or one.earliest <= truth) and (one.latest is None or truth <= one.latest)
    assert count >= 90
    assert inside / count >= 0.84
    assert bounded / count >= 0.75


@given(st.integers(0, 10_000), st.integers(-5000, 5000), st.integers(8, 60))
@draws(30)
def test_what_must_hold_of_every_forecast(seed: int, shift: int, weeks: int) -> None:
    series = steady(seed, weeks)
    limits = [Limit("x", contacts) for contacts in (140_000, 155_000, 160_000, 200_000, 900_000)]
    found, again = forecast(series, limits), forecast(Series(series.day + shift, series.count), limits)
    assert found.horizon == series.day[-1] + 5 * series.span
    for one, moved in zip(found.outlooks, again.outlooks, strict=True):
        assert one.status == moved.status
        if one.day is not None:
            assert moved.day is not None
            assert abs(moved.day - one.day - shift) <= 1
        if one.status == EXPECTED:
            assert one.day is not None
            assert one.earliest is not None
            assert series.day[-1] < one.earliest <= one.day <= (one.latest or one.day) <= found.horizon
        if one.status in (LATER, UNKNOWN):
            assert one.day is None
        assert (one.status == UNKNOWN) <= (not found.growth)
    reached = [one.day for one in found.outlooks if one.day is not None]
    assert reached == sorted(reached)
    wider = forecast(series, limits, 0.99)
    for one, wide in zip(found.outlooks, wider.outlooks, strict=True):
        if one.status == EXPECTED and found.growth[0].model == wider.growth[0].model:
            assert wide.earliest is not None
            assert wide.earliest <= (one.earliest or 0)
            assert wide.latest is None or (one.latest is not None and one.latest <= wide.latest)


def said(series: Series) -> Forecast:
    found = forecast(series, [Limit("x", 200_000), Limit("small", 100_000)])
    assert found.growth == ()
    assert found.outlooks[0].status == UNKNOWN
    return found


def test_where_the_numbers_do_not_carry_a_forecast_it_says_so() -> None:
    rng = np.random.default_rng(7)
    assert "5 recorded days are too few" in said(steady(1, 5)).reason
    assert "0 recorded days are too few" in said(Series(WEEKS[:0], np.array([]))).reason
    short = Series(20_000 + np.arange(30, dtype=np.int64), 150_000 + 50.0 * np.arange(30))
    assert "29 days from the first to the last: too short" in said(short).reason
    flat = said(Series(WEEKS, np.round(150_000 + rng.normal(0, 500, 60))))
    assert "cannot be told from none" in flat.reason
    assert "cannot be told from none" in said(Series(WEEKS, np.full(60, 150_000.0))).reason
    shrinking = said(Series(WEEKS, 190_000 - 400.0 * np.arange(60)))
    assert "shrinking" in shrinking.reason
    # What has happened already is known without any forecast.
    assert flat.outlooks[1].status == OUTGROWN


def test_already_outgrown_since_it_last_was_not() -> None:
    count = np.array([90.0, 101, 99, 100, 102, 103, 105]) * 1000
    one = forecast(Series(WEEKS[:7], count), [Limit("x", 100_000)]).outlooks[0]
    assert (one.status, one.day) == (OUTGROWN, WEEKS[4])


def test_a_radio_whose_rules_want_a_part_is_outgrown_later() -> None:
    """Half of the directory wanted: the limit counts twice. A share that comes out as the limit itself is not over it."""
    series = steady(3)
    half, whole = forecast(series, [Limit("half", 100_000, wants=(Want(0.5),)), Limit("whole", 200_000)]).outlooks
    assert (half.status, half.day, half.earliest) == (EXPECTED, whole.day, whole.earliest)
    assert forecast(series, [Limit("none", 10, wants=(Want(0.0),))]).outlooks[0].status == LATER
    for now in range(150_001, 150_400, 7):
        exact = Series(WEEKS[:6], np.linspace(140_000, now, 6).round())
        assert forecast(exact, [Limit("x", 70_000, wants=(Want(70_000 / now),))]).outlooks[0].status != OUTGROWN
        assert forecast(exact, [Limit("x", 70_000, wants=(Want(70_001 / now),))]).outlooks[0].status == OUTGROWN


def test_coverage_is_read_off_the_curve() -> None:
    """By hand: 100,000 stations growing by 1,000 a week without spread; a radio for 80,000 of them. In a year (365 days)
    there are 152,143, so 80,000 is a share of 52.58 %, between the points 50 % -> 0.8 and 100 % -> 0.9 of the curve."""
    series = Series(WEEKS, 41_000 + 1000.0 * np.arange(60))
    curve = ((0.0, 0.0), (0.5, 0.8), (1.0, 0.9))
    full, large = forecast(
        series, [Limit("full", 80_000, WHOLE, 0.86, curve), Limit("large", 120_000, WHOLE, 0.9, curve)]
    ).outlooks
    share = 80_000 / (100_000 + 365 / 7 * 1000)
    assert full.status == OUTGROWN
    assert full.coverage_then == pytest.approx(0.86)
    assert full.coverage_in_a_year == pytest.approx(0.8 + (share - 0.5) / 0.5 * 0.1)
    # A radio that still has room names what it does now until it is full.
    assert large.status == EXPECTED
    assert large.coverage_then == pytest.approx(0.9)
    assert large.day == WEEKS[-1] + 20 * 7 + 1
    assert forecast(series, [Limit("silent", 80_000)]).outlooks[0].coverage_in_a_year is None


def test_days_far_away_are_no_fault() -> None:
    days = np.array([0, 400_000, 800_000, 1_200_000, 1_600_000, 2_000_000, 2_932_000])
    found = forecast(Series(days, 1000.0 + days / 1000), [Limit("x", 4000), Limit("y", 10**12)])
    assert found.growth
    assert found.horizon <= (day(0).max - day(0)).days
    steep = Series(WEEKS[:10], 10.0 ** np.arange(1, 11))
    assert forecast(steep, [Limit("x", 10**15)]).outlooks[0].status == EXPECTED


def test_the_series_of_the_recorded_runs(tmp_path: Path) -> None:
    """The last run of a day; runs with other sources are left aside; carried entries are no source of the directory."""
    record(tmp_path, day(1), [summary(900, source="old")])
    record(tmp_path, day(2), [summary(100)])
    record(tmp_path, day(3), [summary(110), summary(130, radio="two")])
    record(tmp_path, day(4), [summary(119)])
    carrying = summary(125)
    (own,) = carrying.sources
    carrying = carrying.model_copy(update={"sources": (own, own.model_copy(update={"name": CARRIED}))})
    record(tmp_path, day(4), [carrying])
    series, aside = recorded(read(tmp_path).runs)
    assert (series.day.tolist(), series.count.tolist(), aside) == ([2, 3, 4], [100, 110, 125], 1)


def test_counts_by_hand(tmp_path: Path) -> None:
    file = tmp_path / "counts.csv"
    file.write_text("date,count\n1970-01-03, 30\n\n1970-01-02,20\n", encoding="utf-8-sig")
    series = by_hand(["1970-01-05=50"], file)
    assert (series.day.tolist(), series.count.tolist()) == ([1, 2, 4], [20, 30, 50])
    file.write_text("1970-01-03,30\n", encoding="utf-8")
    assert by_hand((), file).day.tolist() == [2]


@pytest.mark.parametrize(
    "text", ["2024-01-01", "2024-13-01=5", "=5", "2024-01-01=0", "2024-01-01=-4", "2024-01-01=1e5", "x\x1b=1"]
)
def test_all_mistakes_of_counts_by_hand_at_once(tmp_path: Path, text: str) -> None:
    with pytest.raises(SettingsError) as raised:
        by_hand([text, "2024-01-01=5", text])
    assert str(raised.value).count("expected a date and a count") == 2
    file = tmp_path / "counts.csv"
    file.write_text(f"date,count\n{text.replace('=', ',')}\n2024-02-01,5\n2024-02-01,6\n", encoding="utf-8")
    with pytest.raises(InputRefusedError) as refused:
        by_hand((), file)
    lines = str(refused.value).splitlines()
    assert [line.split(": ")[0] for line in lines] == [f"{file}:2", f"{file}:4"]
    assert "twice" in lines[1]
    with pytest.raises(SourceMissingError):
        by_hand((), tmp_path / "nowhere.csv")


def test_a_file_without_any_snapshot_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "other.csv"
    path.write_text("day;what\n" + "".join(f"{n};rent\n" for n in range(30)))
    with pytest.raises(InputRefusedError, match="none of the 30 rows holds these") as caught:
        by_hand([], path)
    assert "\n" not in str(caught.value)
