"""Several customers over one load of the directories: each as if fitted alone, sources read once."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from test_commands import done, narrow, run

from pruner.calls import covered
from pruner.history.first_seen import FOLDER as FIRST_SEEN
from pruner.history.first_seen import stood_there
from pruner.job import carried
from pruner.job.bench import read_customers, run_bench
from pruner.job.load import load
from pruner.job.run import run as fit_alone
from pruner.logs import system_fold
from pruner.words.errors import ExitCode, SettingsError

Capture = pytest.CaptureFixture[str]
TOWNS = ("Wien", "Graz", "Innsbruck", "Berlin", "Hamburg", "München", "Zürich", "Bern")
COMMON = """\
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[[heard]]
location = "log.csv"
[[keep]]
name = "home"
countries = ["home"]
[[keep]]
name = "the rest"
[[radio]]
name = "handheld"
contacts = 8
"""
OWN = {
    "anna": '[home]\ncountry = "AT"\nlocator = "JN57"\n[talkgroups]\nmine = [232]\n',
    "bert": '[home]\ncountry = "DE"\n[[radio]]\nname = "old"\ncontacts = 3\n[[radio]]\nname = "new"\ncontacts = 12\n',
    "cleo": '[home]\ncountry = "CH"\n[[radio]]\nname = "own"\ncontacts = 4\ncarried = "export.csv"\n'
    '[[keep]]\nname = "near the way"\nroute = "tour.gpx"\nwithin_km = 90\n[[drop]]\nname = "not this one"\nids = [2280001]\n',
}


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    codes = {"Austria": 232, "Germany": 262, "Switzerland": 228}
    rows = [
        f"{code}{number:04},OE{number % 9}A{chr(65 + number)}{chr(65 + code % 26)},Anna,{TOWNS[number % 8]},{country}\n"
        for country, code in codes.items()
        for number in range(1, 9)
    ]
    Path("stations.csv").write_text("id,callsign,first name,town,country\n" + "".join(rows) + rows[0] + "x,OE1AAA,Bea,Wien,\n")
    calls = [f"{2620001 + at % 8},{232 if at % 3 else 91},2026-06-{1 + at % 20:02}T10:{at:02}:00Z,3\n" for at in range(50)]
    Path("log.csv").write_text("id,talkgroup,time,seconds\n" + "".join(calls))
    Path("pruner.toml").write_text(COMMON)
    for name, text in OWN.items():
        (tmp_path / "customers" / name).mkdir(parents=True)
        (tmp_path / "customers" / name / "pruner.toml").write_text(text)
    (tmp_path / "customers/cleo/export.csv").write_text("id,callsign,name\n2280002,HB9OWN,By hand\n")
    (tmp_path / "customers/cleo/tour.gpx").write_text('<gpx><wpt lat="46.95" lon="7.45"/></gpx>')
    return tmp_path


def bytes_in(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_home_talkgroups_and_radios_may_be_the_customers_own(folder: Path) -> None:
    text = COMMON.partition("[[radio]]")[0].replace('[home]\ncountry = "AT"\n', "")
    Path("pruner.toml").write_text(text + '[[keep]]\nname = "heard"\ntalkgroups = "mine"\n')
    own = '[talkgroups]\nmine = [{}]\n[home]\ncountry = "{}"\n[[radio]]\nname = "own"\ncontacts = {}\n'
    for name, values in {"anna": (232, "AT", 4), "bert": (91, "DE", 6)}.items():
        (folder / "customers" / name / "pruner.toml").write_text(own.format(*values))
    (folder / "customers/anna/pruner.toml").write_text(own.format(232, "AT", 4) + 'carried = "export.csv"\n')
    (folder / "customers/anna/export.csv").write_text("id,callsign,name\n2280002,HB9OWN,By hand\n")
    folders = [folder / "customers" / name for name in ("anna", "bert")]
    results = run_bench(*read_customers(Path("pruner.toml"), folders))
    assert [result.problem for result in results] == [None, None]
    assert [(summary.radio, summary.kept) for result in results for summary in result.summaries] == [("own", 4), ("own", 6)]
    kept = [{rule.name: rule.kept for rule in result.summaries[0].rules}["home"] for result in results]
    assert kept == [3, 6]
    (folder / "customers/bert/pruner.toml").write_text("")
    with pytest.raises(SettingsError, match=r"bert/pruner\.toml: radio: expected at least one") as caught:
        read_customers(Path("pruner.toml"), folders)
    assert '"home" needs [home] country' in str(caught.value)


def test_each_customer_gets_what_a_fit_alone_gives(folder: Path) -> None:
    common, customers = read_customers(Path("pruner.toml"), sorted(Path("customers").iterdir()))
    results = run_bench(common, customers)
    assert [result.problem for result in results] == [None] * 3
    for customer in customers:
        together = bytes_in(customer.folder / "out")
        shutil.rmtree(customer.folder / "out")
        fit_alone(customer.settings)
        alone = bytes_in(customer.folder / "out")
        assert together == alone
        assert len([name for name in alone if name.endswith("summary.json")]) == len(customer.settings.radios)


def test_each_source_and_each_log_is_read_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also the store into which the logs are folded; each export is read by the customer whose it is."""
    read: list[str] = []

    def counted(module: object, name: str, what: Callable[..., str]) -> None:
        found = getattr(module, name)
        monkeypatch.setattr(module, name, lambda *given, **named: (read.append(what(*given)), found(*given, **named))[1])

    counted(sys.modules["pruner.job.load"], "collect", lambda name, *_: name)  # the name in the room is the function
    counted(system_fold, "open_log", lambda path, *_: path.name)
    counted(covered, "load_covered", lambda folder, *_: f"store of {folder.name}")
    counted(carried, "collect", lambda _name, _system, paths, *_: paths[0].name)
    (folder / "more.csv").write_text((folder / "log.csv").read_text().replace("2026-06", "2026-05"))
    (folder / "pruner.toml").write_text(COMMON.replace("log.csv", "*o*e.csv") + '[[heard]]\nlocation = "log.csv"\n')
    run_bench(*read_customers(Path("pruner.toml"), sorted(Path("customers").iterdir())))
    assert sorted(read) == ["export.csv", "log.csv", "more.csv", "store of dmr", "world"]


def test_what_is_not_carried_is_named_on_the_terminal_and_in_the_account(folder: Path, capsys: Capture) -> None:
    export = "id,callsign,name\n2280002,HB9OWN,By hand\nnothing,X1X,Unreadable Repeater\n2280002,HB9TWO,Once more\n"
    (folder / "customers/cleo/export.csv").write_text(export)
    words = " ".join(done(capsys, "bench", "customers/anna", "customers/cleo").split())
    assert "cleo, own: Of 3 entries of the export 1 are carried unchanged, 0 changed, 2 not." in words
    assert "By hand (2280002): duplicate id" in words
    assert "Unreadable Repeater" in words
    assert "(line 3): invalid id" in words
    assert f"anna, handheld: import: {folder / 'customers/anna/out/handheld/contacts.csv'} cleo" in words
    (told,) = json.loads(done(capsys, "bench", "customers/cleo", "--json"))
    (summary,) = told["summaries"]
    assert [one["reason"].split(":")[0] for one in summary["carried"]["not_carried"]] == ["duplicate id", "invalid id"]
    assert summary == json.loads((folder / "customers/cleo/out/own/summary.json").read_text())


def test_one_command_one_table(folder: Path, capsys: Capture) -> None:
    out = done(capsys, "bench", *(f"customers/{name}" for name in OWN))
    assert narrow(out)
    cells = {tuple(line.split()[:2]): line.split()[2:6] for line in out.splitlines() if line.split() and line.split()[0] in OWN}
    assert list(cells) == [("anna", "handheld"), ("bert", "old"), ("bert", "new"), ("cleo", "own")]
    for read, kept, dropped, rejected in cells.values():
        assert int(read) == int(kept) + int(dropped) + int(rejected)
    assert [kept for _, kept, _, _ in cells.values()] == ["8", "3", "12", "2"]
    assert "kept" in done(capsys, "why", "2320001", "--settings", "customers/anna/out")
    told = json.loads(done(capsys, "bench", "customers/anna", "--json"))
    assert [(one["customer"], len(one["summaries"])) for one in told] == [("anna", 1)]


def test_the_directory_is_remembered_once_for_all(folder: Path) -> None:
    """In the common state, so that calls to come get their interval for every customer after some runs."""
    common, customers = read_customers(Path("pruner.toml"), [Path("customers/anna"), Path("customers/bert")])
    run_bench(common, customers)
    ids = load(common).contacts.number
    last_day = (date(2026, 6, 20) - date(1970, 1, 1)).days
    stood = stood_there(common.output.state / FIRST_SEEN, "world", ids, last_day)
    assert stood is not None
    assert stood.all()
    assert not list(folder.glob("customers/*/.pruner"))
    assert {customer.settings.output.state for customer in customers} == {common.output.state}


def test_all_mistakes_of_all_customers_at_once(folder: Path, capsys: Capture) -> None:
    (folder / "customers/anna/pruner.toml").write_text('[home]\ncountry = "Atlantis"\n[[source]]\nname = "a"\nlocation = "b"\n')
    (folder / "customers/bert/pruner.toml").write_text('[home]\ncountry = "Atlantis"\n')
    code, out, err = run(capsys, "bench", *(f"customers/{name}" for name in OWN), "customers/nobody")
    assert (code, out) == (ExitCode.SETTINGS, "")
    lines = err.splitlines()
    assert len(lines) == 3
    assert "customers/anna/pruner.toml: source: is the same for all customers" in lines[0]
    assert "customers/bert/pruner.toml:2: home.country: expected" in lines[1]
    assert "customers/nobody/pruner.toml: no settings file here" in lines[2]
    assert not (folder / "customers/cleo/out").exists()
    with pytest.raises(SettingsError, match="is named twice"):
        read_customers(Path("pruner.toml"), [Path("customers/cleo")] * 2)
    assert run(capsys, "bench")[0] == ExitCode.SETTINGS


@pytest.mark.parametrize("text", ['[[radio]\nname = "own"\n', "own = " + "[" * 3000])
@pytest.mark.parametrize("names", [("anna", "bert"), ("bert", "anna")])
def test_the_file_of_a_customer_that_is_no_toml_is_the_one_named(folder: Path, text: str, names: tuple[str, str]) -> None:
    """Also where the common settings lack what the customers have."""
    Path("pruner.toml").write_text(COMMON.partition("[[radio]]")[0])
    Path("customers/anna/pruner.toml").write_text(text)
    with pytest.raises(SettingsError, match=r"^customers/anna/pruner\.toml") as caught:
        read_customers(Path("pruner.toml"), [Path("customers") / name for name in names])
    assert len(caught.value.problems) == 1


def test_a_customer_who_cannot_be_fitted_does_not_stop_the_others(folder: Path, capsys: Capture) -> None:
    done(capsys, "bench", "customers/cleo")
    before = bytes_in(folder / "customers/cleo/out")
    (folder / "customers/cleo/tour.gpx").write_text("<gpx/>")
    code, out, err = run(capsys, "bench", *(f"customers/{name}" for name in OWN))
    assert code == ExitCode.INPUT_REFUSED
    assert "pruner: cleo: " in err
    assert "holds no track, route or waypoint" in err
    assert "refused" in out
    assert (folder / "customers/bert/out/new/contacts.csv").exists()
    assert bytes_in(folder / "customers/cleo/out") == before
