"""Radios whose limit is bytes: what is kept fits when it is really encoded, and nothing more would have."""

from __future__ import annotations

import atexit
import csv
import json
import random
import shutil
import tempfile
from functools import cache
from itertools import combinations
from pathlib import Path
from typing import Any

import polars as pl
import pytest

from pruner.ask.what_if import LimitTried
from pruner.ask.why import stories
from pruner.cli.summary_text import what_if_text
from pruner.job import run
from pruner.job.run import load
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_all, fold_logs
from pruner.settings.load import load_settings

NAMES = ["Anna Berg", "Bert Tal", "Cora Großmann", "Ó Máille", "Wilhelmina von der Wiesen", ""]
TOWNS = ["Ried", "St. Valentin an der Donau", "Zürich", ""]
MEMORY = """
[radio.memory]
bytes = {bytes}
header = 16
record = 4
index = 3
page = {page}
[[radio.memory.field]]
name = "callsign"
form = "fixed"
characters = 8
bits = 6
[[radio.memory.field]]
name = "name"
form = "prefixed"
characters = 20
bits = "utf-8"
[[radio.memory.field]]
name = "town"
form = "terminated"
characters = 12
bits = 16
"""
LEVELS = """
[[radio.level]]
name = "everything"
fields = ["callsign", "name", "town"]
[[radio.level]]
name = "no town"
fields = ["callsign", "name"]
worth = 0.9
[[radio.level]]
name = "call sign"
fields = ["callsign"]
worth = 0.5
"""


def encoded(rows: list[dict[str, str]], page: int) -> bytes:
    """The memory of a radio, byte for byte, written from the description above without the code under test."""
    records = []
    for row in rows:
        sign = sum((ord(letter) % 64) << (6 * place) for place, letter in enumerate(row["callsign"][:8].ljust(8)))
        name = " ".join(part for part in (row["first_name"], row["last_name"]) if part).encode()[:20]
        name = name.decode(errors="ignore").encode()
        town = row["town"].encode("utf-16-le")[:24]
        records.append(
            int(row["id"]).to_bytes(4, "little") + sign.to_bytes(6, "little") + bytes([len(name)]) + name + town + b"\0\0"
        )
    memory = bytearray(b"H" * 16 + b"I" * (3 * len(records)))
    area = bytearray()
    for record in records:
        if len(area) % page + len(record) > page:
            area += b"\xff" * (page - len(area) % page)
        area += record
    if len(area) % page:
        area += b"\xff" * (page - len(area) % page)
    return bytes(memory + area)


@cache
def heard(count: int) -> Path:
    """A log that was folded, to be copied."""
    folder = Path(tempfile.mkdtemp(prefix="pruner-test-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    (folder / "heard.csv").write_text(
        "id,talkgroup,time\n"
        + "".join(f"{2320000 + n},91,2026-06-{1 + c % 30:02}T10:00:00Z\n" for n in range(1, count + 1) for c in range(n % 7))
    )
    fold_logs(folder / ".pruner", [LogFiles([folder / "heard.csv"])])
    return folder


def made(folder: Path, radio: str, count: int = 40) -> Path:
    draw = random.Random(7)
    lines = ["id,callsign,name,town"]
    lines += [
        f"{2320000 + number},OE{number % 10}A{chr(65 + number % 26)}{chr(65 + number // 26)},"
        f"{draw.choice(NAMES)},{draw.choice(TOWNS)}"
        for number in range(1, count + 1)
    ]
    shutil.copytree(heard(count), folder, dirs_exist_ok=True)
    (folder / "stations.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    rules = (
        '[[keep]]\nname = "odd"\ncallsigns = ["OE1*", "OE3*", "OE5*"]\norder = "id"\n[[keep]]\nname = "rest"\norder = "id"\n'
    )
    path = folder / "pruner.toml"
    path.write_text(
        '[[source]]\nname = "world"\nlocation = "stations.csv"\n[[heard]]\nlocation = "heard.csv"\n' + rules + radio
    )
    return path


def fitted(path: Path) -> tuple[dict[str, Any], list[dict[str, str]], pl.DataFrame]:
    settings = load_settings(path)
    fold_all(settings)
    run(settings)
    out = path.parent / "out/r"
    with (out / "contacts.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    told: dict[str, Any] = json.loads((out / "summary.json").read_text())
    ledger = pl.read_parquet(out / "ledger.parquet")
    assert told["read"] == told["kept"] + sum(told["dropped"].values()) + told["rejected"]
    assert told["kept"] == len(rows) == ledger.filter(pl.col("outcome") == "kept").height
    return told, rows, ledger


@cache
def everyone() -> list[dict[str, str]]:
    """The rows where all have room."""
    with tempfile.TemporaryDirectory() as folder:
        return fitted(made(Path(folder), '[[radio]]\nname = "r"\ncontacts = 1000\n'))[1]


@pytest.mark.parametrize("limit", [60, 100, 777, 1024, 1500, 99_999])
@pytest.mark.parametrize("page", [64, 100, 4096])
def test_what_is_kept_is_as_long_as_its_encoding(tmp_path: Path, limit: int, page: int) -> None:
    path = made(tmp_path, '[[radio]]\nname = "r"\n' + MEMORY.format(bytes=limit, page=page))
    told, rows, ledger = fitted(path)
    size = len(encoded(rows, page))
    assert told["memory"]["used"] == size <= limit
    assert told["memory"]["free"] == limit - size
    over = ledger.filter(pl.col("reason") == "over limit").sort("rank")
    kept = ledger.filter(pl.col("outcome") == "kept")
    if over.height:  # the next in line would not have fitted
        assert kept["rank"].max() in (None, over["rank"][0] - 1)
        wanted = {*(row["id"] for row in rows), str(over["id"][0])}
        assert len(encoded([row for row in everyone() if row["id"] in wanted], page)) > limit


@pytest.mark.parametrize("detail", ["one", "per rule"])
def test_less_text_lets_more_stations_in(tmp_path: Path, detail: str) -> None:
    whole = '[[radio]]\nname = "r"\n' + MEMORY.format(bytes=1100, page=100)
    without, _, _ = fitted(made(tmp_path, whole))
    leaner = f'[[radio]]\nname = "r"\ndetail = "{detail}"\n' + MEMORY.format(bytes=1100, page=100) + LEVELS
    told, rows, _ = fitted(made(tmp_path, leaner))
    assert told["kept"] > without["kept"]
    assert len(encoded(rows, 100)) == told["memory"]["used"] <= 1100
    assert sum(told["memory"]["levels"].values()) == told["kept"]
    texts = {(bool(row["first_name"] or row["last_name"]), bool(row["town"])) for row in rows}
    assert (False, True) not in texts  # the town goes first


def test_one_level_per_rule_keeps_the_text_of_the_important_rule(tmp_path: Path) -> None:
    radio = '[[radio]]\nname = "r"\ndetail = "per rule"\n' + MEMORY.format(bytes=1400, page=4096).replace("page = 4096\n", "")
    told, rows, ledger = fitted(made(tmp_path, radio + LEVELS))
    assert told["kept"] == 40
    important = set(ledger.filter(pl.col("rule") == "odd")["id"].cast(pl.String).to_list())
    assert any(row["town"] for row in rows if row["id"] in important)
    assert len(important) == 12
    assert told["memory"]["levels"]["everything"] >= len(important)


def test_aim_coverage_is_worth_what_no_choice_exceeds(tmp_path: Path) -> None:
    """Seven contacts, all levels: compared with every possible choice."""
    limit = 16 + 4 * 3 + 100
    memory = MEMORY.format(bytes=limit, page=4096).replace("page = 4096\n", "")
    path = made(tmp_path, '[[radio]]\nname = "r"\naim = "coverage"\n' + memory + LEVELS, count=7)
    told, _, _ = fitted(path)
    assert told["memory"]["used"] <= limit
    assert told["cut"] is None
    path.write_text(path.read_text().replace(f"bytes = {limit}", "bytes = 99999").replace('aim = "coverage"\n', ""))
    _, everyone, _ = fitted(path)
    bound = told["memory"]["expected_calls"]
    assert bound["value"] <= bound["upper_bound"]
    settings = load_settings(path)
    loaded = load(settings)
    assert loaded.calls is not None
    calls = dict(zip(loaded.contacts.number.tolist(), loaded.calls.expected(None).tolist(), strict=True))
    lean = {"everything": (), "no town": ("town",), "call sign": ("town", "first_name", "last_name")}
    worths = {"everything": 1.0, "no town": 0.9, "call sign": 0.5}
    best = 0.0

    def size_of(row: dict[str, str], level: str) -> int:
        one = {**row, **dict.fromkeys(lean[level], "")}
        name = " ".join(part for part in (one["first_name"], one["last_name"]) if part).encode()[:20]
        name = name.decode(errors="ignore").encode()
        return 4 + 6 + 1 + len(name) + 2 * min(len(one["town"]), 12) + 2 + 3

    for count in range(len(everyone) + 1):
        for chosen in combinations(everyone, count):
            best = max(best, _best_levels(chosen, calls, size_of, worths, limit - 16))
    assert bound["value"] == pytest.approx(best, abs=1e-6)


def _best_levels(chosen: Any, calls: dict[int, float], size_of: Any, worths: dict[str, float], room: int) -> float:
    states = {0: 0.0}
    for row in chosen:
        following: dict[int, float] = {}
        for used, value in states.items():
            for level, worth in worths.items():
                size = used + size_of(row, level)
                if size <= room:
                    following[size] = max(following.get(size, 0.0), value + worth * calls[int(row["id"])])
        states = following
    return max(states.values(), default=0.0)


def test_carried_entries_come_first_in_bytes_too(tmp_path: Path) -> None:
    (tmp_path / "export.csv").write_text("id,callsign,first name,last name,town\n5,BENCH,The,Bench,Kellerstrasse\n9,GATE,,,\n")
    for aim in ("order", "coverage"):
        radio = f'[[radio]]\nname = "r"\ncarried = "export.csv"\naim = "{aim}"\n' + MEMORY.format(bytes=500, page=100) + LEVELS
        told, rows, _ = fitted(made(tmp_path, radio))
        assert [row["id"] for row in rows[:2]] == ["5", "9"]
        assert rows[0]["town"] == "Kellerstrasse"
        assert len(encoded(rows, 100)) == told["memory"]["used"] <= 500


@pytest.mark.parametrize("aim", ["order", "coverage"])
@pytest.mark.parametrize(
    ("page", "limit", "kept"),
    [("", 75, 0), ("", 76, 1), ("", 135, 1), ("", 136, 2), ("100", 118, 0), ("100", 119, 1), ("100", 221, 1), ("100", 222, 2)],
)
def test_no_more_carried_entries_than_the_bytes_hold(tmp_path: Path, aim: str, page: str, limit: int, kept: int) -> None:
    """An entry takes 57 bytes and 3 of the index, or a page; behind one that does not fit comes nobody."""
    (tmp_path / "export.csv").write_text(
        "id,callsign,first name,town\n5,BENCH,A bench at the house,Kellerstrasse\n9,GATE,A gate at the house.,Kellerstrasse\n"
    )
    memory = MEMORY.format(bytes=limit, page=page) if page else MEMORY.replace("page = {page}\n", "").format(bytes=limit)
    radio = f'[[radio]]\nname = "r"\ncarried = "export.csv"\naim = "{aim}"\n' + memory + LEVELS
    told, rows, ledger = fitted(made(tmp_path, radio))
    assert len(rows) == kept
    assert told["memory"]["used"] <= limit
    assert told["rules"][0]["kept"] == kept
    over = ledger.filter((pl.col("source") == "carried entries") & (pl.col("reason") == "over limit"))
    assert over.height == 2 - kept


@pytest.mark.parametrize("page", [None, 100])
def test_the_bound_behind_carried_entries_leaves_them_out(tmp_path: Path, page: int | None) -> None:
    (tmp_path / "export.csv").write_text("id,callsign,first name\n5,BENCH,The\n9,GATE,\n")
    radio = '[[radio]]\nname = "r"\naim = "coverage"\n{}' + MEMORY.format(bytes=800, page=page) + LEVELS
    radio = radio if page else radio.replace("page = None\n", "")
    without, _, _ = fitted(made(tmp_path, radio.format("")))
    told, rows, _ = fitted(made(tmp_path, radio.format('carried = "export.csv"\n')))
    calls = told["memory"]["expected_calls"]
    assert [row["id"] for row in rows[:2]] == ["5", "9"]
    assert 0 < calls["value"] <= calls["upper_bound"] < without["memory"]["expected_calls"]["upper_bound"]
    assert calls["gap"] == pytest.approx(1 - calls["value"] / calls["upper_bound"], abs=1e-6)
    assert calls["gap"] < (0.2 if page else 0.01)


def test_room_kept_free_in_bytes(tmp_path: Path) -> None:
    """Ten of the longest records fit behind what is kept."""
    radio = '[[radio]]\nname = "r"\nkeep_free = 10\n' + MEMORY.format(bytes=1500, page=4096).replace("page = 4096\n", "")
    told, rows, _ = fitted(made(tmp_path, radio))
    longest = 4 + 6 + 21 + 26 + 3
    assert told["memory"]["used"] + 10 * longest <= 1500
    assert len(rows) > 5


def test_why_says_what_would_help_under_this_limit(tmp_path: Path) -> None:
    """In coverage the place of a rule changes nothing; a limit of contacts beside the bytes is the one that counts if it is
    reached; carried entries belong to no rule."""
    (tmp_path / "export.csv").write_text("id,callsign,first name\n5,BENCH,The\n9,GATE,\n")
    carried = '[[radio]]\nname = "r"\ncarried = "export.csv"\n'

    def told(radio: str, limit: int) -> list[str]:
        _, _, ledger = fitted(made(tmp_path, radio + MEMORY.format(bytes=limit, page=4096).replace("page = 4096\n", "")))
        over = ledger.filter(pl.col("reason") == "over limit").sort("rank")["id"].to_list()[0]
        return [stories(tmp_path / "out/r", str(over))[0].to_change, stories(tmp_path / "out/r", "5")[0].to_change]

    assert [text.partition(";")[0] for text in told(carried, 500)] == [
        "More bytes, or less text per contact, would take it in",
        "It stays in as long as the radio has as many bytes as now.",
    ]
    assert told(carried + "contacts = 4\n", 5000)[0].startswith("A limit of 5 contacts (now 4) would take it in; or name it")
    assert told(carried + "contacts = 1\n", 5000)[0].startswith(
        "A limit of 2 contacts (now 1) would take it in; or take entries"
    )
    coverage = told(carried + 'aim = "coverage"\n', 500)
    assert "rule" not in coverage[0]
    assert "names more of the expected calls" in coverage[0]
    assert coverage[1] == "It stays in as long as the radio has as many bytes as now."


def test_small_files_are_not_told_in_millions_of_bytes() -> None:
    rows = [
        LimitTried(contacts=n, kept=n, rules={}, period_days=28, bytes=size, seconds=1.0)
        for n, size in ((1, 0), (2, 27_749), (3, 999_999), (4, 19_096_301))
    ]
    text = what_if_text("r", rows)
    assert all(word in text for word in ("0.0 kB", "27.7 kB", "1,000.0 kB", "19.1 MB")), text
