"""Growth models against certified values, a reference library and published formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.history.growth import MODELS, Growth, Series, fit_drift, fit_lasting_drift, fit_line, grow, log_density

# NIST Statistical Reference Datasets, linear regression, "Norris" (calibration of ozone monitors), x and y in turn.
# Data and certified values are from memory; that they reproduce the certified figures to ten digits confirms both.
NORRIS = """0.2 0.1  337.4 338.8  118.2 118.1  884.6 888.0  10.1 9.2  226.5 228.1  666.3 668.5  996.3 998.5  448.6 449.1
777.0 778.9  558.2 559.2  0.4 0.3  0.6 0.1  775.5 778.1  666.9 668.8  338.0 339.3  447.5 448.9  11.6 10.8  556.0 557.7
228.1 228.3  995.8 998.0  887.6 888.8  120.2 119.6  0.3 0.3  0.3 0.6  556.8 557.6  339.1 339.3  887.2 888.0  999.0 998.5
779.0 778.9  11.1 10.2  118.3 117.6  229.2 228.9  669.1 668.4  448.9 449.2  0.5 0.2"""

STEPS = st.lists(st.tuples(st.integers(1, 40), st.integers(-500, 1500)), min_size=5, max_size=25)


def series_of(steps: list[tuple[int, int]]) -> Series:
    days, counts = np.cumsum([(20_000, 100_000), *steps], axis=0).T
    return Series(days.astype(np.int64), counts.astype(np.float64))


def model_fitted(name: str, series: Series) -> Growth:
    model = next(model for model in MODELS if model.name == name)
    y = np.log(series.count) if model.logarithms else series.count
    return Growth(model, model.fit(series.day.astype(float), y), int(series.day[-1]), float(series.count[-1]), 0.0, 0)


def test_certified_regression() -> None:
    """NIST StRD, Norris: slope, its standard deviation, residual standard deviation, intercept."""
    x, y = np.array(NORRIS.split(), dtype=float).reshape(-1, 2).T
    fitted = fit_line(x, y)
    assert len(x) == 36
    assert fitted.slope == pytest.approx(1.00211681802045, rel=1e-10)
    assert fitted.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert fitted.deviation == pytest.approx(0.884796396144373, rel=1e-10)
    assert float(fitted.centre(np.array([0.0]))[0]) == pytest.approx(-0.262323073774029, rel=1e-8)
    assert fitted.freedom == 34


@given(STEPS, st.integers(1, 3000))
@draws(40)
def test_a_line_as_statsmodels_predicts_it(steps: list[tuple[int, int]], ahead: int) -> None:
    """Ordinary least squares and prediction interval of a new observation: statsmodels OLS.get_prediction."""
    series = series_of(steps)
    # Days are centred for the reference: its matrix of days since 1970 would be badly scaled.
    middle = series.day.mean()
    design = np.column_stack([np.ones(len(series)), series.day - middle])
    at = np.array([series.day[-1] + ahead])
    from statsmodels.regression.linear_model import OLS

    reference = OLS(series.count, design).fit()
    fitted = fit_line(series.day.astype(float), series.count)
    frame = reference.get_prediction(np.column_stack([np.ones(1), at - middle])).summary_frame(alpha=0.1)
    half = scipy.stats.t.ppf(0.95, len(series) - 2) * fitted.spread(at.astype(float))
    close = {"rel": 1e-7, "abs": 1e-4}
    assert fitted.slope == pytest.approx(reference.params[1], **close)
    assert fitted.slope_error == pytest.approx(reference.bse[1], **close)
    assert (fitted.centre(at) - half)[0] == pytest.approx(frame["obs_ci_lower"].iloc[0], **close)
    assert (fitted.centre(at) + half)[0] == pytest.approx(frame["obs_ci_upper"].iloc[0], **close)


@given(STEPS)
@draws(40)
def test_a_drift_as_statsmodels_fits_it(steps: list[tuple[int, int]]) -> None:
    """The steps regressed on their length without constant, weights 1 / length: statsmodels WLS. The prediction adds the
    error of the slope to the variance of the steps to come."""
    series = series_of(steps)
    wide = np.diff(series.day).astype(float)
    from statsmodels.regression.linear_model import WLS

    reference = WLS(np.diff(series.count), wide[:, None], weights=1 / wide).fit()
    fitted = fit_drift(series.day.astype(float), series.count)
    assert fitted.freedom == reference.df_resid
    assert fitted.slope == pytest.approx(reference.params[0], rel=1e-9, abs=1e-9)
    assert fitted.slope_error == pytest.approx(reference.bse[0], rel=1e-7, abs=1e-9)
    for ahead in (1.0, 30.0, 1000.0):
        spread = math.sqrt(reference.scale * ahead + (ahead * reference.bse[0]) ** 2)
        assert float(fitted.spread(series.day[-1:] + ahead)[0]) == pytest.approx(spread, rel=1e-7, abs=1e-6)


@given(STEPS)
@draws(25)
def test_a_lasting_drift_takes_the_widest_spread(steps: list[tuple[int, int]]) -> None:
    """Of the steps between every point, every second, every fourth, as far as there are six; the slope is that of all."""
    series = series_of(steps)
    x, y = series.day.astype(float), series.count
    slope, widths = (y[-1] - y[0]) / (x[-1] - x[0]), []
    for every in (1, 2, 4):
        wide, high = np.diff(x[::-1][::every][::-1]), np.diff(y[::-1][::every][::-1])
        if every == 1 or len(wide) >= 6:
            standard = (high - slope * wide) / np.sqrt(wide)
            widths.append(math.sqrt(standard @ standard / (len(wide) - 1)) * scipy.stats.t.ppf(0.95, len(wide) - 1))
    fitted = fit_lasting_drift(x, y)
    assert fitted.slope == pytest.approx(slope)
    found = fitted.deviation * scipy.stats.t.ppf(0.95, fitted.freedom)
    wide, high = np.diff(x), np.diff(y)
    rest = (high - slope * wide) / np.sqrt(wide)
    again = rest[1:] @ rest[:-1] / (rest @ rest) if rest.any() else 0.0
    if len(rest) < 6 or again + (1 + 3 * again) / len(rest) < 0.2:
        assert found == pytest.approx(max(widths), rel=1e-9, abs=1e-6)
    else:  # steps that go on as the last one did are never taken for independent ones
        assert found >= max(widths) - 1e-6


@pytest.mark.parametrize("persistence", [0.5, 0.8, 0.9])
def test_steps_that_persist_widen_as_their_long_run_variance_says(persistence: float) -> None:
    """An autoregressive process of first order simulated by statsmodels; the variance of its sum from `statsmodels` too."""
    from statsmodels.tsa.arima_process import ArmaProcess

    process = ArmaProcess([1, -persistence], [1])
    steps = process.generate_sample(2_000, scale=1.0, distrvs=np.random.default_rng(5).standard_normal)
    x = np.arange(2_001, dtype=float)
    fitted = fit_lasting_drift(x, np.concatenate([[0.0], np.cumsum(steps)]))
    long_run = math.sqrt(process.acovf(400)[0] + 2 * process.acovf(400)[1:].sum())
    assert fitted.deviation == pytest.approx(long_run, rel=0.25)
    assert fitted.deviation > 0.95 * long_run


def test_the_published_formula_of_the_drift_method() -> None:
    """R. J. Hyndman, G. Athanasopoulos, "Forecasting: Principles and Practice", 3rd ed., 5.5 (from memory): standard deviation
    h steps ahead of T points: sigma sqrt(h (1 + h / (T - 1)))."""
    count = np.array([3.0, 5.0, 4.0, 8.0, 9.0, 13.0])
    fitted = fit_drift(np.arange(6.0), count)
    residuals = np.diff(count) - 2.0
    sigma = math.sqrt((residuals**2).sum() / 4)
    ahead = np.array([1.0, 2.0, 7.0])
    assert fitted.centre(5 + ahead) == pytest.approx(13 + 2 * ahead)
    assert fitted.spread(5 + ahead) == pytest.approx(sigma * np.sqrt(ahead * (1 + ahead / 5)))


@given(st.floats(-50, 50), st.integers(1, 300))
def test_density_as_scipy_has_it(value: float, freedom: int) -> None:
    assert log_density(value, freedom) == pytest.approx(scipy.stats.t.logpdf(value, freedom), rel=1e-9, abs=1e-9)


@given(STEPS)
@draws(25)
def test_quantiles_and_doubt(steps: list[tuple[int, int]]) -> None:
    series = series_of(steps)
    if series.count.min() < 1000:
        return
    days = series.day[-1] + np.array([1, 50, 500])
    for model in MODELS:
        growth = model_fitted(model.name, series)
        low, middle, high = (growth.counts(days, quantile) for quantile in (0.05, 0.5, 0.95))
        assert (low < middle).all()
        assert (middle < high).all()
        if growth.fitted.slope_error:
            value = growth.fitted.slope / growth.fitted.slope_error
            assert growth.doubt == pytest.approx(2 * scipy.stats.t.sf(abs(value), len(series) - 2), rel=1e-6)


WEEKS = 20_000 + 7 * np.arange(80)


@pytest.mark.parametrize(
    ("expected", "counts"),
    [
        ("steady, line", lambda r: 50_000 + 800 * np.arange(80) + r.normal(0, 900, 80)),
        ("steady, drift", lambda r: 50_000 + np.cumsum(r.normal(800, 300, 80))),
        ("exponential, line", lambda r: np.exp(10 + 0.03 * np.arange(80) + r.normal(0, 0.01, 80))),
        ("exponential, drift", lambda r: np.exp(10 + np.cumsum(r.normal(0.03, 0.01, 80)))),
    ],
)
def test_the_model_that_made_the_numbers_is_chosen(expected: str, counts) -> None:  # type: ignore[no-untyped-def]
    for seed in range(5):
        series = Series(WEEKS, np.round(counts(np.random.default_rng(seed))))
        chosen, *others = grow(series)
        assert chosen.model.name == expected
        assert chosen.tested == 76
        for other in others:
            assert 0 <= (chosen.score - other.score) * 76 <= 2 + 1e-6


def test_the_score_is_made_of_predictions_from_the_past_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """The mean log density of each point, predicted by a fit to the points before it (scipy's Student t)."""
    monkeypatch.setattr("pruner.history.growth.ALLOWED_BEHIND", math.inf)
    series = Series(WEEKS[:9], np.array([100.0, 130, 170, 190, 240, 250, 300, 310, 370]) * 100)
    total = 0.0
    for known in range(4, 9):
        fitted = fit_line(series.day[:known].astype(float), np.log(series.count[:known]))
        at = series.day[known : known + 1].astype(float)
        scale = float(fitted.spread(at)[0])
        density = scipy.stats.t.pdf(np.log(series.count[known]), known - 2, float(fitted.centre(at)[0]), scale)
        total += math.log(density / series.count[known])
    every = {growth.model.name: growth.score for growth in grow(series)}
    assert every["exponential, line"] == pytest.approx(total / 5)


def test_numbers_without_any_spread() -> None:
    """Exactly straight counts: the steady models tie, the first one is taken, and a date still has an interval."""
    series = Series(WEEKS[:10], 1000.0 + 10 * np.arange(10))
    chosen = grow(series)[0]
    assert chosen.model.name == "steady, drift"
    assert chosen.counts(WEEKS[9:10] + 70)[0] == pytest.approx(1190)
    assert chosen.counts(WEEKS[9:10] + 70, 0.95)[0] > 1190.5
    assert chosen.doubt < 1e-6
    assert grow(Series(WEEKS[:10], np.full(10, 1000.0)))[0].doubt == 1
