"""`pruner talkgroups`: short form, settings, mistakes in use, text for a terminal."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from pruner.account.talkgroup_summary import TalkgroupSummary
from pruner.cli.boundary import guarded
from pruner.cli.talkgroups_text import talkgroups_text
from pruner.demo.talkgroups import talkgroup_bytes
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
SETTINGS = """\
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[talkgroups]
mine = [91, 2328, 23299]
list = "groups.csv"
[[radio]]
name = "small"
contacts = 5
talkgroups = 200
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "groups.csv").write_bytes(talkgroup_bytes(1))
    (tmp_path / "pruner.toml").write_text(SETTINGS, encoding="utf-8")
    return tmp_path


def run(capsys: Capture, *arguments: str) -> tuple[int, str, str]:
    code = guarded(["talkgroups", *arguments])
    told = capsys.readouterr()
    for text in (told.out, told.err):
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2066-\u2069]", text)
    return int(code), told.out, told.err


def test_with_settings(folder: Path, capsys: Capture) -> None:
    code, out, err = run(capsys)
    assert (code, err) == (ExitCode.DONE, "")
    assert all(len(line) <= 80 for line in out.splitlines() if str(folder) not in line)
    assert "small: 200 of 200 talkgroups" in out
    account = re.search(r"read ([\d,]+) = kept ([\d,]+) \+ dropped ([\d,]+) \+ rejected ([\d,]+)", out)
    assert account
    read, kept, dropped, rejected = (int(part.replace(",", "")) for part in account.groups())
    assert read == kept + dropped + rejected
    assert re.search(r"^mine +2 +2$", out, re.MULTILINE)
    assert "Yours, but in no list: 23299. Add them by hand." in out
    assert (folder / "out/talkgroups/small/talkgroups.csv").exists()


def test_the_short_form_gives_the_same_list(folder: Path, capsys: Capture) -> None:
    assert run(capsys)[0] == ExitCode.DONE
    options = ["--limit", "200", "--mine", "91", "--mine", "2328", "--country", "Austria", "--out", "short", "--json"]
    code, out, err = run(capsys, "groups.csv", *options)
    assert (code, err) == (ExitCode.DONE, "")
    summary = json.loads(out)[0]
    assert summary["mine"] == {"named": 2, "kept": 2, "over_limit": [], "in_no_list": []}
    short, long = folder / "short/talkgroups/radio", folder / "out/talkgroups/small"
    for name in ("talkgroups.csv", "ledger.parquet", "rejected.csv"):
        assert (short / name).read_bytes() == (long / name).read_bytes()


@pytest.mark.parametrize(
    ("arguments", "code", "word"),
    [
        (["groups.csv"], ExitCode.SETTINGS, "--limit"),
        (["--limit", "5"], ExitCode.SETTINGS, "name a list"),
        (["--mine", "5"], ExitCode.SETTINGS, "name a list"),
        (["--country", "AT"], ExitCode.SETTINGS, "name a list"),
        (["groups.csv", "--limit", "-1"], ExitCode.SETTINGS, "--limit"),
        (["groups.csv", "--limit", "5", "--mine", "16776416"], ExitCode.SETTINGS, "--mine"),
        (["groups.csv", "--limit", "5", "--system", "nxdn", "--mine", "65520"], ExitCode.SETTINGS, "--mine"),
        (["groups.csv", "--limit", "5", "--system", "\x1b[2J"], ExitCode.SETTINGS, "--system"),
        (["groups.csv", "--limit", "5", "--country", "Austriq"], ExitCode.SETTINGS, '"Austria"'),
        (["--settings", "none.toml"], ExitCode.SETTINGS, "none.toml"),
        (["none.csv", "--limit", "5"], ExitCode.SOURCE_MISSING, "none.csv"),
        (["pruner.toml", "--limit", "5"], ExitCode.INPUT_REFUSED, "pruner.toml"),
    ],
)
def test_a_mistake_in_use_is_one_line(folder: Path, capsys: Capture, arguments: list[str], code: ExitCode, word: str) -> None:
    found, out, err = run(capsys, *arguments)
    assert (found, out, err.count("\n")) == (code, "", 1)
    assert err.startswith("pruner: ")
    assert word in err
    assert not (folder / "out" / "talkgroups").exists()


def test_help_has_an_example(capsys: Capture) -> None:
    code, out, _ = run(capsys, "--help")
    assert code == ExitCode.DONE
    assert all(len(line) <= 80 for line in out.splitlines())
    assert re.search(r"Examples?: .*pruner talkgroups", out)


def test_the_text_escapes_what_it_is_given(folder: Path, capsys: Capture) -> None:
    """A summary on disk may have been changed by others."""
    summary = json.loads(run(capsys, "--json")[1])[0]
    hostile = "\x1b[2J\u202eevil" + " long" * 30
    summary["radio"] = summary["rules"][0]["name"] = hostile
    summary["mine"].update(in_no_list=list(range(100, 500)), over_limit=[7])
    summary["heard"] = {"window_days": 90, "talkgroups": 3, "in_no_list": 1, "calls": 1200, "calls_on_kept": 900}
    text = talkgroups_text(TalkgroupSummary.model_validate(summary), Path("out"))
    assert not set("\x1b\u202e") & set(text)
    assert all(len(line) <= 80 for line in text.splitlines())
    plain = " ".join(text.split())
    assert "111 and 388 more" in plain
    assert "over the limit: 7." in plain
    assert "900 of 1,200 calls of the last 90 days" in plain
