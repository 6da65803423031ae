"""Units and crontab lines are checked by the tools that read them: systemd-analyze and cron itself (Debian packages)."""

from __future__ import annotations

import datetime
import json
import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from test_refresh_run import Home

from pruner.cli.boundary import guarded
from pruner.refresh import schedule, units
from pruner.refresh.schedule import heard_plan_for, heard_status, install, plan_for, remove, status
from pruner.refresh.units import Plan, cron_line, service, time_of_day, timer
from pruner.words.errors import SettingsError

pytestmark = pytest.mark.long

ODD = 'it\'s 100% "odd" $HOME \\x; & #'
needs_systemd = pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="needs systemd-analyze (Debian: systemd)")
needs_crontab = pytest.mark.skipif(shutil.which("crontab") is None, reason="needs crontab (Debian: cron)")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    folder = tmp_path / ODD
    folder.mkdir()
    return Home(folder)


def plan(home: Home, **more: Any) -> Plan:
    given = {"every": "week", "at": "04:30", "whole_system": False, **more}
    return plan_for(home.settings, home.folder / "pruner.toml", given.pop("every"), given.pop("at"), **given)


def analyze(tmp_path: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "XDG_RUNTIME_DIR": str(tmp_path), "LC_ALL": "C", "SYSTEMD_COLORS": "0"}
    return subprocess.run(
        ["systemd-analyze", *arguments], capture_output=True, text=True, check=False, timeout=60, env=environment
    )


def written(tmp_path: Path, chosen: Plan) -> list[str]:
    found = install(chosen, tmp_path / "units")
    return [str(path) for path in found.files]


@needs_systemd
@pytest.mark.parametrize("whole_system", [False, True])
@pytest.mark.parametrize("every", ["day", "week", "month"])
def test_systemd_finds_no_fault(tmp_path: Path, home: Home, whole_system: bool, every: str) -> None:
    (home.folder / "pruner.toml").chmod(0o644)
    files = written(tmp_path, plan(home, whole_system=whole_system, every=every))
    checked = analyze(tmp_path, "verify", *(() if whole_system else ("--user",)), "--recursive-errors=no", *files)
    assert (checked.returncode, checked.stderr, checked.stdout) == (0, "", "")


@needs_systemd
def test_the_check_sees_faults(tmp_path: Path, home: Home) -> None:
    files = written(tmp_path, plan(home))
    Path(files[0]).write_text(Path(files[0]).read_text().replace("Type=oneshot", "Type=twoshot"))
    Path(files[1]).write_text(Path(files[1]).read_text().replace("OnCalendar=Mon", "OnCalendar=Lundi"))
    told = analyze(tmp_path, "verify", "--user", "--recursive-errors=no", *files).stderr
    assert "twoshot" in told
    assert "Lundi" in told


def exposure(tmp_path: Path, chosen: Plan) -> float:
    """The figure of `systemd-analyze security`: 0 is best, 10 is worst; a service without any restriction has 9.6."""
    files = written(tmp_path, chosen)
    manager = () if chosen.user else ("--user",)
    told = analyze(tmp_path, "security", "--offline=true", "--threshold=100", *manager, files[0])
    found = re.search(r"Overall exposure level for \S+: ([0-9.]+)", told.stdout)
    assert found, told.stderr
    return float(found[1])


@needs_systemd
def test_few_rights(tmp_path: Path, home: Home, httpserver: Any) -> None:
    assert exposure(tmp_path, plan(home, whole_system=True)) <= 1.0
    assert exposure(tmp_path, plan(home)) <= 6.5  # what a user's manager can restrict without user name spaces
    home.add('[refresh.tell]\nsuccess = "https://ping.example.org/"\n')
    assert exposure(tmp_path, plan(home, whole_system=True)) <= 1.8
    assert "PrivateNetwork" not in service(plan(home, whole_system=True))
    assert "AF_INET6" in service(plan(home))


@needs_systemd
@pytest.mark.parametrize(
    ("every", "at", "first", "second"),
    [
        ("day", "04:30", "Thu 2026-11-26 04:30:00", "Fri 2026-11-27 04:30:00"),
        ("week", "4:30", "Mon 2026-11-30 04:30:00", "Mon 2026-12-07 04:30:00"),
        ("month", "23:59", "Tue 2026-12-01 23:59:00", "Fri 2027-01-01 23:59:00"),
    ],
)
def test_when_it_runs_next(tmp_path: Path, home: Home, every: str, at: str, first: str, second: str) -> None:
    text = units.calendar(plan(home, every=every, at=at))
    told = analyze(tmp_path, "calendar", "--iterations=2", "--base-time=2026-11-25 12:00:00", text)
    assert told.returncode == 0
    assert first in told.stdout
    assert second in told.stdout


def test_missed_runs_are_made_up_for_and_every_run_ends(home: Home) -> None:
    assert {"Persistent=true", "RandomizedDelaySec=30min"} <= set(timer(plan(home)).splitlines())
    lines = set(service(plan(home)).splitlines())
    assert {"Type=oneshot", "TimeoutStartSec=2h", "MemoryMax=2G", "Environment=POLARS_SKIP_CPU_CHECK=1"} <= lines
    assert "RestartPreventExitStatus=2 3 70 130" in lines


def unquoted(value: str) -> list[str]:
    """The words of a command line as systemd.syntax(7) and systemd.service(5) read it, for what the units use of it."""
    words = shlex.split(value)
    return [words[0].replace("%%", "%"), *(word.replace("%%", "%").replace("$$", "$") for word in words[1:])]


def test_the_command_names_interpreter_and_settings_whole(home: Home) -> None:
    line = next(line for line in service(plan(home)).splitlines() if line.startswith("ExecStart="))
    expected = [sys.executable, "-m", "pruner", "refresh", "--quiet", "--settings", str(home.folder / "pruner.toml")]
    assert unquoted(line.removeprefix("ExecStart=")) == expected
    # A single % would begin a specifier (systemd.unit(5)), a single $ a variable (systemd.service(5)).
    assert not re.search(r"(?<!%)(?:%%)*%(?!%)", service(plan(home)))
    assert not re.search(r"(?<!\$)(?:\$\$)*\$(?!\$)", line)


def test_writable_is_only_what_must_be(home: Home) -> None:
    home.add('[output]\nfolder = "results/out"\n[refresh.tell]\nfile = "told/last.txt"\n')
    chosen = plan(home, whole_system=True)
    assert chosen.writable == tuple(sorted(home.folder / name for name in (".pruner", "results", "told")))
    assert service(chosen).count("ReadWritePaths=") == 3
    assert "ProtectSystem=strict" in service(chosen)
    assert "User=" in service(chosen)


@needs_crontab
@pytest.mark.parametrize("every", ["day", "week", "month"])
def test_cron_takes_the_line(tmp_path: Path, home: Home, every: str) -> None:
    """Checked by Debian's cron (option -n: check only), or by cronie (option -T)."""
    table = tmp_path / "table"
    for line, good in ((cron_line(plan(home, every=every)), True), ("61 4 * * * true\n", False)):
        table.write_text(line)
        options = (
            "-T" if "-T" in subprocess.run(["crontab", "-h"], capture_output=True, text=True, check=False).stderr else "-n"
        )
        checked = subprocess.run(["crontab", options, str(table)], capture_output=True, text=True, check=False)
        assert (checked.returncode == 0) == good, checked.stderr


@pytest.mark.long
def test_cron_runs_what_was_meant(home: Home) -> None:
    """cron gives the text behind the five fields to sh, `\\%` having become `%` (crontab(5)). Silent on success."""
    line = cron_line(plan(home, every="month", at="5:07"))
    fields = line.rstrip("\n").split(" ", 5)
    assert fields[:5] == ["7", "5", "1", "*", "*"]
    assert not re.search(r"(?<!\\)%", fields[5])
    done = subprocess.run(
        ["sh", "-c", fields[5].replace("\\%", "%")], capture_output=True, text=True, check=False, cwd="/", timeout=60
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (home.folder / "out" / "small" / "contacts.csv").is_file()


_NO_NEW_EXECUTABLE_MEMORY = """
import ctypes, os, sys
libc = ctypes.CDLL(None)
if libc.prctl(65, 1, 0, 0, 0): sys.exit(77)  # PR_SET_MDWE, PR_MDWE_REFUSE_EXEC_GAIN (Linux 6.3)
os.execv(sys.executable, [sys.executable, *sys.argv[1:]])
"""


def under_the_unit(home: Home, *arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    """A run with the environment of the unit and its ban on making memory executable."""
    named = dict(re.findall(r'^Environment="?(\w+)=([^"\n]*)"?$', service(plan(home)), flags=re.MULTILINE))
    environment = {"HOME": str(home.folder), "PATH": "/usr/bin:/bin", **named, "TMPDIR": "/tmp", **more}
    command = [sys.executable, "-c", _NO_NEW_EXECUTABLE_MEMORY, *arguments]
    return subprocess.run(
        command, cwd=home.folder, env=environment, capture_output=True, text=True, check=False, timeout=60, umask=0o077
    )


@pytest.mark.long
def test_a_refresh_works_under_what_the_unit_forbids(home: Home) -> None:
    done = under_the_unit(home, "-m", "pruner", "refresh", "--quiet")
    if done.returncode == 77:
        pytest.skip("this kernel cannot refuse executable memory")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (home.folder / "out" / "small" / "contacts.csv").is_file()
    without = under_the_unit(home, "-c", "import polars", POLARS_SKIP_CPU_CHECK="")
    assert without.returncode != 0, "polars no longer needs the variable: take it out of the unit"


@pytest.mark.parametrize("text", ["", "4", "24:00", "4:60", "04:30:00", "noon", "٠٤:٣٠"])
def test_odd_times(text: str) -> None:
    with pytest.raises(SettingsError, match="--at"):
        time_of_day(text)


@pytest.mark.parametrize("name", ["", "a b", "../x", "a.timer", "-x", "ü"])
def test_odd_names(home: Home, name: str) -> None:
    with pytest.raises(SettingsError, match="--name"):
        plan(home, name=name)


@pytest.mark.parametrize("ending", [" ", "\\"])
def test_an_end_of_a_folder_that_units_cannot_hold_is_refused(tmp_path: Path, ending: str) -> None:
    """systemd.syntax(7): white space at the end of a line is dropped, a backslash there joins the next line."""
    folder = tmp_path / f"folder{ending}"
    folder.mkdir()
    odd = Home(folder)
    with pytest.raises(SettingsError, match="white space or a backslash") as raised:
        service(plan(odd))
    assert len(str(raised.value).splitlines()) == 1


def test_a_line_break_in_a_path_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a\nb").mkdir()
    odd = Home(tmp_path / "a\nb")
    for text in (service, cron_line):
        with pytest.raises(SettingsError, match="cannot stand in a schedule"):
            text(plan(odd))


@pytest.mark.parametrize("answers", [True, False])
def test_install_and_remove(tmp_path: Path, home: Home, monkeypatch: pytest.MonkeyPatch, answers: bool) -> None:
    asked: list[list[str]] = []

    def systemctl(words: list[str]) -> str | None:
        asked.append(words)
        return "" if answers else None

    monkeypatch.setattr(schedule, "_answer", systemctl)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    done = install(plan(home))
    assert [path.name for path in done.files] == ["pruner-refresh.service", "pruner-refresh.timer"]
    assert done.files[0].parent == tmp_path / "config/systemd/user"
    assert asked == [
        ["systemctl", "--user", "daemon-reload"],
        ["systemctl", "--user", "enable", "--now", "pruner-refresh.timer"],
    ]
    assert any("once it runs" in line for line in done.to_do) != answers
    assert (home.folder / ".pruner").is_dir()  # what the service may write must be there when it starts
    install(plan(home, every="day"))
    assert "OnCalendar=*-*-* 04:30:00" in done.files[1].read_text()
    assert remove("pruner-refresh", whole_system=False) == done.files
    assert remove("pruner-refresh", whole_system=False) == []
    assert not any(path.exists() for path in done.files)


def test_a_user_without_a_name(home: Home) -> None:
    if os.geteuid():
        pytest.skip("only root can give a file away")
    os.chown(home.folder / "pruner.toml", 54321, 54321)
    assert "User=54321\n" in service(plan(home, whole_system=True))


def test_status(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(schedule, "_answer", lambda _: None)
    assert status(home.state, "week").sentence == "No refresh has run yet."
    home.refresh()
    good = status(home.state, "week")
    assert good.good
    assert good.sentence.startswith("OK: ")
    assert f" on {socket.gethostname()} " in good.sentence
    later = datetime.datetime.now(datetime.UTC) + datetime.timedelta(days=20)
    overdue = status(home.state, "week", now=later)
    assert not overdue.good
    assert overdue.sentence.startswith("FAILED: ")
    assert "20 days ago" in overdue.sentence
    assert status(home.state, "month", now=later).good
    home.source.write_text("<html>")
    home.refresh()
    bad = status(home.state, "week")
    assert not bad.good
    assert bad.sentence.startswith("REFUSED (last good used): ")
    assert "exit code 4" in bad.sentence
    assert bad.last
    assert bad.last.last_good
    known = json.loads((home.state / "last-run.json").read_text())
    (home.state / "last-run.json").write_text(json.dumps({**known, "what": "running"}))
    assert "was killed" in status(home.state, "week").sentence
    (home.state / "lock").write_text(json.dumps({"process": os.getpid(), "command": "refresh", "since": "now"}))
    assert "has been running" in status(home.state, "week").sentence
    for damaged in (
        "{}",
        "[]",
        '{"schema": 1}',
        json.dumps({**known, "ended": "late"}),
        json.dumps({**known, "exit_code": "x"}),
    ):
        (home.state / "last-run.json").write_text(damaged)
        assert status(home.state, "week").sentence == "No refresh has run yet."


def test_the_command(home: Home, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(home.folder)
    assert guarded(["schedule", "--user"]) == 0
    out = capsys.readouterr().out
    assert "# pruner-refresh.service\n[Unit]" in out
    assert "# pruner-refresh.timer\n[Unit]" in out
    assert guarded(["schedule", "--user", "--json"]) == 0
    assert list(json.loads(capsys.readouterr().out)) == ["pruner-refresh.service", "pruner-refresh.timer"]
    assert guarded(["schedule", "--cron", "--every", "day", "--at", "6:05"]) == 0
    assert capsys.readouterr().out.startswith("5 6 * * * cd ")
    assert guarded(["schedule", "--status"]) == 1
    assert capsys.readouterr().out == "No refresh has run yet.\n"
    home.refresh()
    assert guarded(["schedule", "--status", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["last_run"]["version"] == 1
    for wrong in (["--install", "--cron"], ["--at", "25:00"], ["--every", "year"], ["--name", "a/b"]):
        assert guarded(["schedule", *wrong]) == 2
        assert capsys.readouterr().err.count("\n") == 1


ADDRESS = '[[heard]]\nlocation = "https://gateway.example.org/last.csv"\n'


def light(home: Home, minutes: int = 5, **more: Any) -> Plan:
    if "[[heard]]" not in (home.folder / "pruner.toml").read_text():
        home.add(f"{ADDRESS}[refresh]\nheard_interval_minutes = {minutes}\n")
    found = heard_plan_for(home.settings, plan(home, **more))
    assert found is not None
    return found


def test_addresses_of_heard_logs_have_a_timer_of_their_own(home: Home) -> None:
    assert heard_plan_for(home.settings, plan(home)) is None
    found = light(home, whole_system=True, name="club")
    assert found.name == "club-heard"
    line = next(line for line in service(found).splitlines() if line.startswith("ExecStart="))
    expected = [sys.executable, "-m", "pruner", "heard", "fetch", "--quiet", "--settings", str(home.folder / "pruner.toml")]
    assert unquoted(line.removeprefix("ExecStart=")) == expected
    assert {"OnUnitActiveSec=5min", "OnBootSec=2min"} <= set(timer(found).splitlines())
    text = service(found)
    assert text.count("ReadWritePaths=") == 1  # the state: nothing is published
    assert "StartLimit" not in text  # it starts more often than a refresh may
    assert "Restart=" not in text
    assert "AF_INET6" in text
    assert "AF_INET6" in service(plan(home))  # a refresh asks these addresses too


@needs_systemd
@pytest.mark.parametrize("whole_system", [False, True])
def test_systemd_finds_no_fault_in_the_light_run(tmp_path: Path, home: Home, whole_system: bool) -> None:
    (home.folder / "pruner.toml").chmod(0o644)
    files = written(tmp_path, light(home, whole_system=whole_system))
    checked = analyze(tmp_path, "verify", *(() if whole_system else ("--user",)), "--recursive-errors=no", *files)
    assert (checked.returncode, checked.stderr, checked.stdout) == (0, "", "")
    assert exposure(tmp_path, light(home, whole_system=True)) <= 1.8


@pytest.mark.parametrize(
    ("minutes", "fields"),
    [(1, "*/1 *"), (5, "*/5 *"), (7, "*/6 *"), (45, "*/30 *"), (60, "0 */1"), (150, "0 */2"), (1440, "0 */24")],
)
def test_cron_has_no_longer_interval_than_was_asked_for(home: Home, minutes: int, fields: str) -> None:
    assert cron_line(light(home, minutes)).startswith(f"{fields} * * * cd ")


@needs_crontab
def test_cron_takes_the_line_of_the_light_run(tmp_path: Path, home: Home) -> None:
    table = tmp_path / "table"
    table.write_text(cron_line(light(home)))
    option = "-T" if "-T" in subprocess.run(["crontab", "-h"], capture_output=True, text=True, check=False).stderr else "-n"
    checked = subprocess.run(["crontab", option, str(table)], capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr


def test_installed_and_removed_together(
    home: Home, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home.folder / "config"))
    settings = ["--settings", str(home.folder / "pruner.toml"), "--user"]
    units_folder = home.folder / "config" / "systemd" / "user"

    def installed() -> set[str]:
        return {path.name for path in units_folder.iterdir() if path.is_file()}

    ours = {"pruner-refresh.service", "pruner-refresh.timer"}
    both = ours | {"pruner-refresh-heard.service", "pruner-refresh-heard.timer"}
    plain = (home.folder / "pruner.toml").read_text()
    home.add(ADDRESS)
    assert guarded(["schedule", "--install", *settings]) == 0
    assert installed() == both
    assert set(json.loads(capsys_json(capsys, ["schedule", "--json", *settings]))) == both
    (home.folder / "pruner.toml").write_text(plain)
    assert guarded(["schedule", "--install", *settings]) == 0
    assert installed() == ours  # the settings name no address any more
    home.add(ADDRESS)
    assert guarded(["schedule", "--install", *settings]) == 0
    assert guarded(["schedule", "--remove", *settings]) == 0
    assert installed() == set()


def capsys_json(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> str:
    capsys.readouterr()
    assert guarded(arguments) == 0
    return capsys.readouterr().out


def test_how_the_light_run_went(home: Home) -> None:
    assert heard_status(home.state, 5)[:2] == (False, "Heard logs have not been fetched yet.")
    note = home.state / "heard" / "fetched" / "last.json"
    note.parent.mkdir(parents=True)
    known = {"schema": 1, "started": "2026-11-25T12:00:00+00:00", "ended": "2026-11-25T12:00:01+00:00", "exit_code": 0}
    note.write_text(json.dumps(known | {"new": 3, "troubles": []}))
    moment = datetime.datetime(2026, 11, 25, 12, 30, tzinfo=datetime.UTC)
    assert heard_status(home.state, 5, now=moment)[:2] == (
        True,
        "OK: heard logs were fetched 2026-11-25 12:00 UTC (3 new calls).",
    )
    late = heard_status(home.state, 5, now=moment + datetime.timedelta(minutes=31))
    assert late[:2] == (False, "FAILED: heard logs were last fetched 2026-11-25 12:00 UTC; every 5 minutes is due")
    assert heard_status(home.state, 60, now=moment + datetime.timedelta(minutes=31))[0]
    note.write_text(json.dumps(known | {"exit_code": 4, "new": 0, "troubles": ["heard log http://x/ answered 404"]}))
    assert heard_status(home.state, 5, now=moment)[1].endswith("12:00 UTC: heard log http://x/ answered 404")
