"""Several customers over one load of the directories: each as if fitted alone, sources read once."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest
from test_commands import done, narrow, run

from pruner.job import bench
from pruner.job.bench import read_customers, run_bench
from pruner.job.run import run as fit_alone
from pruner.settings.load import load_settings
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


def test_each_customer_gets_what_a_fit_alone_gives(folder: Path) -> None:
    common = load_settings(Path("pruner.toml"))
    customers = read_customers(common, sorted(Path("customers").iterdir()))
    results = run_bench(common, customers)
    assert [result.problem for result in results] == [None] * 3
    for customer in customers:
        together = bytes_in(customer.folder / "out")
        shutil.rmtree(customer.folder / "out")
        fit_alone(customer.settings)
        alone = bytes_in(customer.folder / "out")
        assert together == alone
        assert len([name for name in alone if name.endswith("summary.json")]) == len(customer.settings.radios)


def test_sources_and_logs_are_read_once(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    folded: list[str] = []
    loading = sys.modules["pruner.job.load"]  # the name in the room is the function
    collect, fold = loading.collect, bench.fold_new_calls
    monkeypatch.setattr(loading, "collect", lambda name, *more, **named: (read.append(name), collect(name, *more, **named))[1])
    monkeypatch.setattr(bench, "fold_new_calls", lambda *given: (folded.append("logs"), fold(*given))[1])
    common = load_settings(Path("pruner.toml"))
    run_bench(common, read_customers(common, sorted(Path("customers").iterdir())))
    assert (read, folded) == (["world"], ["logs"])


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
        read_customers(load_settings(Path("pruner.toml")), [Path("customers/cleo")] * 2)
    assert run(capsys, "bench")[0] == ExitCode.SETTINGS


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
