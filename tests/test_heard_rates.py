"""Rates in nested cells: the arithmetic by hand, and which partitions are chosen."""

from __future__ import annotations

import numpy as np
import pytest

from pruner.calls.rates import PRIOR_EVENTS, Counts, chosen_partitions, fit_rates


def test_a_cell_is_drawn_to_the_coarser_one_as_gamma_poisson() -> None:
    """Gamma prior of shape 2 around the rate of all (10 of 100); a cell with 8 events of 20 has (8 + 2) / (20 + 2 / 0.1)."""
    cell = np.repeat([0, 1], [20, 80])
    events = np.zeros(100)
    events[:8] = events[20:22] = 1.0
    counts = Counts(events, np.ones(100), {"cell": cell})
    rates = fit_rates(counts, ["cell"], {"cell": 2}).of({"cell": np.array([0, 1])})
    assert PRIOR_EVENTS == 2.0
    assert rates.tolist() == pytest.approx([(8 + 2) / (20 + 20), (2 + 2) / (80 + 20)])


def test_a_partition_that_forecasts_is_chosen_and_chance_is_not() -> None:
    random = np.random.default_rng(8)
    cells = {"chance": random.integers(0, 200, 20_000), "true": random.integers(0, 4, 20_000)}
    rate = np.array([0.002, 0.01, 0.05, 0.1])[cells["true"]]
    known, later = (Counts((random.random(20_000) < rate) * 1.0, np.ones(20_000), cells) for _ in range(2))
    assert chosen_partitions(known, later, {"chance": 200, "true": 4}) == ["true"]
