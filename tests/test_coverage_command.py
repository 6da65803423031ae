"""`pruner coverage` in a demo, and its orders: the very ones that `fit` uses."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from pruner.ask.coverage import SystemProof, prove_orders
from pruner.ask.rankings import ORDERS, YOURS, KnownCalls
from pruner.calls.proof import BEST, Estimate, Proof
from pruner.cli.boundary import guarded
from pruner.cli.coverage_text import coverage_text
from pruner.demo import write_demo
from pruner.history.first_seen import FOLDER, remember
from pruner.job.load import load
from pruner.logs.fold import fold_all
from pruner.rules.matching import queue_of
from pruner.settings.load import load_settings
from pruner.words.days import date_of, day_number
from pruner.words.errors import ExitCode, NothingToDoError, SettingsError

MINE = [232, 2328, 91]
Capture = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A demo whose logs were folded."""
    folder = tmp_path_factory.mktemp("tour")
    write_demo(folder, 5_000)
    fold_all(load_settings(folder / "pruner.toml"))
    return folder


@pytest.fixture
def inside(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(folder)
    return folder


def run(capsys: Capture, *arguments: str) -> tuple[int, str, str]:
    code = guarded(["coverage", *arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def as_json(capsys: Capture, *arguments: str) -> dict[str, Any]:
    code, out, err = run(capsys, "--json", *arguments)
    assert (code, err) == (ExitCode.DONE, "")
    (system,) = json.loads(out)["systems"]
    assert isinstance(system, dict)
    return system


def test_the_text_fits_the_screen_and_names_everything(inside: Path, capsys: Capture) -> None:
    code, out, err = run(capsys, "--cuts", "2")
    assert (code, err) == (ExitCode.DONE, "")
    assert all(len(line) <= 80 for line in out.splitlines())
    for word in (YOURS, *ORDERS, BEST, "95% interval", "232, 2328, 91", "2026-07-03"):
        assert word in out
    assert run(capsys, "--cuts", "2")[1] == out
    assert "no intervals: 4 weeks" in " ".join(run(capsys, "--cuts", "1")[1].split())


def test_the_text_fits_the_screen_when_all_is_covered() -> None:
    """Whole hundreds are wider; a lead that chance may have made, or of less than a tenth of a point, is none."""
    everything, chance = Estimate(1.0, 1.0, 1.0), Estimate(0.004, -0.001, 0.009)
    leads = (Estimate(0.1, 0.08, 0.12), chance, Estimate(0.0004, 0.0001, 0.0007))
    lead = {(one, other): leads for one in ("expected", "id") for other in ("expected", "id") if one != other}
    cover = dict.fromkeys(("expected", "id", BEST), (everything,) * 3)
    proof = Proof((20_000, 19_972), 28, (100_000, 200_000, 16_000_000), 8, 1000, 1000, cover, lead)
    dates = (date_of(20_000), date_of(19_972))
    text = coverage_text([SystemProof("dmr", 16_000_000, None, proof, dates, (1, 1), (True, True), ())])
    assert all(len(line) <= 80 for line in text.splitlines())
    assert text.count("100.0 (100.0 to 100.0)") == 9
    ends = [line.split()[:3] for line in text.splitlines()[-3:]]
    assert ends == [["100,000", "expected", "id"], ["200,000", "none"], ["16,000,000", "none"]]


def test_json_holds_every_order_at_every_limit(inside: Path, capsys: Capture) -> None:
    found = as_json(capsys, "--limit", "3000", "--limit", "500", "--cuts", "3", "--period", "20")
    assert found["known_until"] == ["2026-07-11", "2026-06-21", "2026-06-01"]
    assert (found["period_days"], found["talkgroups"], found["weeks"]) == (20, MINE, 9)
    rows = {(row["order"], row["contacts"]): row for row in found["coverage"]}
    assert set(rows) == {(order, limit) for order in (YOURS, *ORDERS, BEST) for limit in (500, 3000)}
    for order in (YOURS, *ORDERS):
        assert 0 <= rows[order, 500]["share"] <= rows[order, 3000]["share"] <= rows[BEST, 3000]["share"] <= 1
        low, high = rows[order, 500]["interval"]
        assert low <= rows[order, 500]["share"] <= high
    assert rows["expected", 500]["share"] >= rows["nearest", 500]["share"]
    assert rows["expected", 500]["share"] > rows["id", 500]["share"]


def test_calls_are_those_of_the_log(inside: Path, capsys: Capture) -> None:
    """Counted once more, from the logs as they lie in the folder."""
    calls, known = 0, 0
    directory = set(load(load_settings(inside / "pruner.toml")).contacts.number.tolist())
    for path in inside.glob("heard/*.csv"):
        for line in path.read_text().splitlines():
            cells = line.split(",")
            if "2026-06-06" <= cells[0] < "2026-08-01" and len(cells) == 4 and cells[1].isdigit() and int(cells[2]) in MINE:
                calls += cells[1] != "16777215"
                known += int(cells[1]) in directory
    found = as_json(capsys, "--cuts", "2")
    assert found["calls"] == calls
    left_out = found["contacts"] - len(directory)
    assert -20 <= left_out < 0
    assert 0.9 * known <= found["calls_of_contacts"] < known  # not those whose ids were given out since


def test_only_whom_the_directory_had_is_chosen(folder: Path, tmp_path: Path) -> None:
    """As the runs recorded it; where none did, only who certainly stood there counts, and the text says so."""
    (folder / "recorded.toml").write_text(
        (folder / "pruner.toml").read_text().replace("[output]", f'[output]\nstate = "{tmp_path}"')
    )
    settings = load_settings(folder / "recorded.toml")
    shutil.copytree(folder / ".pruner" / "heard", tmp_path / "heard")
    (certain,) = prove_orders(settings, cuts=1)
    assert certain.recorded == (False,)
    assert "the shares are lower bounds" in " ".join(coverage_text([certain]).split())
    numbers, day = load(settings).contacts.number, day_number(certain.known_until[0])
    remember(tmp_path / FOLDER, "world", numbers[::2], day)
    (half,) = prove_orders(settings, cuts=1)
    assert half.recorded == (True,)
    assert 0 <= len(numbers[::2]) - half.listed[0] <= 20  # whom a drop rule leaves out
    assert all(estimates[-1].value <= half.proof.known / half.proof.calls for estimates in half.proof.coverage.values())
    assert half.proof.coverage[BEST][-1].value == pytest.approx(half.proof.known / half.proof.calls)
    remember(tmp_path / FOLDER, "world", numbers, day + 1)
    assert prove_orders(settings, cuts=1) == [half]
    assert "lower bounds" not in " ".join(coverage_text([half]).split())


def test_all_talkgroups_or_mine(inside: Path, capsys: Capture) -> None:
    everything, mine = (as_json(capsys, "--cuts", "1", "--talkgroups", which) for which in ("all", "mine"))
    assert everything["talkgroups"] is None
    assert everything["calls"] > mine["calls"]
    assert mine == as_json(capsys, "--cuts", "1")


def test_orders_are_those_of_fit(folder: Path) -> None:
    """What is known on the last day of the log gives the queues that `fit` would walk."""
    loaded = load(load_settings(folder / "pruner.toml"))
    contacts, stores = loaded.contacts, loaded.calls
    assert stores is not None
    store = stores.stores["dmr"]
    everybody = np.arange(len(contacts))
    for talkgroups in (None, tuple(MINE)):
        rows = store.rows(talkgroups)
        known = KnownCalls(rows, store.last_day, stores.strangers(store, slice(None), talkgroups), 28)
        assert (known.last_heard(None) == stores.last_heard(talkgroups)).all()
        for days in (None, 1, 30, 90):
            assert (known.calls(None, days) == stores.calls(talkgroups, days)).all()
        assert (known.expected(None) == stores.expected(talkgroups)).all()
        assert len(queue_of(contacts, everybody, "expected", talkgroups, 90)) == len(contacts)


def test_without_a_home_there_is_no_nearest(folder: Path) -> None:
    text = re.sub(r'locator = ".*"', "", (folder / "pruner.toml").read_text())
    (folder / "nowhere.toml").write_text(text)
    (found,) = prove_orders(load_settings(folder / "nowhere.toml"), cuts=1)
    assert "nearest" not in found.proof.coverage
    assert "expected" in found.proof.coverage


def test_who_was_left_out_is_not_chosen(folder: Path) -> None:
    text = (folder / "pruner.toml").read_text() + '\n[[drop]]\nname = "Austria"\ncountries = ["home"]\n'
    (folder / "dropped.toml").write_text(text)
    settings = load_settings(folder / "pruner.toml")
    (before,) = prove_orders(settings, cuts=1)
    (after,) = prove_orders(load_settings(folder / "dropped.toml"), cuts=1)
    assert after.contacts < before.contacts
    assert after.proof.calls == before.proof.calls
    assert after.proof.known < before.proof.known
    assert after.proof.coverage[BEST][-1].value == pytest.approx(after.proof.known / after.proof.calls)


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (["--talkgroups", "some"], ExitCode.SETTINGS, "expected mine or all"),
        (["--cuts", "0"], ExitCode.SETTINGS, "--cuts"),
        (["--limit", "0"], ExitCode.SETTINGS, "--limit"),
        (["--period", "120"], ExitCode.NOTHING_TO_DO, "--period"),
    ],
)
def test_a_mistake_is_one_line(inside: Path, capsys: Capture, arguments: list[str], code: int, words: str) -> None:
    found, out, err = run(capsys, *arguments)
    assert (found, out) == (code, "")
    assert words in err
    assert err.count("\n") == 1


def test_without_talkgroups_or_calls(tmp_path: Path) -> None:
    write_demo(tmp_path, 1000)
    file = tmp_path / "pruner.toml"
    with pytest.raises(NothingToDoError, match="heard fold"):
        prove_orders(load_settings(file))
    file.write_text(file.read_text().replace("mine = [232, 2328, 91]", "").replace('talkgroups = "mine"\n', ""))
    with pytest.raises(SettingsError, match="add \\[talkgroups\\] mine"):
        prove_orders(load_settings(file), talkgroups="mine")


def test_a_log_that_ends_early_on_mine(folder: Path) -> None:
    text = (folder / "pruner.toml").read_text().replace("mine = [232, 2328, 91]", "mine = [16000000]")
    (folder / "silent.toml").write_text(text)
    with pytest.raises(NothingToDoError, match="16000000"):
        prove_orders(load_settings(folder / "silent.toml"))
