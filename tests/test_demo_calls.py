"""The demo's heard logs: same bytes for the same seed, dirt as counted, worlds that differ as they say."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pytest

from pruner.demo import people
from pruner.demo.callers import SILENT, Overs
from pruner.demo.calls import (
    AHEAD,
    AHEAD_DAYS,
    AHEAD_ONE_OF,
    DAYS,
    FIRST_DAY,
    HEADINGS,
    calls_files,
    file_names,
    invented_calls,
    planted_calls,
    write_calls,
)
from pruner.demo.conversations import CONTESTS, WORLD_WIDE
from pruner.demo.draws import Draws
from pruner.demo.persons import Persons, country_code, make_persons
from pruner.demo.stations import Stations, make_stations
from pruner.demo.world import COUNTRIES

SEED = 5
DAY = 86_400


@pytest.fixture(scope="module")
def stations() -> Stations:
    return make_stations(Draws(SEED), 20_000)


@pytest.fixture(scope="module")
def few() -> Stations:
    return make_stations(Draws(SEED), 1_000)


@pytest.fixture(scope="module")
def steady(stations: Stations) -> Overs:
    return invented_calls(stations, seed=SEED, world="steady")


@pytest.fixture(scope="module")
def churning(stations: Stations) -> Overs:
    return invented_calls(stations, seed=SEED, world="churning")


@pytest.fixture(scope="module")
def varied(stations: Stations) -> Overs:
    return invented_calls(stations, seed=SEED)


@pytest.fixture(scope="module")
def persons(stations: Stations) -> Persons:
    """Who calls in `varied`."""
    return make_persons(Draws(SEED), stations, DAYS, "varied")


def records(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode(), newline="")))


def test_dirt_is_as_counted(stations: Stations) -> None:
    files = calls_files(stations, seed=SEED)
    assert list(files) == file_names() == [f"calls-2026-{month:02}.csv" for month in range(2, 8)]
    known = set(stations.ids.tolist())
    found: Counter[str] = Counter()
    for name, content in files.items():
        heading, *rows = records(content)
        assert tuple(heading) == HEADINGS
        for row in rows:
            found["rows"] += 1
            if len(row) != 4:
                found["too few cells"] += 1
            elif not row[1].isdigit():
                found["id with letters"] += 1
            elif not row[0].endswith("Z"):
                found["no time"] += 1
            elif row[1] == "16777215":
                found["reserved id"] += 1
            elif row[0].startswith("1970"):
                found["clock not set"] += 1
            elif row[0] > "2026-08":
                # The log's file is the one of the day that it was.
                found[AHEAD] += 1
                assert (date.fromisoformat(row[0][:10]) - timedelta(days=AHEAD_DAYS)).isoformat().startswith(name[6:13])
            else:
                assert row[0].startswith(name[6:13])
                assert re.fullmatch(r"\d+\.\d", row[3])
                found["of strangers"] += int(row[1]) not in known
    planted = planted_calls(stations, seed=SEED)
    # A spoilt row's caller may be a stranger too; such rows were not looked at above.
    assert planted["of strangers"] > 100
    assert 0 <= planted.pop("of strangers") - found.pop("of strangers") < 10
    assert planted[AHEAD] == planted["rows"] // AHEAD_ONE_OF > 0
    assert found == planted


def test_same_seed_same_bytes(tmp_path: Path, few: Stations) -> None:
    paths = write_calls(tmp_path / "heard", few, seed=1)
    assert {path.name: path.read_bytes() for path in paths} == calls_files(few, seed=1)
    assert calls_files(few, seed=2) != calls_files(few, seed=1)


@pytest.mark.parametrize("days", [1, 28, 29, 90])
def test_every_month_of_the_log_has_a_file(few: Stations, days: int) -> None:
    files = calls_files(few, seed=1, days=days)
    # February has 28 days, March 31, April 30.
    assert len(files) == 1 + (days > 28) + (days > 59) + (days > 89)
    assert all(len(records(content)) > 1 for content in files.values() if days not in (29, 90))


@pytest.mark.parametrize("world", ["steady", "churning", "varied"])
def test_calls_lie_in_the_log_in_order_and_are_about_as_many(world: str, request: pytest.FixtureRequest) -> None:
    overs: Overs = request.getfixturevalue(world)
    day = overs.time // DAY
    assert (day.min(), day.max()) == (FIRST_DAY, FIRST_DAY + DAYS - 1)
    assert (np.diff(overs.time) >= 0).all()
    assert 0.8 < len(overs) / (1.8 * 20_000) < 1.2
    assert (overs.tenths > 0).all()


def test_a_few_call_most(steady: Overs, stations: Stations) -> None:
    _, counts = np.unique(steady.id, return_counts=True)
    counts = np.sort(counts)[::-1]
    assert len(counts) < len(stations.ids) / 2
    assert counts[: len(stations.ids) // 100].sum() > 0.15 * counts.sum()


def test_more_is_called_on_weekends(steady: Overs) -> None:
    weekday = np.array([datetime.fromtimestamp(day * DAY, UTC).weekday() for day in range(FIRST_DAY, FIRST_DAY + DAYS)])
    per_day = np.bincount(steady.time // DAY - FIRST_DAY, minlength=DAYS)
    assert per_day[weekday == 5].mean() > 1.2 * per_day[weekday == 0].mean()


def test_talkgroups_are_world_wide_or_begin_with_a_country_code(varied: Overs) -> None:
    codes = {country.id_codes[0] for country in COUNTRIES}
    world_wide = [group for group, _ in WORLD_WIDE]
    local = varied.talkgroup[~np.isin(varied.talkgroup, world_wide)]
    assert 0.05 < 1 - len(local) / len(varied) < 0.5
    assert {int(str(group)[:3]) for group in np.unique(local)} <= codes
    own = country_code(varied.id)
    at_home = (varied.talkgroup == own) | (varied.talkgroup // 10 == own)
    assert at_home.mean() > 0.5


def heard_in_both_ends(overs: Overs) -> float:
    """Of those heard ten times or more in the first third of the log, how many are heard in the last."""
    third = overs.time // DAY - FIRST_DAY
    early = pl.Series(overs.id[third < DAYS // 3]).value_counts()
    often = early.filter(pl.col("count") >= 10)[""].to_numpy()
    return float(np.isin(often, overs.id[third >= DAYS * 2 // 3]).mean())


def test_in_one_world_stations_stay_and_in_the_others_they_go(steady: Overs, churning: Overs, varied: Overs) -> None:
    assert heard_in_both_ends(steady) > 0.55
    assert heard_in_both_ends(churning) < 0.4
    assert heard_in_both_ends(churning) < heard_in_both_ends(varied) < 0.9


def calls_of_days(overs: Overs) -> npt.NDArray[np.int64]:
    return np.bincount(overs.time // DAY - FIRST_DAY, minlength=DAYS)


def test_the_receiver_is_silent_on_some_days_and_only_then(varied: Overs) -> None:
    silent = {day for begin, end in SILENT for day in range(begin, end)}
    assert set(np.flatnonzero(calls_of_days(varied) == 0).tolist()) == silent


def test_contest_weekends_stand_out(varied: Overs) -> None:
    """Against the same weekday a week before and after, on none of which is a contest."""
    calls = calls_of_days(varied)
    for day in (day for saturday in CONTESTS for day in (saturday, saturday + 1)):
        assert (FIRST_DAY + day + 3) % 7 in (5, 6)
        assert calls[day] > 1.3 * max(calls[day - 7], calls[day + 7])


def test_a_net_meets_every_week_at_its_hour_and_its_members_come_again(varied: Overs) -> None:
    hour, weekday = varied.time % DAY // 3600, (varied.time // DAY + 3) % 7
    net = (varied.talkgroup == 91) & (weekday == 5) & (hour == 16)
    another_day = (varied.talkgroup == 91) & (weekday == 4) & (hour == 16)
    assert net.sum() > 3 * another_day.sum()
    weeks = pl.DataFrame({"id": varied.id[net], "week": varied.time[net] // (7 * DAY)}).unique()["id"].value_counts()
    assert (weeks["count"] >= 8).sum() >= 5


def test_owners_of_new_ids_call_most_and_nobody_before_he_has_one(varied: Overs, persons: Persons) -> None:
    order = np.argsort(persons.ids)
    place = order[np.searchsorted(persons.ids, varied.id, sorter=order)]
    assert (varied.time // DAY - FIRST_DAY >= persons.issued[place]).all()
    calls = np.bincount(place, minlength=len(persons.ids))
    age = DAYS - persons.issued
    young, old = (age < 400), (age > 2000)
    assert calls[young].mean() > 2 * calls[old].mean()
    assert (persons.issued > 0).sum() > 500  # ids are given out while the log runs


def test_some_call_under_several_ids(varied: Overs, persons: Persons) -> None:
    owner = np.repeat(np.arange(len(persons)), np.diff(persons.first))
    heard = np.isin(persons.ids, varied.id)
    assert (np.bincount(owner[heard]) > 1).sum() > 50
    signs: dict[int, set[int]] = {}
    for own, number in zip(owner.tolist(), persons.ids.tolist(), strict=True):
        signs.setdefault(own, set()).add(country_code(np.array([number]))[0])
    assert all(len(codes) == 1 for codes in signs.values())


def test_states_differ(varied: Overs, stations: Stations) -> None:
    """Calls per station of the states of one country, of Germany and the United States, which have most."""
    texts = people.towns().texts
    place = np.searchsorted(stations.ids, varied.id)
    known = (place < len(stations.ids)) & (stations.ids[np.minimum(place, len(stations.ids) - 1)] == varied.id)
    calls = np.bincount(place[known], minlength=len(stations.ids))
    for code in (262, 310):
        there = np.flatnonzero((country_code(stations.ids) == code) & stations.person)
        frame = pl.DataFrame({"state": [texts[town].partition("/")[2] for town in stations.town[there]], "calls": calls[there]})
        means = frame.group_by("state").agg(pl.len(), pl.col("calls").mean()).filter(pl.col("len") > 50)["calls"]
        assert means.max() > 2 * means.min(), code  # type: ignore[operator]


def test_the_generator_knows_nothing_of_the_estimator() -> None:
    """What makes calls imports nothing of what estimates them."""
    for path in (Path(__file__).parent.parent / "pruner" / "demo").glob("*.py"):
        names = re.findall(r"^(?:from|import) (pruner\.\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
        assert not {"pruner.calls", "pruner.rules", "pruner.job"} & set(names), path.name
