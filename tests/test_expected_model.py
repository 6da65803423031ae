"""BG/NBD: the paper's own estimates, an independent integration, a simulation, and what theory says."""

from __future__ import annotations

import csv
import importlib.util
from pathlib import Path

import numpy as np
import pytest
import scipy
from draws import draws
from hypothesis import given
from hypothesis import strategies as st

from pruner.calls.buy_till_you_die import (
    BgNbd,
    Floats,
    Histories,
    bg_nbd_log_likelihood,
    collapse,
    expected_events,
    fit_bg_nbd,
    probability_active,
)

PAPER = BgNbd(r=0.243, alpha=4.414, a=0.793, b=2.426)


def cdnow(name: str) -> dict[str, Floats]:
    """The CDNOW sample of the papers, as the registry package `lifetimes` (MIT) carries it; read, never imported."""
    package = importlib.util.find_spec("lifetimes")
    if package is None or package.origin is None:
        pytest.skip("the registry package lifetimes==0.11.3, which carries the CDNOW sample, is not installed")
    with (Path(package.origin).parent / "datasets" / name).open(newline="") as file:
        records = list(csv.DictReader(file))
    return {heading: np.array([float(record[heading]) for record in records]) for heading in records[0]}


def one(*values: float) -> list[Floats]:
    return [np.array([value], dtype=np.float64) for value in values]


@pytest.fixture(scope="module")
def sample() -> Histories:
    table = cdnow("cdnow_customers_summary.csv")
    return Histories(table["frequency"], table["recency"], table["T"], np.ones(len(table["T"])))


def test_estimates_are_those_of_the_paper(sample: Histories) -> None:
    """Fader, Hardie, Lee, Marketing Science 24(2), 2005, table 2: 2,357 buyers, time in weeks."""
    assert len(sample.age) == 2357
    model = fit_bg_nbd(sample)
    assert [round(one, 3) for one in (model.r, model.alpha, model.a, model.b)] == [0.243, 4.414, 0.793, 2.426]
    assert round(model.log_likelihood, 1) == -9582.4


def test_estimates_of_the_modified_model_are_the_published_ones(sample: Histories) -> None:
    """MBG/NBD on the same sample: r = 0.525, alpha = 6.183, a = 0.891, b = 1.614 (from memory)."""
    model = fit_bg_nbd(sample, at_once=True)
    assert [round(one, 3) for one in (model.r, model.alpha, model.a, model.b)] == [0.525, 6.183, 0.891, 1.614]


def test_expectation_is_that_of_the_papers_example(sample: Histories) -> None:
    """The authors' spreadsheet for the same paper: two repeat purchases, the last in week 30.43 of 38.86; the next
    39 weeks bring 1.226 (from memory)."""
    assert expected_events(fit_bg_nbd(sample), *one(2, 30.43, 38.86), 39.0)[0] == pytest.approx(1.226, abs=5e-4)


def test_collapsing_equal_histories_changes_nothing(sample: Histories) -> None:
    columns = [np.round(column * 100).astype(np.int64) for column in (sample.repeats, sample.recency, sample.age)]
    (repeats, recency, age), inverse, count = collapse(*columns)
    assert len(count) < 2357
    assert count.sum() == 2357
    for column, distinct in zip(columns, (repeats, recency, age), strict=True):
        assert (distinct[inverse] == column).all()
    collapsed = Histories(repeats / 100, recency / 100, age / 100, count)
    assert bg_nbd_log_likelihood(PAPER, collapsed) == pytest.approx(bg_nbd_log_likelihood(PAPER, sample), rel=1e-12)


def integrated(model: BgNbd, repeats: float, recency: float, age: float, duration: float) -> float:
    """Numerator and denominator of the expectation as integrals over the probability of silence.

    Given the rate and that probability p, an active station brings (1 - exp(-rate p t)) / p events in t; the rate is
    integrated out by the transform of the gamma distribution. Nothing of the closed form is used.
    """

    def brings(p: float) -> float:
        later = (model.alpha + age) / (model.alpha + age + p * duration)
        return float((1 - later ** (model.r + repeats)) / p)

    chances = repeats + model.at_once  # to fall silent, not taken
    active = scipy.stats.beta(model.a, model.b + chances)
    mean = scipy.integrate.quad(lambda share: brings(float(active.ppf(share))), 0, 1, epsabs=1e-9, epsrel=1e-9, limit=500)[0]
    prior = scipy.stats.beta(model.a, model.b)
    still = scipy.integrate.quad(lambda u: (1 - float(prior.ppf(u))) ** chances, 0, 1, limit=500)[0]
    silent = 0.0
    if chances:
        by_last = scipy.integrate.quad(
            lambda u: float(prior.ppf(u)) * (1 - float(prior.ppf(u))) ** (chances - 1), 0, 1, limit=500
        )[0]
        silent = by_last * ((model.alpha + age) / (model.alpha + recency)) ** (model.r + repeats)
    return float(mean * still / (still + silent))


@pytest.mark.parametrize(
    ("model", "repeats", "recency", "age", "duration"),
    [
        (PAPER, 2, 30.43, 38.86, 39.0),
        (PAPER, 0, 0.0, 12.0, 4.0),
        (BgNbd(0.5, 10.0, 1.0, 3.0), 3, 20.0, 60.0, 28.0),  # the gap at a = 1
        (BgNbd(0.5, 10.0, 1.4, 3.0), 7, 88.0, 90.0, 28.0),
        (BgNbd(0.3, 5.0, 0.4, 0.6), 0, 0.0, 30.0, 28.0),  # the gap at a + b + x = 1
        (BgNbd(2.0, 40.0, 0.9, 9.0), 40, 100.0, 160.0, 7.0),
        *((BgNbd(0.5, 1.0, 0.5, 2.0), repeats, 0.9, 1.0, 13.0) for repeats in (20, 60, 98, 102, 150)),  # where scipy gives up
        (BgNbd(0.5, 6.2, 0.9, 1.6, at_once=True), 0, 0.0, 30.0, 28.0),
        (BgNbd(0.5, 6.2, 1.0, 1.6, at_once=True), 5, 20.0, 30.0, 28.0),
    ],
)
def test_same_as_numerical_integration(model: BgNbd, repeats: float, recency: float, age: float, duration: float) -> None:
    found = expected_events(model, *one(repeats, recency, age), duration)[0]
    assert found == pytest.approx(integrated(model, repeats, recency, age, duration), rel=1e-4)


def simulated(model: BgNbd, stations: int, until: float, seed: int) -> list[Floats]:
    """Times of events per station, drawn as the paper's assumptions say (first event at time 0)."""
    draw = np.random.default_rng(seed)
    rates = draw.gamma(model.r, 1 / model.alpha, stations)
    silence = draw.beta(model.a, model.b, stations)
    times = []
    for rate, probability in zip(rates, silence, strict=True):
        last = draw.geometric(max(probability, 1e-6))
        events = np.cumsum(draw.exponential(1 / max(rate, 1e-9), min(last, 400)))
        times.append(events[events <= until])
    return times


def test_recovers_what_was_simulated_and_forecasts_it() -> None:
    model, now, later = BgNbd(0.8, 12.0, 0.7, 3.0), 90.0, 28.0
    times = simulated(model, 12_000, now + later, seed=7)
    repeats = np.array([float((events <= now).sum()) for events in times])
    recency = np.array([events[events <= now][-1] if (events <= now).any() else 0.0 for events in times])
    age = np.full(len(times), now)
    fitted = fit_bg_nbd(Histories(repeats, recency, age, np.ones(len(times))))
    assert (fitted.r, fitted.alpha) == pytest.approx((0.8, 12.0), rel=0.1)
    assert fitted.a / (fitted.a + fitted.b) == pytest.approx(0.7 / 3.7, rel=0.1)
    came = np.array([len(events) for events in times]) - repeats
    expected = expected_events(fitted, repeats, recency, age, later)
    assert expected.sum() == pytest.approx(came.sum(), rel=0.05)
    for low, high in ((0, 0), (1, 2), (3, 6), (7, 400)):
        group = (repeats >= low) & (repeats <= high)
        assert expected[group].mean() == pytest.approx(came[group].mean(), rel=0.12)


parameters = st.builds(
    BgNbd,
    r=st.floats(0.02, 5),
    alpha=st.floats(0.2, 200),
    a=st.floats(0.02, 20),
    b=st.floats(0.05, 200),
    at_once=st.booleans(),
)


@draws(150)
@given(parameters, st.integers(0, 300), st.floats(0, 1), st.floats(1, 700), st.floats(1, 90))
def test_what_theory_says(model: BgNbd, repeats: int, share: float, age: float, duration: float) -> None:
    """Finite; no more than without silence (NBD); more in a longer time; more the later the last event was."""
    recency = age * share if repeats else 0.0
    expected = float(expected_events(model, *one(repeats, recency, age), duration)[0])
    without_silence = (model.r + repeats) * duration / (model.alpha + age)
    assert 0 <= expected <= without_silence * (1 + 1e-4)
    assert 0 <= probability_active(model, *one(repeats, recency, age))[0] <= 1
    longer = float(expected_events(model, *one(repeats, recency, age), duration * 1.5)[0])
    assert longer >= expected * (1 - 1e-6)
    if repeats:
        later = float(expected_events(model, *one(repeats, (recency + age) / 2, age), duration)[0])
        assert later >= expected * (1 - 1e-9)
    else:
        assert float(expected_events(model, *one(0, 0, age + 10), duration)[0]) <= expected * (1 + 1e-6)
        assert (probability_active(model, *one(0, 0, age))[0] < 1) == model.at_once
