"""Heard logs as clubs keep them: records of names and values, other tables that look like logs. All data invented."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import pytest
from heard_weights import totals_in

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
