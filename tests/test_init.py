"""The walk for the newcomer, on a real pseudo-terminal and by options."""

from __future__ import annotations

import contextlib
import os
import pty
import subprocess
import sys
import threading
from pathlib import Path
from unittest import mock

import pytest
from commands import Ran, ran

from pruner.cli.boundary import guarded
from pruner.reference import countries
from pruner.reference.places import country_of_locator
from pruner.settings.load import load_settings
from pruner.words.errors import ExitCode

STATIONS = (
    "id,callsign,name,country\n2320001,OE1AA,Anna Berg,Austria\n2620001,DL1AA,Bert Tal,Germany\n2080001,F1AAA,Cora,France\n"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "stations.csv").write_text(STATIONS)
    (tmp_path / "export.csv").write_text("Sign;Number;First\r\nOE1AA;2320001;Anna\r\nDL1AA;2620001;Bert\r\n")
    return tmp_path


def talk(folder: Path, answers: list[str], *arguments: str) -> tuple[int, str]:
    """Runs `pruner init` on a terminal and gives one answer per question."""
    ours, theirs = pty.openpty()
    seen: list[str] = []
    answering = threading.Thread(target=_answer, args=(ours, answers, seen))
    answering.start()
    with (
        contextlib.chdir(folder),
        os.fdopen(theirs, "r", encoding="utf-8", closefd=False) as typed,
        os.fdopen(theirs, "w", encoding="utf-8") as shown,
        mock.patch.multiple("sys", stdin=typed, stdout=shown, stderr=shown),
        mock.patch.dict(os.environ, TERM="dumb"),
    ):
        code = guarded(["init", *arguments])
    answering.join(60)
    os.close(ours)
    return int(code), "".join(seen)


def _answer(ours: int, answers: list[str], told: list[str]) -> None:
    """Reads from a terminal to its end and gives one answer per question."""
    seen, waiting, asked = "", list(answers), 0
    while True:
        try:
            chunk = os.read(ours, 4096)
        except OSError:  # Linux reports the end of a pseudo-terminal so
            break
        if not chunk:
            break
        seen += chunk.decode()
        while seen.count("]: ") + seen.count(": \x00") + _questions(seen) > asked and waiting:
            os.write(ours, (waiting.pop(0) + "\n").encode())
            asked += 1
    told.append(seen)


def _questions(seen: str) -> int:
    """Prompts without a default end in a colon and a blank."""
    words = ("or both: ", "addresses: ", "nothing: ")
    return sum(seen.count(word) for word in words)


def test_six_answers_make_settings_that_check_accepts(folder: Path) -> None:
    code, seen = talk(folder, ["Austria", "stations.csv", "232 91", "2; 500", "export.csv", "results"])
    assert code == 0, seen
    settings = load_settings(folder / "pruner.toml")
    assert (settings.home.country, settings.sources[0].location) == ("Austria", str(folder / "stations.csv"))
    assert settings.talkgroups.mine == (232, 91)
    radio = settings.radios[0]
    assert (radio.contacts, radio.talkgroups, radio.layout) == (2, 500, folder / "handheld.layout.toml")
    assert settings.output.folder == folder / "results"
    assert "3 rows hold 3 contacts; handheld would hold 2" in seen
    assert "The limit falls inside rule 'neighbours'" not in seen
    assert seen.count("?") <= 6 + 1
    assert not (folder / "results").exists()
    assert ran(folder, "check").returncode == 0
    assert ran(folder, "fit").returncode == 0
    assert (folder / "results/handheld/contacts.csv").read_bytes().startswith(b"Sign;Number;First\r\n")


def test_answers_that_cannot_be_used_are_asked_again(folder: Path) -> None:
    answers = ["Atlantis", "JN67", "nothing.csv", "stations.csv", "many", "", "lots", "5", "", ""]
    code, seen = talk(folder, answers)
    assert code == 0, seen
    assert "no country or locator is known by this" in seen
    assert "JN67 lies in or near Austria" in seen
    assert "there is no file nothing.csv" in seen
    settings = load_settings(folder / "pruner.toml")
    assert (settings.home.country, settings.home.locator) == ("AT", "JN67")
    assert (settings.talkgroups.mine, settings.radios[0].contacts, settings.radios[0].layout) == ((), 5, None)


def test_country_and_locator_and_paths_as_people_write_them(folder: Path) -> None:
    (folder / "the club's list.csv").write_text(STATIONS)
    code, seen = talk(folder, ["Austria JN5", "Austria JN57", "the club's list.csv", "", "5", "", ""])
    assert code == 0, seen
    assert "the last word is no locator" in seen
    settings = load_settings(folder / "pruner.toml")
    assert (settings.home.country, settings.home.locator) == ("Austria", "JN57")
    assert [source.location for source in settings.sources] == [str(folder / "the club's list.csv")]


def test_a_radio_whose_name_is_no_folder_is_one_line(folder: Path) -> None:
    for name in ("a/b", "", "..", 'quo"te'):
        done = options(folder, "--source", "stations.csv", "--sample", "export.csv", "--radio", name)
        assert done.returncode == ExitCode.SETTINGS, done.stderr
        assert "radio[1].name: expected a name that can be a folder" in done.stderr
    assert not (folder / "pruner.toml").exists()


def test_three_rows_are_shown_and_columns_in_doubt_are_asked_about(folder: Path) -> None:
    rows = "".join(f"{2320001 + 977 * n},{2321004 + 991 * n},OE1AA{chr(65 + n)}\n" for n in range(20))
    (folder / "two.csv").write_text(f"left id,right id,who\n{rows}")
    code, seen = talk(folder, ["Austria", "two.csv", "shoe=2", "'id=right id'", "", "5", "", ""])
    assert code == 0, seen
    assert "may hold the ids" in seen
    assert "Is that right? Enter, or which column holds what" in seen
    assert "'shoe' is nothing that a column holds" in seen
    assert "id from 'right id' (as set)" in " ".join(seen.split())
    assert ["2321004", "OE1AAA"] in [line.split() for line in seen.splitlines()]
    assert load_settings(folder / "pruner.toml").sources[0].columns == {"id": "right id"}
    assert ran(folder, "fit").returncode == 0


def test_a_clear_directory_is_shown_and_not_asked_about(folder: Path) -> None:
    code, seen = talk(folder, ["Austria", "stations.csv", "", "5", "", ""])
    assert code == 0, seen
    assert "Is that right?" not in seen
    assert ["2320001", "OE1AA", "Anna", "Berg", "Austria"] in [line.split() for line in seen.splitlines()]


def test_options_open_the_files_too(folder: Path) -> None:
    done = options(folder, "--source", "stations.csv", "--source", "none.csv", "--country", "AT", "--heard", "log.csv",
                   "--column", "id=1", "--column", "log.csv:time=Wann", "--column", "stations.csv:name=name")  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "stations.csv: id from 'id' (as set), call sign from 'callsign'" in done.stderr
    assert "none.csv" in done.stderr
    settings = load_settings(folder / "pruner.toml")
    assert [source.columns for source in settings.sources] == [{"id": 1, "name": "name"}, {"id": 1}]
    assert settings.heard[0].columns == {"time": "Wann"}
    (folder / "pruner.toml").unlink()
    done = options(folder, "--source", "stations.csv", "--column", "two.csv:id=1")
    assert (done.returncode, done.stderr) == (
        ExitCode.SETTINGS,
        "pruner: --column 'two.csv:id=1': no file 'two.csv' is read here (there are: stations.csv)\n",
    )


def options(folder: Path, *arguments: str) -> Ran:
    return ran(folder, "init", *arguments)


def test_all_of_it_by_options(folder: Path) -> None:
    done = options(
        folder, "--source", "stations.csv", "--country", "AT", "--talkgroup", "232", "--contacts", "9", "--talkgroups", "7",
        "--sample", "export.csv", "--radio", "bench", "--heard", "logs/*.csv",
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (0, "bench.layout.toml\npruner.toml\n"), done.stderr
    settings = load_settings(folder / "pruner.toml")
    assert settings.heard[0].location == str(folder / "logs/*.csv")
    assert settings.radios[0].layout == folder / "bench.layout.toml"


def test_a_dry_run_writes_nothing(folder: Path) -> None:
    before = sorted(folder.iterdir())
    done = options(
        folder, "--source", "stations.csv", "--country", "AT", "--contacts", "1", "--sample", "export.csv", "--dry-run"
    )
    assert done.returncode == 0, done.stderr
    assert "handheld would hold 1" in done.stdout
    assert "The limit falls inside rule 'neighbours'." in done.stdout
    assert sorted(folder.iterdir()) == before


def test_without_a_terminal_it_does_not_ask(folder: Path) -> None:
    done = options(folder, "--country", "AT")
    assert (done.returncode, done.stdout) == (ExitCode.SETTINGS, "")
    assert done.stderr == "pruner: init: expected --source, a directory of stations; or run it on a terminal, where it asks\n"


def test_nothing_is_left_of_an_init_that_failed(folder: Path) -> None:
    (folder / "handheld.layout.toml").write_text("mine")
    done = options(folder, "--source", "stations.csv", "--country", "AT", "--sample", "export.csv")
    assert done.returncode == ExitCode.SETTINGS
    assert "handheld.layout.toml: exists already" in done.stderr
    assert not (folder / "pruner.toml").exists()
    assert (folder / "handheld.layout.toml").read_text() == "mine"


@pytest.mark.long
@pytest.mark.parametrize(
    "command",
    [
        ["init", "--source", "stations.csv", "--sample", "export.csv"],
        ["layout", "learn", "export.csv", "--out", "pruner.toml"],
    ],
)
def test_a_disk_that_is_full_in_the_middle_leaves_nothing(folder: Path, command: list[str]) -> None:
    """A limit on the size of files stands for the full disk."""
    before = sorted(path.name for path in folder.iterdir())
    done = subprocess.run(
        ["/bin/sh", "-c", 'ulimit -f 0; exec "$@"', "sh", sys.executable, "-B", "-m", "pruner", *command],
        cwd=folder, check=False, capture_output=True, text=True, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.returncode == ExitCode.SETTINGS, done.stderr
    assert "toml: cannot be written (File too large); name a file" in done.stderr
    assert "None" not in done.stderr
    assert sorted(path.name for path in folder.iterdir()) == before


@pytest.mark.parametrize(
    ("locator", "code"),
    # By hand, from squares that lie well inside one country.
    [("JN88ef", "AT"), ("IO91wm", "GB"), ("FN31pr", "US"), ("QF22lb", "AU"), ("JO62qm", "DE"), ("KG33", "ZA"), ("JN67", "AT")],
)
def test_the_country_of_a_locator(locator: str, code: str) -> None:
    assert countries.CODES[country_of_locator(locator)] == code


def test_options_show_what_would_happen_and_name_the_next_command(folder: Path) -> None:
    done = options(folder, "--source", "stations.csv", "--country", "AT", "--contacts", "2")
    assert done.returncode == 0, done.stderr
    assert "3 rows hold 3 contacts; handheld would hold 2" in done.stderr
    assert done.stderr.splitlines()[-1] == "next: pruner fit"
    done = options(folder, "--source", "stations.csv", "--settings", "my own.toml")
    assert done.stderr.splitlines()[-1] == "next: pruner fit --settings 'my own.toml'"
    done = options(folder, "--source", "https://example.org/stations.csv", "--settings", "web.toml")
    assert done.stderr.splitlines()[-1] == "next: pruner refresh --settings web.toml"


def test_no_rule_is_written_that_can_match_nobody(folder: Path) -> None:
    def rules(*words: str) -> list[str]:
        (folder / "pruner.toml").unlink(missing_ok=True)
        assert options(folder, "--source", "stations.csv", *words).returncode == 0
        return [rule.name for rule in load_settings(folder / "pruner.toml").keep]

    assert rules("--country", "AT") == ["home", "neighbours", "the rest"]
    assert rules("--country", "Iceland") == ["home", "the rest"]
    assert rules("--talkgroup", "232") == ["the rest"]
    assert rules("--heard", "log.csv") == ["the rest"]
    heard = rules("--talkgroup", "232", "--heard", "log.csv", "--country", "AT")
    assert heard == ["heard on my talkgroups", "home", "neighbours", "the rest"]


def test_a_radio_is_added_to_settings_that_are_there(folder: Path) -> None:
    options(folder, "--source", "stations.csv", "--country", "AT", "--radio", "first")
    path = folder / "pruner.toml"
    path.chmod(0o640)
    before = path.read_text()
    done = options(folder, "--radio", "second", "--contacts", "2", "--talkgroups", "7", "--sample", "export.csv")
    assert (done.returncode, done.stdout) == (0, "second.layout.toml\npruner.toml\n"), done.stderr
    assert "second would hold 2" in done.stderr
    assert "first would hold" not in done.stderr
    assert done.stderr.splitlines()[-1] == "next: pruner fit"
    assert path.read_text().startswith(before.rstrip())
    assert path.stat().st_mode & 0o777 == 0o640
    radios = load_settings(path).radios
    assert [(radio.name, radio.contacts, radio.talkgroups) for radio in radios] == [("first", 200_000, None), ("second", 2, 7)]
    assert radios[1].layout == folder / "second.layout.toml"
    assert ran(folder, "fit").returncode == 0


def test_an_added_radio_whose_name_is_no_folder_is_one_line(folder: Path) -> None:
    options(folder, "--source", "stations.csv", "--country", "AT", "--radio", "first")
    for name in ("a/b", "../x", "a\\b", "", ".."):
        for sample in ((), ("--sample", "export.csv")):
            done = options(folder, "--radio", name, "--contacts", "5", *sample)
            assert done.returncode == ExitCode.SETTINGS, done.stderr
            assert "radio[2].name: expected a name that can be a folder" in done.stderr.splitlines()[-1]


def test_an_added_radio_that_cannot_be_leaves_all_as_it_was(folder: Path) -> None:
    options(folder, "--source", "stations.csv", "--country", "AT", "--radio", "first")
    path = folder / "pruner.toml"
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    before = path.read_bytes()
    for words in (
        ("--radio", "first"),
        ("--radio", "a/b"),
        ("--radio", "second", "--country", "DE"),
        ("--radio", "second", "--sample", "none.csv"),
        (),
    ):
        done = options(folder, *words)
        assert done.returncode != 0
        assert done.stderr.splitlines()[-1].startswith("pruner: ")
        assert path.read_bytes() == before
    assert "add a radio: pruner init --radio NAME --contacts NUMBER" in options(folder, "--source", "stations.csv").stderr
    assert options(folder, "--radio", "second", "--dry-run").returncode == 0
    assert path.read_bytes() == before
    assert options(folder, "--radio", "second").returncode == 0
    assert path.read_bytes().count(b"\r\n") == path.read_bytes().count(b"\n")
    assert sorted(one.name for one in folder.iterdir()) == ["export.csv", "pruner.toml", "stations.csv"]


def test_a_log_that_cannot_be_read_is_said(folder: Path) -> None:
    """By options and in the conversation alike; it goes into the settings all the same."""
    (folder / "garbage.log").write_text("hello\nworld\n" * 5)
    (folder / "good.csv").write_text("time,id,talkgroup\n2026-01-02T03:04:05Z,2320001,91\n2026-01-02T03:05:05Z,2620001,91\n")
    heard = ("--heard", "garbage.log", "--heard", "good.csv")
    done = options(folder, "--source", "stations.csv", "--country", "AT", *heard)
    (folder / "pruner.toml").unlink()
    code, seen = talk(folder, ["Austria", "stations.csv", "", "5", "", ""], *heard)
    assert (done.returncode, code) == (0, 0), seen
    for said in (done.stderr, seen):
        assert "garbage.log: no table is found in it" in said
        assert "good.csv: time from 'time'" in said
        assert "1 heard log named in pruner.toml cannot be read as it stands" in said
    assert len(load_settings(folder / "pruner.toml").heard) == 2
