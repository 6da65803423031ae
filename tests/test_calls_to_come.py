"""Calls to come: the arithmetic of a forecast, the memory of directories, and what a fit says of it."""

from __future__ import annotations

import math
import statistics
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest
import scipy
from hypothesis import given, settings
from hypothesis import strategies as st

from pruner.account.coverage import Ahead, Calendar, CallsToCome, Coverage, CoverageSummary, ShareToCome
from pruner.account.summary import Summary
from pruner.account.to_come_text import NO_FIGURE, calls_to_come, end_of_limits, why_no_share
from pruner.calls.forecast import (
    Latest,
    Shares,
    effective_stations,
    forecast,
    moved,
    variance_of_stations,
    variance_of_weeks,
)
from pruner.calls.newcomers import Heard, Newcomers, heard_days, heard_in, newcomers
from pruner.history.first_seen import EARLIER, forget_others, remember, stood_there
from pruner.job import run
from pruner.job.latest import came_in, kinds_to_come, system_logs
from pruner.job.load import load
from pruner.settings.load import load_settings

IDS = np.array([5, 7, 9], dtype=np.uint32)


def test_a_log_that_doubles_takes_off_its_factor() -> None:
    """With half the log 40 % of the calls are of newcomers, with all of it 20 %: once more half of that when it has doubled."""
    found = newcomers([Heard(total=1000, fresh=200, by_half=400, squares=5000, nowhere=50, stations=40)], 56, 112)
    assert found == Newcomers(pytest.approx(0.1), pytest.approx(0.005), pytest.approx(1 / 40**2), pytest.approx(0.05), 1)
    assert newcomers([Heard(1000, 200, 150, stations=9)], 56, 112).share == pytest.approx(0.2), "a share never grows"
    assert newcomers([Heard(1000, 0, 0, stations=9)], 28, 112).share == 0.0
    assert newcomers([Heard()], 28, 112) == Newcomers(0.0)


def test_shares_of_several_periods_are_averaged() -> None:
    """After 84 and 56 of 112 days, by hand; the factor is that of both periods together."""
    found = newcomers([Heard(1000, 100, 200, stations=9), Heard(500, 100, 200, stations=9)], 28, 112)
    assert found.share == pytest.approx((0.1 * 0.5 ** math.log2(112 / 84) + 0.2 * 0.5) / 2)
    assert found.periods == 2


@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 39), st.integers(1, 9)), max_size=60))
def test_newcomers_are_counted_as_by_hand(calls: list[tuple[int, int, int]]) -> None:
    """Against counting call by call; ids 1 to 3 are listed, 0 stands for callers without an id."""
    calls = sorted(calls, key=lambda one: one[1])
    rows = pl.DataFrame(
        {"id": [one[0] for one in calls], "day": [one[1] for one in calls], "calls": [one[2] for one in calls]},
        schema={"id": pl.UInt32, "day": pl.Int32, "calls": pl.UInt32},
    ).with_columns(pl.col("day").cast(pl.Date))
    begin, end = 20, 29
    log = heard_days(rows, 0)
    found = heard_in(log, np.isin(log.ids, [1, 2, 3]), begin, end)
    expected = dict.fromkeys(("total", "fresh", "by_half", "squares", "nowhere"), 0.0)
    callers = {one for one, day, _ in calls if begin <= day <= end}
    for id in range(7):
        days = [day for one, day, _ in calls if one == id]
        made = sum(count for one, day, count in calls if one == id and begin <= day <= end)
        is_fresh = id > 0 and not any(day < begin for day in days)
        expected["total"] += made
        expected["fresh"] += made * is_fresh
        expected["by_half"] += made * (id > 0 and not any(10 <= day < begin for day in days))
        expected["squares"] += made**2 * is_fresh
        expected["nowhere"] += made * (id not in {1, 2, 3} and not is_fresh)
    assert found == Heard(**expected, stations=len(callers))


def latest(share: float, of_heard: float = 0.0, of_weeks: float = 0.0) -> Latest:
    """A period in which all came as it was expected."""
    shares = Shares(share, share)
    return Latest(shares, shares, Shares(100, 100), of_heard, of_weeks)


def test_the_interval_is_that_of_students_t() -> None:
    """The half width is t(0.975; 30) standard errors (scipy.stats as the source)."""
    found = forecast(Newcomers(0.0), Shares(0.5, 0.0), latest(0.5, of_heard=0.0004, of_weeks=0.0001))
    half = scipy.stats.t.ppf(0.975, 30) * math.sqrt(0.8 * 0.0004 + 0.3 * 0.0001)
    assert (found.share, found.low, found.high) == pytest.approx((0.5, 0.5 - half, 0.5 + half))
    assert forecast(Newcomers(0.0), Shares(0.99, 0.0), latest(0.99, 0.01)).high == 1.0


def test_changes_of_the_share_of_newcomers_beyond_chance_widen_the_interval() -> None:
    """The variance of Python's statistics module as the reference."""
    few = [Heard(total=1000.0, fresh=fresh, by_half=fresh, squares=400.0, stations=100) for fresh in (300.0, 200.0, 100.0)]
    found = newcomers(few, 28, 28 * 400)
    assert found.changes == pytest.approx(statistics.variance([0.3, 0.2, 0.1]) - 400 / 1000**2, rel=0.01)
    assert newcomers([few[1]] * 3, 28, 28 * 400).changes == newcomers(few[:1], 28, 28 * 400).changes == 0.0

    def width(changes: float, strangers: float) -> float:
        kinds = Newcomers(0.2, squares=0.0001, periods=3, changes=changes)
        found = forecast(kinds, Shares(0.9, strangers), latest(0.9))
        return found.high - found.low

    assert width(0.002, 0.4) > 1.5 * width(0.0, 0.4)
    assert width(0.002, 0.9) == pytest.approx(width(0.0, 0.9))


def test_where_no_stranger_came_one_may() -> None:
    """Fifty stations, all of them named: one more that calls alike and has no name would take a fiftieth."""
    kinds = newcomers([Heard(1000, stations=50)], 28, 112)
    found = forecast(kinds, Shares(1.0, 1.0), latest(1.0))
    assert found.share == 1.0
    assert found.low == pytest.approx(1 - scipy.stats.t.ppf(0.975, 30) * math.sqrt(0.8 * 2) / 50)


def test_each_kind_of_caller_has_its_part() -> None:
    """60 % of stations heard before, 30 % of strangers, 10 % in no directory; by hand."""
    found = forecast(Newcomers(0.3, nowhere=0.1), Shares(0.9, 0.4), latest(0.5))
    assert found.share == pytest.approx(0.6 * 0.9 + 0.3 * 0.4)
    assert found.strangers == 0.4


def test_what_came_counts_the_more_the_more_stations_it_rests_on() -> None:
    """Two hundred stations that call alike count as much as the models."""
    assert moved(0.5, 0.4, 0.6, 0) == 0.5
    assert moved(0.5, 0.4, 0.6, 200) == pytest.approx(0.6)
    assert moved(0.5, 0.4, 0.6, 1e9) == pytest.approx(0.7)
    assert moved(0.9, 0.1, 0.9, 1e9) == 1.0
    assert effective_stations(np.full(7, 3.0)) == pytest.approx(7)
    assert effective_stations(np.array([10.0, 1.0])) == pytest.approx(121 / 101)
    assert effective_stations(np.zeros(0)) == 0.0


def test_the_variance_of_strangers_against_draws() -> None:
    """Newcomers arrive at random and bring gamma distributed calls; those heard before have names and call as ever. The mean of
    as many periods as are looked at errs besides (1 + 1 / periods)."""
    random = np.random.default_rng(4)
    others, of_strangers = 2000.0, 0.6
    count = random.poisson(40, 4000)
    calls = [random.gamma(0.5, 20, one) for one in count]
    fresh = np.array([one.sum() for one in calls])
    named = np.array([(one * (random.random(len(one)) < of_strangers)).sum() for one in calls])
    shares = (others + named) / (others + fresh)
    squares = np.mean([(one**2).sum() for one in calls] / (others + fresh) ** 2)
    share = float((fresh / (others + fresh)).mean())
    found = forecast(Newcomers(share, float(squares), periods=1), Shares(1.0, of_strangers), latest(1.0))
    expected = scipy.stats.t.ppf(0.975, 30) * math.sqrt(0.8 * 2 * shares.var())
    assert found.share == pytest.approx(shares.mean(), abs=0.005)
    assert found.share - found.low == pytest.approx(expected, rel=0.1)


def test_variances_against_draws() -> None:
    """Bootstrap over stations, and over weeks, within a tenth of the formulas."""
    random = np.random.default_rng(3)
    calls, named = random.gamma(0.5, 20, 400), random.random(400) < 0.7
    drawn = random.integers(0, 400, (4000, 400))
    shares = (calls[drawn] * named[drawn]).sum(axis=1) / calls[drawn].sum(axis=1)
    total, share = calls.sum(), calls[named].sum() / calls.sum()
    squares = (calls[named] ** 2).sum(), (calls[~named] ** 2).sum()
    assert variance_of_stations(*squares, total, share) == pytest.approx(shares.var(), rel=0.1)
    totals = random.uniform(80, 120, 30)
    some = totals * random.uniform(0.6, 0.9, 30)
    drawn = random.integers(0, 30, (4000, 30))
    shares = some[drawn].sum(axis=1) / totals[drawn].sum(axis=1)
    assert variance_of_weeks(totals, some) == pytest.approx(shares.var(), rel=0.15)


def test_ids_are_remembered_with_the_day_on_which_they_first_stood_there(tmp_path: Path) -> None:
    remember(tmp_path, "world", IDS[:2], 100)
    remember(tmp_path, "world", IDS, 107)
    before = (tmp_path / "world.parquet").stat()
    for day in (107, 108):
        remember(tmp_path, "world", IDS, day)
        after = (tmp_path / "world.parquet").stat()
        assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)  # the same ids: it is not even written
    assert pl.read_parquet(tmp_path / "world.parquet")["day"].to_list() == [EARLIER, EARLIER, 107]
    assert pl.read_parquet(tmp_path / "world.parquet").columns == ["id", "day"]
    assert stood_there(tmp_path, "world", IDS, 99) is None
    for day, expected in ((100, [True, True, False]), (106, [True, True, False]), (107, [True, True, True])):
        stood = stood_there(tmp_path, "world", IDS, day)
        assert stood is not None
        assert stood.tolist() == expected


def test_callers_in_no_directory_are_one_station_for_each_call_sign(tmp_path: Path) -> None:
    """Four call signs that no directory has call once a day in the last four weeks, beside one of the directory."""
    path = settings_of(tmp_path, 70)
    with (tmp_path / "l.csv").open("a") as log:
        for day in range(42, 70):
            when = date(2024, 1, 1) + timedelta(days=day)
            log.writelines(f",232,{when}T11:00:{at:02}Z,{sign}\n" for at, sign in enumerate(("XX1A", "XX2A", "XX3A", "XX4A")))
            log.write(f",232,{when}T12:00:00Z,OE1A01\n")
    text = (tmp_path / "l.csv").read_text().splitlines()
    lines = [line if line.count(",") == 3 else f"{line}," for line in text[1:]]
    (tmp_path / "l.csv").write_text("\n".join([f"{text[0]},callsign", *lines]) + "\n")
    run(load_settings(path))
    loaded = load(load_settings(path))
    logs = system_logs(loaded, (232,), 28)
    came = came_in(logs, len(loaded.contacts), 28)
    assert came.unknown.tolist() == [28.0] * 4
    assert not came.unknown_fresh.any()
    assert came.total == came.amount.sum()
    assert came.calls.sum() == came.total - 4 * 28
    kinds = kinds_to_come(logs, 28, 70)
    assert kinds.nowhere == pytest.approx(4 * 28 / came.total)
    assert kinds.share == 0.0


def test_who_leaves_a_source_is_forgotten_and_so_is_a_source(tmp_path: Path) -> None:
    remember(tmp_path, "world", IDS, 100)
    remember(tmp_path, "world", IDS[1:], 101)
    assert pl.read_parquet(tmp_path / "world.parquet")["id"].to_list() == [7, 9]
    forget_others(tmp_path, {"club"})
    assert list(tmp_path.iterdir()) == []


def settings_of(folder: Path, days: int, *, newcomers: int = 0) -> Path:
    """400 stations of Austria, of whom 200 call every second or third day on talkgroup 232."""
    ids = [2_320_001 + number for number in range(400 + newcomers)]
    (folder / "s.csv").write_text("id,callsign,name\n" + "".join(f"{one},OE{one % 10}A{one % 26:02},N\n" for one in ids))
    start = date(2024, 1, 1)
    lines = [
        f"{ids[station]},232,{start + timedelta(days=day)}T10:00:{station % 60:02}Z\n"
        for day in range(days)
        for station in range(200)
        if (day + station // 2) % (2 + station % 2) == 0
    ]
    (folder / "l.csv").write_text("id,talkgroup,time\n" + "".join(lines))
    path = folder / "p.toml"
    path.write_text(
        '[[source]]\nname = "w"\nlocation = "s.csv"\n[[heard]]\nlocation = "l.csv"\n[talkgroups]\nmine = [232]\n'
        'countries = false\n[[radio]]\nname = "r"\ncontacts = 100\n'
    )
    return path


def told(folder: Path) -> CallsToCome:
    coverage = Summary.load(folder / "out" / "r").coverage
    assert coverage is not None
    assert coverage.to_come is not None
    return coverage.to_come


def test_why_larger_limits_name_as_many_is_said() -> None:
    ends = [ShareToCome(contacts=limit, share=0.5, low=0.4, high=0.6) for limit in (100, 360)]
    told = CallsToCome(period_days=28, confidence=0.95, talkgroups="mine", by_limit=tuple(ends))
    assert end_of_limits(told, 360) == ""
    assert "known up to 360 contacts" in end_of_limits(told, 361)
    assert "ask for so many" in end_of_limits(told, 500)
    assert end_of_limits(told.model_copy(update={"by_limit": ()}), 500) == ""
    unknown = (*ends[:1], ShareToCome(contacts=360, share=None, low=None, high=None))
    assert end_of_limits(told.model_copy(update={"by_limit": unknown}), 500) == "", "where nothing is known nothing ends"
    nobody = (ShareToCome(contacts=0, share=0.0, low=0.0, high=0.0),)
    assert end_of_limits(told.model_copy(update={"by_limit": nobody}), 500) == ""


def test_why_limits_have_no_figure_is_said_of_those_that_are_shown() -> None:
    """The reason of the radio's own limit is none for others; that the log is too short is one for all."""
    wide, known = Ahead(), Ahead(share=0.5, low=0.4, high=0.6)
    limits = (ShareToCome(contacts=100, share=0.5, low=0.4, high=0.6),)
    told = CallsToCome(period_days=28, confidence=0.95, talkgroups="mine", why="of its own", by_limit=limits)
    assert why_no_share(told, [known]) is None
    assert why_no_share(told, [known, wide]) == NO_FIGURE
    assert why_no_share(told.model_copy(update={"why": None}), [wide]) == NO_FIGURE
    assert why_no_share(told.model_copy(update={"by_limit": ()}), [wide]) == "of its own"
    bound = told.model_copy(update={"low": 0.3, "why": "a lower bound"})
    assert why_no_share(bound, [Ahead(low=0.3)]) == "a lower bound"


def test_under_eight_weeks_of_log_there_is_no_figure_and_the_reason_is_told(tmp_path: Path) -> None:
    run(load_settings(settings_of(tmp_path, 55)))
    found = told(tmp_path)
    assert (found.share, found.low, found.high) == (None, None, None)
    assert "55 days" in str(found.why)
    assert "no figure" in calls_to_come(found)[0]


def test_a_lower_bound_until_the_directory_of_then_is_known_then_an_interval(tmp_path: Path) -> None:
    """The first run knows nothing of the directory four weeks ago; a run recorded by then makes it an interval."""
    path = settings_of(tmp_path, 70)
    run(load_settings(path))
    first = told(tmp_path)
    assert first.share is None
    assert isinstance(first.low, float)
    assert "lower bound" in str(first.why)
    assert "once the log goes on for 28 days more" in str(first.why)
    whole = {one.name: one.read_bytes() for one in (tmp_path / "out" / "r").iterdir()}
    run(load_settings(path))
    assert {one.name: one.read_bytes() for one in (tmp_path / "out" / "r").iterdir()} == whole
    run(load_settings(settings_of(tmp_path, 70 + 7)))
    assert "once the log goes on for 21 days more" in str(told(tmp_path).why)
    run(load_settings(settings_of(tmp_path, 70 + 27)))
    assert "once the log goes on for 1 day more" in str(told(tmp_path).why)
    run(load_settings(settings_of(tmp_path, 70 + 28)))
    later = told(tmp_path)
    assert later.interval is not None
    share, low, high = later.interval
    assert low <= share <= high
    assert low > 0.4  # the first hundred of two hundred who all call alike bear about half of the calls
    assert "% interval" in calls_to_come(later)[0]


def test_rules_that_keep_nobody_name_nothing_at_any_limit(tmp_path: Path) -> None:
    path = settings_of(tmp_path, 70)
    path.write_text(path.read_text() + '[[keep]]\nname = "none"\ncallsigns = ["ZZ9*"]\n')
    run(load_settings(path))
    found = told(tmp_path)
    assert found.low == 0.0
    assert [one.contacts for one in found.by_limit] == [0]
    assert found.at(1000).low == 0.0


def test_headline_and_limits_of_a_first_run_are_one_number(tmp_path: Path) -> None:
    """A radio that holds everybody; many of the 400 did not certainly stand there, and home rules take few callers."""
    path = settings_of(tmp_path, 70)
    path.write_text(path.read_text().replace("contacts = 100", "contacts = 1000"))
    run(load_settings(path))
    found = told(tmp_path)
    assert found.low is not None
    assert found.low == found.at(1000).low == found.by_limit[-1].low


def test_a_bound_of_a_small_share_lies_above_nought() -> None:
    """Log odds (scipy.special as the source); at one half they are the plain end to the second order."""

    def bound(share: float) -> float:
        return forecast(Newcomers(0.0), Shares(share, 0.0), latest(share, of_heard=0.002), is_bound=True).low

    half = scipy.stats.t.ppf(0.995, 30) * math.sqrt(0.8 * 0.002)
    assert bound(0.5) == pytest.approx(0.5 - half)
    assert bound(0.08) == pytest.approx(scipy.special.expit(scipy.special.logit(0.08) - half / (0.08 * 0.92)))
    assert 0.01 < bound(0.08) < 0.08
    assert bound(0.4999) == pytest.approx(bound(0.5), abs=0.004)


def test_an_interval_of_a_small_share_is_no_wider_than_that_of_a_large_one() -> None:
    """A share of a hundredth has a figure wherever one of a half has one."""
    small, large = (forecast(Newcomers(0.0), Shares(share, 0.0), latest(share, of_heard=0.0006)) for share in (0.01, 0.5))
    assert small.low == 0.0
    assert small.high - 0.01 == pytest.approx(large.high - 0.5)


def test_of_several_systems_each_note_says_of_which_it_is() -> None:
    """Two logs that cover other days would contradict each other."""
    days = {
        system: Calendar(first_day="2026-01-05", last_day=last, covered_days=60, notes=(f"The logs end on {last}.",))
        for system, last in (("dmr", "2026-05-04"), ("p25", "2026-04-29"))
    }
    coverage = CoverageSummary(window_days=90, all=Coverage(calls=0, named=0, in_directory=0), calendar=days)
    assert coverage.day_notes == ["dmr: The logs end on 2026-05-04.", "p25: The logs end on 2026-04-29."]
    assert coverage.model_copy(update={"calendar": {"dmr": days["dmr"]}}).day_notes == ["The logs end on 2026-05-04."]
