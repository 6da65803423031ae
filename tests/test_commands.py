"""The commands as a user meets them: exit codes, one line a mistake, nothing hostile on the terminal."""

from __future__ import annotations

import fcntl
import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from commands import run

from pruner.account.summary import Summary
from pruner.ask.story import Story
from pruner.cli.summary_text import summary_text
from pruner.cli.why_text import why_text
from pruner.words.errors import ExitCode
from pruner.words.outcomes import REASON_SENTENCES, Reason

HOSTILE = "Eve\x1b[2J\u202egnp"
STATIONS = f"""\
id,call sign,first name,country
2320001,OE1AAA,Ada,Austria
2320002,OE1BBB,Bea,Austria
2320002,OE1BBB,Bea again,Austria
2320003,OE1CCC,{HOSTILE},Austria
2320004,OE1DDD,Dora,Austria
16777000,OE1EEE,Emil,Austria
x{HOSTILE},OE1FFF,Fred,Austria
2620001,DL1AAA,Gero,Germany
2620002,DL1BBB,Hans,Germany
"""
# 16,777,000 is above the last address of a station: ETSI TS 102 361-1 V2.7.1, Annex A, Table A.1
# (seen only as a quotation).
SETTINGS = """\
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
rejected_share_at_most = 0.2
[[drop]]
name = "asked"
callsigns = ["OE1DDD"]
[[keep]]
name = "home"
countries = ["home"]
[[keep]]
name = "the rest"
[[radio]]
name = "small"
contacts = 4
"""
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "stations.csv").write_text(STATIONS, encoding="utf-8")
    (tmp_path / "pruner.toml").write_text(SETTINGS, encoding="utf-8")
    return tmp_path


def done(capsys: Capture, *arguments: str) -> str:
    """A run that goes well: exit code 0, nothing on standard error."""
    code, out, err = run(capsys, *arguments)
    assert (code, err) == (ExitCode.DONE, "")
    assert out
    return out


def narrow(out: str) -> bool:
    """At most 80 columns; the path of a deep folder is one word and stays whole."""
    return all(len(line) <= 80 or " " not in line.strip() for line in out.splitlines())


def process(*arguments: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "pruner", *arguments],
        cwd=cwd,
        capture_output=True,
        timeout=60,
        check=False,
        env={**os.environ, **environment},
    )


@pytest.mark.long
def test_from_the_demo_to_a_story_in_real_processes(tmp_path: Path) -> None:
    assert process("--help", cwd=tmp_path).stdout.startswith(b"Usage: pruner ")
    made = process("demo", "tour", "--stations", "1000", cwd=tmp_path)
    assert (made.returncode, made.stderr) == (0, b"")
    fitted = process("fit", "--json", cwd=tmp_path / "tour", LC_ALL="C")
    assert (fitted.returncode, fitted.stderr) == (0, b"")
    summary = json.loads(fitted.stdout)[0]
    assert summary["read"] == 1000
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "letters.txt").write_text("mine")
    again = process("demo", "mine", cwd=tmp_path)
    assert (again.returncode, again.stdout, again.stderr.count(b"\n")) == (2, b"", 1)
    contacts = (tmp_path / "tour/out/loan-handheld/contacts.csv").read_text(encoding="utf-8").splitlines()
    story = process("why", contacts[1].split(",")[1], cwd=tmp_path / "tour")
    assert (story.returncode, story.stderr) == (0, b"")
    assert b"loan-handheld: kept" in story.stdout


def test_from_init_to_a_story(folder: Path, capsys: Capture) -> None:
    (folder / "pruner.toml").unlink()
    code, out, err = run(
        capsys, "init", "--source", "stations.csv", "--country", "Austria", "--locator", "JN57",
        "--contacts", "4",
    )  # fmt: skip
    assert (code, out) == (ExitCode.DONE, "pruner.toml\n")
    assert "stations.csv: id from 'id'" in err
    code, _, err = run(capsys, "init", "--source", "stations.csv", "--country", "Austria")
    assert (code, err.count("\n")) == (ExitCode.SETTINGS, 1)
    assert "exists already" in err
    code, out, err = run(capsys, "check")
    assert (code, "no mistakes" in out, "id from 'id'" in out) == (ExitCode.DONE, True, True)
    assert "were not tried" not in err  # one bad row of nine refuses no file
    assert json.loads(run(capsys, "check", "--json")[1])["home"]
    text = (folder / "pruner.toml").read_text(encoding="utf-8")
    (folder / "pruner.toml").write_text(
        re.sub("^# (rejected_share_at_most = ).*$|$", r"", text, flags=re.MULTILINE).replace(
            "[[source]]", "[[source]]\nrejected_share_at_most = 0.2"
        ),
        encoding="utf-8",
    )
    out = done(capsys, "fit")
    assert narrow(out)
    assert "handheld: 4 of 4 contacts" in out
    assert "read 9 = kept 4 + dropped 4 + rejected 1" in out
    assert "kept" in done(capsys, "why", "OE1AAA")


def test_a_mistaken_init_leaves_no_file(tmp_path: Path, capsys: Capture) -> None:
    target = tmp_path / "new.toml"
    arguments = ["init", "--source", "a.csv", "--country", "Atlantis", "--settings", str(target)]
    code, _, err = run(capsys, *arguments)
    assert code == ExitCode.SETTINGS
    assert "Atlantis" in err
    assert not target.exists()


def test_short_form(folder: Path, capsys: Capture) -> None:
    (folder / "few.csv").write_text("id,call sign\n2620001,DL1AAA\n2320001,OE1AAA\n2080001,F1AAA\n")
    arguments = ["fit", "few.csv", "--contacts", "2", "--country", "AT", "--neighbours", "--out", "x"]
    summary = json.loads(done(capsys, *arguments, "--json"))[0]
    assert [(rule["name"], rule["kept"]) for rule in summary["rules"]] == [
        ("home", 1),
        ("neighbours", 1),
        ("the rest", 0),
    ]
    assert "over limit" in done(capsys, "why", "F1AAA", "--out", "x")
    code, _, err = run(capsys, "why", "F1AAA", "--out", "nowhere")
    assert (code, err.count("\n")) == (ExitCode.SETTINGS, 1)
    assert "no finished run" in err


WHY: list[tuple[str, list[Reason]]] = [
    ("2320001", [Reason.NONE]),
    ("oe1aaa", [Reason.NONE]),
    ("2320002", [Reason.DUPLICATE_ID, Reason.NONE]),
    ("OE1DDD", [Reason.LEFT_OUT]),
    ("16777000", [Reason.RESERVED_ID]),
    ("DL1AAA", [Reason.NONE]),
    ("2620002", [Reason.OVER_LIMIT]),
    ("OE1FFF", [Reason.INVALID_ID]),
]


def test_why(folder: Path, capsys: Capture) -> None:
    assert narrow(done(capsys, "fit"))
    for contact, reasons in WHY:
        out = done(capsys, "why", contact)
        assert narrow(out)
        told = json.loads(done(capsys, "why", contact, "--json"))
        sentences = [story["sentence"] for story in told]
        kept = "It is among the contacts that were written."
        assert sentences == [REASON_SENTENCES.get(reason, kept) for reason in reasons], contact
        assert all(sentence in " ".join(out.split()) for sentence in sentences)
    over = json.loads(done(capsys, "why", "2620002", "--json"))[0]
    assert (over["rank"], over["rule"]) == (5, "the rest")


@pytest.mark.parametrize("contact", ["2329999", "OE9ZZZ", "9" * 30, "9" * 5000, "0", " ", f"No{HOSTILE}"])
def test_why_of_nobody(folder: Path, capsys: Capture, contact: str) -> None:
    done(capsys, "fit")
    code, out, err = run(capsys, "why", contact)
    assert (code, err) == (ExitCode.NOTHING_TO_DO, "")
    assert "No row of the last run bears" in out
    code, out, err = run(capsys, "why", "--json", contact)
    assert (code, err) == (ExitCode.NOTHING_TO_DO, "")
    assert all(entry.get("outcome") == "absent" or entry["near"] for entry in json.loads(out))


@pytest.mark.parametrize("damaged", ["summary.json", "ledger.parquet"])
def test_why_of_a_damaged_result(folder: Path, capsys: Capture, damaged: str) -> None:
    done(capsys, "fit")
    (folder / "out" / "small" / damaged).write_bytes(b"{")
    code, out, err = run(capsys, "why", "OE1AAA")
    assert (code, out, err.count("\n")) == (ExitCode.SETTINGS, "", 1)


@pytest.mark.parametrize(
    "arguments",
    [
        ["fit", "--nope"],
        ["nope"],
        ["fit", "stations.csv"],
        ["fit", "--contacts", "many"],
        ["fit", "--contacts", "5"],
        ["fit", "stations.csv", "--contacts", "5", "--neighbours"],
        ["why"],
        ["why", "OE1AAA"],
        ["why", "OE1AAA", "--radio", "other"],
        ["check", "--settings", "missing.toml"],
        ["fit", f"--{HOSTILE}"],
        ["demo", "."],
    ],
)
def test_a_mistake_in_use_is_one_line(folder: Path, capsys: Capture, arguments: list[str]) -> None:
    code, out, err = run(capsys, *arguments)
    assert (code, out) == (ExitCode.SETTINGS, "")
    assert err.startswith("pruner: ")
    assert err.count("\n") == 1
    assert len(err) > len("pruner: \n")


def test_without_a_command_the_help(capsys: Capture) -> None:
    code, _, err = run(capsys)
    assert code == ExitCode.SETTINGS
    assert "Commands:" in err


@pytest.mark.parametrize("command", ["demo", "init", "check", "fit", "why"])
def test_help_has_an_example(capsys: Capture, command: str) -> None:
    out = done(capsys, command, "--help")
    assert narrow(out)
    assert re.search(rf"Examples?: .*pruner {command}", out)


def test_all_mistakes_of_the_settings_at_once(folder: Path, capsys: Capture) -> None:
    text = SETTINGS.replace('"AT"', '"Atlantis"').replace("contacts = 4", "contacts = -4\nbogus = 1")
    (folder / "pruner.toml").write_text(text, encoding="utf-8")
    for command in ("check", "fit"):
        code, out, err = run(capsys, command)
        assert (code, out) == (ExitCode.SETTINGS, "")
        lines = err.splitlines()
        for word in ("Atlantis", "contacts", "bogus"):
            assert any(word in line for line in lines)
        assert len(lines) >= 3


def test_a_page_instead_of_a_table_is_refused(folder: Path, capsys: Capture) -> None:
    (folder / "stations.csv").write_text("<!DOCTYPE html><html><body>Sign in</body></html>")
    assert_one_line(run(capsys, "fit"), ExitCode.INPUT_REFUSED)
    assert not (folder / "out").exists()


def test_a_missing_source(folder: Path, capsys: Capture) -> None:
    (folder / "stations.csv").unlink()
    assert_one_line(run(capsys, "fit"), ExitCode.SOURCE_MISSING)


def test_another_run_holds_the_lock(folder: Path, capsys: Capture) -> None:
    done(capsys, "fit")
    before = (folder / "out/small/summary.json").stat()
    with (folder / ".pruner" / "lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        assert_one_line(run(capsys, "fit"), ExitCode.LOCKED)
    assert (folder / "out/small/summary.json").stat() == before
    done(capsys, "fit")


def assert_one_line(told: tuple[int, str, str], code: ExitCode) -> None:
    assert told[:2] == (code, "")
    assert told[2].startswith("pruner: ")
    assert told[2].count("\n") == 1


class PanicError(BaseException):
    """As the panics of libraries in Rust arrive: pyo3's PanicException derives from BaseException (pyo3 documentation)."""


@pytest.mark.parametrize("fault", [ZeroDivisionError, PanicError])
def test_a_fault_of_ours(folder: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, fault: type[BaseException]) -> None:
    def fail(*_: Any) -> None:
        raise fault(f"on purpose {HOSTILE}\nsecond line")

    monkeypatch.setattr("tempfile.tempdir", str(folder))
    monkeypatch.setattr("pruner.job.run", fail)
    told = run(capsys, "fit")
    assert_one_line(told, ExitCode.OUR_FAULT)
    assert "Traceback" not in told[2]
    crash = list(folder.glob("pruner-crash-*.txt"))
    assert len(crash) == 1
    assert str(crash[0]) in told[2]
    assert f"{fault.__name__}: on purpose" in crash[0].read_text(encoding="utf-8")


@pytest.mark.parametrize("raised", [KeyboardInterrupt, EOFError])
def test_an_interrupt(folder: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch, raised: type[BaseException]) -> None:
    def stop(*_: Any) -> None:
        raise raised

    monkeypatch.setattr("pruner.job.run", stop)
    code, out, err = run(capsys, "fit")
    assert (code, out) == (130, "")
    assert "interrupted; what is published is whole" in err


def test_hostile_names_stay_out_of_the_terminal(folder: Path, capsys: Capture) -> None:
    text = SETTINGS.replace('"the rest"', '"club \\u001b[2J\\u202e"').replace('"stations.csv"', '"no\\u202ene.csv"')
    (folder / "pruner.toml").write_text(text, encoding="utf-8")
    for command in ("check", "fit"):
        code, out, err = run(capsys, command)
        assert (code, out) == (ExitCode.SETTINGS, "")
        assert "club" in err


def test_stories_and_summaries_escape_what_they_are_given(folder: Path, capsys: Capture) -> None:
    """Results on disk may have been changed by others, so the text does not trust them."""
    summary = json.loads(done(capsys, "fit", "--json"))[0]
    story = json.loads(done(capsys, "why", "2620002", "--json"))[0]
    name = HOSTILE + " long" * 30
    summary["rules"][1]["name"] = summary["cut"]["rule"] = name
    story.update({"rule": name, "callsign": name, "source": name, "radio": name, "to_change": name})
    for text in (
        summary_text(Summary.model_validate(summary), folder / "out"),
        why_text([Story.model_validate(story)]),
    ):
        assert not set("\x1b\u202e") & set(text)
        assert "\\x1b" in text
        assert all(len(line) <= 80 for line in text.splitlines() if str(folder) not in line)


def test_a_long_rule_name_keeps_to_the_width(folder: Path, capsys: Capture) -> None:
    text = SETTINGS.replace('"the rest"', '"' + "the rest of all the stations " * 2 + 'there are"')
    (folder / "pruner.toml").write_text(text, encoding="utf-8")
    assert narrow(done(capsys, "fit"))
    assert narrow(done(capsys, "why", "2620002"))


@pytest.mark.long
def test_a_reader_that_goes_away_is_no_fault(folder: Path) -> None:
    command = f"{sys.executable} -m pruner check --json | true; exit ${{PIPESTATUS[0]}}"
    told = subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, timeout=60, check=False)
    assert (told.returncode in (0, 1), told.stderr) == (True, b"")


def completions(folder: Path, line: str) -> list[str]:
    """What the shell would be offered, asked as the bash script that typer installs asks."""
    environment = {
        **os.environ,
        "_PRUNER_COMPLETE": "complete_bash",
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(line.split(" ")) - 1),
    }
    done = subprocess.run(
        [str(Path(sys.executable).with_name("pruner"))],
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.stdout.split("\n")[:-1] if done.stdout.endswith("\n") else done.stdout.split("\n")


@pytest.mark.long
def test_the_shell_completes_commands_radios_and_rules(folder: Path) -> None:
    assert {"fit", "forecast"} <= set(completions(folder, "pruner f"))
    text = (folder / "pruner.toml").read_text(encoding="utf-8")
    names = [table["name"] for table in tomllib.loads(text)["radio"]]
    assert completions(folder, "pruner why --radio ") == names
    rules = [table["name"] for table in tomllib.loads(text)["keep"]]
    assert completions(folder, "pruner why --rule ") == rules
    (folder / "pruner.toml").write_text("[[radio]\n")
    assert completions(folder, "pruner why --radio ") in ([], [""])


def test_why_shows_the_border_of_a_rule(folder: Path, capsys: Capture) -> None:
    done(capsys, "fit")
    summary = json.loads(next(folder.glob("out/*/summary.json")).read_text(encoding="utf-8"))
    rule = summary["rules"][-1]["name"]
    told = json.loads(done(capsys, "why", "--rule", rule, "--json"))
    assert [row["rank"] for row in told] == sorted(row["rank"] for row in told)
    assert {row["rule"] for row in told} == {rule}
    code, _, err = run(capsys, "why", "--rule", "no such rule")
    assert (code, err.count("\n")) == (ExitCode.SETTINGS, 1)
    code, _, err = run(capsys, "why")
    assert (code, err.count("\n")) == (ExitCode.SETTINGS, 1)


def test_why_knows_an_id_with_a_device_suffix(folder: Path, capsys: Capture) -> None:
    done(capsys, "fit")
    contacts = next(folder.glob("out/*/contacts.csv")).read_text(encoding="utf-8").splitlines()
    number = next(line.split(",")[1] for line in contacts[1:] if len(line.split(",")[1]) == 7)
    assert done(capsys, "why", number + "01") == done(capsys, "why", number)


@pytest.mark.long
def test_a_name_that_is_not_utf_8_is_one_line(tmp_path: Path) -> None:
    name = os.fsencode(tmp_path / "n") + b"\xff.csv"
    try:
        Path(os.fsdecode(name)).write_text("id,callsign\n2320001,OE1AA\n")
    except OSError:
        pytest.skip("this file system takes no such name")
    words = [
        os.fsencode(sys.executable),
        b"-m",
        b"pruner",
        b"fit",
        name,
        b"--contacts",
        b"5",
        b"--out",
        os.fsencode(tmp_path / "o"),
    ]
    done = subprocess.run(words, capture_output=True, check=False, timeout=60)
    assert (done.returncode, done.stderr.count(b"\n")) == (ExitCode.SETTINGS, 1)
    assert b"not UTF-8" in done.stderr


@pytest.mark.long
def test_an_output_that_cannot_be_written_is_one_line(folder: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "pruner", "check"], cwd=folder, stdout=full, stderr=subprocess.PIPE, check=False, timeout=60
        )
    assert (done.returncode, done.stderr.count(b"\n")) == (ExitCode.SETTINGS, 1)


def test_check_does_not_show_the_query_of_an_address(folder: Path, capsys: Capture) -> None:
    (folder / "far.toml").write_text(
        '[[source]]\nname = "far"\nlocation = "https://example.org/a.csv?sig=opensesame"\n[[radio]]\nname = "r"\ncontacts = 1\n'
    )
    code, told, err = run(capsys, "check", "--settings", "far.toml")
    assert (code, "example.org" in told, "nothing was fetched yet" in err) == (ExitCode.DONE, True, True)
    assert "opensesame" not in told + err
