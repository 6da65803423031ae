"""Free lines of logs, all formats invented: what is learned of one day reads the next, which it has not seen."""

from __future__ import annotations

import datetime as dt
import json
import random
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from heard_weights import weights_in

from pruner.cli.boundary import guarded
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs
from pruner.logs.learn import learn_log, learned_from, write_pattern
from pruner.read.heard_pattern import groups_of
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError, PrunerError, SettingsError

NAMES = "Anna Bert Carla Dora Emil Ferdl Gusti Hans-Peter Ida Jo".split()
TOWNS = ["Graz", "Bad Ischl", "Linz", "St. Veit", "Wien"]
NOISE = ["link to the reflector is up", "temperature 45", "keepalive 7", "restart of the receiver", "configuration read again"]


class Call:
    """One invented call."""

    def __init__(self, time: dt.datetime, chance: random.Random, people: list[tuple[int, str, str, str]]) -> None:
        self.time = time
        self.id, self.sign, self.name, self.town = chance.choice(people)
        self.group = chance.choice([232, 91, 2328, 8, 262])
        self.seconds = round(chance.uniform(0.5, 59), 1)
        self.slot, self.loss, self.signal = chance.choice([1, 2]), chance.randrange(90) / 10, chance.randrange(40, 120)
        self.word = "OK" if chance.random() < 0.9 else "weak"


def day_of_calls(day: int, count: int = 150) -> Iterator[Call]:
    chance = random.Random(day)
    people = [
        (
            2_320_000 + chance.randrange(9999),
            f"OE{chance.randrange(1, 10)}{''.join(chance.choices('ABCDEFGHKXYZ', k=3))}",
            name,
            town,
        )
        for name in NAMES
        for town in TOWNS
    ]
    time = dt.datetime(2026, 3, day)
    for _ in range(count):
        time += dt.timedelta(seconds=chance.randrange(20, 280))
        yield Call(time, chance, people)


OTHERS = '[[source]]\nname = "w"\nlocation = "w.csv"\n[[radio]]\nname = "r"\ncontacts = 5\n'
Format = Callable[[Call], str]
FORMATS: dict[str, Format] = {
    "sentence": lambda c: f"{c.time} voice end: {c.sign} ({c.id}) on TG {c.group} slot {c.slot}, {c.seconds} s, loss {c.loss}%",
    "keys": lambda c: f'{c.time:%b %e %H:%M:%S} gate3 rx[{c.signal}]: src={c.id} dst={c.group} name="{c.name}" dur={c.seconds}',
    "german": lambda c: (
        f"[{c.time:%d.%m.%Y %H:%M:%S}] {c.name} aus {c.town} {c.sign} / {c.id} -> {c.group}: {int(c.seconds * 1000)} ms"
    ),
    "level": lambda c: (
        f"INFO  {c.time:%Y/%m/%d %H:%M:%S.250} heard {c.id} {c.name} from {c.town}, group {c.group}, {int(c.seconds)} seconds"
    ),
    "ctime": lambda c: (
        f"{c.time:%a %b %e %H:%M:%S %Y} #{c.signal * 71} caller:{c.id} group:{c.group} time:0:{int(c.seconds):02}"
    ),
    "clock first": lambda c: (
        f"{c.time:%H:%M:%S %d-%m-%Y}  RX  {c.id:>8}  {c.sign:<8}  TG{c.group:<6} {c.seconds:5.1f}s  {c.word}"
    ),
    "polish month": lambda c: (
        f"{c.time.day} października 2025 {c.time:%H:%M:%S} stacja {c.sign} id={c.id} grupa={c.group} czas={c.seconds}s"
    ),
    "points": lambda c: f"{c.time:%Y.%m.%d. %H:%M:%S} {c.sign} {c.name} azonosító {c.id} csoport {c.group} {c.seconds} s",
    "12 hours": lambda c: f"{c.time:%m/%d/%Y %I:%M:%S %p} - {c.sign} - {c.id} - TG {c.group} - {c.seconds} sec",
    "epoch": lambda c: (
        f"@{int(c.time.replace(tzinfo=dt.UTC).timestamp())} <{c.sign}|{c.id}> => ({c.group}) took {c.seconds}s rssi -{c.signal}"
    ),
}


def written(path: Path, form: Format, day: int) -> int:
    lines = []
    calls = list(day_of_calls(day))
    for number, call in enumerate(calls):
        lines.append(form(call))
        if number % 7 == 3:
            lines.append(f"{call.time} {NOISE[number % len(NOISE)]}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return len(calls)


@pytest.mark.parametrize("name", FORMATS)
def test_a_learned_pattern_reads_a_day_that_it_has_not_seen(tmp_path: Path, name: str) -> None:
    first, second = tmp_path / "first.log", tmp_path / "second.log"
    written(first, FORMATS[name], 13)
    learned = learn_log(first, "dmr")
    assert {"time", "id", "talkgroup", "seconds"} <= set(groups_of(learned.pattern))
    calls = written(second, FORMATS[name], 24)
    result = fold_logs(tmp_path / "state", [LogFiles([second], pattern=learned.pattern)])
    account = result.files[0].account
    assert account.folded >= 0.99 * calls
    assert account.folded <= calls
    assert account.read == account.folded + account.set_aside.total() + account.rejected.total()

    weights = weights_in(tmp_path / "state")
    rows = weights.rows()
    wanted = list(day_of_calls(24))
    assert set(rows["id"].to_list()) == {call.id for call in wanted}
    assert set(rows["talkgroup"].to_list()) == {call.group for call in wanted}
    assert abs(rows["milliseconds"].sum() / 1000 - sum(call.seconds for call in wanted)) < len(wanted)
    first = wanted[0].time.replace(tzinfo=dt.UTC)
    assert rows["first"].min() == (first.replace(year=2025, month=10) if name == "polish month" else first)


def test_lines_without_calls_teach_nothing(tmp_path: Path) -> None:
    path = tmp_path / "system.log"
    path.write_text("".join(f"2026-03-01 12:{k:02}:00 temperature {40 + k} load 0.{k}\n" for k in range(60)))
    with pytest.raises(InputRefusedError, match="no form of line"):
        learn_log(path, "dmr")


def test_the_pattern_goes_into_the_table_that_finds_the_log(tmp_path: Path) -> None:
    (tmp_path / "logs").mkdir()
    log = tmp_path / "logs" / "heard.log"
    written(log, FORMATS["keys"], 13)
    settings = tmp_path / "pruner.toml"
    settings.write_text(
        '# mine\n[[heard]]\nlocation = "other/*.csv"\n\n[[heard]]\nlocation = "logs/*.log"  # lines\nzone = "UTC"\n' + OTHERS
    )
    pattern = learn_log(log, "dmr").pattern
    assert "line 6" in write_pattern(settings, log, pattern)
    tables = tomllib.loads(settings.read_text())["heard"]
    assert tables == [{"location": "other/*.csv"}, {"location": "logs/*.log", "pattern": pattern, "zone": "UTC"}]
    assert settings.read_text().startswith("# mine\n")
    assert load_settings(settings).heard[1].pattern == pattern
    with pytest.raises(SettingsError, match="has a pattern"):
        write_pattern(settings, log, pattern)
    fresh = tmp_path / "fresh.toml"
    write_pattern(fresh, log, pattern)
    assert tomllib.loads(fresh.read_text())["heard"] == [{"location": str(log), "pattern": pattern}]


@pytest.mark.parametrize("has_table", [True, False])
def test_the_system_of_a_log_is_written_with_its_pattern(tmp_path: Path, has_table: bool) -> None:
    """A fold by the settings finds the calls then, and learning once more needs no option."""
    log = tmp_path / "heard.log"
    lines = [f"2026-03-{k // 40 + 1:02} 12:{k % 40:02}:07 unit {7001 + k % 9} group {k % 3 + 11}" for k in range(90)]
    log.write_text("\n".join(lines) + "\n")
    settings = tmp_path / "pruner.toml"
    settings.write_text(OTHERS + ('[[heard]]\nlocation = "*.log"\n' if has_table else ""))
    learn = ["heard", "learn", str(log), "--settings", str(settings)]
    assert guarded([*learn, "--system", "nxdn", "--write"]) == 0
    assert load_settings(settings).heard[0].system == "nxdn"
    assert guarded(["heard", "fold", "--settings", str(settings)]) == 0
    assert weights_in(tmp_path / ".pruner", "nxdn").rows()["calls"].sum() == 90
    assert guarded(learn) == 0
    assert guarded([*learn, "--system", "p25"]) == 2


@pytest.mark.parametrize(
    "pattern",
    ["(", "(?P<id>\\d+)", "(?P<who>x)(?P<id>x)(?P<talkgroup>x)(?P<time>x)", "(?=a)(?P<id>x)(?P<talkgroup>x)(?P<time>x)"],
)
def test_patterns_that_cannot_be_used_are_refused(pattern: str) -> None:
    with pytest.raises(SettingsError, match="pattern"):
        groups_of(pattern)


def test_a_pattern_that_explains_nothing_is_refused(tmp_path: Path) -> None:
    log = tmp_path / "heard.log"
    written(log, FORMATS["keys"], 13)
    with pytest.raises(PrunerError, match="explains none"):
        fold_logs(tmp_path / "state", [LogFiles([log], pattern="(?P<id>x)(?P<talkgroup>y)(?P<time>z)")])


def test_the_command_shows_what_it_learned(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from pruner.cli.boundary import guarded

    monkeypatch.chdir(tmp_path)
    written(tmp_path / "heard.log", FORMATS["sentence"], 13)
    assert guarded(["heard", "learn", "heard.log"]) == 0
    shown = capsys.readouterr().out
    assert "not a call:" in shown
    assert "pattern = '''" in shown
    assert guarded(["heard", "learn", "heard.log", "--write", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert (plain["explained"], plain["written"]) == (150, True)
    assert tomllib.loads((tmp_path / "pruner.toml").read_text())["heard"][0]["pattern"] == plain["pattern"]


def test_the_command_says_what_it_wrote_and_where(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    written(tmp_path / "heard.log", FORMATS["sentence"], 13)
    (tmp_path / "pruner.toml").write_text(OTHERS + '[[heard]]\nlocation = "heard.log"\n')
    place = (tmp_path / "pruner.toml").read_text().splitlines().index('location = "heard.log"') + 1
    table = f"the table [[heard]] whose location stands in line {place}"
    assert guarded(["heard", "learn", "heard.log", "--write"]) == 0
    assert f"the pattern is written into {table} of pruner.toml" in " ".join(capsys.readouterr().out.split())
    assert guarded(["heard", "learn", "heard.log"]) == 0
    out, err = capsys.readouterr()
    assert f"pruner.toml: {table} has a pattern already" in " ".join(out.split())
    assert "--write" not in out + err
    assert guarded(["heard", "learn", "heard.log", "--write"]) == 2
    assert f"pruner.toml: {table} has a pattern already; take it out first" in " ".join(capsys.readouterr().err.split())


@pytest.mark.parametrize("name", FORMATS)
def test_free_lines_are_refused_with_the_way_to_learn_them(tmp_path: Path, name: str) -> None:
    """A log that begins with a bracket is no JSON."""
    log = tmp_path / "my heard.log"
    calls = written(log, FORMATS[name], 13)
    if name == "clock first":  # blanks cut it into columns too
        assert fold_logs(tmp_path / "state", [LogFiles([log])]).total.folded == calls
        return
    log.write_text("".join(log.read_text().splitlines(keepends=True)[:50]))  # enough to see what they are
    with pytest.raises(InputRefusedError) as caught:
        fold_logs(tmp_path / "state", [LogFiles([log])])
    assert str(caught.value).endswith(f"pruner heard learn '{log}' --write")


def test_an_address_that_the_settings_do_not_name_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"^https://a\.example\.org/x\.log: .*names no such address"):
        learned_from("https://a.example.org/x.log", tmp_path / "none.toml")
