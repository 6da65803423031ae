"""Numbers in free lines that are no ids and no durations, on invented lines: what stands beside them contradicts."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pyarrow as pa
import pytest
from heard_weights import weights_in

from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs
from pruner.read.durations import parse_seconds
from pruner.read.line_pattern import Learned, learn

#: Country codes of ids: 232 Austria, 262 Germany (ITU list of mobile country codes; from memory), with call signs of both.
PEOPLE = [(f"OE{1 + k % 9}ZQ{'ABCDEFGHKX'[k]}", 2_328_100 + k * 37) for k in range(10)]
PEOPLE += [(f"DL{1 + k % 9}ZQ{'ABCDEFGHKX'[k]}", 2_628_100 + k * 41) for k in range(10)]


@dataclass(frozen=True)
class Heard:
    """One invented call, with numbers that are none of ours."""

    number: int
    sign: str
    id: int
    group: int
    seconds: int
    process: int
    chance: random.Random

    @property
    def time(self) -> str:
        return f"2026-04-11 {self.number // 60 % 24:02}:{self.number % 60:02}:07"


def lines_of(form: Callable[[Heard], str], count: int = 150) -> list[str]:
    chance = random.Random(11)
    calls = []
    for number in range(count):
        sign, id = chance.choice(PEOPLE)
        group, seconds = chance.choice((232, 91, 2328)), chance.randrange(1, 59)
        calls.append(Heard(number, sign, id, group, seconds, chance.randrange(200, 800), chance))
    return [form(call) for call in calls]


def learned(form: Callable[[Heard], str], system: str = "dmr") -> Learned:
    found = learn(lines_of(form), system)
    assert found is not None
    assert len(found.explained) == 150
    return found


NO_IDS: dict[str, Callable[[Heard], str]] = {
    "process number": lambda c: f"{c.time} node2 kelmon[{c.process}]: voice from {c.sign} to TG {c.group}",
    "constant process number": lambda c: f"{c.time} node2 kelmon[262]: voice from {c.sign} to TG {c.group}",
    "long constant": lambda c: f"{c.time} node2 kelmon[2628101]: voice from {c.sign} to TG {c.group}",
    "frequency": lambda c: f"{c.time} {c.sign} hier {(438_225, 438_300)[c.number % 2]} kHz group {c.group}",
    "frequency without unit": lambda c: f"{c.time} {c.sign} auf {(438_225, 438_300)[c.number % 2]} group {c.group}",
    "counter": lambda c: f"{c.time} {c.sign} lfd {2_320_000 + c.number} group {c.group}",
    "any number": lambda c: f"{c.time} {c.sign} token {c.chance.randrange(2_320_000, 2_329_999)} group {c.group}",
    "id of the repeater": lambda c: f"{c.time} {c.sign} via {(232_801, 232_802)[c.number % 2]} group {c.group}",
    "other country": lambda c: f"{c.time} {c.sign} key {c.id + 2_000_000} group {c.group}",
}


@pytest.mark.parametrize("name", NO_IDS)
def test_a_number_that_the_call_signs_contradict_is_no_id(name: str) -> None:
    found = learned(NO_IDS[name])
    assert {"time", "callsign", "talkgroup"} <= set(found.examples)
    assert "id" not in found.examples
    if "constant" not in name:
        assert found.unused


@pytest.mark.parametrize(
    "form",
    [
        lambda c: f"{c.time} node2 kelmon[{c.process}]: voice from {c.sign} ({c.id}) to TG {c.group}",
        lambda c: f"{c.time} {438_225} kHz src {c.id} to TG {c.group}",
        lambda c: f"{c.time} {c.sign} key {c.id} group {c.group} via OE9ZZZ",
    ],
)
def test_a_number_that_nothing_contradicts_is_the_id(form: Callable[[Heard], str]) -> None:
    found = learned(form)
    assert {"time", "id", "talkgroup"} <= set(found.examples)
    assert found.examples["id"] in {str(id) for _, id in PEOPLE}


@pytest.mark.parametrize(
    "form",
    [
        lambda c: f"{c.time} OE9ZZZ rx: {c.sign} ({c.id}) to TG {c.group}",
        lambda c: f"{c.time} OE9ZZZ rx: {c.sign} to TG {c.group}",
        lambda c: f"{c.time} OE{1 + c.process % 3}ZZZ rx: {c.sign} ({c.id}) to TG {c.group}",
    ],
)
def test_the_call_sign_of_a_gateway_is_no_caller(form: Callable[[Heard], str]) -> None:
    assert learned(form).examples["callsign"] in {sign for sign, _ in PEOPLE}


def test_without_call_signs_a_process_number_is_no_caller() -> None:
    assert learn(lines_of(lambda c: f"{c.time} kelmon[{c.process}]: voice to TG {c.group}"), "dmr") is None


NO_SECONDS: dict[str, Callable[[Heard], str]] = {
    "error rate": lambda c: f"{c.time} src={c.sign} dst={c.group} ber={c.seconds / 100}",
    "level": lambda c: f"{c.time} src={c.sign} dst={c.group} rssi=-{c.seconds}",
    "level in words": lambda c: f"{c.time} src {c.sign} dst {c.group} signal {c.seconds / 10}",
    "share": lambda c: f"{c.time} src={c.sign} dst={c.group}, {c.seconds / 10}%",
    "decibels": lambda c: f"{c.time} src={c.sign} dst={c.group}, {c.seconds} dB",
    "unknown key": lambda c: f"{c.time} src={c.sign} dst={c.group} qual={c.seconds / 10}",
    "below nought": lambda c: f"{c.time} src={c.sign} dst={c.group}, -{c.seconds}.5",
    "longitude": lambda c: f"{c.time} src={c.sign} dst={c.group} Länge {c.seconds / 10}",
    "latency": lambda c: f"{c.time} src={c.sign} dst={c.group} latency={c.seconds}ms",
}


@pytest.mark.parametrize("name", NO_SECONDS)
def test_a_number_of_another_kind_is_no_duration(name: str) -> None:
    found = learned(NO_SECONDS[name])
    assert "seconds" not in found.examples
    assert any(any(letter.isdigit() for letter in text) for text in found.unused)


SECONDS: dict[str, Callable[[Heard], str]] = {
    "key": lambda c: f"{c.time} src={c.sign} dst={c.group} ber=0.{c.process} dur={c.seconds}",
    "key and latency": lambda c: f"{c.time} src={c.sign} dst={c.group} latency={c.process}ms dur={c.seconds}s",
    "key and another time": lambda c: f"{c.time} src={c.sign} dst={c.group} buffer={c.process}ms dur={c.seconds}s",
    "no label": lambda c: f"{c.time} src={c.sign} dst={c.group}, {c.seconds}",
    "word": lambda c: f"{c.time} src={c.sign} dst={c.group} took {c.seconds}",
    "Japanese": lambda c: f"{c.time} src={c.sign} dst={c.group} {c.seconds}秒",
    "Russian": lambda c: f"{c.time} src={c.sign} dst={c.group} {c.seconds}сек",
    "Turkish": lambda c: f"{c.time} src={c.sign} dst={c.group} {c.seconds}saniye",
    "Turkish, apart": lambda c: f"{c.time} src={c.sign} dst={c.group} {c.seconds} Saniye",
    "singular": lambda c: f"{c.time} src={c.sign} dst={c.group} {c.seconds} segundo{'s' * (c.seconds > 1)}",
    "minutes": lambda c: f"{c.time} src={c.sign} dst={c.group} {c.seconds // 60 + 1} min {c.seconds} s",
    "Korean": lambda c: f"{c.time} src={c.sign} dst={c.group} ({c.seconds}초)",
}


@pytest.mark.parametrize("name", SECONDS)
def test_a_word_or_unit_says_what_is_a_duration(name: str) -> None:
    form = SECONDS[name]
    found = learned(form)
    texts = [match["seconds"] for line in found.explained if (match := re.fullmatch(found.pattern, line))]
    milliseconds, is_readable = parse_seconds(pa.array(texts))
    assert is_readable.all()
    wanted: list[int] = []
    lines_of(lambda c: wanted.append((c.seconds + 60 * (name == "minutes")) * 1000) or form(c))
    assert milliseconds.tolist() == wanted


def test_a_fold_reads_units_of_another_script(tmp_path: Path) -> None:
    lines = lines_of(lambda c: f"[{c.time}] 受信 {c.sign} ID:{c.id} TG {c.group} {c.seconds}秒")
    found = learn(lines, "dmr")
    assert found is not None
    log = tmp_path / "heard.log"
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = fold_logs(tmp_path / "state", [LogFiles([log], pattern=found.pattern)])
    assert result.total.folded == 150
    weights = weights_in(tmp_path / "state")
    wanted = sum(int(line.split()[-1].removesuffix("秒")) for line in lines)
    assert weights.rows()["milliseconds"].sum() == wanted * 1000


def test_ends_of_calls_tell_their_length_in_words() -> None:
    def form(call: Heard) -> str:
        said = ("Gespräch beendet", f", Dauer {call.seconds} Sekunden") if call.number % 2 else ("Gespräch beginnt", "")
        return f"{call.time} {said[0]}: {call.sign} ({call.id}) TG {call.group}{said[1]}"

    found = learned(form)
    assert found.examples["seconds"].endswith("Sekunden")
    assert {"start_event", "end_event"} <= set(found.examples)
    assert not found.unused
