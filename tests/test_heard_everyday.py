"""Heard logs as clubs keep them: records of names and values, other tables that look like logs. All data invented."""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Sequence
from pathlib import Path

import pytest
from heard_weights import totals_in, weights_in

from pruner.logs.files import FileResult, LogFiles
from pruner.logs.fold import fold_logs
from pruner.words.errors import InputRefusedError

START = dt.datetime(2026, 8, 20, 18, 0, 7)
CALLS = [(START + dt.timedelta(minutes=7 * k), 2_320_100 + k % 9, (232, 91)[k % 2], k % 40 + 2) for k in range(30)]
TOTALS = (30, sum(seconds for *_, seconds in CALLS))


def fold(path: Path, text: str, zone: str = "UTC") -> FileResult:
    path.write_text(text)
    return fold_logs(path.parent / "state", [LogFiles([path], zone=zone, is_finished=True)]).files[0]


def records(form: str) -> str:
    return "".join(form.format(at=at, id=id, tg=tg, s=s) for at, id, tg, s in CALLS)


@pytest.mark.parametrize(
    "form",
    [
        "Time: {at:%Y-%m-%d %H:%M:%S}\nID: {id}\nTalkgroup: {tg}\nDuration: {s} s\n\n",
        "Radio-ID: {id}\nGroup: TG {tg}\nWhen: {at:%a, %d %b %Y %H:%M:%S} +0000\nSeconds: {s}\n---\n",
        "- time: '{at:%Y-%m-%dT%H:%M:%SZ}'\n  id: {id}\n  talkgroup: {tg}\n  seconds: {s}\n",
        "talkgroup = {tg}\nid = {id}\ntime = {at:%Y-%m-%d %H:%M:%S}\nseconds = {s}\n\n",
    ],
    ids=["blank lines", "drawn lines", "dashes", "equals"],
)
def test_records_of_names_and_values_are_read(tmp_path: Path, form: str) -> None:
    found = fold(tmp_path / "calls.txt", records(form))
    assert (found.account.read, totals_in(tmp_path / "state")) == (30, TOTALS)


def test_records_of_names_and_values_are_read_once(tmp_path: Path) -> None:
    text = records("Time: {at:%Y-%m-%d %H:%M:%S}\nID: {id}\nTalkgroup: {tg}\nDuration: {s} s\n\n")
    fold(tmp_path / "calls.txt", text)
    assert fold(tmp_path / "calls.txt", text).account.read == 0


@pytest.mark.parametrize("digits", ["٠١٢٣٤٥٦٧٨٩", "０１２３４５６７８９"], ids=["Arabic", "full width"])
def test_ends_are_read_in_digits_of_other_scripts(tmp_path: Path, digits: str) -> None:
    in_script = str.maketrans("0123456789", digits)
    ends = [str((at + dt.timedelta(seconds=s)).time()) for at, _, _, s in CALLS]
    rows = [
        f"{at.date()},{at.time()},{id},{tg},{end.translate(in_script if k % 2 else {})}"
        for k, ((at, id, tg, _), end) in enumerate(zip(CALLS, ends, strict=True))
    ]
    fold(tmp_path / "calls.csv", table("date,start,id,talkgroup,end", rows))
    assert totals_in(tmp_path / "state") == TOTALS


def table(headings: str, rows: Sequence[str]) -> str:
    return "\n".join([headings, *rows]) + "\n"


@pytest.mark.parametrize("telephones", ["0660{k:07}", "+43 660 {k:06}", "4366012{k:05}"])
def test_records_of_telephones_are_refused(tmp_path: Path, telephones: str) -> None:
    def number(k: int) -> str:
        return telephones.format(k=k * 137) if k % 3 else str(2_320_100 + k)

    rows = [f"{START + dt.timedelta(minutes=k)},{number(k)},{(232, 201)[k % 2]},{k % 40 + 2}" for k in range(40)]
    with pytest.raises(InputRefusedError, match="numbers that are too large for ids"):
        fold(tmp_path / "telephone.csv", table("time,caller,called,duration", rows))


def test_numbers_of_one_fleet_are_no_callers(tmp_path: Path) -> None:
    rows = [f"{at};{id};{(232, 26)[k % 2]};{s};Mill" for k, (at, id, _, s) in enumerate(CALLS)]
    with pytest.raises(InputRefusedError, match="no call signs"):
        fold(tmp_path / "trams.csv", table("Time;Vehicle;Bay;Late;Stop", rows))


def test_groups_of_several_countries_say_who_calls_under_unknown_headings(tmp_path: Path) -> None:
    groups = ["2321", "262", "2281"]
    rows = [f"{at};{groups[k % 3][:3]}{k % 7 + 2110};{groups[k % 3]};{s}" for k, (at, *_, s) in enumerate(CALLS)]
    assert fold(tmp_path / "odd.csv", table("Zog;Mip;Tuv;Qel", rows)).account.folded == 30


def test_a_table_with_headings_is_no_text_of_free_lines(tmp_path: Path) -> None:
    rows = [f"{at};{id};Ada;{k % 3};Entry" for k, (at, id, *_) in enumerate(CALLS)]
    with pytest.raises(InputRefusedError) as refusal:
        fold(tmp_path / "doors.csv", table("Zeit;Ausweis;Name;Gate;Ereignis", rows))
    assert "free lines" not in str(refusal.value)
    assert "no column of talkgroups" in str(refusal.value)


@pytest.mark.parametrize(("start", "end"), [("From", "To"), ("Von", "Bis"), ("From", "Until"), ("Start", "To")])
@pytest.mark.parametrize("form", ["clocks", "times"])
def test_the_time_to_which_a_call_lasts_is_its_end(tmp_path: Path, start: str, end: str, form: str) -> None:
    clock = "%H:%M:%S" if form == "clocks" else "%Y-%m-%d %H:%M:%S"
    date = ("Date;", "{:%Y-%m-%d};") if form == "clocks" else ("", "")
    rows = [f"{date[1].format(at)}{at:{clock}};{at + dt.timedelta(seconds=s):{clock}};{id};{tg}" for at, id, tg, s in CALLS]
    fold(tmp_path / "calls.csv", table(f"{date[0]}{start};{end};ID;Group", rows))
    assert totals_in(tmp_path / "state") == TOTALS


def test_ends_in_hours_up_to_twelve_are_behind_their_starts(tmp_path: Path) -> None:
    """Some calls go on over one o'clock, noon or midnight."""
    times = [(dt.datetime(2026, 8, 20, 11, 58, 7) + dt.timedelta(minutes=31 * k), k) for k in range(30)]
    rows = [
        f"{at:%Y-%m-%d};{at:%I:%M:%S %p};{at + dt.timedelta(seconds=187):%I:%M:%S %p};{2_320_100 + k};232" for at, k in times
    ]
    fold(tmp_path / "calls.csv", table("Date;From;To;ID;Group", rows))
    assert totals_in(tmp_path / "state") == (30, 30 * 187)


def test_a_time_before_the_call_is_no_end(tmp_path: Path) -> None:
    rows = [f"{at};{at - dt.timedelta(hours=k % 5 + 2)};{id};{tg}" for k, (at, id, tg, _) in enumerate(CALLS)]
    fold(tmp_path / "calls.csv", table("Start;To;ID;Group", rows))
    assert totals_in(tmp_path / "state") == (30, 0)


@pytest.mark.parametrize(
    ("first", "last"), [("First heard", "Last heard"), ("Zuerst gehört", "Zuletzt gehört"), ("First seen", "Last seen")]
)
@pytest.mark.parametrize("is_turned", [False, True])
def test_of_the_first_and_the_last_time_of_a_station_the_last_is_taken(
    tmp_path: Path, first: str, last: str, is_turned: bool
) -> None:
    def cells(first: str, last: str) -> str:
        return f"{last};{first}" if is_turned else f"{first};{last}"

    rows = [
        f"OE{k % 9 + 1}ZK{chr(65 + k)};{2_320_100 + 31 * k};232;"
        + cells(f"{START - dt.timedelta(days=40 + k, minutes=k)}", f"{START - dt.timedelta(days=k, minutes=3 * k)}")
        + f";{k + 3};{k}:{k + 10}:12"
        for k in range(20)
    ]
    result = fold(tmp_path / "stations.csv", table(f"Call sign;ID;TG;{cells(first, last)};Calls;Airtime", rows))
    found = weights_in(tmp_path / "state").rows()
    assert totals_in(tmp_path / "state") == (20, 0)
    assert str(found["last"].max())[:19] == str(START)
    assert str(found["first"].min())[:10] == str(START - dt.timedelta(days=19))[:10]
    assert result.understanding is not None
    assert f"{first!r} and {last!r}: it counts as one call, at the last time" in result.understanding.sentence()


def events(lacking: str, *, is_turned: bool = False, has_strangers: bool = False) -> str:
    """Starts and ends of calls that last a minute and less; ends lack some cells."""
    rows = []
    for k, (at, id, tg, s) in enumerate(CALLS):
        cells = ["" if "id" in lacking else str(id), "" if "tg" in lacking else str(tg)]
        rows.append(f"{at};start;{id};{tg};")
        if has_strangers and k % 3 == 0:  # somebody else begins, and nobody can say who ends first
            rows.append(f"{at + dt.timedelta(seconds=1)};start;{id + 500};{tg};")
        rows.append(f"{at + dt.timedelta(seconds=s)};end;{';'.join(cells)};{s}")
    return table("time;event;id;talkgroup;seconds", rows[::-1] if is_turned else rows)


@pytest.mark.parametrize("lacking", ["id", "tg", "id and tg", ""])
@pytest.mark.parametrize("is_turned", [False, True])
def test_ends_without_caller_or_talkgroup_belong_to_the_start_before(tmp_path: Path, lacking: str, is_turned: bool) -> None:
    result = fold(tmp_path / "events.csv", events(lacking, is_turned=is_turned))
    assert (result.account.read, result.account.folded, totals_in(tmp_path / "state")) == (60, 60, TOTALS)


@pytest.mark.parametrize("lacking", ["id", "id and tg"])
def test_ends_that_may_be_of_several_starts_are_not_guessed(tmp_path: Path, lacking: str) -> None:
    result = fold(tmp_path / "events.csv", events(lacking, has_strangers=True))
    known = [s for k, (*_, s) in enumerate(CALLS) if k % 3]
    assert result.account.rejected.total() == 10
    assert totals_in(tmp_path / "state") == (40, sum(known))


@pytest.mark.parametrize("word", ["Unit ", "Private ", "Einzelruf ", "Station: ", "PC "])
def test_words_for_stations_before_numbers_tell_private_calls(tmp_path: Path, word: str) -> None:
    rows = [f"{at};{id};{word}2320109;{s}" if k % 3 else f"{at};{id};Group {tg};{s}" for k, (at, id, tg, s) in enumerate(CALLS)]
    found = fold(tmp_path / "calls.csv", table("Time;Caller ID;Called;Seconds", rows)).account
    assert (found.folded, dict(found.set_aside)) == (10, {"private call": 20})


def test_logs_of_an_archive_without_headings_are_one(tmp_path: Path) -> None:
    rows = [f"{at:%Y-%m-%dT%H:%M:%SZ};{id};OE{id % 9 + 1}ZKA;{tg};{s} s" for at, id, tg, s in CALLS]
    path = tmp_path / "logs.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.log", "\n".join(rows[:18]) + "\n")
        archive.writestr("b.log", "\n".join(rows[12:]) + "\n")
        archive.writestr("readme.txt", "Two days of the relay.\n")
    fold_logs(tmp_path / "state", [LogFiles([path], is_finished=True)])
    assert totals_in(tmp_path / "state") == TOTALS


def test_the_line_below_the_headings_of_a_table_with_a_titled_day_is_no_row(tmp_path: Path) -> None:
    rows = "".join(f"| {at:%H:%M:%S} | {id} | TG {tg} | {s} |\n" for at, id, tg, s in CALLS)
    text = f"# Calls of 20 August 2026\n\n| Time | ID | Group | Seconds |\n|------|----|-------|---------|\n{rows}"
    found = fold(tmp_path / "calls.md", text)
    assert (found.account.read, found.account.new, totals_in(tmp_path / "state")) == (30, 30, TOTALS)
