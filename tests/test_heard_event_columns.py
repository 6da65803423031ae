"""Tables of calls with a column of words that nobody knows: starts and ends, private calls, or neither; all data invented."""

from __future__ import annotations

import datetime as dt
import json
import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pytest
from heard_weights import totals_in
from pyarrow import parquet

from pruner.cli.boundary import guarded
from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.event_columns import Row, find_event_column
from pruner.words.errors import InputRefusedError

Cells = list[str]


@dataclass(frozen=True)
class Call:
    start: dt.datetime
    id: int
    group: int
    seconds: int

    @property
    def end(self) -> dt.datetime:
        return self.start + dt.timedelta(seconds=self.seconds)


def calls(count: int = 60, seed: int = 1) -> list[Call]:
    chance = random.Random(seed)
    time, made = dt.datetime(2026, 3, 10, 8), []
    for _ in range(count):
        time += dt.timedelta(seconds=chance.randrange(61, 200))
        made.append(Call(time, 2_320_000 + chance.randrange(20), chance.choice((232, 91, 2328)), chance.randrange(2, 60)))
    return made


def told_twice(some: list[Call], start: str, end: str, *, with_durations: bool = True) -> list[Cells]:
    rows = [(one.start, start, one, "") for one in some]
    rows += [(one.end, end, one, str(one.seconds) if with_durations else "") for one in some]
    return [[str(at), word, str(one.id), str(one.group), took] for at, word, one, took in sorted(rows, key=lambda row: row[0])]


def table(path: Path, rows: list[Cells], heading: str = "time,state,id,talkgroup,seconds") -> Path:
    path.write_text("\n".join([heading, *map(",".join, rows)]) + "\n", encoding="utf-8")
    return path


def fold(path: Path, tmp_path: Path, **answers: object) -> FileResult:
    return fold_logs(tmp_path / "state", [LogFiles([path], **answers)]).files[0]  # type: ignore[arg-type]


@pytest.mark.parametrize(("start", "end"), [("op", "neer"), ("1", "0"), (">", "<"), ("zubra", "plonk"), ("begin", "eot")])
@pytest.mark.parametrize("with_durations", [True, False])
def test_words_that_alternate_for_each_caller_tell_starts_and_ends(
    tmp_path: Path, start: str, end: str, with_durations: bool
) -> None:
    some = calls()
    fold(table(tmp_path / "a.csv", told_twice(some, start, end, with_durations=with_durations)), tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


@pytest.mark.parametrize("rows", [398, 400, 402])
def test_starts_may_stand_wherever_a_sample_looks(tmp_path: Path, rows: int) -> None:
    """Every second row is a start, as is every row of a sample of 200 that takes every second."""
    some = calls(rows // 2)
    lines = [
        f"{at:%Y%m%d-%H%M%S} gate1 {word}: OE1ZLL ({one.id}) taldea {one.group}"
        for one in some
        for at, word in ((one.start, "zubra"), (one.end, "plonk"))
    ]
    (tmp_path / "a.log").write_text("\n".join(lines) + "\n")
    fold(tmp_path / "a.log", tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


def test_the_latest_row_may_stand_first(tmp_path: Path) -> None:
    some = calls()
    fold(table(tmp_path / "a.csv", told_twice(some, "op", "neer")[::-1]), tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


def as_json_lines(path: Path, rows: list[Cells]) -> None:
    names = ("time", "state", "id", "talkgroup", "seconds")
    path.write_text("".join(json.dumps(dict(zip(names, row, strict=True))) + "\n" for row in rows))


def as_json_value(path: Path, rows: list[Cells]) -> None:
    names = ("time", "on", "id", "talkgroup", "seconds")
    cells = [(row[0], row[1] == "a", int(row[2]), int(row[3]), row[4] or None) for row in rows]
    records = [dict(zip(names, row, strict=True)) for row in cells]
    path.write_text(json.dumps(records))


def as_parquet(path: Path, rows: list[Cells]) -> None:
    time, state, id, group, seconds = zip(*rows, strict=True)
    columns = {"time": time, "state": state, "id": list(map(int, id)), "talkgroup": list(map(int, group)), "seconds": seconds}
    parquet.write_table(pa.table(columns), path)


@pytest.mark.parametrize("write", [as_json_lines, as_json_value, as_parquet])
def test_words_are_found_in_every_kind_of_file(tmp_path: Path, write: Callable[[Path, list[Cells]], None]) -> None:
    some = calls()
    path = tmp_path / ("a.parquet" if write is as_parquet else "a.json")
    write(path, told_twice(some, "a", "b"))
    fold(path, tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


def test_two_logs_that_part_a_call_tell_it_once(tmp_path: Path) -> None:
    some = calls()
    rows = told_twice(some, "op", "neer")
    for name, part in (("a.csv", rows[:61]), ("b.csv", rows[40:])):
        fold(table(tmp_path / name, part), tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


@pytest.mark.parametrize("column", ["id", "callsign"])
@pytest.mark.parametrize("with_durations", [True, False])
def test_calls_that_go_on_behind_midnight_keep_their_duration(tmp_path: Path, column: str, with_durations: bool) -> None:
    """Also where the next day comes with a later fold, after the first was counted."""
    some = [Call(dt.datetime(2026, 3, 10, 23, 59, 30) + dt.timedelta(days=day), 2_320_001, 232, 45) for day in range(12)]
    rows = told_twice(some, "start", "end", with_durations=with_durations)
    if column == "callsign":
        rows = [[at, word, "OE1ZZA", *others] for at, word, _, *others in rows]
    heading = f"time,state,{column},talkgroup,seconds"
    for part in (rows[:23], rows[23:]):
        fold(table(tmp_path / "a.csv", part, heading), tmp_path, columns={"event": "state"})
        totals = totals_in(tmp_path / "state")
    assert totals == (12, 12 * 45)


def test_rows_of_a_call_that_goes_on_are_set_aside(tmp_path: Path) -> None:
    some = calls()
    rows = told_twice(some, "ak", "tok")
    rows += [[str(one.start + dt.timedelta(seconds=1)), "huh", str(one.id), str(one.group), ""] for one in some]
    account = fold(table(tmp_path / "a.csv", sorted(rows)), tmp_path).account
    assert account.set_aside == {"event is neither start nor end of a call": len(some)}
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


@pytest.mark.parametrize("words", [("RF", "NET"), ("1", "2"), ("on", "off"), ("up", "down")])
def test_a_column_of_another_kind_makes_no_events_of_whole_calls(tmp_path: Path, words: tuple[str, str]) -> None:
    """Also where its words would be known, as of an encryption that is on or off."""
    some, chance = calls(), random.Random(3)
    rows = [[str(one.start), chance.choice(words), str(one.id), str(one.group), str(one.seconds)] for one in some]
    fold(table(tmp_path / "a.csv", rows, "time,scrambled,id,talkgroup,seconds"), tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


def test_a_call_that_two_gateways_tell_with_its_duration_is_no_start_and_end(tmp_path: Path) -> None:
    some = calls()
    rows = [[str(one.start), "north", str(one.id), str(one.group), str(one.seconds)] for one in some]
    rows += [[str(one.start + dt.timedelta(seconds=1)), "south", *row[2:]] for one, row in zip(some, list(rows), strict=True)]
    fold(table(tmp_path / "a.csv", sorted(rows), "time,heard by,id,talkgroup,seconds"), tmp_path)
    assert totals_in(tmp_path / "state") == (len(some), sum(one.seconds for one in some))


def test_where_words_alternate_too_rarely_it_is_said_and_can_be_answered(tmp_path: Path) -> None:
    some = calls(200)
    rows = [row for row in told_twice(some, "op", "neer", with_durations=False) if random.Random(row[0]).random() > 0.25]
    path = table(tmp_path / "a.csv", rows)
    understanding = fold(path, tmp_path).understanding
    assert understanding is not None
    assert "'op' in 'state' are often followed by one of the same caller with 'neer'" in understanding.sentence()
    assert 'columns = { event = "state" }' in understanding.sentence()
    assert totals_in(tmp_path / "state")[0] > 1.3 * len(some)
    (tmp_path / "other").mkdir()
    fold(path, tmp_path / "other", columns={"event": "state"})
    assert totals_in(tmp_path / "other" / "state")[0] <= len(some)


@pytest.mark.parametrize(("group", "private"), [("G", "P"), ("no", "yes"), ("0", "1")])
def test_words_that_go_with_numbers_of_stations_tell_private_calls(tmp_path: Path, group: str, private: str) -> None:
    some = calls()
    rows = [
        [str(one.start), *((private, str(one.id), "2620017") if one.id % 4 == 0 else (group, str(one.id), str(one.group))), "5"]
        for one in some
    ]
    account = fold(table(tmp_path / "a.csv", rows, "time,sort,id,talkgroup,seconds"), tmp_path).account
    alone = sum(one.id % 4 == 0 for one in some)
    assert account.set_aside == {"private call": alone}
    assert totals_in(tmp_path / "state")[0] == len(some) - alone


@pytest.mark.parametrize(
    ("group", "private"),
    [("gemeinsam", "privat"), ("false", "true"), ("nein", "ja"), ("", "yes"), ("", "zubra"), ("G", "P")],
)
def test_a_column_that_is_said_to_tell_private_calls_tells_them_by_its_words(tmp_path: Path, group: str, private: str) -> None:
    some = calls()
    alone = [one.id % 4 == 0 for one in some]
    rows = [
        [str(one.start), private if is_alone else group, str(one.id), "2620017" if is_alone else str(one.group), "5"]
        for one, is_alone in zip(some, alone, strict=True)
    ]
    account = fold(table(tmp_path / "a.csv", rows, "time,x1,id,talkgroup,seconds"), tmp_path, columns={"private": "x1"}).account
    assert account.set_aside == {"private call": sum(alone)}


def test_no_call_is_private_where_all_deny_it(tmp_path: Path) -> None:
    rows = [[str(one.start), "no", str(one.id), str(one.group), "5"] for one in calls()]
    account = fold(table(tmp_path / "a.csv", rows, "time,x1,id,talkgroup,seconds"), tmp_path, columns={"private": "x1"}).account
    assert account.set_aside == {}


def test_a_column_of_private_calls_that_is_filled_everywhere_is_refused(tmp_path: Path) -> None:
    """With words of which nothing is known."""
    rows = [[str(one.start), ("zubra", "plonk")[one.id % 2], str(one.id), str(one.group), "5"] for one in calls()]
    path = table(tmp_path / "a.csv", rows, "time,x1,id,talkgroup,seconds")
    with pytest.raises(InputRefusedError, match=r"a\.csv: every row has text in 'x1' \(plonk, zubra\)") as refused:
        fold(path, tmp_path, columns={"private": "x1"})
    assert "\n" not in str(refused.value)


def test_two_pairs_whose_durations_agree_are_enough() -> None:
    def row(time: int, lasting: int) -> Row:
        return Row(("2321001", "232"), time * 1000, lasting * 1000)

    rows = [row(0, 0), row(7, 7), row(60, 0), row(72, 12)]
    found = find_event_column(rows, {1: ["a", "b", "a", "b"]})
    assert found is not None
    assert found.words == {"a": "start", "b": "end"}
    disagreeing = [row(0, 0), row(7, 30), row(60, 0), row(72, 40)]
    assert find_event_column(disagreeing, {1: ["a", "b", "a", "b"]}) is None


def test_a_fold_says_that_starts_and_ends_are_one_call(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    some = calls()
    path = table(tmp_path / "a.csv", told_twice(some, "op", "neer"))
    assert guarded(["heard", "fold", str(path), "--state", str(tmp_path / "state")]) == 0
    assert f"{2 * len(some)} rows tell starts or ends: a start and its end count as one call" in capsys.readouterr().out


def test_days_that_do_not_count_are_named_where_calls_are_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rows = [
        [f"2026-03-{day:02} 10:{k:02}:11", "232", str(2_320_000 + k), "4"]
        for day in (*range(1, 15), *range(18, 29))
        for k in range(40)
    ]
    path = table(tmp_path / "a.csv", rows, "time,talkgroup,id,seconds")
    guarded(["heard", "fold", str(path), "--state", str(tmp_path / "state")])
    capsys.readouterr()
    assert guarded(["heard", "show", "--state", str(tmp_path / "state")]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    silent = "The log is silent on 2026-03-15 to 2026-03-17; these days do not count."
    assert f"In fits and coverage (the figures here count all days): {silent}" in shown
