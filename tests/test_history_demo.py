"""The invented history of the demo carries a forecast."""

from __future__ import annotations

from pathlib import Path

from pruner.demo.history import LAST_DAY, WEEKS, write_history
from pruner.history.forecast import Limit, forecast
from pruner.history.record import read
from pruner.history.series import date_of, recorded


def test_it_grows_to_the_size_of_the_demo_and_is_the_same_every_time(tmp_path: Path) -> None:
    for stations in (1000, 318_000):
        path = write_history(tmp_path, stations, "loan-handheld", 200_000, "world", 7)
        first = path.read_bytes()
        assert write_history(tmp_path, stations, "loan-handheld", 200_000, "world", 7).read_bytes() == first
        series, aside = recorded(read(tmp_path))
        assert (len(series), aside, series.count[-1], date_of(int(series.day[-1]))) == (WEEKS, 0, stations, LAST_DAY)
        assert (series.count[1:] >= series.count[:-1]).all()
        found = forecast(series, [Limit("x", stations * 5 // 4)])
        assert found.growth
        assert found.outlooks[0].latest is not None
