"""Patterns learned of free lines: clocks of many forms, events told by signs and numbers, durations that only ends tell,
private calls, second times, and lines that only look like calls. All formats and data invented."""

from __future__ import annotations

import datetime as dt
import json
import random
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from heard_weights import totals_in, weights_in

from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs
from pruner.logs.learn import LearnedFrom, learn_log, snippet
from pruner.words.errors import InputRefusedError


@dataclass(frozen=True)
class Call:
    start: dt.datetime
    id: int
    sign: str
    group: int
    seconds: int

    @property
    def end(self) -> dt.datetime:
        return self.start + dt.timedelta(seconds=self.seconds)


PEOPLE = [(2_320_011 + 1_013 * k, f"OE{k % 9 + 1}Q{'ABCDEFGHJKLM'[k]}A") for k in range(12)]
PEOPLE += [(2_620_011 + 1_013 * k, f"DL{k % 9 + 1}Q{'ABCDEFGHJKLM'[k]}B") for k in range(12)]
Line = Callable[[Call], str]


def calls(day: int, count: int = 120) -> list[Call]:
    chance = random.Random(day)
    time, made = dt.datetime(2026, 3, day, 6, 0, 7), []
    for _ in range(count):
        time += dt.timedelta(seconds=chance.randrange(70, 200))
        made.append(Call(time, *chance.choice(PEOPLE), chance.choice((232, 91, 2328, 262)), chance.randrange(2, 58)))
    return made


def log_of(path: Path, some: list[Call], line: Line, end: Line | None = None) -> Path:
    rows = [(call.start, line(call)) for call in some]
    rows += [(call.end, end(call)) for call in some] if end else []
    path.write_text("".join(text + "\n" for _, text in sorted(rows, key=lambda row: row[0])), encoding="utf-8")
    return path


def read(tmp_path: Path, line: Line, end: Line | None = None) -> tuple[int, int, dict[str, int]]:
    """Calls, seconds and rows set aside of a second day, by the pattern of the first."""
    first, second = (log_of(tmp_path / f"{day}.log", calls(day), line, end) for day in (14, 15))
    learned = learn_log(first, "dmr")
    assert learned.events is None or learned.events.is_sure
    account = fold_logs(tmp_path / "state", [LogFiles([second], pattern=learned.pattern)]).files[0].account
    return *totals_in(tmp_path / "state"), dict(account.set_aside)


TOTAL = (len(calls(15)), sum(call.seconds for call in calls(15)))
CLOCKS: dict[str, Callable[[dt.datetime], str]] = {
    "clock before a written month": lambda t: f"{t:%H:%M:%S %d March %Y}",
    "link between": lambda t: f"{t:%H:%M:%S} on {t:%d-Mar-%Y}:",
    "digits with a dash": lambda t: f"{t:%Y%m%d-%H%M%S}",
    "digits with a rule": lambda t: f"{t:%Y%m%d_%H%M%S}",
    "points and a word": lambda t: f"{t.day} maart 2026 om {t:%H.%M.%S} uur:",
    "letters between": lambda t: f"le {t.day} mars 2026 à {t:%Hh%Mm%S} :",
    "signs of Han": lambda t: f"{t.year}年{t.month}月{t.day}日 {t.hour}時{t.minute:02}分{t.second:02}秒",
    "year first and a name": lambda t: f"2026. március {t.day}. {t:%H:%M:%S}",
    "ordinal and 12 hours": lambda t: f"March {t.day}th, 2026 at {t:%I:%M:%S %p}",
    "weekday of two letters": lambda t: f"{'ma di wo do vr za zo'.split()[t.weekday()]} {t.day} mrt 2026 {t:%H:%M:%S}",
    "RFC 2822": lambda t: f"{t:%a, %d %b %Y %H:%M:%S} +0000",
}


@pytest.mark.parametrize("name", CLOCKS)
def test_times_of_many_forms_are_learned(tmp_path: Path, name: str) -> None:
    clock = CLOCKS[name]
    assert read(tmp_path, lambda c: f"{clock(c.start)} {c.sign} parlon {c.group}, {c.seconds} s") == (*TOTAL, {})


def test_a_zone_in_letters_is_part_of_the_time(tmp_path: Path) -> None:
    local = dt.timedelta(hours=1)
    path = log_of(tmp_path / "a.log", calls(15), lambda c: f"{c.start + local} CET {c.sign} TG {c.group} {c.seconds} s")
    fold_logs(tmp_path / "state", [LogFiles([path], pattern=learn_log(path, "dmr").pattern)])
    weights = weights_in(tmp_path / "state")
    assert weights.rows()["first"].min() == calls(15)[0].start.replace(tzinfo=dt.UTC)


@pytest.mark.parametrize(("start", "end"), [(">>>", "<<<"), ("+", "-"), ("state=1", "state=0"), ("up", "down")])
def test_signs_numbers_and_words_that_alternate_tell_events(tmp_path: Path, start: str, end: str) -> None:
    found = read(
        tmp_path,
        lambda c: f"{c.start} {start} {c.sign} {c.id} TG {c.group}",
        lambda c: f"{c.end} {end} {c.sign} {c.id} TG {c.group} {c.seconds} s",
    )
    assert found == (*TOTAL, {})


ENDS: dict[str, tuple[Line, Line]] = {
    "behind the word": (
        lambda c: f"{c.start} {c.sign} TG{c.group} begins",
        lambda c: f"{c.end} {c.sign} TG{c.group} done, {c.seconds}.4 s",
    ),
    "behind an unknown word": (
        lambda c: f"{c.start} {c.id} TG{c.group} opkomst",
        lambda c: f"{c.end} {c.id} TG{c.group} afgang {c.seconds}.4 s",
    ),
    "named in JSON": (
        lambda c: f"{c.start} bus " + json.dumps({"event": "start", "src": c.id, "tg": c.group}),
        lambda c: f"{c.end} bus " + json.dumps({"event": "stop", "src": c.id, "tg": c.group, "secs": c.seconds + 0.4}),
    ),
}


@pytest.mark.parametrize("name", ENDS)
def test_a_duration_that_only_ends_tell_is_read(tmp_path: Path, name: str) -> None:
    count, seconds, _ = read(tmp_path, *ENDS[name])
    assert (count, seconds) == (TOTAL[0], TOTAL[1] + int(0.4 * TOTAL[0]))


def test_the_second_time_of_a_line_is_the_end(tmp_path: Path) -> None:
    assert read(tmp_path, lambda c: f"{c.sign} ({c.id}) TG {c.group} from {c.start} to {c.end}") == (*TOTAL, {})


@pytest.mark.parametrize("words", [("TG", "private"), ("ZU", "EX")])
def test_private_calls_are_set_aside(tmp_path: Path, words: tuple[str, str]) -> None:
    def line(c: Call) -> str:
        to = f"{words[1]} 2629017" if c.id % 4 == 0 else f"{words[0]} {c.group}"
        return f"{c.start} {c.id} -> {to} {c.seconds} s"

    alone = [c for c in calls(15) if c.id % 4 == 0]
    found = read(tmp_path, line)
    assert found == (TOTAL[0] - len(alone), TOTAL[1] - sum(c.seconds for c in alone), {"private call": len(alone)})


def test_registrations_that_look_like_calls_are_none(tmp_path: Path) -> None:
    """Lines that tell a duration are calls; others like them are not."""

    def line(c: Call) -> str:
        more = f"\n{c.start} registered {c.id} TG 232" if c.seconds % 5 == 0 else ""
        return f"{c.start} call {c.id} TG {c.group} {c.seconds} s{more}"

    assert read(tmp_path, line)[:2] == TOTAL


def test_a_log_of_readings_is_none_of_calls(tmp_path: Path) -> None:
    chance = random.Random(5)
    lines = [
        f"2026-03-10 06:{k % 60:02}:11 sensor 2321{100 + k % 7} reads {chance.randint(150, 300)} in 0.{k % 9} s"
        for k in range(200)
    ]
    (tmp_path / "a.log").write_text("\n".join(lines))
    with pytest.raises(InputRefusedError, match="no talkgroup found"):
        learn_log(tmp_path / "a.log", "dmr")


def test_addresses_of_the_internet_are_no_talkgroups(tmp_path: Path) -> None:
    assert read(
        tmp_path, lambda c: f"{c.start} 192.0.2.{c.id % 250}:{40_000 + c.id % 999} {c.sign} {c.group} {c.seconds} s"
    ) == (*TOTAL, {})


def test_control_characters_and_quotes_of_a_line_can_be_written_into_settings(tmp_path: Path) -> None:
    import tomllib

    path = log_of(tmp_path / "a.log", calls(14), lambda c: f"{c.start} '''{c.sign}''' \x1b[31m TG {c.group} {c.seconds} s")
    learned = learn_log(path, "dmr")
    written = tomllib.loads(snippet(LearnedFrom(path, "a.log"), learned.pattern))
    assert written["heard"][0]["pattern"] == learned.pattern
    assert len(learned.explained) == TOTAL[0]
