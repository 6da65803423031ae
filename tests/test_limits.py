"""Is a larger radio worth it? Golden cases in folders, looked through by hand; agreement with `fit --what-if` and `explore`.

A case is a `pruner.toml` over the directory below (and the export that it carries); `limits.txt` is what the terminal shows,
`limits.json` the same for machines. After a wanted change run this file with `PRUNER_REMAKE=1`, then read the difference.
"""

from __future__ import annotations

import atexit
import json
import os
import shutil
import tempfile
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from pruner.account.limits import COMMON_SIZES
from pruner.account.write_schema import SCHEMAS
from pruner.ask.explore import _to_come
from pruner.ask.history import recorded_growth
from pruner.ask.limits import limit_table
from pruner.ask.tally import tally_of
from pruner.cli.boundary import guarded
from pruner.cli.text import WIDTH, columns
from pruner.job import run
from pruner.job.load import load
from pruner.settings.load import load_settings
from pruner.words.errors import ExitCode

GOLDEN = Path(__file__).parent / "golden" / "limits"
CASES = sorted(path.name for path in GOLDEN.iterdir() if path.is_dir())
Capture = pytest.CaptureFixture[str]
COUNTRIES = (("OE", 232, "Austria", 60), ("DL", 262, "Germany", 200), ("HB", 228, "Switzerland", 100))
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
#: Steady growth: five stations more each month, 360 in the end.
COUNTS = "\n".join(
    ["date,count", *(f"{2024 + month // 12}-{month % 12 + 1:02}-01,{245 + 5 * month + month % 2}" for month in range(24))]
)
LIMITS = "30,120,400"


def stations() -> str:
    """60 stations of Austria, of whom ten bear the call sign of another one, 200 of Germany, 100 of Switzerland."""
    rows = ["callsign,id,name,country"]
    for prefix, code, country, count in COUNTRIES:
        for number in range(1, count + 1):
            borne = number - 10 if country == "Austria" and number > 50 else number
            sign = f"{prefix}{borne % 10}{LETTERS[borne // 10 % 26]}{LETTERS[borne % 26]}{LETTERS[borne // 26 % 26]}"
            rows.append(f"{sign},{code}{number:04},N{number},{country}")
    return "\n".join(rows) + "\n"


def log(days: int) -> str:
    """All but the last 20 of Germany call on talkgroup 91, every third day."""
    lines = ["id,talkgroup,time"]
    for day in range(days):
        for hour, (_, code, _, count) in enumerate(COUNTRIES, 10):
            for number in range(1, min(count, 180) + 1):
                if (day + number) % 3 == 0:
                    when = f"{date(2025, 6, 1) + timedelta(days=day)}T{hour}:{number // 60:02}:{number % 60:02}Z"
                    lines.append(f"{code}{number:04},91,{when}")
    return "\n".join(lines) + "\n"


@cache
def case(name: str) -> Path:
    """The case, to be copied, with counts by hand; where it has a log, as it is once runs have remembered the directory."""
    folder = Path(tempfile.mkdtemp(prefix="pruner-test-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for path in (GOLDEN / name).iterdir():
        if not path.name.startswith("limits."):
            (folder / path.name).write_bytes(path.read_bytes())
    (folder / "stations.csv").write_text(stations())
    (folder / "counts.csv").write_text(COUNTS + "\n")
    if "[[heard]]" in (folder / "pruner.toml").read_text():
        for days in (70, 98):
            (folder / "log.csv").write_text(log(days))
            run(load_settings(folder / "pruner.toml"))
    return folder


def made(name: str, folder: Path) -> Path:
    return Path(shutil.copytree(case(name), folder, dirs_exist_ok=True)) / "pruner.toml"


def shown(capsys: Capture, *more: str) -> str:
    capsys.readouterr()
    assert guarded(["limits", "--limit", LIMITS, "--snapshots", "counts.csv", *more]) == ExitCode.DONE, capsys.readouterr().err
    return capsys.readouterr().out


@pytest.mark.parametrize("name", CASES)
def test_golden_cases(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    made(name, tmp_path)
    monkeypatch.chdir(tmp_path)
    text, document = shown(capsys), shown(capsys, "--json")
    if os.environ.get("PRUNER_REMAKE"):
        (GOLDEN / name / "limits.txt").write_text(text, encoding="utf-8")
        (GOLDEN / name / "limits.json").write_text(document, encoding="utf-8")
    assert text == (GOLDEN / name / "limits.txt").read_text(encoding="utf-8")
    assert document == (GOLDEN / name / "limits.json").read_text(encoding="utf-8")
    assert all(columns(line) <= WIDTH for line in text.splitlines())
    schema = next(path for path in SCHEMAS if path.name == "limits.schema.json")
    Draft202012Validator(json.loads(schema.read_text())).validate(json.loads(document))


@pytest.mark.parametrize("name", CASES)
def test_it_agrees_with_what_if_and_with_explore(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    """Contacts and shares at every limit of every radio; explore counts all that no limit holds back."""
    settings = load_settings(made(name, tmp_path))
    monkeypatch.chdir(tmp_path)
    found = json.loads(shown(capsys, "--json"))
    rows = {(radio, row["contacts"]): row for group in found["groups"] for row in group["rows"] for radio in group["radios"]}
    sizes = sorted({limit for _, limit in rows})
    assert guarded(["fit", "--what-if", ",".join(map(str, sizes)), "--json"]) == ExitCode.DONE
    tried = json.loads(capsys.readouterr().out)
    for (radio, limit), row in rows.items():
        (other,) = [one for one in tried[radio] if one["contacts"] == limit]
        assert (row["kept"], row["to_come"]) == (other["kept"], other["to_come"])
    if name == "call-signs-and-carried":
        return  # explore refuses one id per call sign
    loaded = load(settings)
    for radio in settings.radios:
        whole = rows[radio.name, max(COMMON_SIZES)]["kept"]
        tally = tally_of(loaded, radio)
        ends = [rule.at_most for rule in tally.rules]
        cells = zip(tally.cells.combination.tolist(), tally.cells.contacts.tolist(), strict=True)
        met = sum(count for rules, count in cells if tally.combinations[rules])
        assert whole == tally.carried + met if not any(ends) else whole == 32
        ahead = _to_come(loaded, radio)
        if name == "with-calls":
            assert ahead is not None
            shares = {one["contacts"]: one["share"] for one in ahead["by_limit"]}
            told = {limit: row["to_come"]["share"] for (of, limit), row in rows.items() if of == radio.name}
            assert {30, 60, 120} <= shares.keys() & told.keys()
            assert all(shares[limit] == told[limit] for limit in shares.keys() & told.keys())


@pytest.mark.parametrize("name", CASES)
def test_a_fit_tells_the_same_in_its_summary_and_on_its_page(name: str, tmp_path: Path) -> None:
    settings = load_settings(made(name, tmp_path))
    loaded = load(settings)
    table = limit_table(loaded, settings.radios, recorded_growth(settings).series)
    for radio, summary in zip(settings.radios, run(settings).summaries, strict=True):
        (group,) = [group for group in table.groups if radio.name in group.radios]
        rows = {row.contacts: row for row in group.rows}
        for one in summary.limits:
            assert (one.kept, one.countries, one.to_come) == tuple(
                getattr(rows[one.contacts], key) for key in ("kept", "countries", "to_come")
            )
        (own,) = [one for one in summary.limits if one.contacts == radio.contacts]
        assert own.kept == summary.kept
        carried = ("unknown",) if radio.carried else ()
        assert own.countries == len([code for code in summary.countries if code not in ("unknown", *carried)])
        if summary.coverage and summary.coverage.to_come:
            assert own.to_come.share == summary.coverage.to_come.share
        page = (settings.output.folder / radio.name / "report.html").read_text()
        assert "Is a larger radio worth it?" in page
        assert "pruner report, which makes this page anew" in page


def test_shares_are_those_of_the_callers(tmp_path: Path) -> None:
    """By hand: 340 stations call alike, so a limit of 60 names 60 in 340; a longer log would name no more."""
    settings = load_settings(made("with-calls", tmp_path))
    (group,) = limit_table(load(settings), settings.radios, recorded_growth(settings).series, (30, 120)).groups
    shares = {row.contacts: row.to_come.share for row in group.rows}
    for limit in (30, 60, 120):
        assert shares[limit] == pytest.approx(limit / 340, abs=0.001)
    assert shares[345] == pytest.approx(1.0)


def test_the_page_made_anew_has_dates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = load_settings(made("outgrown-lately", tmp_path))
    monkeypatch.chdir(tmp_path)
    run(settings)
    from history_samples import summary

    from pruner.history.record import record

    for line in COUNTS.splitlines()[1:]:
        day, _, count = line.partition(",")
        record(settings.output.state / "history", date.fromisoformat(day), [summary(int(count), radio="hand")])
    assert guarded(["report", "--out", "page.html"]) == ExitCode.DONE
    page = Path("page.html").read_text()
    assert "hand (340 contacts) is full since 20" in page
    assert "90 % interval" in page


def test_the_page_of_several_radios_has_the_table_of_each(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    run(load_settings(made("three-radios", tmp_path)))
    monkeypatch.chdir(tmp_path)
    assert guarded(["report", "--out", "page.html"]) == ExitCode.DONE
    page = Path("page.html").read_text()
    assert page.count("Is a larger radio worth it?") == 3
    for sentence in ("small (50 contacts) is full: the rules ask for 360", "car (50 contacts) is full: the rules ask for 60"):
        assert sentence in page
    assert (
        "large (1,000 contacts) holds all 360 contacts that the rules ask for. Until when is not known: 1 recorded day" in page
    )


def test_a_queue_is_made_once_for_all_limits(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    settings = load_settings(made("three-radios", tmp_path))
    loaded = load(settings)
    module = sys.modules["pruner.job.choose"]
    made_queues: list[int] = []
    whole = module._queues
    monkeypatch.setattr(module, "_queues", lambda *given: (made_queues.append(1), whole(*given))[1])
    found = limit_table(loaded, settings.radios, recorded_growth(settings).series, (30, 120, 400))
    assert sum(len(group.rows) for group in found.groups) == 9 + 8
    assert len(made_queues) == len(found.groups) == 2


def test_a_radio_whose_limit_is_bytes_has_a_row_of_its_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture
) -> None:
    path = made("three-radios", tmp_path)
    field = '[[radio.memory.field]]\nname = "callsign"\nform = "fixed"\ncharacters = 5\n'
    small, others = path.read_text().split("contacts = 50\n", 1)
    path.write_text(f"{small}[radio.memory]\nbytes = 1_000\nrecord = 20\n{field}{others}")
    monkeypatch.chdir(tmp_path)
    found: dict[str, Any] = json.loads(shown(capsys, "--json"))
    (row,) = [row for row in found["groups"][0]["rows"] if row["radios"] == ["small"]]
    assert (row["bytes"], row["kept"], row["lasts"]["status"]) == (1000, 40, "full")
    assert row["next_size"] == {"limit": 120, "contacts": 80, "points": None}
    assert "in bytes" in shown(capsys)


def test_a_radio_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    made("three-radios", tmp_path)
    monkeypatch.chdir(tmp_path)
    assert guarded(["limits", "--radio", "none"]) == ExitCode.SETTINGS
    assert "no radio is named 'none'; there are small, large, car" in capsys.readouterr().err
    told = json.loads(shown(capsys, "--json", "--radio", "car"))
    assert [group["radios"] for group in told["groups"]] == [["car"]]
