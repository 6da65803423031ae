"""Days of which release 0.1.0 kept sums only: they count until their logs are folded again, and never beside the calls."""

from __future__ import annotations

import csv
import datetime as dt
import json
import tarfile
from collections import Counter
from pathlib import Path

import pytest

from pruner.calls.store import load_manifest
from pruner.calls.weights import Weights, load_weights
from pruner.logs.files import LogFiles
from pruner.logs.fold import fold_logs
from pruner.logs.forget import forget_days
from pruner.settings.load import load_settings
from pruner.words.errors import InputRefusedError

ARCHIVE = Path(__file__).parent.parent / "fixtures" / "releases" / "0.1.0.tar.gz"
DAY = dt.date(2026, 7, 3)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    with tarfile.open(ARCHIVE) as archive:
        archive.extractall(tmp_path, filter="fully_trusted")
    return tmp_path


def opened(home: Path) -> Weights:
    weights = load_weights(home / ".pruner" / "heard" / "dmr", tolerance=0)
    assert weights is not None
    return weights


def counted(home: Path) -> Counter[tuple[int, int, dt.date]]:
    rows = opened(home).rows().select("id", "talkgroup", "day", "calls")
    return Counter({(id, group, day): calls for id, group, day, calls in rows.iter_rows()})


def log_rows(home: Path) -> tuple[list[str], list[list[str]]]:
    with (home / "heard" / "calls-2026-07.csv").open(newline="") as file:
        heading, *rows = csv.reader(file)
    return heading, rows


def of_log(home: Path) -> Counter[tuple[int, int, dt.date]]:
    """What the log itself says, by the csv module alone: a row is a call."""
    heading, rows = log_rows(home)
    id, group, time = (heading.index(name) for name in ("id", "talkgroup", "time"))
    return Counter(
        (int(row[id]), int(row[group]), dt.datetime.fromisoformat(row[time]).astimezone(dt.UTC).date()) for row in rows
    )


def test_sums_count_as_the_log_they_came_from(home: Path) -> None:
    assert counted(home) == of_log(home)
    manifest = load_manifest(home / ".pruner" / "heard" / "dmr", "dmr")
    assert len(manifest.sums) == 14
    assert manifest.parts == ()


def test_a_log_folded_again_replaces_nothing_and_adds_nothing(home: Path) -> None:
    wanted = of_log(home)
    fold_logs(home / ".pruner", [LogFiles([home / "heard" / "calls-2026-07.csv"])])
    assert counted(home) == wanted


def test_a_part_of_the_log_leaves_the_larger_sum(home: Path) -> None:
    wanted = of_log(home)
    heading, rows = log_rows(home)
    part = home / "part.csv"
    with part.open("w", newline="") as file:
        csv.writer(file).writerows([heading, *rows[::3]])
    fold_logs(home / ".pruner", [LogFiles([part])])
    assert counted(home) == wanted


def test_calls_that_are_new_count_beside_sums_of_others(home: Path) -> None:
    wanted = of_log(home)
    new = home / "new.csv"
    new.write_text(f"time,id,talkgroup,seconds\n{DAY}T01:02:03Z,2399999,91,5\n2026-07-20T01:02:03Z,2399999,91,5\n")
    fold_logs(home / ".pruner", [LogFiles([new])])
    assert counted(home) == wanted + Counter({(2399999, 91, DAY): 1, (2399999, 91, dt.date(2026, 7, 20)): 1})


def test_what_of_an_old_manifest_is_damaged_is_named_there(home: Path) -> None:
    manifest = home / ".pruner" / "heard" / "dmr" / "manifest.json"
    manifest.write_text(json.dumps({**json.loads(manifest.read_bytes()), "apart": [{"file": 7}]}))
    with pytest.raises(
        InputRefusedError, match=r"apart\[0\].file: expected a text, found a number\); move its folder"
    ) as caught:
        fold_logs(home / ".pruner", [LogFiles([home / "heard" / "calls-2026-07.csv"])])
    assert str(caught.value).startswith(f"{manifest}: ")


def test_sums_are_forgotten_with_their_days(home: Path) -> None:
    wanted = of_log(home)
    forget_days(load_settings(home / "pruner.toml").output.state, None, [(DAY - dt.date(1970, 1, 1)).days])
    assert counted(home) == Counter({key: calls for key, calls in wanted.items() if key[2] != DAY})
