"""The invented history of the demo carries a forecast, and remembers whom the directory had."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from pruner.demo import calls
from pruner.demo.history import LAST_DAY, WEEKS, write_first_seen, write_history
from pruner.history.first_seen import stood_there
from pruner.history.forecast import Limit, forecast
from pruner.history.runs import read
from pruner.history.series import recorded
from pruner.words.days import date_of


def test_it_grows_to_the_size_of_the_demo_and_is_the_same_every_time(tmp_path: Path) -> None:
    for stations in (1000, 318_000):
        path = write_history(tmp_path, stations, "loan-handheld", 200_000, "world", 7)
        first = path.read_bytes()
        assert write_history(tmp_path, stations, "loan-handheld", 200_000, "world", 7).read_bytes() == first
        series, aside = recorded(read(tmp_path).runs)
        assert (len(series), aside, series.count[-1], date_of(int(series.day[-1]))) == (WEEKS, 0, stations, LAST_DAY)
        assert (series.count[1:] >= series.count[:-1]).all()
        found = forecast(series, [Limit("x", stations * 5 // 4)])
        assert found.growth
        assert found.outlooks[0].latest is not None


def test_weekly_runs_saw_ids_enter_in_their_order(tmp_path: Path) -> None:
    """One country, whose ids were given out evenly: each week the same number enters, the latest last."""
    ids = np.arange(2_320_001, 2_323_001)
    first = write_first_seen(tmp_path, "world", ids).read_bytes()
    assert write_first_seen(tmp_path, "world", ids).read_bytes() == first
    numbers = ids.astype(np.uint32)
    entered = []
    for week in range(1, calls.DAYS // 7 + 1):
        there = stood_there(tmp_path, "world", numbers, calls.FIRST_DAY + 7 * week - 1)
        assert there is not None
        assert (np.diff(there.astype(np.int8)) <= 0).all()
        entered.append(int(there.sum()))
    steps = np.diff(entered)
    assert set(steps.tolist()) == {5}
    assert entered[-1] < len(ids)
    assert stood_there(tmp_path, "world", numbers, calls.FIRST_DAY) is None
