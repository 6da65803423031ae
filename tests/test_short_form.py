"""The short form: what its options say, and how other commands find its results."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from test_commands import assert_one_line, done, narrow, run

from pruner.ask.short_form import SHORT_FORM, file_of
from pruner.settings.load import load_settings
from pruner.settings.short import short_settings
from pruner.settings.short_form import ShortForm
from pruner.settings.toml_text import settings_text
from pruner.words.errors import ExitCode

Capture = pytest.CaptureFixture[str]
STATIONS = """\
id,callsign,first name,town,country
2320001,OE1AAA,Ada,Wien,Austria
2320002,OE7BBB,Bea,Innsbruck,Austria
2320003,OE6CCC,Cleo,Graz,Austria
2620001,DL1AAA,Gero,Ulm,Germany
2620002,DL1BBB,Hans,Berlin,Germany
"""
LAYOUT = (
    '[file]\ndelimiter = ";"\n[[column]]\ntitle = "Number"\nvalue = "{id}"\n[[column]]\ntitle = "Who"\nvalue = "{callsign}"\n'
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Path("stations.csv").write_text(STATIONS)
    Path("gone.txt").write_text("OE6CCC\n")
    Path("club.txt").write_text("2620002\n")
    Path("export.csv").write_text("id,callsign,name\n2320009,OE9OWN,By hand\n")
    Path("radio.layout.toml").write_text(LAYOUT)
    return tmp_path


FIT = ["fit", "stations.csv", "--contacts", "3", "--country", "AT"]


def test_lists_layout_and_carried_entries(folder: Path, capsys: Capture) -> None:
    more = ["--drop", "gone.txt", "--keep", "club.txt", "--layout", "radio.layout.toml", "--carried", "export.csv"]
    (summary,) = json.loads(done(capsys, *FIT, *more, "--locator", "JN57", "--json"))
    rules = [(rule["name"], rule["kept"]) for rule in summary["rules"]]
    assert rules == [("carried entries", 1), ("list: club.txt", 1), ("home", 1), ("the rest", 0)]
    assert (summary["dropped"]["left out"], summary["drop_rules"][0]["name"]) == (1, "left out: gone.txt")
    (path,) = Path("out/radio").glob("contacts*")
    with path.open(newline="") as file:
        rows = list(csv.reader(file, delimiter=";"))
    # Innsbruck is nearer to JN57 than Wien.
    assert sorted(rows[1:]) == [["2320002", "OE7BBB"], ["2320009", "OE9OWN"], ["2620002", "DL1BBB"]]


WRONG = {
    "no such layout": (["--layout", "none.toml"], "--layout: expected a file"),
    "no such export": (["--carried", "none.csv"], "--carried: expected a file"),
    "no such list": (["--keep", "none.txt"], "--keep: expected a file of ids or call signs"),
    "nobody to leave out": (["--drop", "none.txt"], "--drop: expected a file of ids or call signs"),
    "an island": (["--country", "Iceland", "--neighbours"], "--neighbours: Iceland has no land border"),
}


@pytest.mark.parametrize("name", WRONG)
def test_mistakes_name_the_option(folder: Path, capsys: Capture, name: str) -> None:
    words, sentence = WRONG[name]
    told = run(capsys, *FIT, *words)
    assert_one_line(told, ExitCode.SETTINGS)
    assert sentence in told[2]
    assert not Path("out").exists()


def test_options_of_the_short_form_need_a_file(folder: Path, capsys: Capture) -> None:
    for words in (["--keep", "club.txt"], ["--layout", "radio.layout.toml"], ["--locator", "JN57"]):
        assert_one_line(run(capsys, "fit", *words), ExitCode.SETTINGS)


def test_other_limits_need_no_limit(folder: Path, capsys: Capture) -> None:
    found = json.loads(done(capsys, "fit", "stations.csv", "--country", "AT", "--what-if", "2,4", "--json"))
    assert [(row["contacts"], row["kept"]) for row in found["radio"]] == [(2, 2), (4, 4)]
    assert_one_line(run(capsys, "fit", "stations.csv", "--country", "AT"), ExitCode.SETTINGS)


def test_commands_find_the_results(folder: Path, capsys: Capture) -> None:
    """Without a settings file: those in out; of another folder by --out or --settings, also when it was moved."""
    done(capsys, *FIT, "--column", "callsign=2")
    assert "kept" in done(capsys, "why", "OE7BBB")
    assert "person   Ada, Wien" in done(capsys, "why", "Ada")
    assert done(capsys, "report").strip() == str(folder / "report.html")
    assert done(capsys, "explore").strip().endswith("explore.html")
    code, out, _ = run(capsys, "compare")
    assert code == ExitCode.NOTHING_TO_DO
    assert "never marked as written" in out
    assert "3 contacts marked as written" in done(capsys, "compare", "--mark")
    assert "nothing has changed" in done(capsys, "compare")
    assert "holds what was written" in done(capsys, "compare", "--export", "out/radio/contacts.csv")
    code, _, _ = run(capsys, "forecast")
    assert code == ExitCode.NOTHING_TO_DO
    shutil.move("out", "moved")
    assert_one_line(run(capsys, "why", "OE7BBB"), ExitCode.SETTINGS)
    for where in (["--out", "moved"], ["--settings", "moved"]):
        assert "person   Ada, Wien" in done(capsys, "why", "Ada", *where)
    assert done(capsys, "report", "--settings", "moved").strip() == "report.html"
    assert load_settings(Path("moved/.pruner") / SHORT_FORM).sources[0].columns == {"callsign": 2}


def test_a_settings_file_goes_before(folder: Path) -> None:
    assert file_of(Path("pruner.toml")) == Path("pruner.toml")
    state = Path("out/.pruner")
    state.mkdir(parents=True)
    (state / SHORT_FORM).write_text("")
    assert file_of(Path("pruner.toml")) == state / SHORT_FORM
    assert file_of(Path("out")) == state / SHORT_FORM
    assert file_of(Path("other.toml")) == Path("other.toml")
    Path("pruner.toml").write_text("")
    assert file_of(Path("pruner.toml")) == Path("pruner.toml")
    assert file_of(Path()) == Path("pruner.toml")
    assert file_of(Path("pruner.toml"), Path("out")) == state / SHORT_FORM


def test_the_text_says_what_the_options_said(folder: Path) -> None:
    form = ShortForm(
        200_000, "Österreich", True, "JN57", True, Path("a b"), "nxdn", Path("radio.layout.toml"), None,
        (Path("gone.txt"),), (Path("club.txt"), Path("club.txt")), 'x'
    )  # fmt: skip
    odd = folder / 'odd "[1]" ä.csv'
    odd.write_text(STATIONS)
    made = short_settings([odd, Path("stations.csv")], form)
    (folder / "again.toml").write_text(settings_text(made), encoding="utf-8")
    assert load_settings(folder / "again.toml") == made
    assert [rule.name for rule in made.keep] == ["list: club.txt", "list: club.txt (2)", "home", "neighbours", "the rest"]


RADIOS = """\
[home]
country = "AT"
[[source]]
name = "world"
location = "stations.csv"
[[keep]]
name = "a rule with quite a long name, longer than its column"
countries = ["home"]
[[keep]]
name = "the rest"
"""


@pytest.mark.parametrize("count", [2, 3, 4, 5, 9])
def test_several_radios_end_in_one_table(folder: Path, capsys: Capture, count: int) -> None:
    radios = [f'[[radio]]\nname = "handheld-with-a-long-name-{at}"\ncontacts = {at + 1}\n' for at in range(count)]
    Path("stations.csv").write_text(STATIONS + "x,OE1XXX,Xaver,Wien,Austria\n0,OE1YYY,Yvo,Wien,Austria\n")
    Path("pruner.toml").write_text(RADIOS + "".join(radios))
    out = done(capsys, "fit")
    assert narrow(out)
    labels = ("limit", "kept", "+ dropped", "+ rejected", "= rows read", "over limit", "reserved id")
    values: dict[str, list[int]] = {label: [] for label in labels}
    for line in out.splitlines():
        for label in labels:
            if line.strip().startswith(f"{label} "):
                values[label] += map(int, line.strip().removeprefix(label).split())
    assert values["limit"] == [*range(1, count + 1)]
    assert values["kept"] == [min(at, 5) for at in values["limit"]]
    assert values["over limit"] == [max(5 - at, 0) for at in values["limit"]]
    assert values["= rows read"] == [7] * count
    accounts = zip(values["kept"], values["+ dropped"], values["+ rejected"], strict=True)
    assert all(sum(account) == 7 for account in accounts)
    assert out.count("cut inside rule") == -(-count // 4)
