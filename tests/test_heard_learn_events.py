"""Logs of free lines that tell a call twice, when it begins and when it ends; all formats invented, words from memory."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from heard_weights import weights_in

from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs
from pruner.logs.learn import learn_log
from pruner.read.event_words import event_of
from pruner.read.heard_pattern import records_of
from pruner.read.line_events import Line, find_events

NAMES = ["Anna", "Bert", "Carla", "Dora", "Emil"]
MONTHS = "Januar Februar März April Mai Juni Juli August September Oktober November Dezember".split()


@dataclass(frozen=True)
class Over:
    """One invented call; two of one station on one talkgroup never overlap."""

    start: dt.datetime
    id: int
    group: int
    seconds: int
    name: str

    @property
    def end(self) -> dt.datetime:
        return self.start + dt.timedelta(seconds=self.seconds)

    @property
    def sign(self) -> str:
        return f"OE{self.id % 9 + 1}A{chr(65 + self.id % 23)}{chr(65 + self.id % 17)}"


def overs(seed: int, count: int = 200) -> list[Over]:
    chance = random.Random(seed)
    time, made = dt.datetime(2026, 3, 10 + seed, 0, 5), []
    for _ in range(count):
        time += dt.timedelta(seconds=chance.randrange(70, 200))
        id = 2_320_000 + chance.randrange(60)
        made.append(Over(time, id, chance.choice([232, 91, 2328, 8]), chance.randrange(4, 60), NAMES[id % 5]))
    return made


Telling = Callable[[dt.datetime, Over, bool], str]


def worded(start: str, end: str, form: str = "{t} gate: {w} {o.id} -> {o.group}") -> Telling:
    return lambda t, o, is_end: form.format(t=t, o=o, w=end if is_end else start)


LOGS: dict[str, Telling] = {
    "english": lambda t, o, e: (
        f"{t:%b %e %H:%M:%S} gw voiced[812]: call {'end' if e else 'start'} src {o.id} dst {o.group}"
        + (f" after {o.seconds} sec" if e else "")
    ),
    "german": lambda t, o, e: (
        f"{t.day}. {MONTHS[t.month - 1]} {t.year} {t:%H:%M:%S} {'Ende' if e else 'Beginn'}: {o.sign} ({o.id}) auf {o.group}"
    ),
    "french": worded("début", "fin", "{t} liaison {w} de {o.sign} groupe {o.group} par {o.id}"),
    "spanish": worded("inicio", "final", "[{t}] {w} llamada id={o.id} grupo={o.group}"),
    "polish": worded("rozpoczęto", "zakończono", "{t} stacja {o.id} ({o.name}) grupa {o.group} {w}"),
    "russian": worded("начало", "конец", "{t} вызов {w} {o.id} группа {o.group}"),
    "japanese": worded("通話開始", "通話終了", "{t} {w} id {o.id} group {o.group}"),
    "unknown words": worded("oplo", "dapli", "{t} line {w}; caller {o.id}, group {o.group}"),
    "two words": worded("carrier up", "carrier gone", "{t} {w} | {o.id} | {o.group}"),
    "names beside": worded("hoi", "salü", "{t} {w} {o.name} caller {o.id} group {o.group}"),
}


def written(path: Path, made: list[Over], telling: Telling, *, newest_first: bool = False, lost: int = 0) -> None:
    events = [(o.start, o, False) for o in made] + [(o.end, o, True) for o in made[: len(made) - lost]]
    lines = [telling(*event) for event in sorted(events, key=lambda one: one[0])]
    path.write_text("\n".join(lines[::-1] if newest_first else lines) + "\n", encoding="utf-8")


def counted(folder: Path, path: Path, pattern: str) -> tuple[Counter[tuple[int, int]], float, int]:
    """Calls by id and talkgroup, seconds on air, and lines set aside, of a fold of its own."""
    result = fold_logs(folder, [LogFiles([path], pattern=pattern)])
    weights = weights_in(folder)
    calls: Counter[tuple[int, int]] = Counter()
    for id, group, count in weights.rows().select("id", "talkgroup", "calls").iter_rows():
        calls[id, group] += count
    return calls, weights.rows()["milliseconds"].sum() / 1000, result.total.set_aside.total()


@pytest.mark.parametrize("name", LOGS)
def test_starts_and_ends_are_one_call_also_on_a_day_that_was_not_seen(tmp_path: Path, name: str) -> None:
    first, second = tmp_path / "first.log", tmp_path / "second.log"
    written(first, overs(1), LOGS[name])
    learned = learn_log(first, "dmr")
    assert learned.events is not None
    assert learned.events.is_sure
    made = overs(2)
    written(second, made, LOGS[name])
    calls, seconds, aside = counted(tmp_path / "state", second, learned.pattern)
    assert aside == 0
    assert calls == Counter((over.id, over.group) for over in made)
    assert seconds == pytest.approx(sum(over.seconds for over in made), abs=120)


def test_words_that_nobody_knows_are_understood_with_the_newest_line_first_and_lines_missing(tmp_path: Path) -> None:
    log = tmp_path / "heard.log"
    made = overs(3)
    written(log, made, LOGS["unknown words"], newest_first=True, lost=20)
    learned = learn_log(log, "dmr")
    assert learned.events is not None
    assert (learned.events.starts, learned.events.ends) == (("oplo",), ("dapli",))
    assert counted(tmp_path / "state", log, learned.pattern)[0] == Counter((over.id, over.group) for over in made)


def test_words_that_vary_without_telling_events_are_none(tmp_path: Path) -> None:
    log = tmp_path / "heard.log"
    chance = random.Random(4)
    made = overs(4, 1500)
    lines = [f"{o.start} {chance.choice(['loud', 'weak'])} caller {o.id} group {o.group} for {o.seconds} s" for o in made]
    log.write_text("\n".join(lines) + "\n")
    learned = learn_log(log, "dmr")
    assert learned.events is None
    assert counted(tmp_path / "state", log, learned.pattern)[0] == Counter((over.id, over.group) for over in made)


def test_words_that_alternate_too_rarely_are_in_doubt_and_left_out() -> None:
    """Seven of ten lines stand in pairs."""
    lines = []
    for pair in range(70):
        time = pair * 100_000
        lines += [Line(pair % 5, time, ("red",)), Line(pair % 5, time + 20_000, ("blue",))]
        if pair % 7 < 6:
            lines.append(Line(100 + pair, time + 30_000, (("red", "blue")[pair % 2],)))
    found = find_events(lines)
    assert found is not None
    assert not found.is_sure
    assert (found.starts, found.ends) == (("red",), ("blue",))


def test_one_group_of_events_says_what_all_other_lines_tell() -> None:
    for group, told in (("start_event", ["start", "end"]), ("end_event", ["end", "start"])):
        pattern = rf"^(?P<time>\S+) (?P<id>\d+) (?P<talkgroup>\d+)(?: (?P<{group}>x))?$"
        records = records_of(b"2026 1 2 x\n2026 1 2\nnothing\n", pattern, ("time", "id", "talkgroup", group))
        assert records.columns["event"].to_pylist() == [*told, None]
        assert list(records.unreadable) == [2]


def test_what_words_tell() -> None:
    told = {
        "DÉBUT": "start",
        "Zakończono": "end",
        "call_start": "start",
        "CallEnd": "end",
        "語音終了": "end",
        "통화 시작": "start",
    }
    told |= {"private call start": "private"}
    assert {text: event_of(text) for text in told} == told
    assert event_of("voice") is None
    assert event_of("") is None
