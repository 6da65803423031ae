"""What `heard learn` says where a log tells too little: no time, caller or talkgroup, or dates that nothing decides."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.logs.learn import learn_log
from pruner.read.heard_log import open_log
from pruner.words.errors import InputRefusedError, NothingToDoError

Capture = pytest.CaptureFixture[str]
SIGNS = ["OE1ZQA", "DL2ZQB", "OE3ZQC", "F4ZQD", "DL5ZQE"]
SOURCE = '[[source]]\nname = "w"\nlocation = "w.csv"\n[[radio]]\nname = "r"\ncontacts = 5\n'


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder, with a log of one day, which may be in May or in June."""
    monkeypatch.chdir(tmp_path)
    lines = [f"05/06/26 08:{k:02}:11 - {SIGNS[k % 5]} group {(91, 232)[k % 2]} for {k + 3} s" for k in range(50)]
    Path("heard.log").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return tmp_path


LACKING = {
    "time": lambda k: f"heard {SIGNS[k % 5]} group {(91, 232)[k % 2]}",
    "caller": lambda k: f"2026-04-11 10:{k:02}:00 kelmon[{300 + k * 7 % 91}] voice group {(91, 232)[k % 2]}",
    "talkgroup": lambda k: f"2026-04-11 10:{k:02}:00 heard {SIGNS[k % 5]} well",
}


@pytest.mark.parametrize("name", LACKING)
def test_a_refusal_says_what_is_lacking(tmp_path: Path, name: str) -> None:
    log = tmp_path / "heard.log"
    log.write_text("".join(LACKING[name](k) + "\n" for k in range(50)))
    with pytest.raises(InputRefusedError) as caught:
        learn_log(log, "dmr")
    assert [one for one in LACKING if f"no {one} found" in str(caught.value)] == [name]


def test_a_number_without_a_word_for_talkgroups_is_none(tmp_path: Path) -> None:
    log = tmp_path / "heard.log"
    log.write_text("".join(f"2026-04-11 10:{k:02}:00 {SIGNS[k % 5]} op {(59, 599)[k % 2]}\n" for k in range(50)))
    with pytest.raises(InputRefusedError, match="no talkgroup found") as caught:
        learn_log(log, "dmr")
    assert "no caller" not in str(caught.value)


def test_numbers_with_the_codes_of_the_callers_countries_are_talkgroups(tmp_path: Path) -> None:
    log = tmp_path / "heard.log"
    log.write_text("".join(f"2026-04-11 10:{k:02}:00 {SIGNS[k % 5]} parlon {(91, 232, 8)[k % 3]}\n" for k in range(50)))
    assert learn_log(log, "dmr").examples["talkgroup"] == "91"


@pytest.mark.parametrize("options", [[], ["--json"]])
def test_a_pattern_is_not_written_where_a_fold_refuses_the_dates(folder: Path, capsys: Capture, options: list[str]) -> None:
    assert guarded(["heard", "learn", "heard.log", "--write", *options]) == 3
    shown = capsys.readouterr()
    assert "may be day first" in shown.err
    assert "nothing was written" in shown.err
    assert not (folder / "pruner.toml").exists()
    if options:
        plain = json.loads(shown.out)
        assert plain["written"] is False
        assert "may be day first" in plain["undecided"]
    else:
        table = shown.out[shown.out.index("[[heard]]") :]
        completed = tomllib.loads(table.replace('dates = ""', 'dates = "day first"'))["heard"][0]
        assert set(completed) == {"location", "pattern", "dates"}


def test_without_writing_the_undecided_dates_are_said_too(folder: Path, capsys: Capture) -> None:
    assert guarded(["heard", "learn", "heard.log"]) == 0
    assert "heard fold refuses the log as it is" in capsys.readouterr().err


def test_the_table_shown_folds_once_the_order_is_in_it(folder: Path, capsys: Capture) -> None:
    settings = folder / "pruner.toml"
    assert guarded(["heard", "learn", "heard.log"]) == 0
    shown = capsys.readouterr().out
    table = shown[shown.index("[[heard]]") :].replace('dates = ""', 'dates = "day first"')
    settings.write_text(SOURCE + table, encoding="utf-8")
    assert guarded(["heard", "fold", "--json"]) == 0
    assert '"read": 50' in capsys.readouterr().out


def test_an_order_in_the_settings_decides(folder: Path, capsys: Capture) -> None:
    settings = folder / "pruner.toml"
    settings.write_text(SOURCE + '[[heard]]\nlocation = "*.log"\ndates = "month first"\n')
    assert guarded(["heard", "learn", "heard.log", "--write"]) == 0
    table = tomllib.loads(settings.read_text())["heard"][0]
    assert table["dates"] == "month first"
    assert "pattern" in table
    assert "dates = " not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("data", "said"),
    [(b"\xff\xd8\xff\xe0\0\x10" + bytes(range(256)) * 9, "an image"), (b"[a]\nb = 1\nc = 2\n", "a file of settings")],
)
def test_what_is_no_log_at_all_is_named(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "file"
    path.write_bytes(data)
    with pytest.raises(InputRefusedError, match=f"this is {said}; "):
        learn_log(path, "dmr")
    with pytest.raises(InputRefusedError, match=f"this is {said}; "):
        open_log(path, {}, [], is_finished=True)


def test_a_table_needs_no_pattern(tmp_path: Path) -> None:
    path = tmp_path / "heard.csv"
    rows = "".join(f"2026-10-{n % 28 + 1:02};06:{n:02}:31;OE1ZQA;2320030;232;0:19\n" for n in range(40))
    path.write_text("Datum;Uhrzeit;Rufzeichen;DMR-ID;Sprechgruppe;Dauer\n" + rows)
    assert open_log(path, {}, [], is_finished=True) is not None
    with pytest.raises(NothingToDoError, match="tables need no pattern"):
        learn_log(path, "dmr")
