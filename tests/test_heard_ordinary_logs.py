"""Tables of calls as people have them: zones in headings, several times in a row, rows that tell no speech, and tables that
are no logs at all; all data invented."""

from __future__ import annotations

import datetime as dt
import random
from pathlib import Path
from typing import Any

import pytest
from heard_weights import totals_in, weights_in

from pruner.calls.show import callers
from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.group_cells import group_number
from pruner.read.heard_sections import sections_of
from pruner.read.zone_words import zone_in
from pruner.words.errors import InputRefusedError

START = dt.datetime(2026, 7, 4, 9, 30, 11)


def rows_of(count: int = 40) -> list[tuple[dt.datetime, int, int, int]]:
    """Start, id, talkgroup and seconds of calls."""
    chance = random.Random(5)
    time, made = START, []
    for _ in range(count):
        made.append((time, 2_320_100 + chance.randrange(15), chance.choice((232, 91, 2328)), chance.randrange(2, 50)))
        time += dt.timedelta(seconds=chance.randrange(61, 250))
    return made


def fold(folder: Path, heading: str, rows: list[list[Any]], **answers: Any) -> FileResult:
    path = folder / "calls.csv"
    path.write_text("\n".join([heading, *(",".join(map(str, row)) for row in rows)]) + "\n", encoding="utf-8")
    return fold_logs(folder / "state", [LogFiles([path], **answers)]).files[0]


def first_of(folder: Path) -> dt.datetime:
    found = weights_in(folder / "state").rows()["first"].min()
    assert isinstance(found, dt.datetime)
    return found.replace(tzinfo=None)


@pytest.mark.parametrize(
    ("heading", "zone"),
    [
        ("Time (UTC+2)", "UTC+02:00"),
        ("time_utc", "UTC"),
        ("Hora [GMT-03:30]", "UTC-03:30"),
        ("Zeit (MEZ)", "UTC+01:00"),
        ("Zeit (MEZ/MESZ)", "CET"),
        ("Start (Europe/Vienna)", "Europe/Vienna"),
        ("Start (Etc/GMT+2)", "Etc/GMT+2"),
        ("Ora (+1)", "UTC+01:00"),
        ("Start (-1 = unknown)", ""),
        ("Catalogue time", ""),
    ],
)
def test_zones_that_headings_name(heading: str, zone: str) -> None:
    assert zone_in([heading]) == zone


@pytest.mark.parametrize(
    ("heading", "hours"),
    [("Time (UTC+2)", 2), ("Zeit (MEZ/MESZ)", 2), ("Time (UTC)", 0), ("Start (Asia/Tokyo)", 9), ("Time", -4)],
)
def test_a_zone_in_the_heading_holds_for_times_that_name_none(tmp_path: Path, heading: str, hours: int) -> None:
    """Whatever the zone of the settings is; in July Vienna and Brussels are two hours ahead of UTC, New York four behind."""
    rows = [[start, id, group, took] for start, id, group, took in rows_of()]
    fold(tmp_path, f"{heading},id,talkgroup,seconds", rows, zone="America/New_York")
    assert first_of(tmp_path) == START - dt.timedelta(hours=hours)


def test_a_zone_that_several_places_have_is_said(tmp_path: Path) -> None:
    understanding = fold(tmp_path, "Time (CST),id,talkgroup,seconds", [list(row) for row in rows_of()]).understanding
    assert understanding is not None
    assert "CST in a heading may be one of several zones" in understanding.sentence()


@pytest.mark.parametrize("order", [("logged", "happened"), ("happened", "logged"), ("check_time", "event_time")])
def test_of_several_times_the_earliest_is_that_of_the_call(tmp_path: Path, order: tuple[str, str]) -> None:
    rows = []
    for start, id, group, took in rows_of():
        times = {"happened": start, "event_time": start, "logged": start + dt.timedelta(seconds=took + 3)}
        times["check_time"] = start + dt.timedelta(seconds=90)
        rows.append([*(times[name] for name in order), id, group, took])
    fold(tmp_path, f"{','.join(order)},id,talkgroup,seconds", rows)
    assert first_of(tmp_path) == START


def test_the_clock_of_another_zone_is_no_earlier_time(tmp_path: Path) -> None:
    rows = [[start, start - dt.timedelta(hours=5), id, group, took] for start, id, group, took in rows_of()]
    fold(tmp_path, "utc,local,id,talkgroup,seconds", rows)
    assert first_of(tmp_path) == START


@pytest.mark.parametrize(("voice", "other"), [("voice", "data"), ("Group Voice", "GPS position"), ("Sprache", "SMS")])
@pytest.mark.parametrize("heading", ["kind", "x1"])
def test_rows_of_data_are_no_calls(tmp_path: Path, voice: str, other: str, heading: str) -> None:
    rows = [[start, other if k % 5 == 0 else voice, id, group, took] for k, (start, id, group, took) in enumerate(rows_of())]
    account = fold(tmp_path, f"time,{heading},id,talkgroup,seconds", rows).account
    assert account.set_aside == {"event is neither start nor end of a call": 8}
    assert totals_in(tmp_path / "state")[0] == 32


def test_where_all_rows_are_data_they_are_calls(tmp_path: Path) -> None:
    """Nothing else says then that the column tells speech from data."""
    fold(tmp_path, "time,kind,id,talkgroup,seconds", [[row[0], "data", *row[1:]] for row in rows_of()])
    assert totals_in(tmp_path / "state")[0] == 40


@pytest.mark.parametrize("heading", ["time,From,To,Duration", "time,source,destination,seconds", "time,Radio ID,called,secs"])
def test_telephones_that_call_telephones_are_no_log(tmp_path: Path, heading: str) -> None:
    rows = [[START + dt.timedelta(minutes=k), 2_321_000 + k % 7 * 37, 2_321_000 + (k + 3) % 7 * 37, k % 30] for k in range(12)]
    with pytest.raises(InputRefusedError, match="numbers of seven digits as stations have, not talkgroups"):
        fold(tmp_path, heading, rows)
    groups = [[*row[:2], 232 if place % 4 else row[2], row[3]] for place, row in enumerate(rows)]
    account = fold(tmp_path, heading, groups).account
    assert (account.read, account.folded) == (len(rows), len(rows))


@pytest.mark.parametrize(
    ("heading", "make"),
    [
        ("time,meter,zone,reading", lambda k: [2_320_000 + k * 37, k % 4 + 1, k / 10]),
        ("scanned,parcel,lane,weight", lambda k: [2_321_000 + k * 11, k % 9 + 1, k % 30 + 0.5]),
        ("Ankunft,Wagennummer,Gleis,Verspätung", lambda k: [2_600_000 + k * 13, k % 12 + 1, k % 40]),
    ],
)
def test_what_nothing_says_to_be_calls_is_refused(tmp_path: Path, heading: str, make: Any) -> None:
    rows = [[START + dt.timedelta(minutes=k), *make(k)] for k in range(40)]
    with pytest.raises(InputRefusedError, match=r"is not headed as a column of talkgroups|no column of") as refused:
        fold(tmp_path, heading, rows)
    assert "\n" not in str(refused.value)


def test_a_number_that_counts_the_rows_is_no_talkgroup(tmp_path: Path) -> None:
    """Although nothing is known of the heading of talkgroups."""
    rows = [[500 + k, start, f"OE{k % 9 + 1}ZKA", id, group, took] for k, (start, id, group, took) in enumerate(rows_of())]
    fold(tmp_path, "Nr.,time,call,id,zubra,seconds", rows)
    assert set(weights_in(tmp_path / "state").rows()["talkgroup"]) == {232, 91, 2328}


@pytest.mark.parametrize(
    ("cell", "number"),
    [
        ("Tirol [2327]", 2327),
        ("Top 40 {91}", 91),
        ("Tirol - 2327", 2327),
        ("Tirol: 2327", 2327),
        ("2327 - Tirol", 2327),
        ("[2327] Tirol", 2327),
        ("12:30", -1),
        ("2026-03-01", -1),
    ],
)
def test_numbers_of_talkgroups_beside_their_names(cell: str, number: int) -> None:
    assert group_number(cell) == number


@pytest.mark.parametrize(
    ("heading", "form"),
    [
        ("station", "{id} - {sign} - Anna"),
        ("who", "{sign} ({id}) Bert"),
        ("x1", "{id} {sign}, Carla Zubra"),
        ("station", "[{id}] {sign} Dora"),
    ],
)
def test_an_id_stands_in_a_cell_with_a_call_sign_and_a_name(tmp_path: Path, heading: str, form: str) -> None:
    made = rows_of()
    rows = [[start, f'"{form.format(id=id, sign=f"OE{id % 9 + 1}ZKA")}"', group, took] for start, id, group, took in made]
    fold(tmp_path, f"time,{heading},talkgroup,seconds", rows)
    assert set(weights_in(tmp_path / "state").rows()["id"]) == {id for _, id, _, _ in made}


@pytest.mark.parametrize("form", ["{sign} Anna", "{sign} Anna Zubra", "{sign}", "{sign} (Anna)"])
def test_a_name_behind_a_call_sign_is_no_part_of_it(tmp_path: Path, form: str) -> None:
    signs = [f"OE{id % 9 + 1}ZKA" for _, id, _, _ in rows_of()]
    rows = [
        [start, form.format(sign=sign), group, took] for (start, _, group, took), sign in zip(rows_of(), signs, strict=True)
    ]
    fold(tmp_path, "time,who,talkgroup,seconds", rows)
    assert set(callers(weights_in(tmp_path / "state"))["callsign"]) == set(signs)


@pytest.mark.parametrize("gap", [" ", "  "])
def test_columns_by_place_that_stand_one_blank_apart(tmp_path: Path, gap: str) -> None:
    """The widest cells of a column touch the next one but for a blank."""
    lines = [f"{'Time':<19}{gap}{'Call':<8}{gap}{'ID':>7}{gap}{'TG':>5}{gap}{'Sec':>4}", "-" * 48]
    for start, id, group, took in rows_of():
        lines.append(f"{start!s:<19}{gap}{f'OE{id % 9 + 1}ZKA':<8}{gap}{id:>7}{gap}{group:>5}{gap}{took:>4}")
    (tmp_path / "calls.txt").write_text("\n".join(lines) + "\n")
    fold_logs(tmp_path / "state", [LogFiles([tmp_path / "calls.txt"])])
    assert totals_in(tmp_path / "state") == (40, sum(took for *_, took in rows_of()))
    assert first_of(tmp_path) == START


@pytest.mark.parametrize("order", [("local_time", "utc_time"), ("Time (UTC)", "Time (local)"), ("Ortszeit", "Zeit UTC")])
@pytest.mark.parametrize("hours", [-5, 2])
def test_of_two_clocks_the_one_that_names_its_zone_is_taken(tmp_path: Path, order: tuple[str, str], hours: int) -> None:
    rows = []
    for start, id, group, took in rows_of():
        times = [start if "utc" in name.casefold() else start + dt.timedelta(hours=hours) for name in order]
        rows.append([*times, id, group, took])
    fold(tmp_path, f"{','.join(order)},id,talkgroup,seconds", rows)
    assert first_of(tmp_path) == START


def test_the_time_of_the_row_before_is_not_that_of_the_call(tmp_path: Path) -> None:
    made = rows_of()
    rows = [["" if k == 0 else made[k - 1][0], start, id, group, took] for k, (start, id, group, took) in enumerate(made)]
    fold(tmp_path, "before,x1,id,talkgroup,seconds", rows)
    assert first_of(tmp_path) == START


TOTALS = (40, sum(took for *_, took in rows_of()))


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("time,id,tg,on air,idle", lambda s, i, g, t: [s, i, g, f"00:00:{t:02}", "00:04:11"]),
        ("time,id,tg,zubra", lambda s, i, g, t: [s, i, g, f"0:{t:02}"]),
        ("time,id,tg,duration", lambda s, i, g, t: [s, i, g, f"{t / 86400:.9f}"]),
        ("time,id,tg,duration", lambda s, i, g, t: [s, i, g, f"{t / 86400:.6E}"]),
        ("date,start,end,id,tg", lambda s, i, g, t: [s.date(), s.time(), (s + dt.timedelta(seconds=t)).time(), i, g]),
        ("time,end,id,tg", lambda s, i, g, t: [s, (s + dt.timedelta(seconds=t)).time(), i, g]),
        ("time,id,tg,how long", lambda s, i, g, t: [s, i, g, f"{t} Sek"]),
    ],
)
def test_durations_in_forms_of_spreadsheets_and_hands(tmp_path: Path, heading: str, cells: Any) -> None:
    fold(tmp_path, heading, [cells(*row) for row in rows_of()])
    assert totals_in(tmp_path / "state") == TOTALS
    assert first_of(tmp_path) == START


def test_an_end_behind_midnight_is_of_the_next_day(tmp_path: Path) -> None:
    rows = [["2026-07-04", "23:59:50", "00:00:15", 2_320_100 + k, 232] for k in range(5)]
    fold(tmp_path, "date,start,end,id,talkgroup", rows)
    assert totals_in(tmp_path / "state") == (5, 5 * 25)


def test_a_date_that_stands_once_holds_for_the_rows_below(tmp_path: Path) -> None:
    made = [(start + dt.timedelta(hours=3 * k), *others) for k, (start, *others) in enumerate(rows_of(20))]
    days = [start.date() for start, *_ in made]
    rows = [
        ["" if k and days[k - 1] == days[k] else days[k], start.time(), id, group, took]
        for k, (start, id, group, took) in enumerate(made)
    ]
    account = fold(tmp_path, "date,clock,id,talkgroup,seconds", rows).account
    assert not account.rejected
    assert {str(day) for day in weights_in(tmp_path / "state").rows()["day"]} == set(map(str, days))


@pytest.mark.parametrize("form", ["== %Y-%m-%d ==", "--- %A, %d %B %Y ---", "%d.%m.%Y:", "[%d %b %Y]"])
@pytest.mark.parametrize("headings", ["clock\tcall\ttg\tsec", ""])
def test_dates_in_lines_of_their_own(tmp_path: Path, form: str, headings: str) -> None:
    """One call is behind midnight, before the line of the next day."""
    made = [(START + dt.timedelta(hours=5 * k), *others) for k, (_, *others) in enumerate(rows_of(12))]
    lines = []
    for day in sorted({start.date() for start, *_ in made}):
        lines += [f"{day:{form}}", *([headings] if headings else [])]
        of_day = [one for one in made if one[0].date() == day]
        lines += [f"{start:%H:%M:%S}\tOE{id % 9 + 1}ZKA\tTG {group}\t{took}" for start, id, group, took in of_day] + [""]
    lines += [f"{dt.date(2026, 8, 1):{form}}", "23:58:00\tOE1ZKA\tTG 232\t5", "00:02:00\tOE2ZKA\tTG 232\t5"]
    (tmp_path / "calls.txt").write_text("\n".join(lines) + "\n")
    fold_logs(tmp_path / "state", [LogFiles([tmp_path / "calls.txt"])])
    found = callers(weights_in(tmp_path / "state"))
    assert found["calls"].sum() == 14
    assert str(found["first"].min()).startswith("2026-07-04 09:30:11")
    assert str(found["last"].max()).startswith("2026-08-02 00:02:00")


@pytest.mark.parametrize("later", ["time,gateway,id,callsign,tg,sec", "id,time,tg,sec"])
def test_headings_may_change_within_a_log(tmp_path: Path, later: str) -> None:
    made = rows_of()
    first = [[start, id, group, took] for start, id, group, took in made[:20]]
    rows: list[list[Any]] = [*first, later.split(",")]
    for start, id, group, took in made[20:]:
        cells = {"time": start, "gateway": "hut", "id": id, "callsign": f"OE{id % 9 + 1}ZKA", "tg": group, "sec": took}
        rows.append([cells[name] for name in later.split(",")])
    account = fold(tmp_path, "time,id,tg,sec", rows).account
    assert (account.read, dict(account.rejected)) == (40, {})
    assert totals_in(tmp_path / "state") == TOTALS


@pytest.mark.parametrize(
    ("zone", "hours"), [("+02:00", 2), ("CET", 1), ("UTC", 0), ("-0330", -3.5), ("UTC+2", 2), ("GMT", 0), ("+9", 9)]
)
@pytest.mark.parametrize("has_date", [True, False])
def test_a_column_may_tell_the_zone_of_each_time(tmp_path: Path, zone: str, hours: float, has_date: bool) -> None:
    rows = [
        [*((start.date(), start.time()) if has_date else (start,)), zone, id, group, took]
        for start, id, group, took in rows_of()
    ]
    fold(tmp_path, f"{'date,time' if has_date else 'time'},x1,id,talkgroup,seconds", rows, zone="Asia/Tokyo")
    assert first_of(tmp_path) == START - dt.timedelta(hours=hours)


@pytest.mark.parametrize("words", [("finished",), ("closed", "ended", "ok")])
def test_words_of_ends_under_another_heading_move_no_start(tmp_path: Path, words: tuple[str, ...]) -> None:
    rows = [[start, id, group, took, words[k % len(words)]] for k, (start, id, group, took) in enumerate(rows_of())]
    fold(tmp_path, "time,id,talkgroup,seconds,status", rows)
    assert totals_in(tmp_path / "state") == TOTALS
    assert first_of(tmp_path) == START


@pytest.mark.parametrize(("written", "year"), [("2019-06-01", 2019), ("2019-02-01", 2018)])
def test_a_date_without_year_is_of_the_year_before_the_log_was_written(written: str, year: int) -> None:
    """Whenever it is read."""
    text = "3 March\n" + "".join(f"10:0{minute}:00 2321001 TG 232\n" for minute in range(5))
    moment = dt.datetime.fromisoformat(f"{written}T00:00:00+00:00").timestamp()
    (table,) = sections_of(text.encode(), lambda: iter([text.encode()]), moment)
    assert b"".join(table.blocks()).decode().startswith(f"{year}-03-03 10:00:00 2321001")


def test_there_is_no_day_behind_the_last() -> None:
    text = b"9999-12-31\n" + b"23:50:00 2321001 TG 232\n00:10:00 2321001 TG 232\n" * 4
    (table,) = sections_of(text, lambda: iter([text]), 0.0)
    assert b"".join(table.blocks()).startswith(b"9999-12-31 23:50:00 2321001 TG 232\n9999-12-31 00:10:00")
