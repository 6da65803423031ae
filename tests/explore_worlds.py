"""Invented worlds for tests of explore, and what a user does with the settings that the page copies."""

from __future__ import annotations

import csv
import random
import re
from pathlib import Path
from typing import Any

from pruner.account.summary import Summary
from pruner.job import run
from pruner.logs.fold import fold_all
from pruner.settings.load import load_settings

RADIO = "bench"
#: First three digits of an id, country, a few towns, how many stations.
PEOPLE = (
    ("232", "Austria", ("Vienna", "Graz", "Linz", "Innsbruck"), 1500),
    ("262", "Germany", ("Berlin", "Munich", "Hamburg", "Dresden", "Rosenheim"), 4000),
    ("222", "Italy", ("Rome", "Bolzano", "Milan"), 2000),
    ("208", "France", ("Paris", "Lyon", ""), 1500),
    ("310", "United States", ("Boston", "Chicago", "Denver"), 4000),
    ("440", "Japan", ("Tokyo", "Osaka"), 1500),
    ("998", "", ("",), 300),  # of no known country
)
HOME = """\
[home]
country = "AT"
locator = "JN57"
[[source]]
name = "world"
location = "stations.csv"
[talkgroups]
mine = [232, 91]
"""
DROPS = """\
[[drop]]
name = "asked to be left out"
list = "left-out.csv"
"""
KEEPS = """\
[[keep]]
name = "club" # with a comment
list = "club.csv"
[[keep]]
name = 'heard "lately"'
talkgroups = "mine"
heard_within_days = 2
order = "recent"
[[keep]]
name = "home"
countries = ["home"]
[[keep]]
name = "neighbours"
neighbours_of = ["home"]
order = "nearest"
at_most = 3_000
[[keep]]
name = "Europe"
continents = ["Europe"]
order = "often"
at_most = 2000
[[keep]]
name = "repeaters"
kind = "repeater"
locators = ["JN66", "JN33"]
[[keep]]
name = "far"
countries = ["US", "IT"]
talkgroups = [91, 310]
order = "expected"
"""
RADIOS = f"""\
[[radio]]
name = "{RADIO}"
contacts = 9_000
keep_free = 7
carried = "export.csv"
orders = {{ home = "nearest" }}
"""


def world(folder: Path, seed: int = 1, *, heard: bool = True, share: float = 1.0) -> Path:
    """A folder with about 15,000 stations (or a share of them), heard logs with many rare callers, and settings; all folded."""
    draw = random.Random(seed)
    rows = []
    for prefix, country, towns, count in PEOPLE:
        for number in sorted(draw.sample(range(10_000), int(count * share))):
            rows.append((f"{prefix}{number:04}", f"X{draw.randrange(10)}{number:04}"[:6] + "A", country, draw.choice(towns)))
        rows += [(f"{prefix}{number:03}", f"R{number % 10}{number:03}R", country, towns[0]) for number in range(0, 90, 3)]
    draw.shuffle(rows)
    _write(folder / "stations.csv", ("id", "callsign", "country", "city"), rows)
    ids = [row[0] for row in rows]
    _write(folder / "left-out.csv", ("id",), [(one,) for one in ids[:40]])
    _write(folder / "club.csv", ("id",), [(one,) for one in ids[30:90]])
    _write(folder / "export.csv", ("id", "callsign"), [(one, f"C{one[-1]}XYZ") for one in [*ids[60:65], "2990001", "2990002"]])
    if heard:
        _write(folder / "log.csv", ("id", "talkgroup", "time", "seconds"), _calls(draw, ids))
    logs = '[[heard]]\nlocation = "log.csv"\n' if heard else ""
    path = folder / "pruner.toml"
    path.write_text(f"{HOME}{logs}{DROPS}{KEEPS}{RADIOS}", encoding="utf-8")
    if heard:
        fold_all(load_settings(path))
    return path


def _calls(draw: random.Random, ids: list[str]) -> list[tuple[object, ...]]:
    callers = draw.sample(ids, len(ids) * 3 // 4)
    calls = [one for one in callers for _ in range(draw.randrange(1, 4))]
    calls += [one for one in callers[:15] for _ in range(draw.randrange(40, 900))]
    calls += ["2999999"] * 300  # heard, but in no directory
    return [
        (one, draw.choice((232, 91, 310, 2624)), f"2026-06-{draw.randrange(20, 26):02}T{draw.randrange(24):02}:00:00Z", 5)
        for one in calls
    ]


def _write(path: Path, headings: tuple[str, ...], rows: Any) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([headings, *rows])


def pasted(text: str, copied: str) -> str:
    """A settings file after a user did what the comments in the copied text say."""
    parts = re.split(r"^(# .*)\n", copied, flags=re.MULTILINE)[1:]
    for comment, tables in zip(parts[::2], parts[1::2], strict=True):
        if comment.startswith("# Before all other [[drop]]"):
            text = text.replace("[[drop]]", f"{tables}\n[[drop]]", 1)
        elif comment.startswith("# In place of all [[keep]]"):
            text = f"{text[: text.index('[[keep]]')]}{tables}\n{text[text.index('[[radio]]') :]}"
        elif comment.startswith("# In place of the [[radio]]"):
            text = f"{text[: text.index('[[radio]]')]}{tables}"
        else:
            assert comment == "# Nothing is different from the settings of the file."
    return text


def fitted(settings_file: Path) -> Summary:
    """The summary of a real fit."""
    return run(load_settings(settings_file)).summaries[0]
