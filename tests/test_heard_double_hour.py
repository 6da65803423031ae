"""The hour that clocks tell twice. Changes of Vienna and Lord Howe (half an hour) as the tz database has them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pytest
from heard_weights import weights_in

from pruner.logs.double_hour import double_hours, in_double_hour, seconds_later
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC).timestamp()
#: Every twelve minutes around the end of summer time in Vienna, 2026-10-25 01:00 UTC.
FIRST = int(datetime(2026, 10, 24, 23, 0, 7, tzinfo=UTC).timestamp())
MOMENTS = [FIRST + 720 * step for step in range(18)]


def local(moment: int) -> str:
    return datetime.fromtimestamp(moment, ZoneInfo("Europe/Vienna")).strftime("%Y-%m-%d %H:%M:%S")


def lines(moments: list[int]) -> str:
    return "time,id,talkgroup,seconds\n" + "".join(f"{local(moment)},{2320001 + moment % 7},91,5\n" for moment in moments)


def starts(state: Path) -> list[int]:
    weights = weights_in(state)
    found = []
    for day in weights.days:
        calls = weights.counted.calls_of_day(day)
        assert calls is not None
        found += calls.start.tolist()
    return sorted(found)


def test_where_hours_are_doubled() -> None:
    year = (int(datetime(2026, 1, 1, tzinfo=UTC).timestamp()), int(datetime(2026, 12, 31, tzinfo=UTC).timestamp()))
    vienna = int(datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp())
    assert double_hours("Europe/Vienna", *year) == [(vienna, 3600)]
    assert double_hours("Australia/Lord_Howe", *year) == [(int(datetime(2026, 4, 4, 15, tzinfo=UTC).timestamp()), 1800)]
    assert double_hours("UTC", *year) == []


@pytest.mark.parametrize("order", ["oldest first", "newest first"])
@pytest.mark.parametrize("folds", [1, 2, 3])
def test_the_order_of_a_sorted_log_decides(tmp_path: Path, order: str, folds: int) -> None:
    """However often the log was folded while it grew."""
    log, state = tmp_path / "log.csv", tmp_path / "state"
    for fold in range(1, folds + 1):
        known = MOMENTS[: len(MOMENTS) * fold // folds]
        log.write_text(lines(known if order == "oldest first" else known[::-1]))
        account = fold_logs(state, [LogFiles([log], zone="Europe/Vienna")], now=NOW).total
        account.check()
    assert starts(state) == MOMENTS


def test_without_a_jump_the_first_hour_is_meant() -> None:
    end = int(datetime(2026, 10, 25, 1, tzinfo=UTC).timestamp())
    for start in ([10, 20, 30], [10, 2000, 100, 3000, 50], [30, 20, 10]):
        rows = np.array(start, dtype=np.int64) + end - 3600
        is_ascending = start != [30, 20, 10]
        assert seconds_later(rows, "Europe/Vienna", is_ascending=is_ascending).tolist() == [0] * len(start)


def test_a_time_that_names_its_zone_is_never_moved() -> None:
    texts = ["2026-10-25 02:30:00", "2026-10-25T00:30:00Z", "2026-10-25 02:30:00+02:00", "2026-10-25 02:30 CEST", "02:30 PM"]
    rows = np.full(len(texts), int(datetime(2026, 10, 25, 0, 30, tzinfo=UTC).timestamp()))
    found = in_double_hour(pa.array(texts), rows, "Europe/Vienna")
    assert found is not None
    assert found.tolist() == [True, False, False, False, True]
    assert in_double_hour(pa.array(texts), rows, "UTC") is None
    assert in_double_hour(pa.array([1, 2, 3, 4, 5]), rows, "Europe/Vienna") is None
