"""A forecast knows what plain fits saw: what the rules want, how many stations there are, one run a day."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pruner.ask.tally import tally_of
from pruner.cli.boundary import guarded
from pruner.job.load import load
from pruner.settings.load import load_settings
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
SETTINGS = """\
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "austria"
countries = ["AT"]
[[radio]]
name = "small"
contacts = 500
"""
#: Steady growth: 1,000 stations more each 28 days, up to 2,000.
COUNTS = [f"2025-{month:02}-01={1000 + 100 * month}" for month in range(1, 11)]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """2,000 stations, of which the rules of a radio of 500 want 170."""
    monkeypatch.chdir(tmp_path)
    austrian = [f"OE{n % 10}A{chr(65 + n // 10 % 26)}{chr(65 + n // 260)},{2320000 + n},Austria" for n in range(170)]
    german = [f"DL{n % 10}{chr(65 + n // 10 % 26)}{chr(65 + n // 260)}A,{2620000 + n},Germany" for n in range(1830)]
    Path("stations.csv").write_text("\n".join(["callsign,id,country", *austrian, *german]) + "\n")
    Path("pruner.toml").write_text(SETTINGS)
    return tmp_path


def forecast(capsys: Capture, *more: str) -> tuple[int, dict[str, object], str]:
    capsys.readouterr()
    code = guarded(["forecast", "--json", *more])
    told = capsys.readouterr()
    return int(code), json.loads(told.out), told.err


def snapshots() -> list[str]:
    return [word for count in COUNTS for word in ("--snapshot", count)]


def test_counts_by_hand_meet_what_the_rules_want(folder: Path, capsys: Capture) -> None:
    """170 of 2,000 contacts are wanted, so a radio of 500 is far from full."""
    assert guarded(["fit"]) == ExitCode.DONE
    (folder / ".pruner/history/runs.jsonl").unlink()
    code, told, err = forecast(capsys, *snapshots())
    (radio,) = [one for one in told["limits"] if one["name"] == "small"]  # type: ignore[attr-defined]
    assert (code, err) == (0, "")
    assert radio["status"] in ("later", "expected")


def test_without_a_fit_it_is_not_known_what_the_rules_want(folder: Path, capsys: Capture) -> None:
    code, told, err = forecast(capsys, *snapshots())
    (radio,) = [one for one in told["limits"] if one["name"] == "small"]  # type: ignore[attr-defined]
    assert code == 0
    assert radio["status"] == "unknown"
    assert "small was never fitted" in err


def test_the_last_fit_stands_in_for_a_history(folder: Path, capsys: Capture) -> None:
    assert guarded(["fit"]) == ExitCode.DONE
    (folder / ".pruner/history/runs.jsonl").unlink()
    code, told, _ = forecast(capsys)
    assert code == ExitCode.NOTHING_TO_DO
    assert (told["recorded_days"], told["stations"]) == (1, 2000)


def test_plain_fits_are_recorded_once_a_day(folder: Path, capsys: Capture) -> None:
    for _ in range(2):
        assert guarded(["fit"]) == ExitCode.DONE
    assert len((folder / ".pruner/history/runs.jsonl").read_text().splitlines()) == 1


def test_forecast_explore_and_what_if_agree_on_the_number_of_contacts(folder: Path, capsys: Capture) -> None:
    """Also where the radio carries entries, one of them of a station that the directory has, one of no station."""
    Path("export.csv").write_text("callsign,id\nOE0AAA,2320000\nWORKS,77\n")
    text = SETTINGS.replace("contacts = 500", 'contacts = 5000\ncarried = "export.csv"').replace('countries = ["AT"]\n', "")
    Path("pruner.toml").write_text(text)
    assert guarded(["fit"]) == ExitCode.DONE
    _, told, _ = forecast(capsys)
    settings = load_settings(Path("pruner.toml"))
    loaded = load(settings)
    assert told["stations"] == len(loaded.contacts) == 2000
    tally = tally_of(loaded, settings.radios[0])
    assert int(tally.cells.contacts.sum()) + tally.carried == 2001  # what explore counts
    assert guarded(["fit", "--what-if", "5000", "--json"]) == ExitCode.DONE
    kept = json.loads(capsys.readouterr().out)["small"][0]["kept"]
    assert kept == 2001  # the directory and the entry that is no station of it
