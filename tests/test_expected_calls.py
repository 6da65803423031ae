"""Expected calls of contacts: who comes before whom, what is said of it, and what happens with too little to go by."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest
from heard_worlds import Invented, invented

from pruner.calls.alike import Traits
from pruner.calls.expected import (
    BLEND,
    BY_FREQUENCY,
    BY_MODELS,
    FEWEST_DAYS,
    FEWEST_RETURNED,
    NO_CALLS,
    Expected,
    expected_calls,
)
from pruner.calls.strangers import Strangers

LAST = 20_000
AUSTRIA, GERMANY = 14, 57
PERSON, REPEATER = 1, 2
Codes = list[int] | None


def store_rows(days: dict[int, list[int]], calls: int = 2) -> pl.DataFrame:
    """Rows of a store: id -> days before LAST on which it called."""
    pairs = [(number, back) for number, backs in days.items() for back in backs]
    return pl.DataFrame(
        {
            "id": pl.Series([number for number, _ in pairs], dtype=pl.UInt32),
            "talkgroup": pl.Series([91] * len(pairs), dtype=pl.UInt32),
            "day": pl.Series([date(1970, 1, 1) + timedelta(days=LAST - back) for _, back in pairs], dtype=pl.Date),
            "calls": pl.Series([calls] * len(pairs), dtype=pl.UInt32),
        }
    )


def expected(rows: pl.DataFrame, numbers: list[int], country: Codes = None, kind: Codes = None) -> Expected:
    traits = Traits(
        np.array(numbers, dtype=np.uint32),
        np.array(country or [AUSTRIA] * len(numbers), dtype=np.uint8),
        np.array(kind or [PERSON] * len(numbers), dtype=np.uint8),
    )
    return expected_calls(rows, Strangers(traits), last_day=LAST, period_days=28)


def crowd() -> dict[int, list[int]]:
    """Enough stations for the models: some call all the time, some fell silent, some are new."""
    draw = np.random.default_rng(5)
    steady = {number: sorted(draw.choice(140, draw.integers(2, 40), replace=False).tolist()) for number in range(1000, 1200)}
    silent = {number: (70 + draw.choice(70, 20, replace=False)).tolist() for number in range(2000, 2150)}
    fresh = {number: draw.choice(20, draw.integers(1, 8), replace=False).tolist() for number in range(3000, 3100)}
    return steady | silent | fresh


def test_too_little_is_counted_and_said() -> None:
    days = {1: [0], 2: [1], 3: [5, 6], 4: [30]}
    found = expected(store_rows(days), [1, 2, 3, 4, *range(9, 500)])
    assert found.method == BY_FREQUENCY
    assert str(FEWEST_RETURNED) in found.note
    assert not found.parameters
    assert np.argsort(-found.calls, kind="stable").tolist()[:5] == [2, 0, 1, 3, 4]
    assert 0 < found.calls[4] < found.calls[3]


@pytest.mark.parametrize(("stations", "days"), [(FEWEST_RETURNED - 1, FEWEST_DAYS), (FEWEST_RETURNED, FEWEST_DAYS - 1)])
def test_the_threshold_is_where_it_is_stated(stations: int, days: int) -> None:
    rows = store_rows({number: [0, days - 1] for number in range(1, stations + 1)})
    assert expected(rows, [1]).method == BY_FREQUENCY
    enough = store_rows({number: [0, FEWEST_DAYS - 1] for number in range(1, FEWEST_RETURNED + 1)})
    assert expected(enough, [1]).method == BY_MODELS


def test_without_a_call_nothing_is_expected() -> None:
    found = expected(store_rows({}), [1, 2])
    assert (found.method, found.calls.tolist()) == (NO_CALLS, [0.0, 0.0])
    assert expected(store_rows({1: [0]}), []).calls.tolist() == []


def test_days_after_the_last_one_are_not_looked_at() -> None:
    known = crowd()
    later = {number: [*backs, -3, -9] for number, backs in known.items()} | {7: [-1]}
    numbers = [1000, 2000, 3000, 7]
    assert expected(store_rows(later), numbers).calls.tolist() == expected(store_rows(known), numbers).calls.tolist()


def test_who_calls_lately_and_often_comes_before_who_fell_silent() -> None:
    still, fell_silent, once = 1, 2, 3
    days = crowd() | {still: list(range(0, 120, 6)), fell_silent: list(range(80, 120, 2)), once: [100]}
    found = expected(store_rows(days), [fell_silent, once, still, 9_999])
    assert found.method == BY_MODELS
    assert found.calls[2] > 20 * max(found.calls[0], found.calls[1])
    assert set(BLEND) <= set(found.parameters)


def test_more_calls_on_as_many_days_come_first() -> None:
    days = crowd()
    rows = pl.concat([store_rows(days), store_rows({1: [3, 9, 40]}, 2), store_rows({2: [3, 9, 40]}, 12)])
    found = expected(rows, [1, 2])
    assert found.calls[0] < found.calls[1] <= 6.001 * found.calls[0]


def test_a_silent_last_period_still_tells_stations_apart() -> None:
    days = {number: [back + 40 for back in backs] for number, backs in (crowd() | {1: [0, 5, 9], 2: [70]}).items()}
    found = expected(store_rows(days), [1, 2])
    assert found.method == BY_MODELS
    assert found.calls[0] > found.calls[1] >= 0


def test_equal_histories_are_equal() -> None:
    days = crowd() | {1: [3, 50, 90], 2: [3, 50, 90]}
    found = expected(store_rows(days), [1, 2, 8_001, 8_002])
    assert found.calls[0] == found.calls[1]
    assert found.calls[2] == found.calls[3]


def test_those_never_heard_by_country_and_kind() -> None:
    """Of a hundred Austrians twenty were newly heard in the last period, of a hundred Germans two, of repeaters nobody."""
    days = crowd()
    days |= {number: [3] for number in range(10_000, 10_020)} | {number: [3] for number in range(20_000, 20_002)}
    numbers = [*range(10_000, 10_100), *range(20_000, 20_100), *range(30_000, 30_100), 40_000]
    country = [AUSTRIA] * 100 + [GERMANY] * 100 + [AUSTRIA] * 100 + [99]
    kind = [PERSON] * 200 + [REPEATER] * 100 + [PERSON]
    calls = expected(store_rows(days), numbers, country, kind).calls
    austrian, german, repeater, other = calls[50], calls[150], calls[250], calls[300]
    assert austrian > other > german > repeater > 0


def test_who_has_a_new_id_comes_before_who_tried_his_long_ago() -> None:
    """Four countries give out four ids a day each; whoever gets one is heard within ten days, or never."""
    draw = np.random.default_rng(11)
    days, ids = crowd(), 4_800
    numbers = [2_320_000 + place * 10_000 + number for place in range(4) for number in range(ids)]
    age = np.tile(np.arange(ids)[::-1] // 4, 4)
    for number, since in zip(numbers, age.tolist(), strict=True):
        back = since - int(draw.integers(0, 10))
        if draw.random() < 0.4 and 0 <= back < 140:
            days[number] = [back]
    found = expected(store_rows(days), numbers, [number // 10_000 % 256 for number in numbers]).calls
    never = np.array([number not in days for number in numbers])
    newest, younger, old = (found[never & (age >= low) & (age < high)].mean() for low, high in ((0, 9), (19, 37), (600, 1_200)))
    assert newest > 2 * younger
    assert newest > 5 * old


def test_contacts_may_stand_in_any_order() -> None:
    days = crowd()
    numbers = [3000, 1000, 9_999, 2000]
    found = expected(store_rows(days), numbers).calls
    for place, number in enumerate(numbers):
        rest = sorted(numbers)
        assert expected(store_rows(days), rest).calls[rest.index(number)] == pytest.approx(found[place])


@pytest.fixture(scope="module", params=["steady", "churning"])
def world(request: pytest.FixtureRequest) -> Invented:
    return invented(request.param, 30_000, seed=7)


def test_as_many_calls_come_as_were_expected(world: Invented) -> None:
    """Calibration: in total, and of the first, second and further hundreds, as far as chance lets it."""
    first, last = world.days
    cut = last - 28
    day = pl.col("day").to_physical()
    found = expected_calls(world.rows.filter(day <= cut), world.strangers, last_day=cut, period_days=28)
    after = world.rows.filter(day > cut).group_by("id").agg(pl.col("calls").sum())
    came = np.zeros(1 << 24)
    came[after["id"].to_numpy()] = after["calls"].to_numpy()
    came = came[world.number]
    assert found.method == BY_MODELS
    assert found.calls.sum() == pytest.approx(came.sum(), rel=0.15)
    top = np.argsort(-found.calls, kind="stable")[:1000]
    for group in np.split(top, [100, 200, 500]):
        assert found.calls[group].sum() == pytest.approx(came[group].sum(), rel=0.3)
    assert last - first == 180


def test_twice_the_same(world: Invented) -> None:
    def once(rows: pl.DataFrame) -> list[float]:
        last = world.days[1]
        return expected_calls(rows, world.strangers, last_day=last, period_days=28).calls.tolist()

    assert once(world.rows) == once(world.rows.sample(fraction=1.0, shuffle=True, seed=1))
