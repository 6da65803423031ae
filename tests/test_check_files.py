"""`pruner check` opens every file that the settings name and shows what it holds."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pruner.cli.boundary import guarded
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
ROWS = "".join(f"{2320001 + 7 * n};OE1AA{chr(65 + n)};Person{n}\n" for n in range(12))
LAYOUT = '[file]\n[[column]]\ntitle = "Id"\nvalue = "{id}"\n[[column]]\ntitle = "Call"\nvalue = "{callsign}"\n'
SETTINGS = """\
[[source]]
name = "world"
location = "part-*.csv"
[[heard]]
location = "log.csv"
[talkgroups]
list = "groups.csv"
[[drop]]
name = "left out"
list = "gone.txt"
[[keep]]
name = "club"
list = "club.csv"
[[keep]]
name = "rest"
[[radio]]
name = "one"
contacts = 50
carried = "export.csv"
layout = "l.toml"
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in ("part-1.csv", "part-2.csv", "export.csv"):
        Path(name).write_text(f"Funk-ID;Rufzeichen;Vorname\n{ROWS}")
    Path("log.csv").write_text("id,talkgroup,time\n2320001,232,2026-01-02T03:04:05Z\n2320008,232,2026-01-02T03:05:05Z\n")
    Path("groups.csv").write_text("TG;Titel\n232;Aus\x1b[2Jtria\n91;World\n262;Germany\n")
    Path("gone.txt").write_text("2329999\nOE1AAB\n")
    Path("club.csv").write_text("Mitglied;DMR ID\nAda;2320001\nBea;2320008\nCleo;2320015\n")
    Path("l.toml").write_text(LAYOUT)
    Path("pruner.toml").write_text(SETTINGS)
    return tmp_path


def test_every_file_is_shown_with_three_rows(folder: Path, capsys: Capture) -> None:
    assert guarded(["check"]) == ExitCode.DONE
    out, _ = capsys.readouterr()
    assert f"  source world: {folder / 'part-1.csv'} and 1 file more, alike\n    id from 'Funk-ID'" in out
    shown = [line.split() for line in out.splitlines()]
    assert shown.count(["2320001", "OE1AAA", "Person0"]) == 2  # the source and the carried entries
    assert ["2320015", "OE1AAC", "Person2"] in shown
    assert ["2320022", "OE1AAD", "Person3"] not in shown
    assert ["2320001", "232", "2026-01-02T03:04:05Z"] in shown
    assert ["232", "Aus?[2Jtria"] in shown
    assert ["2329999", "OE1AAB"] in shown
    for what in ("heard log", "list", "talkgroups", "carried by one", "layout"):
        assert f"  {what}: {folder}" in out
    assert "writes 2 columns: Id, Call" in out
    assert "\x1b" not in out


def test_a_file_that_cannot_be_read_is_one_line(folder: Path, capsys: Capture) -> None:
    Path("part-2.csv").write_text("<html><body>Sorry</body></html>\n")
    Path("log.csv").unlink()
    assert guarded(["check"]) == ExitCode.INPUT_REFUSED
    said = " ".join(capsys.readouterr().out.split())
    assert "pruner.toml: 1 mistake, for which fit would be refused" in said
    assert "part-2.csv cannot be read: " in said
    assert "page" in said.partition("part-2.csv")[2].partition("heard log")[0]
    assert "heard log: " in said
    assert said.count("cannot be read: ") == 2
    assert "id from 'Funk-ID'" in said


def test_check_takes_answers(folder: Path, capsys: Capture) -> None:
    assert guarded(["check", "--column", "name=3", "--column", "club.csv:id=2", "--json"]) == ExitCode.DONE
    files = json.loads(capsys.readouterr().out)["files"]
    sentences = {Path(one["file"]).name: one["sentence"] for one in files}
    assert "name from 'Vorname' (as set)" in sentences["part-1.csv"]
    assert "id from 'DMR ID' (as set)" in sentences["club.csv"]
    assert "first name from 'Vorname'" in sentences["export.csv"]
    assert len(files[0]["rows"]) == 3


def test_addresses_are_shown_without_their_secrets(folder: Path, capsys: Capture) -> None:
    Path("pruner.toml").write_text(SETTINGS.replace("part-*.csv", "https://stations.example.org/all.csv?token=hidden"))
    assert guarded(["check"]) == ExitCode.DONE
    out, err = capsys.readouterr()
    assert "hidden" not in out + err
    assert "source world: https://stations.example.org/all.csv" in out
    assert "nothing was fetched yet" in out


def no_headings(name: str) -> None:
    Path(name).write_text("Funk-ID;Rufzeichen;Vorname\n")


GPX = '<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="47.1" lon="15.4"/></gpx>'
#: What is wrong with which file: most of these open without a complaint.
BROKEN = {
    "a source without rows": lambda: [no_headings(f"part-{part}.csv") for part in (1, 2)],
    "an empty source": lambda: [Path(f"part-{part}.csv").write_text("") for part in (1, 2)],
    "a source of bad ids": lambda: Path("part-1.csv").write_text("Funk-ID;Rufzeichen;Vorname\n" + "232000x;OE1AAA;Ada\n" * 40),
    "sources that are not there": lambda: [path.unlink() for path in Path().glob("part-*.csv")],
    "a list that names nobody": lambda: Path("gone.txt").write_text("nobody at all\nneither\n"),
    "a list that is a program": lambda: Path("club.csv").write_bytes(b"\x7fELF\0\0\0"),
    "carried entries without rows": lambda: no_headings("export.csv"),
    "carried entries that are a page": lambda: Path("export.csv").write_text("<html><body>Sign in</body></html>"),
    "a layout without columns": lambda: Path("l.toml").write_text("[file]\n"),
    "a layout that is no TOML": lambda: Path("l.toml").write_text("[[[\n"),
    "a route cut off": lambda: Path("tour.gpx").write_text(GPX[:-8]),
    "a route of nothing": lambda: Path("tour.gpx").write_text(""),
    "a folder of somebody else": lambda: Path("out/one").mkdir(parents=True) or Path("out/one/mine.txt").write_text("mine"),
}


def with_a_route() -> None:
    text = SETTINGS.replace('name = "rest"', 'name = "way"\nroute = "tour.gpx"\nwithin_km = 30\n[[keep]]\nname = "rest"')
    Path("pruner.toml").write_text(text)
    Path("tour.gpx").write_text(GPX)


def test_what_check_finds_good_fit_takes(folder: Path) -> None:
    with_a_route()
    assert (guarded(["check"]), guarded(["fit"])) == (ExitCode.DONE, ExitCode.DONE)


def test_what_refresh_alone_would_refuse_is_foretold(folder: Path, capsys: Capture) -> None:
    """A fit goes on where few rows are bad, a refresh does not: check says so in the words of the refresh."""
    with_a_route()
    Path("part-2.csv").unlink()
    Path("part-1.csv").write_text(f"Funk-ID;Rufzeichen;Vorname\n{ROWS}" + "none;OE9X;\n" * 9)
    assert guarded(["check"]) == ExitCode.DONE
    out, err = capsys.readouterr()
    (foretold,) = [line for line in err.splitlines() if "refresh" in line]
    assert "no mistakes" in out
    assert guarded(["refresh"]) == ExitCode.INPUT_REFUSED
    _, refused = capsys.readouterr()
    assert foretold.partition("would refuse it: ")[2] in refused
    assert "source 'world': " in foretold
    assert "rejected_share_at_most = 0.05" in foretold
    assert guarded(["fit"]) == ExitCode.DONE


@pytest.mark.parametrize("what", BROKEN)
def test_what_fit_refuses_check_names(folder: Path, capsys: Capture, what: str) -> None:
    with_a_route()
    BROKEN[what]()
    code = guarded(["fit"])
    _, refused = capsys.readouterr()
    assert code in (ExitCode.SETTINGS, ExitCode.INPUT_REFUSED, ExitCode.SOURCE_MISSING)
    assert guarded(["check"]) == code
    out, err = capsys.readouterr()
    assert err.startswith(refused.splitlines()[0])
    assert "no mistakes" not in out
    assert guarded(["check", "--json"]) == code
    assert json.loads(capsys.readouterr().out)["mistakes"][0] in refused


def test_all_broken_files_at_once(folder: Path, capsys: Capture) -> None:
    Path("pruner.toml").write_text(SETTINGS + '[[source]]\nname = "second"\nlocation = "second.csv"\n')
    Path("part-2.csv").write_text("<html>")
    no_headings("second.csv")
    Path("club.csv").write_text("nobody\nat all\n")
    Path("export.csv").write_text("<html>")
    Path("groups.csv").write_text("TG;Titel\n")
    assert guarded(["check"]) == ExitCode.INPUT_REFUSED
    out, err = capsys.readouterr()
    for name in ("part-2.csv", "second.csv", "club.csv", "export.csv"):
        assert sum(f"/{name}:" in line for line in err.splitlines()) == 1, name
    assert "pruner.toml: 4 mistakes" in out


def test_talkgroups_that_are_refused(folder: Path, capsys: Capture) -> None:
    Path("pruner.toml").write_text(SETTINGS.replace("contacts = 50", "contacts = 50\ntalkgroups = 10"))
    Path("groups.csv").write_text("TG;Titel\n")
    assert guarded(["talkgroups"]) == ExitCode.INPUT_REFUSED
    _, refused = capsys.readouterr()
    assert guarded(["check"]) == ExitCode.INPUT_REFUSED
    assert refused.splitlines()[-1] in capsys.readouterr().err


def test_heard_logs_that_cannot_be_read_are_said(folder: Path, capsys: Capture) -> None:
    """A fit goes on without them: it ends well, and check with the exit code of heard fold."""
    good = Path("log.csv").read_text()
    bad_rows = good + "2320001,232,nonsense\n" * 200
    for text, code in (("<html><body>Sign in</body></html>\n", 3), (bad_rows, 3), (None, 4)):
        Path("log.csv").unlink(missing_ok=True)
        if text is not None:
            Path("log.csv").write_text(text)
        capsys.readouterr()
        assert guarded(["check"]) == code
        out, err = capsys.readouterr()
        assert "pruner.toml: 1 heard log that cannot be read" in out
        assert next(line for line in err.splitlines() if "log.csv" in line).endswith("fit would go on without it")
        assert guarded(["heard", "fold"]) == code
        refused = capsys.readouterr().err.splitlines()[-1]
        assert guarded(["check", "--json"]) == code
        assert json.loads(capsys.readouterr().out)["left_out"] == [refused.removeprefix("pruner: ")]
        assert guarded(["fit"]) == ExitCode.DONE


def test_check_says_whom_the_directory_knows(folder: Path, capsys: Capture) -> None:
    """From the logs where nothing was folded yet, else from the store; nothing is written."""
    Path("log.csv").write_text(
        "id,callsign,talkgroup,time\n2320001,,232,2026-01-02T03:04:05Z\n2320001,,232,2026-01-02T05:04:05Z\n"
        "2399999,,232,2026-01-02T03:05:05Z\n,OE1AAC,91,2026-01-02T04:05:05Z\n,XX9XX,91,2026-01-03T04:05:05Z\n"
    )
    wanted = "dmr: of 4 callers heard from 2026-01-02 to 2026-01-03 (days in UTC) the directory knows 2 (50.0 %), "
    wanted += "who made 3 of the 5 calls (60.0 %)"
    assert guarded(["check"]) == ExitCode.DONE
    out, err = capsys.readouterr()
    assert wanted in " ".join(out.split())
    assert "tried without calls" in " ".join(err.split())
    assert not Path(".pruner").exists()
    assert guarded(["heard", "fold"]) == ExitCode.DONE
    Path("log.csv").write_text("id,talkgroup,time\n2320008,232,2026-01-02T03:04:05Z\n")
    capsys.readouterr()
    assert guarded(["check"]) == ExitCode.DONE
    assert wanted in " ".join(capsys.readouterr().out.split())
    assert guarded(["check", "--json"]) == ExitCode.DONE
    callers = json.loads(capsys.readouterr().out)["callers"]
    assert [(one["callers"], one["known"], one["calls"], one["calls_known"]) for one in callers] == [(4, 2, 5, 3)]
